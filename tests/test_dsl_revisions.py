"""Revisions: read, laid out, compared, merged, and printed on the cover."""

from __future__ import annotations

import pytest
from ferrule.checks.tracing.trace import analyse
from ferrule.dsl.compare import apply, compare
from ferrule.dsl.merge import merge
from ferrule.dsl.model import Rig
from ferrule.dsl.reader import read_text
from ferrule.dsl.things import meaning
from ferrule.dsl.writer import format_text
from ferrule.render.audit import audit
from ferrule.render.canvas import Sheet
from ferrule.render.draw import draw
from ferrule.render.marks import Text

TEXT = """\
rig "Ticket wagon" revision=B date=2026-03-01 drawn=KL
revision A "First issue" date=2025-11-20 drawn=KL checked=MO
revision B "Outlet moved to the hall" date=2026-03-01 drawn=KL
rules iec60364
supply GRID "Grid" 230V 50Hz 16A fault=1kA bonded
lamp E1 "Lamp" 230V 60W
cable C1 3x1.5mm2 4m GRID.(L N PE) -> E1.(L N PE)
stage LATER "One lamp more" {
  revision 3 "A \\"second\\" lamp" date=2026-05-02
  lamp E2 "Lamp" 230V 60W
  cable C2 3x1.5mm2 1m E1.(L N PE) -> E2.(L N PE)
}
"""


def rigs(text: str) -> tuple[Rig, ...]:
    reading = read_text(text)
    assert not reading.problems, [p.message for p in reading.problems]
    return reading.rigs


def test_revisions_in_the_order_of_the_text_a_stage_adds_its_own() -> None:
    base, later = rigs(TEXT)
    assert list(base.revisions) == ["A", "B"]
    assert list(later.revisions) == ["A", "B", "3"]
    first = base.revisions["A"]
    assert first.label == "First issue"
    assert dict(first.attrs) == {"date": "2025-11-20", "drawn": "KL", "checked": "MO"}
    assert later.revisions["3"].label == 'A "second" lamp'


@pytest.mark.parametrize(
    ("line", "message", "column"),
    [
        ('revision A "Again"', "the name A is taken", 10),
        ("revision C date=2026-04-01", "`date=2026-04-01` does not belong here", 12),
        ('revision "No name"', 'the label "No name" does not belong here', 10),
        ('revision C "Odd" size=3', "size", 18),
        ('revision C "A flag" bonded', "bonded", 21),
    ],
)
def test_what_is_wrong_with_a_revision(line: str, message: str, column: int) -> None:
    (problem,) = read_text(f"{TEXT}{line}\n").problems
    assert message in problem.message
    assert problem.span.column == column


def test_a_revision_is_no_device_and_takes_no_name_from_one() -> None:
    (rig,) = rigs('rules iec60364\nrevision E1 "x"\nlamp E1 "Lamp" 230V 60W\n')
    assert list(rig.devices) == ["E1"]
    assert read_text("rules iec60364\nremove A\n" + TEXT.partition("rules")[0]).problems


def test_revisions_are_laid_out_in_columns() -> None:
    loose = 'rules nfpa70\nrevision   A "First"  date=1\nrevision 10  "Second one"   date=2\n'
    once = format_text(loose)
    assert once.split("\n")[1:3] == [
        'revision A  "First"      date=1',
        'revision 10 "Second one" date=2',
    ]
    assert format_text(once) == once


def test_a_new_revision_is_told_and_can_be_put_on() -> None:
    old, new = rigs(TEXT)[0], rigs(TEXT.replace("Outlet moved", "Outlets moved"))[0]
    changes = compare(old, new)
    assert [(c.group, c.verb, c.name) for c in changes] == [("revision", "relabelled", "B")]
    more = rigs(TEXT.replace("rules", 'revision C "Third" date=1\nrules'))[0]
    (added,) = compare(old, more)
    assert (added.group, added.verb, added.name) == ("revision", "added", "C")
    for goal in (new, more):
        assert meaning(apply(old, compare(old, goal))) == meaning(goal)
        assert meaning(apply(goal, compare(goal, old))) == meaning(old)


def test_two_sides_that_add_the_same_revision_are_asked() -> None:
    ours, theirs = (TEXT.replace("rules", f'revision C "{w}"\nrules') for w in ("One", "Two"))
    assert merge(TEXT, ours, ours).conflicts == ()
    assert any("revision C" in line for line in map(str, merge(TEXT, ours, theirs).conflicts))


def words(sheet: Sheet) -> list[str]:
    return [item.text for item in sheet.items if isinstance(item, Text)]


def test_the_cover_prints_the_revisions_and_no_line_twice() -> None:
    base, later = rigs(TEXT)
    cover = draw(analyse(base), only=("cover",))[0]
    assert audit(cover) == []
    said = words(cover)
    for cell in ("A", "2025-11-20", "First issue", "MO", "Outlet moved to the hall"):
        assert cell in said
    assert "Stage base" not in said[said.index("First issue") :]
    assert 'A "second" lamp' not in said
    assert 'A "second" lamp' in words(draw(analyse(later), only=("cover",))[0])
