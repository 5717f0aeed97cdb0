"""The items of a statement (quantities, attributes, flags, a part's name) as typed values."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from sys import intern

from .kinds import Attr, Words
from .model import Quantity, Range, Size, Span, Value
from .parse import Token, unquoted
from .problems import HINTED, Problem, did_you_mean, listed
from .source import Statement
from .units import DIMENSIONS, UNITS, Bad, amount, length_range, one_size, quantity, size_range

NO_QUANTITIES = ("range", "lengths", "size", "cores")
MOST = 10_000  # positions, ways, conductors a terminal holds
TYPES = {
    "range": DIMENSIONS["range"],
    "lengths": DIMENSIONS["lengths"],
    "size": DIMENSIONS["size"],
    "int": f"a whole number from 1 to {MOST}",
    "word": 'a word, or text in quotes ("…")',
    "words": "words with commas between them",
    "terminals": "terminal names in brackets, like (LINE LOAD)",
}


class Given:
    """What a statement says.  ``sound`` is False where a problem was found in it."""

    __slots__ = ("attrs", "part", "part_span", "sound", "spans")

    def __init__(
        self,
        attrs: dict[str, Value] | None = None,
        spans: dict[str, Span] | None = None,
        part: str = "",
        part_span: Span | None = None,
        sound: bool = True,
    ) -> None:
        self.attrs = {} if attrs is None else attrs
        self.spans = {} if spans is None else spans
        self.part = part
        self.part_span = part_span
        self.sound = sound

    def over(self, under: Given) -> Given:
        """These items on top of others: what is said here stands, the rest comes from below."""
        return Given(
            {**under.attrs, **self.attrs},
            {**under.spans, **self.spans},
            self.part or under.part,
            self.part_span or under.part_span,
            self.sound and under.sound,
        )


class ItemReader:
    """Reads the items of one statement; mistakes go to ``problems``."""

    def __init__(
        self,
        statement: Statement,
        words: Words,
        problems: list[Problem],
        parts: Collection[str] = (),
        parts_known: bool = True,
    ) -> None:
        self.statement, self.words, self.problems = statement, words, problems
        self.parts, self.parts_known = parts, parts_known
        self.given = Given()

    def read(self) -> Given:
        """All items of the statement."""
        items = iter(self.statement.items)
        for token in items:
            try:
                self._no_space(token, items)
                if token.type == "AMOUNT":
                    self._amount(token)
                elif token.type == "ATTR":
                    self._attribute(token)
                else:
                    self._word(token)
            except Bad as bad:
                self._problem(token, bad)
        return self.given

    def _no_space(self, number: Token, items: Iterator[Token]) -> None:
        """Raises ``Bad`` for a number and its unit with a space between, and skips the unit."""
        if number.type != "AMOUNT" or not number[-1].isdigit():
            return
        unit = self.statement.after(number)
        if unit is not None and unit.type == "NAME" and unit in (*UNITS, "mm2", "AWG"):
            next(items, None)
            raise Bad(
                f"a space between {number} and its unit {unit}", "", f"write `{number}{unit}`"
            )

    def _problem(self, token: Token, bad: Bad) -> None:
        self.given.sound = False
        span = self.statement.at(token)
        self.problems.append(Problem(span, bad.message, bad.expected, bad.hint))

    def _put(self, key: str, value: Value, token: Token) -> None:
        if key in self.given.attrs:
            size = "; a size is in mm2 or AWG" if key == "length" else ""
            raise Bad(
                f"{self.words.noun} says its {key} twice",
                hint=f"line {self.given.spans[key].line} says it already; "
                f"take one of them out{size}",
            )
        self.given.attrs[key] = value
        self.given.spans[key] = self.statement.at(token)

    def _amount(self, token: Token) -> None:
        value = amount(str(token))
        headline = self.words.headline
        if isinstance(value, Range):
            raise Bad(
                f"a range without its key: {token}", "key=value", f"did you mean `clamp={token}`?"
            )
        if isinstance(value, tuple):
            if "size" not in headline:
                raise Bad(f"{self.words.noun} has no conductor size", self._units())
            self._put("cores", value[0], token)
            self.given.attrs["size"] = value[1]
            self.given.spans["size"] = self.given.spans["cores"]
            return
        written = str(token).lstrip("+-0123456789./")
        key = headline.get(written) or headline.get(value.unit)
        if key is None:
            raise Bad(
                f"{self.words.noun} has no use for {token}", self._units(), self._keyed(value)
            )
        self._put(key, value, token)

    def _keyed(self, value: Quantity) -> str:
        keys = [k for k, a in self.words.attrs.items() if a.type == value.unit]
        return f"did you mean `{keys[0]}={value.text}`?" if keys else ""

    def _units(self) -> str:
        units = [f"{unit} ({key})" for unit, key in self.words.headline.items()]
        return "without a key: " + ", ".join(units) if units else "no quantity without a key"

    def _attribute(self, token: Token) -> None:
        key, _, text = token.partition("=")
        attr = self.words.attrs.get(key)
        if attr is None:
            raise self._no_attribute(key)
        self._put(attr.key, typed(attr, intern(text)), token)

    def _no_attribute(self, key: str) -> Bad:
        if key in self.words.flags:
            return Bad(f"`{key}` takes no value", hint=f"write `{key}` alone")
        known = self.words.attrs
        return Bad(
            f"{self.words.noun} has no attribute `{key}`",
            "one of: " + listed(f"{k}=" for k in known),
            did_you_mean(key, known),
        )

    def _word(self, token: Token) -> None:
        word = intern(str(token))
        if word in self.words.flags:
            self._put(word, True, token)
        elif word in self.parts:
            self._take_part(word, token)
        elif word in self.words.attrs:
            example = TYPES.get(self.words.attrs[word].type, "")
            raise Bad(f"`{word}` needs a value", f"{word}=…  {example}".strip())
        elif self.parts_known:
            raise self._no_word(word)
        else:
            self.given.sound = False

    def _take_part(self, word: str, token: Token) -> None:
        if self.given.part:
            raise Bad(f"a second part, `{word}`, besides `{self.given.part}`", "one part a device")
        self.given.part = word
        self.given.part_span = self.statement.at(token)

    def _no_word(self, word: str) -> Bad:
        known = [*self.words.flags, *self.parts, *self.words.attrs]
        flags = listed(self.words.flags)
        what = "a flag or a part" if self.parts else "a flag"
        return Bad(
            f"`{word}` is no flag of {self.words.noun}" + (" and no part" if self.parts else ""),
            f"{what}; flags: {flags}" if flags else what,
            did_you_mean(word, known) if len(self.problems) < HINTED else "",
        )


def _plain(text: str) -> str:
    if text[:1] == '"' and len(text) > 1:
        return unquoted(text)
    return text[1:-1] if text[:1] == "(" and len(text) > 1 else text


def typed(attr: Attr, text: str) -> Value:
    """The value of an attribute as its type says; raises ``Bad``."""
    kind = attr.type
    if kind in DIMENSIONS and kind not in NO_QUANTITIES:
        return quantity(text, kind)
    if attr.several:
        return tuple(_choice(attr, w) for w in _several(attr.key, text.split(","), "words"))
    if attr.choices:
        return _choice(attr, text)
    if text[:1] == "(" and kind not in ("terminals", "words"):
        raise Bad(f"`{attr.key}` takes no brackets", TYPES[kind])
    match kind:
        case "range":
            return size_range(text)
        case "lengths":
            return length_range(text)
        case "size":
            return one_size(text)
        case "int":
            return _whole(attr.key, text)
        case "words":
            return _several(attr.key, _plain(text).replace(",", " ").split(), kind)
        case "terminals":
            return _terminals(attr.key, text)
        case _:
            return _plain(text)


def _choice(attr: Attr, text: str) -> str:
    if text in attr.choices:
        return text
    raise Bad(
        f"`{attr.key}` cannot be {text[:40]}",
        "one of: " + " ".join(attr.choices),
        did_you_mean(text, attr.choices),
    )


def _whole(key: str, text: str) -> int:
    if text.isascii() and text.isdigit() and len(text) < 6 and 1 <= int(text) <= MOST:
        return int(text)
    raise Bad(f"`{key}` cannot be {text[:40]}", TYPES["int"])


def _several(key: str, words: list[str], kind: str) -> tuple[str, ...]:
    if not words:
        raise Bad(f"`{key}` is empty", TYPES[kind])
    return tuple(words)


def _terminals(key: str, text: str) -> tuple[str, ...]:
    names = _several(key, _plain(text).split(), "terminals")
    odd = [
        n for n in names if not set(n.replace("+", "").replace("-", "").replace("_", "")) <= ALNUM
    ]
    if odd:
        raise Bad(f"`{odd[0][:40]}` is no terminal name", "letters, digits, + - _")
    if len(set(names)) < len(names):
        raise Bad("a terminal name given twice", TYPES["terminals"])
    return names


ALNUM = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789")


def size_and_cores(given: Given) -> tuple[Size | None, int]:
    """A conductor's size and its number of cores (0: not said) from its items."""
    size, cores = given.attrs.get("size"), given.attrs.get("cores")
    return (size if isinstance(size, Size) else None), (cores if isinstance(cores, int) else 0)
