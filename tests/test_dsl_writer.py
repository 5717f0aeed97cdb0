"""The canonical layout: alignment, comments, the same model; and no text that crashes."""
# ruff: noqa: E501 (a row of a table of texts stays on its line)

from pathlib import Path

import pytest
from ferrule.dsl.model import Conductor, Device, Rig
from ferrule.dsl.problems import plain, render_problem
from ferrule.dsl.reader import read_text
from ferrule.dsl.records import replace
from ferrule.dsl.writer import Unreadable, format_text
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

VAN = (Path(__file__).parent / "data" / "van.rig").read_text(encoding="utf-8")


def bare(rigs: tuple[Rig, ...]) -> list[object]:
    """Rigs without the places their parts stand at in the text."""

    def device(d: Device) -> object:
        return replace(d, span=None, attr_spans={})  # type: ignore[arg-type]

    def conductor(c: Conductor) -> object:
        ends = (c.a.name, c.b.name)
        return replace(c, span=None, attr_spans={}, a=None, b=None), ends  # type: ignore[arg-type]

    return [
        (
            r.stage, r.label, r.attrs, r.book, r.ambient_c,
            [device(d) for d in r.devices.values()],
            [conductor(c) for c in r.conductors.values()],
            [(m.name, m.label, [(s.device, s.state) for s in m.settings]) for m in r.modes.values()],
            [(p.name, p.label, p.attrs) for p in (*r.places.values(), *r.routes.values())],
            [(p.name, p.kind, p.attrs) for p in r.parts.values()],
            [(p.name, p.ways, p.place) for p in r.panels.values()],
            [(a.rule, a.on, a.because) for a in r.accepts],
        )
        for r in rigs
    ]  # fmt: skip


def hold(text: str) -> str:
    """What must be true of every sound text: laid out once as twice, and the same model."""
    once = format_text(text)
    assert format_text(once) == once
    before, after = read_text(text), read_text(once)
    assert bool(before.problems) == bool(after.problems)
    if not before.problems:
        assert bare(before.rigs) == bare(after.rigs)
    return once


def test_the_example_is_laid_out() -> None:
    lines = hold(VAN).split("\n")
    assert 'breaker QS   "Shore main"    mcb30 at=AP.1' in lines
    assert "cable C1 3x14AWG 4.2m Q1.2 NBAR.2 EBAR.2 -> E1.(L N PE)        via=DUCT" in lines
    assert 'mode shore "On site supply" { SHORE=on }' in lines
    assert '  mode shore "On site supply" { SHORE=on  U1=pass   }' in lines
    assert '  mode away  "On battery"     { SHORE=off U1=invert }' in lines


@pytest.mark.parametrize(
    ("text", "laid_out"),
    [
        ("lamp  A   12V   # x  y \n", "lamp A 12V  # x  y\n"),
        ("\n\n# top\n\n\n\nlamp A\n\n\n", "# top\n\nlamp A\n"),
        ("lamp A\n# between\nsocket BC 15A\n", "lamp   A\n# between\nsocket BC 15A\n"),
        ("stage S { remove A B }", "stage S {\n  remove A B\n}\n"),
        ("stage S {  # why\n# in\nremove A\n} # end\n", "stage S {  # why\n  # in\n  remove A\n}  # end\n"),
        ("mode m \"M\" {A=on\n  B=off # b\n# c\n}\n", "mode m \"M\" { A=on\n  B=off  # b\n  # c\n}\n"),
        ("wire W 1mm2 2m \\\n A.1   ->  B.2 # e\n", "wire W 1mm2 2m \\\n    A.1 -> B.2  # e\n"),
        ("wire W 1mm2 2m A.( 1  2 )->B.1\nlink L A.1 -> B.2 cord\n",
         "wire W 1mm2 2m A.(1 2) -> B.1\nlink L         A.1     -> B.2 cord\n"),
        ("mode a { X=on Y=off }\nmode bb { Y=on }\n", "mode a  { X=on Y=off }\nmode bb { Y=on }\n"),
        ('lamp A "#1 { \\\\ }"\n', 'lamp A "#1 { \\\\ }"\n'),
        ("\\\nlamp A \\\n\nsocket BC\n", "lamp   A\nsocket BC\n"),
        ("", ""),
    ],
)  # fmt: skip
def test_layout(text: str, laid_out: str) -> None:
    if text.startswith("mode m"):
        laid_out = 'mode m "M" {A=on\n'.replace("{A", "{ A") + laid_out.split("\n", 1)[1]
    assert hold(text) == laid_out


def test_a_text_that_does_not_parse_is_refused() -> None:
    with pytest.raises(Unreadable) as caught:
        format_text("lamp A 12V\nwire W 1m A.1\nwrie V\n")
    assert [p.span.line for p in caught.value.problems] == [2, 3]


# -- generated rigs -------------------------------------------------------------------------------

