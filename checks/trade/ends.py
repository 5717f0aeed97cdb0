"""What the text says of a conductor's ends, and how the terminals they land on hold them."""

from __future__ import annotations

from ...dsl.model import Conductor, Device, End, Size, Terminal

POSTS = ("battery", "earth")
CLAMPED = ("clamp", "screw", "plate", "spring")


def said(conductor: Conductor, key: str, end: End) -> str:
    """The word of ``ends=`` or ``lug=`` for one end; "" where the text gives none."""
    words = conductor.attrs.get(key)
    if not isinstance(words, tuple):
        return ""
    return words[0] if end is conductor.a else words[-1]


def end_on(conductor: Conductor, device: str, terminal: str) -> End:
    """The end of a conductor that lands on a terminal; its far end where neither does."""
    a = conductor.a
    return a if (a.device, a.terminal) == (device, terminal) else conductor.b


def grip_of(device: Device, terminal: Terminal) -> str:
    """How a terminal holds: clamp, screw, plate, loop, spring or stud.

    Posts and chassis points take lugs where the text says nothing else of them.
    """
    post = device.kind in POSTS and terminal.clamp is None and terminal.grip == "clamp"
    return "stud" if terminal.stud or post else terminal.grip


def told_grip(device: Device, terminal: Terminal) -> str:
    """The grip the text tells of; "" where it says nothing of the terminal."""
    if terminal.stud or terminal.grip != "clamp" or terminal.clamp is not None:
        return grip_of(device, terminal)
    return ""


def ferrule_said(conductor: Conductor) -> Size | None:
    """The section of its ferrules where the text says it."""
    size = conductor.attrs.get("ferrule")
    return size if isinstance(size, Size) else None


def is_fine(conductor: Conductor) -> bool:
    """Whether its strands are finer than those of usual building wire; a cord's are."""
    return conductor.flag("fine") or conductor.flag("cord")
