"""The statements of a rig's text as things that can be altered and written again."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

TOKEN = re.compile(r'[\w-]+="(?:\\.|[^"\\])*"|"(?:\\.|[^"\\])*"|[^\s"()#]+\([^)]*\)|[^\s"#]+|#.*')
END = re.compile(r"[A-Za-z][\w-]*\.(\([^)]*\)|[^\s=]+)$")
WIRES = ("wire", "cable", "link", "bond")
OTHERS = (
    "rig",
    "rules",
    "ambient",
    "use",
    "place",
    "route",
    "part",
    "mode",
    "stage",
    "remove",
    "move",
    "change",
    "accept",
    "entry",
    "panel",
    "}",
    "{",
)


@dataclass(frozen=True)
class Wire:
    """A wire, link or bond, or a cable: ``head`` up to the ends, ``rest`` behind them."""

    head: tuple[str, ...]
    a: tuple[str, ...]
    b: tuple[str, ...]
    rest: tuple[str, ...]

    @property
    def name(self) -> str:
        return self.head[1]

    def __str__(self) -> str:
        return " ".join((*self.head, *self.a, "->", *self.b, *self.rest))

    def landings(self) -> Iterator[tuple[str, int, str]]:
        """Side, core and terminal of every end."""
        for side in ("a", "b"):
            for core, end in enumerate(getattr(self, side)):
                yield side, core, end

    def landed(self, side: str, core: int, end: str) -> Wire:
        ends = list(getattr(self, side))
        ends[core] = end
        return replace(self, **{side: tuple(ends)})

    def without(self, core: int) -> Wire:
        """A cable with one core less."""
        a, b = list(self.a), list(self.b)
        del a[core], b[core]
        count, size = self.head[2].split("x")
        head = (*self.head[:2], f"{int(count) - 1}x{size}", *self.head[3:])
        return Wire(head, tuple(a), tuple(b), self.rest)


@dataclass(frozen=True)
class Thing:
    """A device: kind, name, then label and items."""

    words: tuple[str, ...]

    @property
    def kind(self) -> str:
        return self.words[0]

    @property
    def name(self) -> str:
        return self.words[1]

    def __str__(self) -> str:
        return " ".join(self.words)

    def value(self, key: str) -> str:
        return next((w.split("=", 1)[1] for w in self.words if w.startswith(f"{key}=")), "")

    def bare(self, unit: str) -> str:
        """The quantity that stands without a key, by its unit."""
        pattern = re.compile(rf"[\d.]+k?{unit}")
        return next((w for w in self.words[2:] if pattern.fullmatch(w)), "")

    def with_word(self, word: str) -> Thing:
        return Thing((*self.words, word))

    def without(self, word: str) -> Thing:
        return Thing(tuple(w for w in self.words if w != word))

    def with_value(self, key: str, value: str) -> Thing:
        kept = tuple(w for w in self.words if not w.startswith(f"{key}="))
        return Thing((*kept, f"{key}={value}"))

    def exchanged(self, old: str, new: str) -> Thing:
        return Thing(tuple(new if w == old else w for w in self.words))


Statement = Wire | Thing | str


def read(text: str) -> list[Statement]:
    """The statements in order; what is neither a device nor a conductor stays as text."""
    text = re.sub(r"\\\s*\n", " ", text)
    return [_statement(line) for line in text.splitlines() if line.strip()]


def write(statements: list[Statement]) -> str:
    return "\n".join(str(s) for s in statements) + "\n"


def _statement(line: str) -> Statement:
    words = tuple(m for m in TOKEN.findall(line) if not m.startswith("#"))
    if not words:
        return ""
    if words[0] in WIRES:
        return _wire(words)
    if len(words) < 2 or words[0] in OTHERS:
        return " ".join(words)
    return Thing(words)


def _wire(words: tuple[str, ...]) -> Wire:
    arrow = words.index("->")
    start = arrow
    while END.match(words[start - 1]):
        start -= 1
    stop = arrow + 1
    while stop < len(words) and END.match(words[stop]):
        stop += 1
    a, b = words[start:arrow], words[arrow + 1 : stop]
    return Wire(words[:start], tuple(_ends(a)), tuple(_ends(b)), words[stop:])


def _ends(words: tuple[str, ...]) -> Iterator[str]:
    for word in words:
        device, terminals = word.split(".", 1)
        for terminal in terminals.strip("()").split():
            yield f"{device}.{terminal}"


class Text:
    """A rig's statements, with what an operator asks of them."""

    def __init__(self, text: str) -> None:
        self.all = read(text)

    def wires(self) -> list[tuple[int, Wire]]:
        return [(i, s) for i, s in enumerate(self.all) if isinstance(s, Wire)]

    def things(self, *kinds: str) -> list[tuple[int, Thing]]:
        return [
            (i, s)
            for i, s in enumerate(self.all)
            if isinstance(s, Thing) and (not kinds or s.kind in kinds)
        ]

    def ends(self, device: str) -> list[tuple[int, str, int, str]]:
        """Every landing on a device: statement, side, core, terminal."""
        return [
            (i, side, core, end)
            for i, wire in self.wires()
            for side, core, end in wire.landings()
            if end.split(".", 1)[0] == device
        ]

    def land(self, index: int, side: str, core: int, end: str) -> None:
        wire = self.all[index]
        assert isinstance(wire, Wire)
        self.all[index] = wire.landed(side, core, end)

    def add(self, *lines: str, at: int = -1) -> None:
        """Statements put in after the one they belong with, so that they are of its stage."""
        place = len(self.all) if at < 0 else at + 1
        self.all[place:place] = [_statement(line) for line in lines]

    def free(self, index: int) -> str:
        """A position of a bar that nothing lands on: one more than it has."""
        bar = self.all[index]
        assert isinstance(bar, Thing)
        count = int(bar.value("positions") or "0") or 20
        self.all[index] = bar.with_value("positions", str(count + 1))
        return f"{bar.name}.{count + 1}"

    def text(self) -> str:
        return write(self.all)
