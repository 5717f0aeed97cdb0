"""``ferrule enter``: readings understood, judged, due again, and files that are no readings."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import math
import tempfile
from pathlib import Path

import pytest
from ferrule.checks.commissioning import Trial, commissioning
from ferrule.checks.commissioning.readings import NotUnderstood, judge, understood
from ferrule.checks.tracing.trace import analyse
from ferrule.cli.main import main
from ferrule.dsl.reader import read
from ferrule.render.schedule_commissioning import csv_text
from ferrule.render.schedule_probes import csv_text as probes_text
from hypothesis import given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parents[1]
RIG = ROOT / "examples/field_kitchen.rig"
STAGE = analyse(read(RIG).rigs[-1])
SHEET = list(csv.reader(io.StringIO(csv_text(STAGE))))
TRIALS = {trial.id: trial for step in commissioning(STAGE) for trial in step.trials}


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("0.35", "ohm", 0.35),
        ("0,35", "ohm", 0.35),
        (",35 Ω", "ohm", 0.35),
        ("350 mΩ", "ohm", 0.35),
        ("350mohm", "ohm", 0.35),
        ("1.2 kohm", "ohm", 1200),
        ("25 000", "ohm", 25000),
        ("2 GΩ", "Mohm", 2000),
        ("500 kΩ", "Mohm", 0.5),
        ("230 V AC", "V", 230),
        ("230V", "V", 230),
        ("-12,7 V DC", "V", -12.7),
        ("−12.7", "V", -12.7),
        ("38", "ms", 38),
        ("0.038 s", "ms", 38),
        ("1.5 kA", "A", 1500),
        ("1E+03", "A", 1000),
        ("OL", "Mohm", math.inf),
        ("O.L", "ohm", math.inf),
        ("OL MΩ", "Mohm", math.inf),
        (" ok ", "", True),
        ("Yes", "", True),
        ("✓", "", True),
        ("no", "", False),
    ],
)
def test_how_people_write_readings(text: str, unit: str, value: float | bool) -> None:
    found = understood(text, unit)
    assert type(found) is type(value) or isinstance(found, float)
    assert found == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("1,234.5", "ohm"),  # two signs
        ("1.234,5", "ohm"),
        ("230 V", "ohm"),  # another dimension
        ("230", ""),  # a figure where an answer is wanted
        ("yes", "V"),
        ("x", ""),  # a tick to one, a cross to another
        ("about 3", "V"),
        ("3 furlongs", "V"),
        ("1e99999", "V"),
        ("nan", "V"),
        ("=1+1", "V"),
        ("", "V"),
        ("9" * 400, "V"),
    ],
)
def test_what_is_not_understood(text: str, unit: str) -> None:
    with pytest.raises(NotUnderstood):
        understood(text, unit)


def trial(low: float | None = None, high: float | None = None, unit: str = "ohm") -> Trial:
    return Trial("T", "", "", "", "", unit, None, low, high)


@pytest.mark.parametrize(
    ("text", "bounds", "good"),
    [
        ("0.2", (None, 0.2), True),
        ("0.21", (None, 0.2), False),
        ("1", (1.0, None), True),
        ("0.99", (1.0, None), False),
        (">999", (1000.0, None), False),
        (">1000", (1000.0, None), True),
        ("<0.2", (None, 0.2), True),
        (">0.2", (None, 0.2), False),
        ("OL", (25000.0, None), True),
        ("OL", (None, 300.0), False),  # a device that never tripped
        ("-12.7", (11.4, 13.2), False),  # reversed
        ("15 ohm", (15.0, 15.0), True),  # what is printed on a device
        ("16", (15.0, 15.0), False),
    ],
)
def test_bounds(text: str, bounds: tuple[float | None, float | None], good: bool) -> None:
    assert (judge(trial(*bounds), understood(text, "ohm")) == "") is good


@given(st.text(max_size=60), st.sampled_from(["", "V", "A", "ohm", "Mohm", "ms", "mA"]))
def test_any_text_is_a_reading_or_refused(text: str, unit: str) -> None:
    try:
        found = understood(text, unit)
    except NotUnderstood as error:
        assert str(error)
    else:
        assert isinstance(found, bool) if unit == "" else not math.isnan(found)


def good_reading(found: Trial) -> str:
    """A reading within the bounds of a test."""
    if found.unit == "":
        return "yes"
    if found.expected == math.inf:
        return "OL"
    low = found.low if found.low is not None else 0.0
    high = found.high if found.high is not None else max(low * 2, 1.0)
    return f"{(low + high) / 2:.6g}"


def filled(readings: dict[str, str] | None = None, delimiter: str = ",") -> str:
    """The kitchen's sheet with every reading good, but for those given."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter, lineterminator="\n")
    place = SHEET[0].index("reading")
    for row in SHEET:
        cells, name = list(row), row[1]
        if name in TRIALS:
            own = readings or {}
            cells[place] = own.get(name, good_reading(TRIALS[name]))
        writer.writerow(cells)
    return out.getvalue()


