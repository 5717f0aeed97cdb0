"""L: what the directory of a panel says of its circuits."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.library import is_shipped
from ...dsl.model import Device, Rig
from ..findings import NOTE, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from .d_feeds import SPARE

PRACTICE = "common practice, no published source"
DIRECTORY = {
    "nfpa70": "NFPA 70 408.4(A)",
    "abyc-e11": "ABYC E-11: switches and devices are marked with their use (from memory)",
    "iec60364": "IEC 60364-5-51 514 (from memory)",
}
IN_DIRECTORY = ("breaker", "fuse", "rcd", "switch", "selector", "contactor")
# Words that name no circuit, and those whose place does not change with the person.  Common
# practice, no published source.
VAGUE = (
    " misc miscellaneous various stuff other others unknown thing things circuit breaker fuse"
    " switch something new old tbd todo my our "
)
ROLES = (
    " driver captain skipper master helmsman crew doctor nurse patient guest visitor cook customer"
    " operator engineer owner men women children lady gentlemen maker "
)


def directory(stage: Stage) -> Iterator[Device]:
    """The devices that a panel's directory names."""
    for device in stage.rig.devices.values():
        if device.ways and device.panel and device.kind in IN_DIRECTORY:
            yield device


@rule("L05", "label-missing", WARNING, clauses=DIRECTORY)
def label_missing(stage: Stage) -> Iterator[Hit]:
    """A device on the ways of a panel that has no label.

    Why: whoever must make a circuit dead switches off one after the other until it is dark.
    Breaks it: `breaker Q4 15A at=AP.4`.
    Does not: a bar in the panel; a device that stands in no panel.
    """
    bare: dict[str, list[Device]] = {}
    for device in directory(stage):
        if not device.label.strip():
            bare.setdefault(str(device.panel), []).append(device)
    for panel, devices in bare.items():
        listed = ", ".join(device.name for device in devices)
        yield Hit(
            on=(*(device.name for device in devices), panel),
            span=devices[0].span,
            message=f"{listed} in {panel} {'has' if len(devices) == 1 else 'have'} no label",
            fix="say in a label what each feeds, and where",
        )


@rule("L06", "label-twice", WARNING, clauses=DIRECTORY)
def label_twice(stage: Stage) -> Iterator[Hit]:
    """Two devices of one panel with the same label.

    Why: one of the two is off, and the circuit is still live.
    Breaks it: two breakers "Sockets".
    Does not: the same label in two panels; "Sockets, left" and "Sockets, right"; spares.
    """
    seen: dict[tuple[str | None, str], Device] = {}
    for device in directory(stage):
        label = " ".join(device.label.lower().split())
        if not label or any(word in label for word in SPARE):
            continue
        first = seen.setdefault((device.panel, label), device)
        if first is not device:
            yield _label(
                device,
                f'{device.name} and {first.name} in {device.panel} are both "{device.label}"',
                "say which of the two it is",
                first,
            )


@rule("L07", "label-vague", WARNING, clauses=DIRECTORY)
def label_vague(stage: Stage) -> Iterator[Hit]:
    """A label that names no circuit, or a person instead of a place.

    Why: "Misc" helps nobody, and Bill has sold the van.
    Breaks it: "Misc", "Circuit 4", "Bill's room".
    Does not: "Lights"; "Driver's seat", which is the driver's whoever drives.
    """
    for device in directory(stage):
        label = device.label.lower().replace("’", "'")
        words = "".join(c if c.isalpha() else " " for c in label).split()
        owners = (word[:-2] for word in label.split() if word.endswith("'s"))
        person = next((owner for owner in owners if f" {owner} " not in ROLES), "")
        if person:
            yield _label(
                device,
                f'"{device.label}" ({device.name}) names a person',
                "name the place, not the person,",
            )
        elif label.strip() and all(f" {word} " in VAGUE for word in words):
            yield _label(
                device,
                f'"{device.label}" ({device.name}) names no circuit',
                "say what it feeds, and where,",
            )


def _label(device: Device, message: str, fix: str, other: Device | None = None) -> Hit:
    return Hit(
        on=(device.name, other.name) if other else (device.name,),
        span=device.span,
        message=message,
        fix=f"{fix} in the label of {device.name}",
        related=(Related(other.span, "the other"),) if other else (),
    )


@rule(
    "L08",
    "spare-unmarked",
    NOTE,
    clauses={"nfpa70": "NFPA 70 408.4(A): spare devices are marked as such", "": PRACTICE},
    yields_to=("D01", "D02", "D04", "D11", "D14", "B06", "P06", "S06", "S08", "S16"),
)
def spare_unmarked(stage: Stage) -> Iterator[Hit]:
    """A breaker or fuse in a panel that is fed, feeds nothing, and is not called a spare.

    Why: the directory names a circuit that is not there; or its conductors were forgotten.
    Breaks it: `breaker Q6 "Awning" 15A at=AP.6` with its feed on terminal 1 and nothing on 2.
    Does not: the same with "spare" or "reserve" in its label; one with `status=planned`.
    """
    for device in directory(stage):
        if device.kind not in ("breaker", "fuse") or "status" in device.attrs:
            continue
        if any(word in device.label.lower() for word in SPARE):
            continue
        ends = [
            [(device.name, t) in stage.landings for t in pair] for pair in _poles(stage, device)
        ]
        if any(near for near, _ in ends) and not any(far for _, far in ends):
            yield Hit(
                on=(device.name,),
                span=device.span,
                message=f"{device.name} is fed and feeds nothing, and its label does not say spare",
                fix=f'label {device.name} "Spare", or land its circuit',
            )


def _poles(stage: Stage, device: Device) -> tuple[tuple[str, str], ...]:
    return stage.wiring.variants[device.name].poles


@rule("L10", "number-used-again", WARNING, clauses={"": f"IEC 62491; {PRACTICE}"})
def number_used_again(stage: Stage) -> Iterator[Hit]:
    """A conductor that has the name of one that an earlier step took out.

    Why: the old marker is still on the old end, or in the old drawing in somebody's hand.
    Breaks it: `remove W7` in one stage, and a new `wire W7` in it or in a later one.
    Does not: a number that was never used; a conductor that is moved.
    """
    gone = _removed(stage.rig)
    for name, (file, line) in gone.items():
        conductor = stage.rig.conductors.get(name) or stage.rig.conductors.get(f"{name}/1")
        if conductor is None or conductor.span.file != file or conductor.span.line < line:
            continue
        yield Hit(
            on=(conductor.name,),
            span=conductor.span,
            message=f"{name} is the name of a conductor that line {line} removes",
            fix=f"give it a number that was not used yet, or change {name} in place of removing it",
        )


def _removed(rig: Rig) -> dict[str, tuple[str, int]]:
    """What the text removes by name: the file and the line."""
    found: dict[str, tuple[str, int]] = {}
    for file, text in rig.sources.items():
        if "remove " not in text or is_shipped(file):
            continue
        for number, line in enumerate(text.splitlines(), 1):
            words = line.split("#")[0].split()
            if words[:1] == ["remove"]:
                found.update(dict.fromkeys(words[1:], (file, number)))
    return found
