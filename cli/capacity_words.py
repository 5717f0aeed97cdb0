"""The capacity of a mode in sections: a title, a table, and sentences; text and Markdown show both.

Names stand with their labels (``M1 Air conditioner``); every figure has its unit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import NamedTuple

from ..checks.capacity.battery import Charge, Life
from ..checks.capacity.converters import EFFICIENCY
from ..checks.capacity.limits import Capacity, Row
from ..checks.capacity.together import Counts, Group
from ..dsl.model import Rig
from ..render.texts import plain

_CODE = re.compile(r"\\`([a-z]+=)\\`")  # `usable=` in a sentence: the one markup of its own
READABLE = 12  # more sets than this are not listed
ASSUMED = (
    "Nominal currents at power factor 1 where no VA is given; no voltage drop is counted in.",
    "Efficiency where none is stated: "
    + ", ".join(f"{kind} {percent:g} %" for kind, percent in EFFICIENCY.items())
    + ". Charging at 14.2 V for each 12 V block.",
    "Batteries where nothing is stated: lead 50 % usable, 85 % of the charge comes back, the last "
    "20 % goes in at a quarter of the current; lithium 80 %, 98 %, the last 10 % at half. "
    "Temperature, age and the rate of discharge are not counted.",
    "These are common practice, no published source. What sockets may feed is not in the text.",
)


class Section(NamedTuple):
    """One part of the answer; ``rows`` may be empty."""

    title: str
    head: tuple[str, ...] = ()
    rows: tuple[tuple[str, ...], ...] = ()
    lines: tuple[str, ...] = ()


def sections(found: Capacity, rig: Rig) -> Iterator[Section]:
    """Everything there is to say of one mode."""
    yield _limits(found, rig)
    yield _together(found, rig)
    if found.lives:
        yield _batteries(found, rig)
        yield from (_charging(life) for life in found.lives if life.charges)


def named(name: str, rig: Rig) -> str:
    """A device with its label."""
    device = rig.devices.get(name)
    return f"{name} {device.label}".strip() if device else name


def figure(value: float, unit: str) -> str:
    """A value with its unit, to three figures, or whole."""
    rounded = f"{value:.0f}" if abs(value) >= 100 else f"{value:.3g}"
    return f"{'0' if rounded == '-0' else rounded} {unit}"


# ---- limits -------------------------------------------------------------------------------------


def _limits(found: Capacity, rig: Rig) -> Section:
    shown = found.telling
    hidden = len(found.limits) - len(shown)
    lines = [f"{hidden} more limits carry one load each, and within what they give."] * (hidden > 1)
    lines += ["One more limit carries one load, and within what it gives."] * (hidden == 1)
    lines += [
        f"Not counted, for it says neither W, VA nor A: {named(device.name, rig)}."
        for device in found.unknown
    ]
    lines += [
        f"{named(name, rig)} charges with what the loads leave."
        for name, item in found.demand.items.items()
        if item.yields
    ]
    if not shown:
        lines.insert(0, "Nothing that draws is connected.")
    head = ("limit", "line", "gives", "connected", "counted", "left", "wider, for the same loads")
    return Section("Limits", head, tuple(_limit(row, found, rig) for row in shown), tuple(lines))


def _limit(row: Row, found: Capacity, rig: Rig) -> tuple[str, ...]:
    point, unit = row.point, row.point.unit
    wider = [r.point for r in found.rows if r.within == point.name and r.point.draws == point.draws]
    return (
        named(point.name, rig),
        point.role,
        figure(point.gives, unit),
        figure(row.connected, unit),
        figure(row.counted, unit),
        figure(row.left, unit),
        ", ".join(f"{p.name} {figure(p.gives, p.unit)}" for p in wider),
    )


# ---- what may run together ----------------------------------------------------------------------


def _together(found: Capacity, rig: Rig) -> Section:
    lines = [f"{named(name, rig)}: not at all, it exceeds a limit alone." for name in
             found.together.never]  # fmt: skip
    rows: list[tuple[str, ...]] = []
    for group in found.together.groups:
        rows += _sets(group, found, rig, len(rows))
        lines += _forbidden(group, found, rig)
    if found.together.groups:
        free = ", ".join(found.together.free)
        lines += [f"These never matter: {free}."] * bool(free)
    elif not found.together.never:
        lines.append("Everything that is connected may run together.")
    head = ("set", "may run together", "left out") if rows else ()
    return Section("What may run together", head, tuple(rows), tuple(lines))


def _sets(group: Group, found: Capacity, rig: Rig, before: int) -> list[tuple[str, ...]]:
    """The largest sets of a group, where they are few enough to be read."""
    if not group.whole or len(group.sets) > READABLE:
        return []
    return [
        (
            str(before + index),
            _some(group, counts, rig),
            _some(group, _rest(group, counts), rig),
        )
        for index, counts in enumerate(group.sets, 1)
    ]


def _rest(group: Group, counts: Counts) -> Counts:
    return tuple(len(names) - count for names, count in zip(group.alike, counts, strict=True))


def _some(group: Group, counts: Counts, rig: Rig) -> str:
    """A set in words: all of a kind by name, some of it by number."""
    parts = []
    for names, count in zip(group.alike, counts, strict=True):
        if count == len(names):
            parts += [named(name, rig) for name in names]
        elif count:
            parts.append(f"any {count} of {', '.join(names)}")
    return " + ".join(parts) or "nothing"


def _forbidden(group: Group, found: Capacity, rig: Rig) -> Iterator[str]:
    """What exceeds a limit, and which: the smallest sets in words."""
    rows = [found.limits[index] for index in group.limits]
    gives = "; ".join(
        f"{row.point.name} ({figure(row.point.gives, row.point.unit)}"
        + (f" on {row.point.role})" if row.point.role in ("L1", "L2", "L3") else ")")
        for row in rows
    )
    if not group.whole or len(group.forbidden) > READABLE:
        most = len(group.forbidden) if group.whole else f"more than {len(group.forbidden)}"
        yield f"Within {gives}: {most} combinations exceed it, too many to list; mind the sums."
        return
    yield f"Within {gives}, not all at once:"
    yield from (f"  {_not(group, counts, rig)}." for counts in group.forbidden)


def _not(group: Group, counts: Counts, rig: Rig) -> str:
    """``M1 Air conditioner and E5 Kettle: not both``; with more, that any one less may."""
    partial = any(0 < c < len(n) for n, c in zip(group.alike, counts, strict=True))
    if partial:
        return f"{_some(group, counts, rig)}: not together"
    chosen = [name for names, c in zip(group.alike, counts, strict=True) if c for name in names]
    words = [named(name, rig) for name in chosen]
    if len(words) == 2:
        return f"{words[0]} and {words[1]}: not both"
    return f"{', '.join(words[:-1])} and {words[-1]}: not all {len(words)}, any one less may"


# ---- batteries ----------------------------------------------------------------------------------


def _batteries(found: Capacity, rig: Rig) -> Section:
    head = ("battery", "usable", "everything on", "for", "stated use", "for", "a day leaves")
    rows = tuple(_battery(life, rig) for life in found.lives)
    return Section("Batteries", head, rows, tuple(_remarks(found.lives)))


def _battery(life: Life, rig: Rig) -> tuple[str, ...]:
    name = " + ".join(named(battery.name, rig) for battery in life.bank.batteries)
    return (
        f"{name}, {life.bank.volts:g} V {life.bank.amp_hours:g} Ah",
        energy(life.usable_wh),
        figure(life.all_w, "W") if life.all_w else "nothing",
        hours(life.all_hours),
        f"{energy(life.use_wh)} a day" if life.use_wh else "not stated",
        hours(life.days * 24 if life.days else None),
        energy(life.balance_wh) if life.balance_wh is not None else "–",
    )


def _remarks(lives: Iterable[Life]) -> Iterator[str]:
    lives = tuple(lives)
    if any(life.charges for life in lives):
        yield "How long it lasts is without charging; what charges in this mode stands below."
    for life in lives:
        if life.use_wh and life.silent:
            yield (
                f"On {life.bank.name} without `uses=`, and not in its stated use: "
                f"{', '.join(life.silent)}."
            )
        usual = [key for key in ("usable", "efficiency") if key not in life.given]
        if usual:
            words = " nor ".join(f"`{key}=`" for key in usual)
            yield f"{life.bank.name} states no {words}: what is usual for {life.chemistry.name}."


def _charging(life: Life) -> Section:
    return Section(
        f"Charging {life.bank.name}, from used up to full with the loads off",
        ("charger", "current", "time", "hours a day", "a day brings"),
        tuple(map(_charge, life.charges)),
    )


def _charge(charge: Charge) -> tuple[str, ...]:
    return (
        charge.name or "all together",
        figure(charge.amps, "A"),
        hours(charge.hours),
        "–" if charge.day_hours is None else f"{charge.day_hours:g} h",
        "–" if charge.day_wh is None else energy(charge.day_wh),
    )


def energy(wh: float) -> str:
    """Energy, Wh or kWh."""
    return figure(wh / 1000, "kWh") if abs(wh) >= 1000 else figure(wh, "Wh")


def hours(value: float | None) -> str:
    """A time in hours, or days where they are many."""
    if value is None:
        return "–"
    return f"{value / 24:.3g} days" if value >= 72 else f"{value:.3g} h"


# ---- layout -------------------------------------------------------------------------------------


def text(section: Section) -> str:
    """A section as aligned text."""
    lines = [section.title]
    if section.rows:
        table = [section.head, *section.rows]
        widths = [max(len(row[k]) for row in table) for k in range(len(section.head))]
        right = _numbers(section)
        lines += [
            "  "
            + "  ".join(
                f"{cell:>{w}}" if k in right else f"{cell:<{w}}"
                for k, (cell, w) in enumerate(zip(row, widths, strict=True))
            ).rstrip()
            for row in table
        ]
    return "\n".join([*lines, *(f"  {line}" for line in section.lines)])


def markdown(section: Section) -> str:
    """A section as Markdown."""
    parts = [f"### {section.title}", ""]
    if section.rows:
        parts += ["| " + " | ".join(map(plain, section.head)) + " |"]
        parts += ["|" + "|".join("---:" if k in _numbers(section) else "---"
                                 for k in range(len(section.head))) + "|"]  # fmt: skip
        parts += ["| " + " | ".join(map(plain, row)) + " |" for row in section.rows]
        parts.append("")
    parts += ["- " + _CODE.sub(r"`\1`", plain(line.strip())) for line in section.lines]
    return "\n".join(parts).rstrip()


def _numbers(section: Section) -> set[int]:
    """The columns of figures: those whose cells begin with a digit, a sign or a dash."""
    return {
        k
        for k in range(1, len(section.head))
        if all(row[k][:1] in "0123456789-–" and row[k] for row in section.rows)
    }


Layout = Callable[[Section], str]


def joined(parts: Sequence[Section], layout: Layout) -> str:
    return "\n\n".join(layout(section) for section in parts)
