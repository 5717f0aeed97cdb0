"""H: what runs through a route: how much, how far, and to where."""

from __future__ import annotations

from collections.abc import Iterator

from ...dsl.model import Conductor
from ..findings import ERROR, WARNING, Related
from ..registry import Hit, rule
from ..tracing.trace import Stage
from ..trade.fittings import FILL_SOURCE, fill_limit
from ..trade.housing import by_route, diameter_mm, names, on, place_of, statements
from .h_entries import PRACTICE, USUAL, fill


@rule("H11", "conduit-overfull", WARNING, clauses={"nfpa70": FILL_SOURCE, "": PRACTICE})
def conduit_overfull(stage: Stage) -> Iterator[Hit]:
    """More cables in a conduit than may fill it: 53 % for one, 31 % for two, 40 % for more.

    Up to 24 in (0.61 m) of conduit may be filled to 60 %.  An error under NFPA 70.
    Why: cables drawn into a full conduit lose their insulation in it, and keep their heat.
    Breaks it: three cables of 9 mm in a route with `inside=20mm`.
    Does not: a route that does not say how wide it is.
    """
    routes = stage.rig.routes
    if not any("inside" in route.attrs for route in routes.values()):
        return
    for name, runs in by_route(stage.rig).items():
        route = routes.get(name)
        inside = route.number("inside") if route else None
        if route is None or not inside:
            continue
        filled, limit = fill(runs, inside * 1000), fill_limit(len(runs), route.number("length"))
        if filled <= limit:
            continue
        said = all(diameter_mm(run)[1] for run in runs)
        if not said and filled <= limit * USUAL:
            continue
        yield Hit(
            on=(name, *(on(run) for run in runs)),
            span=route.span_of("inside"),
            message=f"{len(runs)} cables fill {filled:.0%} of {name}, {limit:.0%} may be filled",
            fix="take a wider conduit, or a second one",
            value=round(filled * 100, 1),
            limit=limit * 100,
            unit="%",
            severity=ERROR if said and stage.book.name == "nfpa70" else WARNING,
            why=tuple(f"{on(run)}: {diameter_mm(run)[0]:.1f} mm" for run in runs),
        )


@rule("H15", "route-reaches-not", WARNING, clauses={"": PRACTICE})
def route_reaches_not(stage: Stage) -> Iterator[Hit]:
    """A cable through routes that do not run to the place where it ends.

    Only where every route of the cable says what it `joins=`, and the device says where it stands.
    Why: the cable is longer than its author thinks, and runs where nobody counts it.
    Breaks it: `via=DUCT` with `joins=REAR,HALL`, on a cable to a device in CABIN.
    Does not: a route that joins the places of both ends; two routes that meet in a place.
    """
    routes = stage.rig.routes
    if not any("joins" in route.attrs for route in routes.values()):
        return
    for run in statements(stage.rig, "via").values():
        joined = [routes[name].attrs.get("joins") for name in run[0].via if name in routes]
        if not all(isinstance(places, tuple) for places in joined):
            continue
        reached = {place for places in joined if isinstance(places, tuple) for place in places}
        for end in dict.fromkeys(e for c in run for e in (c.a, c.b)):
            place = place_of(stage.rig, end.device)
            if place and place not in reached:
                yield _unreached(stage, run, end.device, place)
                break


def _unreached(stage: Stage, run: list[Conductor], device: str, place: str) -> Hit:
    through = ", ".join(run[0].via)
    return Hit(
        on=(*names(run), device),
        span=run[0].span_of("via"),
        message=f"{on(run)} runs through {through}, and ends on {device} in {place}, where "
        f"{'that does' if len(run[0].via) == 1 else 'those do'} not go",
        fix=f"name the routes that go to {place}, or the place where {device} stands",
        related=tuple(Related(stage.rig.routes[r].span_of("joins"), "joins") for r in run[0].via),
    )


@rule("H16", "shorter-than-its-route", clauses={"": "the lengths the text gives"})
def shorter_than_its_route(stage: Stage) -> Iterator[Hit]:
    """A cable shorter than the routes it runs through.

    Why: it does not reach, or it does not run there; either way all figures that rest on its
    length are wrong.
    Breaks it: 2.5 m of cable through a route with `length=4m`.
    Does not: a cable longer than its routes by what both ends need; a route without a length.
    """
    routes = stage.rig.routes
    if not any("length" in route.attrs for route in routes.values()):
        return
    for run in statements(stage.rig, "via").values():
        along = sum(routes[n].number("length") or 0.0 for n in run[0].via if n in routes)
        if along > run[0].length_m:
            yield Hit(
                on=(*names(run), *run[0].via),
                span=run[0].span_of("length"),
                message=f"{on(run)} is {run[0].length_m:g} m long, its routes are {along:g} m",
                fix=f"measure {on(run)} from terminal to terminal",
                value=run[0].length_m,
                limit=along,
                unit="m",
                related=tuple(
                    Related(routes[n].span_of("length"), "its length") for n in run[0].via
                ),
            )
