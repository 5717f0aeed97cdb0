"""Made from rig.lark by make_grammar.py; change that grammar, not this table."""
# ruff: noqa: E501
# fmt: off

END = '$END'
SKIPPED = ('BLANK', 'COMMENT')
TERMINALS = '(?P<AMBIENT>\\Aambient(?![\\w.\\/=-]))|(?P<ACCEPT>\\Aaccept(?![\\w.\\/=-]))|(?P<CHANGE>\\Achange(?![\\w.\\/=-]))|(?P<REMOVE>\\Aremove(?![\\w.\\/=-]))|(?P<CABLE>\\Acable(?![\\w.\\/=-]))|(?P<PANEL>\\Apanel(?![\\w.\\/=-]))|(?P<PLACE>\\Aplace(?![\\w.\\/=-]))|(?P<ROUTE>\\Aroute(?![\\w.\\/=-]))|(?P<RULES>\\Arules(?![\\w.\\/=-]))|(?P<STAGE>\\Astage(?![\\w.\\/=-]))|(?P<BOND>\\Abond(?![\\w.\\/=-]))|(?P<LINK>\\Alink(?![\\w.\\/=-]))|(?P<MODE>\\Amode(?![\\w.\\/=-]))|(?P<MOVE>\\Amove(?![\\w.\\/=-]))|(?P<PART>\\Apart(?![\\w.\\/=-]))|(?P<WIRE>\\Awire(?![\\w.\\/=-]))|(?P<RIG>\\Arig(?![\\w.\\/=-]))|(?P<USE>\\Ause(?![\\w.\\/=-]))|(?P<ATTR>[A-Za-z][A-Za-z0-9_-]*=(?:\\([^()"#{}=\n]*\\)|"(?:[^"\\\\\n]|\\\\[^\n])*"|"[^"\n]*"|[^\\s"#{}()]+))|(?P<END>[A-Za-z][A-Za-z0-9_-]*\\.(?:\\([^()"#{}=\n]*\\)|(?:[A-Za-z0-9+_]|-(?!>))+))|(?P<CORE>[A-Za-z][A-Za-z0-9_-]*\\/[0-9]+)|(?P<LABEL>"(?:[^"\\\\\n]|\\\\[^\n])*"|"[^"\n]*")|(?P<AMOUNT>[-+]?[0-9][^\\s"#{}()=]*)|(?P<NAME>[A-Za-z][A-Za-z0-9_-]*)|(?P<BLANK>(?:[ \t\n]|\\\\(?=\n))+)|(?P<COMMENT>#[^\n]*)|(?P<ARROW>\\->)|(?P<CLOSE>\\})|(?P<OPEN>\\{)'
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
  'RIG': 10,
  'ROUTE': 4,
  'RULES': 11,
  'STAGE': 12,
  'USE': 13,
  'WIRE': 3},
 {'NAME': 14}, {'AMOUNT': 5}, {'NAME': 15}, {'NAME': 16}, {'$END': 0}, {'NAME': 17},
 {'CORE': 18, 'NAME': 18}, {'NAME': 19}, {'NAME': 20}, {'LABEL': 21}, {'LABEL': 5, 'NAME': 5},
 {'NAME': 22}, {'LABEL': 5}, {'NAME': 23},
 {'AMOUNT': 24, 'ATTR': 24, 'END': 25, 'LABEL': 24, 'NAME': 24},
 {'$END': 0, 'AMOUNT': 26, 'ATTR': 26, 'LABEL': 26, 'NAME': 26}, {'LABEL': 27, 'OPEN': 28},
 {'END': 29}, {'NAME': 26}, {'$END': 0, 'NAME': 20}, {'$END': 0, 'ATTR': 21},
 {'LABEL': 30, 'OPEN': 5}, {'CORE': 31, 'NAME': 31},
 {'AMOUNT': 24, 'ATTR': 24, 'END': 25, 'NAME': 24}, {'ARROW': 32, 'END': 25},
 {'$END': 0, 'AMOUNT': 26, 'ATTR': 26, 'NAME': 26}, {'OPEN': 28}, {'ATTR': 28, 'CLOSE': 5},
 {'ARROW': 33}, {'OPEN': 5}, {'NAME': 13}, {'END': 34}, {'END': 5},
 {'$END': 0, 'AMOUNT': 26, 'ATTR': 26, 'END': 34, 'NAME': 26},
)