@pytest.fixture
def enter(tmp_path: Path, capsys: pytest.CaptureFixture[str]):  # type: ignore[no-untyped-def]
    """Runs the command on a text of readings; gives the exit code and what was printed."""

    def run(text: str | bytes, *more: str, rig: Path = RIG) -> tuple[int, str, str]:
        file = tmp_path / "readings.csv"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        code = main(["enter", str(rig), str(file), *more])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


def states(out: str) -> dict[str, str]:
    return {entry["test"]: entry["state"] for entry in json.loads(out)["entries"]}


def test_all_good(enter) -> None:  # type: ignore[no-untyped-def]
    code, out, _ = enter(filled())
    assert code == 0
    assert f"{len(TRIALS)} within bounds, 0 not done" in out


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_as_spreadsheets_save_it(enter, delimiter: str) -> None:  # type: ignore[no-untyped-def]
    """A byte-order mark, another delimiter, decimal commas, line ends of two characters."""
    text = filled({"PE-E1": "0,05 Ω"}, delimiter).replace("\n", "\r\n")
    code, out, _ = enter(b"\xef\xbb\xbf" + text.encode())
    assert code == 0, out


def test_out_of_bounds_says_both_figures_and_the_basis(enter) -> None:  # type: ignore[no-untyped-def]
    code, out, _ = enter(filled({"IR-Q1": "0.3", "RCD-F1-1x-SITE": "OL", "SEE-torque": "no"}))
    assert code == 1
    assert "out of bounds: 3" in out
    assert "IR-Q1  `0.3`: below 1 Mohm" in out
    assert "IEC 60364-6:2016 6.4.3.3, Table 6.1" in out
    assert "answered no" in out


def test_not_done_and_so_far(enter) -> None:  # type: ignore[no-untyped-def]
    text = filled({"IR-Q1": "", "PE-E1": " "})
    code, out, _ = enter(text, "--format", "json")
    assert code == 1
    assert [name for name, state in states(out).items() if state == "not done"] == [
        "PE-E1", "IR-Q1",
    ]  # fmt: skip
    assert enter(text, "--so-far")[0] == 0


def test_a_sheet_with_lines_missing(enter) -> None:  # type: ignore[no-untyped-def]
    lines = [line for line in filled().splitlines() if ",IR-Q1," not in line]
    code, out, _ = enter("\n".join(lines), "--format", "json")
    assert code == 1 and states(out)["IR-Q1"] == "not in the file"


