"""Places in a text as editors count them (LSP 3.17, position encodings)."""

from __future__ import annotations

import pytest
from ferrule.cli.editor.layout import layout
from ferrule.cli.editor.spots import Edit, Lines, Spot, edited
from ferrule.dsl.model import Span
from ferrule.dsl.writer import Unreadable, format_text
from hypothesis import given
from hypothesis import strategies as st

# In UTF-16 code units: a is 1, the e with acute 1, the Gothic letter and the emoji 2 each.
MIXED = 'place A "é𐍈🔌"\nplace B "x"\n'


@pytest.mark.parametrize(
    ("encoding", "column"), [("utf-16", 9 + 1 + 2 + 2), ("utf-32", 9 + 3), ("utf-8", 9 + 2 + 4 + 4)]
)
def test_columns_are_code_units_of_the_encoding(encoding: str, column: int) -> None:
    lines = Lines(MIXED, encoding)
    closing = MIXED.index('"\n')
    assert lines.spot(closing) == Spot(0, column)
    assert lines.offset(Spot(0, column)) == closing


TEXTS = st.text(alphabet='ab "é𐍈🔌\n', max_size=60)


@given(TEXTS, st.data(), st.sampled_from(["utf-8", "utf-16", "utf-32"]))
def test_there_and_back(text: str, data: st.DataObject, encoding: str) -> None:
    offset = data.draw(st.integers(0, len(text)))
    lines = Lines(text, encoding)
    spot = lines.spot(offset)
    assert lines.offset(spot) == offset
    # What stands before it is as long as another count of it: that of Python's own encoder.
    before = text[:offset].split("\n")
    codec = {"utf-8": "utf-8", "utf-16": "utf-16-le", "utf-32": "utf-32-le"}[encoding]
    width = {"utf-8": 1, "utf-16": 2, "utf-32": 4}[encoding]
    assert spot == Spot(len(before) - 1, len(before[-1].encode(codec)) // width)


@given(TEXTS, st.integers(-2, 9), st.integers(-2, 99))
def test_a_place_that_is_not_there_is_the_nearest(text: str, line: int, column: int) -> None:
    assert 0 <= Lines(text).offset(Spot(line, column)) <= len(text)


@given(TEXTS, st.data())
def test_spans_and_indices_agree(text: str, data: st.DataObject) -> None:
    start = data.draw(st.integers(0, len(text)))
    end = data.draw(st.integers(start, len(text)))
    lines = Lines(text)
    assert lines.within(lines.span("f", start, end)) == (start, end)


def test_edits_are_made_whatever_their_order() -> None:
    edits = [Edit(Span("f", 1, 1, 1, 2), "XX"), Edit(Span("f", 1, 3, 1, 4), "")]
    assert edited("abc", edits) == edited("abc", edits[::-1]) == "XXb"


LINES = st.lists(
    st.sampled_from(
        ["", "  ", "# note", 'rig  "A"', "rules   nfpa70", 'place A   "é🔌"', "}", "wire W1"]
    ),
    max_size=8,
)


@given(LINES, st.sampled_from(["", "\n"]))
def test_the_edits_of_the_layout_make_the_layout(lines: list[str], end: str) -> None:
    text = "\n".join(lines) + end
    try:
        wanted = format_text(text)
    except Unreadable:
        assert layout(text, "f") == []
        return
    assert edited(text, layout(text, "f")) == wanted


def test_the_layout_leaves_alone_what_is_right() -> None:
    text = 'rig "A"\nrules nfpa70\nplace  B "C"\nambient 30degC\n'
    (edit,) = layout(text, "f")
    assert (edit.span.line, edit.span.end_line, edit.text) == (3, 4, 'place B "C"\n')
