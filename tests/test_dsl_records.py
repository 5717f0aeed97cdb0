"""A record is what a frozen dataclass of the standard library is, made faster."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import pytest
from ferrule.dsl.model import Size, Span
from ferrule.dsl.records import record, replace


@record
class Point:
    x: float
    y: float = 0.0
    names: tuple[str, ...] = ()


@record
class Named(Point):
    label: str = ""

    @cached_property
    def loud(self) -> str:
        return self.label.upper()


@dataclass(frozen=True, slots=True)
class Peer:
    x: float
    y: float = 0.0
    names: tuple[str, ...] = ()


def test_it_takes_equals_hashes_and_shows_as_a_dataclass_does() -> None:
    for arguments in ((1.0,), (1.0, 2.0), (1.0, 2.0, ("a",))):
        ours, peer = Point(*arguments), Peer(*arguments)
        assert repr(ours) == repr(peer).replace("Peer", "Point")
        assert hash(ours) == hash(peer)
        assert ours == Point(*arguments) and ours != Point(9.0)
    with pytest.raises(TypeError):
        Point()  # type: ignore[call-arg]
    with pytest.raises(TypeError):
        Point(1.0, z=2.0)  # type: ignore[call-arg]


def test_it_does_not_change() -> None:
    point = Point(1.0)
    with pytest.raises(AttributeError):
        point.x = 2.0  # type: ignore[misc]
    with pytest.raises(AttributeError):
        del point.x  # type: ignore[misc]
    with pytest.raises(AttributeError):
        point.other = 1  # type: ignore[attr-defined]
    assert replace(point, y=3.0) == Point(1.0, 3.0) and point.y == 0.0


def test_records_of_two_types_are_never_equal() -> None:
    assert Point(1.0) != Peer(1.0)
    assert Point(1.0) != Named(1.0)
    assert Size(2.5, "2.5mm2") != (2.5, "2.5mm2")


def test_fields_are_inherited_first_and_a_cached_property_is_kept() -> None:
    named = Named(1.0, 2.0, (), "main")
    assert named.loud == "MAIN" and named.loud is named.loud
    match named:
        case Named(x, y, _, label):
            assert (x, y, label) == (1.0, 2.0, "main")


def test_a_plain_record_has_no_dict() -> None:
    assert not hasattr(Span("f", 1, 1, 1, 2), "__dict__")