def test_a_changed_circuit_is_due_again_whatever_was_read(enter, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """IEC 60364-6: what a change affects is tested again; what it does not, is not."""
    text = RIG.read_text(encoding="utf-8")
    line = next(line for line in text.splitlines() if line.startswith("cable C5 "))
    changed = tmp_path / "changed.rig"
    changed.write_text(text.replace(line, line.replace(" 1.6m", " 9.6m")), encoding="utf-8")
    code, out, _ = enter(filled(), "--format", "json", rig=changed)
    assert code == 1
    found = states(out)
    assert found["PE-X2"] == found["IR-Q5"] == found["ZS-Q5"] == "due again"
    assert found["PE-X1"] == found["IR-Q6"] == found["FIT-Q5"] == "good"


def test_a_row_without_its_digest_proves_nothing(enter) -> None:  # type: ignore[no-untyped-def]
    digest = SHEET[0].index("digest")
    rows = list(csv.reader(io.StringIO(filled())))
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(row[:digest] for row in rows)
    code, printed, _ = enter(out.getvalue())
    assert code == 1 and "carries no digest" in printed


def test_readings_of_what_is_gone(enter) -> None:  # type: ignore[no-untyped-def]
    """The base stage has no inverter: its tests are told, and fail nothing."""
    code, out, _ = enter(filled(), "--stage", "base", "--format", "json", "--so-far")
    assert states(out)["REL-U1"] == "gone"
    assert code in (0, 1)


def test_one_test_twice_with_two_readings(enter) -> None:  # type: ignore[no-untyped-def]
    line = next(line for line in filled({"IR-Q1": "7"}).splitlines() if "IR-Q1" in line)
    code, out, _ = enter(filled({"IR-Q1": "9"}) + line + "\n")
    assert code == 1 and "twice in the file: `9`" in out


def test_the_probe_table_is_entered_too(enter) -> None:  # type: ignore[no-untyped-def]
    rows = list(csv.reader(io.StringIO(probes_text(STAGE))))
    heads = rows[0]
    for row in rows[1:]:
        expected = row[heads.index("expected")]
        row[heads.index("reading")] = expected
    wrong = next(row for row in rows if row[1] == "V-site-X1.L-N")
    wrong[heads.index("reading")] = "115 V"
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(rows)
    code, printed, _ = enter(out.getvalue(), "--format", "json")
    found = states(printed)
    assert code == 1
    assert [name for name, state in found.items() if state != "good"] == ["V-site-X1.L-N"]


@pytest.mark.parametrize(
    "text",
    [
        b"",
        b"\n\n\n",
        b"\x00\x01\x02",
        b"\xff\xfe\x00",
        b"test,reading\n",
        b"test,reading\nNO-SUCH,1\n",
        b"name,value\nIR-Q1,1\n",
        b'test,reading\n"IR-Q1,1\n' + b"a" * 200_000,
    ],
)
def test_files_that_are_no_readings(enter, text: bytes) -> None:  # type: ignore[no-untyped-def]
    code, out, err = enter(text)
    assert (code, out) == (2, "")
    assert err.startswith("ferrule: ") and "Traceback" not in err and "defect" not in err


def test_nothing_in_a_file_moves_the_cursor(enter) -> None:  # type: ignore[no-untyped-def]
    text = filled({"IR-Q1": "\x1b[2J=cmd|' /C calc'!A0"})
    code, out, _ = enter(text)
    assert code == 1 and "\x1b" not in out and "\\x1b" in out
    json.loads(enter(text, "--format", "json")[1])


CELL = st.text(max_size=12) | st.sampled_from(["IR-Q1", "test", "reading", "digest", "OL", "1,5"])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(CELL, max_size=6), max_size=6), st.sampled_from(",;\t"))
def test_any_table_is_read_or_refused(rows: list[list[str]], delimiter: str) -> None:
    """Through the whole command: no traceback, one of the three exit codes."""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerow(["test", "reading", "digest"])
    writer.writerow(["IR-Q1", "5", ""])
    writer.writerows(rows)
    said = io.StringIO()
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "r.csv"
        file.write_bytes(out.getvalue().encode("utf-8", "surrogatepass"))
        with contextlib.redirect_stdout(said), contextlib.redirect_stderr(said):
            code = main(["enter", str(RIG), str(file)])
    assert code in (0, 1, 2)
    assert "defect" not in said.getvalue()
