"""T: how an end is prepared against how the terminal holds it."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Device
from ..findings import ERROR, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.ends import CLAMPED, grip_of, is_fine, said, told_grip
from .t_sizes import Landed

PRACTICE = "common practice, no published source"
HOLDS = {
    "clamp": "a clamp",
    "screw": "a screw that bears on the strands",
    "plate": "a plate",
    "spring": "a spring",
    "loop": "a screw that the end goes round",
    "stud": "a stud",
}
# What cannot be held, and what is held badly, by the grip of the terminal.  Common practice.
CANNOT = {
    "clamp": ("ring", "lug", "fork"),
    "screw": ("ring", "lug", "fork"),
    "plate": ("ring", "lug"),
    "spring": ("ring", "lug", "fork"),
    "loop": ("pin", "ferrule"),
    "stud": ("pin", "ferrule", "bare", "soldered"),
}
BADLY = {"stud": ("fork",), "plate": ("fork",)}


def _prepared(stage: Stage) -> Iterator[tuple[Device, list[Landed], str]]:
    """The ends of which the text says how they are prepared."""
    if not any("ends" in conductor.attrs for conductor in stage.rig.conductors.values()):
        return
    for device, ends in stage.landed:
        conductor, end = ends[0]
        if "ends" in conductor.attrs and conductor.size is not None:
            yield device, ends, said(conductor, "ends", end)


def _hit(device: Device, ends: list[Landed], message: str, fix: str, severity: str = "") -> Hit:
    conductor = ends[0][0]
    return Hit(
        on=(*(c.name for c, _ in ends), device.name),
        span=conductor.span_of("ends"),
        message=message,
        fix=fix,
        severity=severity,
        related=(Related(device.span, "lands here"),),
        cause=conductor.statement,
    )


@rule(
    "T02",
    "loose-strands",
    WARNING,
    clauses={
        "nfpa70": "NFPA 70 110.14(A): strands finer than class B and C (from memory)",
        "iec60364": "IEC 60364-5-52 526.9 (from memory)",
        "": PRACTICE,
    },
)
def loose_strands(stage: Stage) -> Iterator[Hit]:
    """Bare strands where the terminal does not gather them: under a bare screw, or fine ones.

    Fine strands (`fine`, `cord`) are an error where a screw bears on them, and under NFPA 70 in a
    clamp too; the strands of building wire are poor practice under a screw that turns on them.
    Why: a screw pushes strands aside and cuts them; what is left carries the current, gets hot,
    and one strand astray touches the next terminal.
    Breaks it: `cable C1 3x1.5mm2 cord … ends=bare` on a terminal with the flag `screw`.
    Does not: a ferrule; a solid conductor; a spring; building wire in a clamp; ends or terminals
    of which the text says nothing: the wiring chart then asks for what the terminal needs.
    """
    for device, ends, word in _prepared(stage):
        conductor = ends[0][0]
        if word != "bare" or conductor.flag("solid"):
            continue
        grip = told_grip(device, device.terminals[0])
        fine = is_fine(conductor) and grip in ("screw", "clamp", "plate")
        if not fine and grip != "screw":
            continue
        what = "fine strands" if fine else "strands"
        where = ", ".join(end.name for _, end in ends)
        yield _hit(
            device,
            ends,
            f"the {what} of {conductor.statement} are bare in {where}, held by {HOLDS[grip]}",
            f"crimp a ferrule on {conductor.statement} at {where}",
            ERROR if fine and (grip == "screw" or stage.book.name == "nfpa70") else WARNING,
        )


@rule(
    "T03",
    "soldered-end",
    WARNING,
    clauses={
        "abyc-e11": "ABYC E-11: solder is not the only means of connection (from memory)",
        "iec60364": "IEC 60364-5-52 526.9: soldered ends not where there is movement (from memory)",
        "": PRACTICE,
    },
)
def soldered_end(stage: Stage) -> Iterator[Hit]:
    """Strands soldered together and then held by a screw, a clamp, a plate or a spring.

    Why: solder creeps under pressure: the joint that was tight gets loose and hot.  Where the
    solder ends, the strands break with the shaking.
    Breaks it: `ends=soldered` into a breaker, a bar or a spring terminal.
    Does not: `tinned` strands (boat cable, each strand coated); a ferrule.
    """
    for device, ends, word in _prepared(stage):
        grip = grip_of(device, device.terminals[0])
        if word == "soldered" and grip in (*CLAMPED, "loop"):
            where = ", ".join(end.name for _, end in ends)
            yield _hit(
                device,
                ends,
                f"{ends[0][0].statement} is soldered at {where}, and held there by {HOLDS[grip]}",
                f"cut the soldered end off at {where} and crimp a ferrule on",
            )


@rule(
    "T04",
    "end-against-terminal",
    clauses={
        "nfpa70": "NFPA 70 110.3(B), 110.14 (from memory)",
        "abyc-e11": "ABYC E-11: ring or captive terminals on studs (from memory)",
        "": PRACTICE,
    },
)
def end_against_terminal(stage: Stage) -> Iterator[Hit]:
    """An end that the terminal cannot hold: a ring in a clamp, a ferrule on a stud.

    A fork on a stud is held until the nut works loose, and is a warning.
    Why: a ring cut open to go into a clamp, or strands wound round a stud, hold by chance.
    Breaks it: `ends=ring` on a breaker with `clamp=`; `ends=bare` on a bar with `stud=M8`.
    Does not: `ends=ring` on a screw with `loop`; a terminal of which the text says nothing.
    """
    for device, ends, word in _prepared(stage):
        grip = told_grip(device, device.terminals[0])
        if word in CANNOT.get(grip, ()):
            yield _misfit(device, ends, word, grip, ERROR)
        elif word in BADLY.get(grip, ()):
            yield _misfit(device, ends, word, grip, WARNING)


def _misfit(device: Device, ends: list[Landed], word: str, grip: str, severity: str) -> Hit:
    where = ", ".join(end.name for _, end in ends)
    better = {"stud": "a ring lug", "loop": "a ring or a fork"}.get(grip, "a ferrule")
    kind = f"a {word}" if word not in ("bare", "soldered") else f"a {word} end"
    return _hit(
        device,
        ends,
        f"{ends[0][0].statement} comes with {kind} to {where}, which is {HOLDS[grip]}",
        f"put {better} on {ends[0][0].statement} at {where}",
        severity,
    )
