"""A text being written: devices, conductors and modes, names that count up, bars that grow."""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random


@dataclass
class Bars:
    """Where circuits hang: line bars by role, neutral and earth, and what the circuits need.

    ``guarded``: type of the 30 mA device that stands ahead.  ``both``: devices open every
    pole.
    """

    lines: dict[str, str]
    neutral: str
    earth: str
    feed: str
    guarded: str = ""
    both: bool = False
    modes: tuple[str, ...] = ()


@dataclass
class Page:
    """The text, and chance."""

    book: str
    random: Random
    head: list[str] = field(default_factory=list)
    body: list[str] = field(default_factory=list)
    bars: dict[str, tuple[str, int]] = field(default_factory=dict)
    names: dict[str, int] = field(default_factory=dict)
    modes: dict[str, dict[str, str]] = field(default_factory=dict)
    panel: str = ""
    ways: int = 0
    made: str = ""

    def add(self, *lines: str) -> None:
        self.body += lines

    def name(self, letters: str) -> str:
        self.names[letters] = self.names.get(letters, 0) + 1
        return f"{letters}{self.names[letters]}"

    def bar(self, name: str, label: str, amps: int) -> str:
        self.bars[name] = f'bus {name} "{label}" {amps}A at=BOX', 0
        return name

    def on(self, bar: str) -> str:
        """The next free position of a bar."""
        words, used = self.bars[bar]
        self.bars[bar] = words, used + 1
        return f"{bar}.{used + 1}"

    def wire(self, size: str, metres: float, a: str, b: str, *rest: str) -> None:
        words = ("wire", self.name("W"), size, f"{metres:g}m", a, "->", b, *rest)
        self.add(" ".join(words))

    def link(self, a: str, b: str) -> None:
        self.add(f"link {self.name('K')} {a} -> {b}")

    def cable(self, cores: str, metres: float, a: str, b: str, *rest: str) -> str:
        name = self.name("C")
        self.add(" ".join(("cable", name, cores, f"{metres:g}m", a, "->", b, *rest)))
        return name

    def stud(self) -> str:
        """A chassis stud of its own; the first ones belong to the main bars."""
        self.names["stud"] = self.names.get("stud", 2) + 1
        return f"CH.{self.names['stud']}"

    def some(self, *choices: str) -> str:
        return self.random.choice(choices)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def length(self, most: float = 6.0) -> float:
        return round(self.random.uniform(1, most), 1)

    def off(self, name: str, state: str) -> None:
        """A mode like the first one, with one device in another state."""
        if not self.modes:
            self.modes["all"] = {}
        first = next(iter(self.modes.values()))
        self.modes[f"less{len(self.modes)}"] = {**first, name: state}

    def setting(self, **states: str) -> None:
        """A state in every mode there is."""
        for mode in self.modes.values():
            mode.update(states)

    def housed(self, ways: int) -> str:
        """Where a device of the mains stands: on ways of the panel, if there is one."""
        if not self.panel:
            return "at=BOX"
        first, self.ways = self.ways + 1, self.ways + ways
        more = self.some("", f"ways={ways}", f"modules={ways}")
        last = f"-{self.ways}" if ways > 1 and not more.startswith("ways") else ""
        return f"{more} at={self.panel}.{first}{last}".strip()

    def boxed(self) -> None:
        """A panel for the devices of the mains."""
        self.panel = "AP"
        self.made = self.some("", "metal", "divided", "rail=2m", "ip=IP44")

    def text(self) -> str:
        bars = [f"{words} positions={used + 2}" for words, used in self.bars.values()]
        modes = [
            f"mode {name} {{ {' '.join(f'{d}={s}' for d, s in states.items())} }}"
            for name, states in self.modes.items()
        ]
        words = f'panel {self.panel} "Panel" ways={self.ways + 3} at=BOX {self.made}'
        panel = [words] if self.panel else []
        return "\n".join([*self.head, *panel, *bars, *self.body, *modes]) + "\n"