BLANKS = st.sampled_from([" ", "  ", "\t", "   "])
LABELS = st.text(
    st.characters(blacklist_characters="\n\r\x00", blacklist_categories=("Cc", "Cs")), max_size=12
)
COMMENTS = st.sampled_from(["", "", " # note", "#tight", ' # with \\ and { } " in it'])


@st.composite
def rigs(draw: st.DrawFn) -> str:
    """A sound rig: a bar, loads on it, comments, blank lines, carried-on statements, a stage."""
    count = draw(st.integers(1, 6))
    lines = ["rules iec60364", "bus BAR 100A positions=40"]
    for n in range(count):
        label = draw(LABELS.filter(lambda s: "\ufffd" not in s and "\ufeff" not in s))
        label = label.replace("\\", r"\\").replace('"', r"\"")
        gap, more = draw(BLANKS), draw(st.sampled_from([" ", " \\\n ", " \\\n\t"]))
        power = draw(st.integers(1, 3000))
        lines.append(
            f'{draw(st.sampled_from(["lamp", "heater", "motor"]))}{gap}E{n} "{label}" 230V{more}{power}W'
            + draw(COMMENTS)
        )
        lines.append(
            f"cable{gap}C{n}{gap}2x1.5mm2 {n + 1}m{more}BAR.({gap}{2 * n + 1} {2 * n + 2}) -> E{n}.(L N)"
            + draw(COMMENTS)
        )
        lines += [""] * draw(st.integers(0, 3))
    body = [f"change E{draw(st.integers(0, count - 1))} 10W", "lamp F 230V" + draw(COMMENTS)]
    close = draw(st.sampled_from(["\n}", "\n\n  } # end"]))
    lines.append("stage S {" + draw(COMMENTS) + "\n" + "\n".join(body) + close)
    lines.append("mode m {" + draw(st.sampled_from([" ", "\n", " # c\n"])) + "E0=off }")
    return "\n".join(lines)


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(rigs())
def test_layout_of_generated_rigs(text: str) -> None:
    assert not read_text(text).problems
    hold(text)


# -- nothing crashes --------------------------------------------------------------------------------

LINES = VAN.split("\n")
SCRAPS = ["{", "}", "->", '"', "#", "\\", "=", "(", ")", ".", "stage X {", "use \"x\"", "9" * 400, "1e999A",
          "\x00", "é", "W1", "remove", "0x0AWG", "-1A", "E1.(", "1..2", "at=AP.0-9999", "poles=3N", "\r", "\u2028"]  # fmt: skip


def survives(text: str) -> None:
    """Reading and laying out any text ends in a result or in problems that can be shown."""
    reading = read_text(text)
    assert bool(reading.rigs) != bool(reading.problems)
    for problem in reading.problems:
        assert plain(problem.message) in render_problem(problem, reading.sources)
        lines = reading.sources.get(problem.span.file, "").split("\n")
        assert 1 <= problem.span.line <= max(1, len(lines))
    try:
        hold(text)
    except Unreadable as error:
        assert error.problems


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(VAN) - 1), st.integers(0, 30), st.text(max_size=5))
def test_any_mutation_of_characters_is_survived(start: int, length: int, text: str) -> None:
    survives(VAN[:start] + text + VAN[start + length :])


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_any_mutation_of_bytes_is_survived(data: st.DataObject) -> None:
    raw = bytearray(VAN.encode())
    for _ in range(data.draw(st.integers(1, 4))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    survives(raw.decode("utf-8", errors="replace"))


@settings(max_examples=60, deadline=None)
@given(st.permutations(range(len(LINES))), st.integers(0, 20), st.integers(0, len(LINES)))
def test_any_order_and_loss_of_lines_is_survived(order: list[int], lost: int, doubled: int) -> None:
    lines = [LINES[n] for n in order[lost:]]
    survives("\n".join([*lines, *lines[:doubled]]))


@settings(max_examples=100, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 400), st.sampled_from(SCRAPS)), min_size=1, max_size=4))
def test_any_mutation_of_words_is_survived(changes: list[tuple[int, str]]) -> None:
    words = VAN.split(" ")
    for place, scrap in changes:
        words[place % len(words)] = scrap
    survives(" ".join(words))


def test_absurd_nesting_is_survived() -> None:
    survives("rules nfpa70\n" + "stage A { " * 500 + "(" * 5000 + "}" * 900)


def test_quotes_in_labels_stay_as_they_are_written() -> None:
    text = 'lamp E1 "Lamp, 19\\" rack  \\\\ # aft" 120V 60W  # note "a\nlamp E20 "x" 120V 60W\n'
    laid = format_text(text)
    assert '"Lamp, 19\\" rack  \\\\ # aft"' in laid
    assert laid.splitlines()[0].endswith('# note "a')
    assert format_text(laid) == laid
