"""Made from rig.lark by make_grammar.py; change that grammar, not this table."""
# ruff: noqa: E501
# fmt: off

END = '$END'
NEXT = '(?:#[^\n]*|(?:[ \t\n]|\\\\(?=\n))+)*(?:(?P<KEYWORD>\\A(?:revision|ambient|accept|change|remove|cable|panel|place|route|rules|stage|bond|link|mode|move|part|wire|rig|use)(?![\\w.\\/=-]))|(?P<ATTR>[A-Za-z][A-Za-z0-9_-]*=(?:\\([^()"#{}=\n]*\\)|"(?:[^"\\\\\n]|\\\\[^\n])*"|"[^"\n]*"|[^\\s"#{}()]+))|(?P<END>[A-Za-z][A-Za-z0-9_-]*\\.(?:\\([^()"#{}=\n]*\\)|(?:[A-Za-z0-9+_]|-(?!>))+))|(?P<CORE>[A-Za-z][A-Za-z0-9_-]*\\/[0-9]+)|(?P<LABEL>"(?:[^"\\\\\n]|\\\\[^\n])*"|"[^"\n]*")|(?P<AMOUNT>[-+]?[0-9][^\\s"#{}()=]*)|(?P<NAME>[A-Za-z][A-Za-z0-9_-]*)|(?P<ARROW>\\->)|(?P<CLOSE>\\})|(?P<OPEN>\\{)|)'
MOVES: tuple[dict[str, int], ...] = (
{'ACCEPT': 1,
  'AMBIENT': 2,
  'BOND': 3,
  'CABLE': 3,
  'CHANGE': 4,
  'CLOSE': 5,
  'LINK': 3,
  'MODE': 6,
  'MOVE': 7,
  'NAME': 4,
  'PANEL': 4,
  'PART': 8,
  'PLACE': 4,
  'REMOVE': 9,
  'REVISION': 10,
  'RIG': 11,
  'ROUTE': 4,
  'RULES': 12,
  'STAGE': 13,
  'USE': 14,
  'WIRE': 3},
 {'NAME': 15}, {'AMOUNT': 5}, {'NAME': 16}, {'NAME': 17}, {'$END': 0}, {'NAME': 18},
 {'CORE': 19, 'NAME': 19}, {'NAME': 20}, {'NAME': 21}, {'AMOUNT': 11, 'NAME': 11}, {'LABEL': 22},
 {'LABEL': 5, 'NAME': 5}, {'NAME': 23}, {'LABEL': 5}, {'NAME': 24},
 {'AMOUNT': 25, 'ATTR': 25, 'END': 26, 'LABEL': 25, 'NAME': 25},
 {'$END': 0, 'AMOUNT': 27, 'ATTR': 27, 'LABEL': 27, 'NAME': 27}, {'LABEL': 28, 'OPEN': 29},
 {'END': 30}, {'NAME': 27}, {'$END': 0, 'NAME': 21}, {'$END': 0, 'ATTR': 22},
 {'LABEL': 31, 'OPEN': 5}, {'CORE': 32, 'NAME': 32},
 {'AMOUNT': 25, 'ATTR': 25, 'END': 26, 'NAME': 25}, {'ARROW': 33, 'END': 26},
 {'$END': 0, 'AMOUNT': 27, 'ATTR': 27, 'NAME': 27}, {'OPEN': 29}, {'ATTR': 29, 'CLOSE': 5},
 {'ARROW': 34}, {'OPEN': 5}, {'NAME': 14}, {'END': 35}, {'END': 5},
 {'$END': 0, 'AMOUNT': 27, 'ATTR': 27, 'END': 35, 'NAME': 27},
)
