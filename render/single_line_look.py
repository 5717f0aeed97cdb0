"""How the parts of one single-line diagram look: its symbols and its words, asked for by node."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..dsl.kinds import kinds
from ..dsl.model import Device
from .marks import Stencil
from .metrics import T18, width
from .single_line_graph import OneLine, Run
from .single_line_parts import Options
from .single_line_text import made_by, ratings, run_lines, strokes, system_of, systems
from .symbols import symbol

REFERENCE_X = 2.7  # from a line to the text of its reference


@dataclass(slots=True)
class Look:
    """Symbols of one set and the words of one rig."""

    graph: OneLine
    symbols: str
    system: Mapping[str, str] = field(init=False)
    notes: dict[str, list[str]] = field(default_factory=dict)
    used: dict[str, None] = field(default_factory=dict)
    lead: float = 0.0
    """Above and below a run's texts, mm, more than there must be."""
    growth: int = 1
    """Feeders by which a bar's room grows: a new one seldom moves what stands beside it."""
    least: float = 0.0
    """The least pitch of columns, mm."""

    def __post_init__(self) -> None:
        self.system = systems(self.graph)

    def device(self, key: str) -> Device:
        node = self.graph.nodes.get(key)
        return self.graph.rig.devices[node.devices[0] if node else key]

    def source_system(self, name: str) -> str:
        """The system a source makes, in words."""
        device = self.graph.rig.devices[name]
        if kinds()[device.kind].acts == "source":
            return system_of(device)
        return made_by(device, self.system.get(name, ""))

    def glyph(self, name: str, options: Options) -> Stencil:
        """A symbol by its name in the set."""
        found = symbol(name, self.symbols, **dict(options))
        self.used[found.name] = None
        return found

    def stencil(self, key: str) -> Stencil:
        """The symbol of a node, drawn round its own origin."""
        device = self.device(key)
        options: dict[str, object] = {}
        if device.kind == "breaker" and ("gfci" in device.attrs or "rcd" in device.attrs):
            options["residual"] = True
        if device.flag("dc") and device.kind in ("motor", "generator", "supply", "socket"):
            options["dc"] = True
        found = symbol(kinds()[device.kind].symbol, self.symbols, **options)
        self.used[found.name] = None
        return found

    def strokes(self, run: Run) -> Stencil:
        """The strokes that count a run's conductors."""
        return self.glyph("strokes", (("roles", strokes(self.graph, run)),))

    def turned(self, key: str) -> bool:
        """Whether a symbol stands on its head: a battery that only feeds, its plus pole below."""
        return self.graph.nodes[key].kind == "battery" and not self.graph.ins[key]

    def reference_width(self, words: str) -> float:
        """How far right of its line a reference reaches, mm."""
        return REFERENCE_X + max(width(words, T18), width("88/H88", T18))

    def title(self, key: str) -> str:
        """What hovering over a node shows."""
        lines = self.node_lines(key)
        return f"{lines[0]}: {', '.join(lines[1:])}" if lines[1:] else lines[0]

    def run_title(self, run: Run) -> str:
        """What hovering over a run shows."""
        return f"{', '.join(self.run_lines(run))}: {run.a} to {run.b}"

    def text_drop(self, key: str) -> float:
        """How far below a symbol's top its text begins."""
        return 0.0 if self.stencil(key).height < 8 else 1.0

    def run_lines(self, run: Run) -> list[str]:
        return run_lines(self.graph, run)

    def node_words(self, key: str) -> tuple[str, str, list[str]]:
        """Designation, label, and the facts beside a symbol."""
        node, device = self.graph.nodes[key], self.device(key)
        name = f"{device.name}.{node.position}" if node.position else device.name
        label = "" if self._repeated(key) else device.label
        facts = [] if node.kind == "block" else ratings(device, self.north_american)
        return name, label, [*facts, *self.notes.get(key, ())]

    @property
    def north_american(self) -> bool:
        """Whether the words are those of North American practice."""
        return self.symbols == "ieee315"

    def node_lines(self, key: str) -> list[str]:
        """Designation first, then label and ratings; a bar also names its system."""
        if self.graph.nodes[key].bar:
            return self._bar_lines(key)
        name, label, facts = self.node_words(key)
        return [name, *([label] if label else []), *facts]

    def _bar_lines(self, key: str) -> list[str]:
        devices = [self.graph.rig.devices[name] for name in self.graph.nodes[key].devices]
        system = self.system.get(key, "")
        words = [w for d in devices[:1] for w in (d.label, *ratings(d, self.north_american)) if w]
        return [" ".join(d.name for d in devices), *(w for w in (system, *words) if w),
                *self.notes.get(key, ())]

    def _repeated(self, key: str) -> bool:
        """Whether a protective device only repeats the label of what it feeds."""
        if kinds()[self.graph.nodes[key].kind].acts not in ("protective", "residual", "switching"):
            return False
        label, at, seen = self.device(key).label, key, {key}
        while len(self.graph.outs[at]) == 1:
            at = self.graph.outs[at][0].b
            if at in seen:
                return False
            seen.add(at)
            if self.device(at).label == label:
                return True
        return False
