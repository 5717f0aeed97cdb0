"""Megabytes made to be hard to read: refused in plain words, in time, within memory.

The bars are of this project: no traceback, no 2 seconds of a processor, no 500 MB.
"""

from __future__ import annotations

import resource
import subprocess
import sys
from pathlib import Path

import pytest
from ferrule.dsl.kinds import kinds
from ferrule.dsl.most import MOST_LANDED, MOST_LOOKED_AT, MOST_LOOSE, MOST_OF, SOURCES
from ferrule.dsl.problems import MOST
from ferrule.dsl.reader import read_text
from ferrule.dsl.site import MOST_TERMINALS
from ferrule.dsl.source import LONGEST, TANGLED

MB = 1_000_000
HEAD = 'rig "x"\nrules nfpa70\n'
SUPPLY = 'supply S "s" 120V 60Hz 30A fault=2kA bonded\nbus B "b" 100A positions=8\n'
SECONDS, MEGABYTES = 2, 500
# What one line or a few make of a megabyte, or of ten.
LINES: dict[str, str] = {
    "no end": "a" * 10 * MB,
    "a label of 10 MB": f'place A "{"x" * 10 * MB}"',
    "an open label": '"' * MB,
    "escaped quotes": 'place A "' + '\\"' * (MB // 2),
    "lines that go on": "\\\n" * (MB // 2),
    "a statement that goes on": "lamp E1 \\\n" * (MB // 10),
    "opening braces": "{" * MB,
    "closing braces": "}" * MB,
    "pairs of braces": "{}" * (MB // 2),
    "braces by the line": "{\n}\n" * (MB // 4),
    "open modes": "mode m {\n" * (MB // 9),
    "a mode of many": "mode m {\n" + " S=on\n" * (MB // 6) + "}",
    "open stages": "stage A {\n" * (MB // 10),
    "nested brackets": "wire W1 10AWG 1m X." + "(" * MB,
    "many terminals": f"wire W1 10AWG 1m X.({'L ' * (MB // 2)}) -> Y.1",
    "arrows": "wire W 10AWG 1m " + "-> " * (MB // 3),
    "words": "lamp E1 " + "a " * (MB // 2),
    "attributes": "lamp E1 " + "a=" * (MB // 2),
    "values": "lamp E1 colours=" + "a," * (MB // 2),
    "digits": "breaker Q1 " + "9" * MB + "A",
    "a name": "lamp " + "A" * MB,
    "zero bytes": "\0" * MB,
    "replaced bytes": "\ufffd\n" * (MB // 3),
    "carriage returns": "\r" * MB,
    "byte order marks": "\ufeff" * (MB // 3),
    "form feeds": "\x0c\n" * (MB // 2),
    "comments": "#\n" * (MB // 2),
}
# What many lines make of it, each with its number.
ROWS: dict[str, str] = {
    "stages": "stage T{} {{ }}",
    "modes": 'mode m{} "m" {{ S=on }}',
    "supplies": 'supply S{} "l" 120V 60Hz 30A fault=2kA bonded',
    "terminals": 'bus X{} "b" 100A positions=400',
    "missing files": 'use "x{}.rig"',
    "shipped files": 'use "parts/bars.rig"',
    "unknown words": "zork{} !!",
    "near words": "brekaer Q{} 15A",
    "lost ends": "wire W{} 10AWG 1m X{}.1 -> Y{}.1",
    "one name": "lamp E1 60W",
    "no numbers": "lamp E{} nanV infW",
    "huge numbers": "lamp E{} 1e999V 99999999999999999999999W",
    "removals": "remove Q{}",
    "accepts": 'accept P01 on Q{} because "x"',
    "places": 'place P{} "p"',
    "routes": 'route R{} "r"',
    "parts": "part p{} breaker 15A poles=1",
    "revisions": 'revision r{} "what changed" date=2026-01-01',
    "wires on two terminals": "wire W{} 10AWG 1m S.L -> B.1",
    "bonds on two terminals": "bond W{} 10AWG 1m S.N -> B.1",
    "links on two terminals": "link W{} S.L -> B.1",
    "cables on as many": "cable W{} 3x10AWG 1m S.(L N PE) -> B.(1 2 3)",
    "changes": "change B 100A",
    "moves": "move W S.L -> B.1",
}
AMOUNTS = {
    "V": "120V", "Hz": "60Hz", "A": "30A", "mA": "30mA", "Ah": "100Ah", "W": "100W", "VA": "500VA"
}  # fmt: skip
# A megabyte of each kind of device, as bare as can be and with its headline, connected to nothing.
for name, kind in kinds().items():
    ROWS[f"bare {name}"] = f"{name} X{{}}"
    ROWS[f"{name}"] = f'{name} X{{}} "l" ' + " ".join(AMOUNTS[unit] for unit in kind.headline)


# What there is nothing wrong with.
SOUND = {"form feeds", "shipped files", "accepts", "revisions", "changes"}


def rows(row: str) -> str:
    count = MB // len(row.format(12345, 12345, 12345))
    return "\n".join(row.format(n, n, n) for n in range(count))


def within_bars(text: str, code: int = 2) -> str:
    """What a check in a process of its own, that may use no more than the bars, says of a text."""

    def bound() -> None:
        resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
        resource.setrlimit(resource.RLIMIT_AS, (MEGABYTES * MB, MEGABYTES * MB))

    argv = [sys.executable, "-m", "ferrule.cli.main", "check", "/dev/stdin"]
    ran = subprocess.run(argv, input=text.encode(), capture_output=True, preexec_fn=bound)
    said = ran.stderr.decode()
    assert ran.returncode == code, (ran.returncode, said[:500])
    assert "Traceback" not in said and "a defect of ferrule" not in said, said[:2000]
    assert "does not fit into memory" not in said
    return said


@pytest.mark.parametrize("name", LINES)
def test_a_hard_line_is_answered_within_the_bars(name: str) -> None:
    blank = name in ("comments", "carriage returns")  # wrong with it: no rules are named
    text = LINES[name] if blank else HEAD + LINES[name]
    said = within_bars(text, 0 if name in SOUND else 2)
    assert not blank or "whose rules it follows" in said


@pytest.mark.parametrize("name", ROWS)
def test_a_megabyte_of_hard_statements_is_answered_within_the_bars(name: str) -> None:
    within_bars(HEAD + SUPPLY + rows(ROWS[name]), 0 if name in SOUND else 2)


@pytest.mark.parametrize("depth", [50, 50_000])
def test_a_chain_of_files_ends(depth: int) -> None:
    def beside(path: str) -> str:
        number = int(path.removesuffix(".rig"))
        return f'use "{number + 1}.rig"\n' if number < depth else ""

    reading = read_text(HEAD + 'use "1.rig"\n', "0.rig", beside)
    assert "more than 40 deep" in reading.problems[0].message


def test_limits_are_told_at_the_limit_and_not_before() -> None:
    def messages(body: str) -> list[str]:
        return [p.message for p in read_text(HEAD + SUPPLY + body).problems]

    fits = LONGEST - len('place A ""')
    assert not messages(f'place A "{"x" * fits}"\n')
    assert "too long" in messages(f'place A "{"x" * (fits + 1)}"\n')[0]
    tangled = '\\"' * TANGLED
    assert not messages(f'place A "{tangled}"\nplace C "{"{" * TANGLED}"\n')
    assert "too long" in messages(f'place A "{tangled}\\""\n')[0]
    for word, most in MOST_OF.items():
        there = word == SOURCES  # the supply of SUPPLY is one of them
        rest = {"stage": "{ }", "mode": "{ }", "panel": "ways=1", "part": "breaker"}.get(word, "")
        kind = "battery" if word == SOURCES else word
        body = [f"{kind} T{n} {rest}\n" for n in range(most + 1 - there)]
        told = f"more than {most} " + (word if word == SOURCES else f"`{word}` statements")
        assert told not in messages("".join(body[:-1])) and told in messages("".join(body))


def test_what_lands_nowhere_or_all_on_one_terminal_is_counted() -> None:
    def said(body: str) -> list[str]:
        return [p.message for p in read_text(HEAD + SUPPLY + body).problems]

    loose = [f"lamp E{n} 120V 60W\n" for n in range(MOST_LOOSE)]  # S and B are loose too
    told = f"more than {MOST_LOOSE} devices that no conductor lands on"
    assert not said("".join(loose[:-2])) and said("".join(loose[:-1])) == [told]
    # One more that stands in the text and is landed on in a later stage is loose in the first.
    late = "stage T { }\nstage U {\nwire W 10AWG 1m E1.L -> E2.L\n}\n"
    assert said("".join(loose[:-1]) + late) == [told]
    wires = [f"wire W{n} 10AWG 1m S.L -> B.1\n" for n in range(MOST_LANDED + 1)]
    assert not said("".join(wires[:-1]))
    assert said("".join(wires)) == [f"more than {MOST_LANDED} conductors on S.L"]


def test_what_is_checked_anew_in_each_mode_of_each_stage_is_counted() -> None:
    modes = "".join(f"mode m{n} {{ S=on }}\n" for n in range(MOST_OF["mode"]))
    # Two devices and the wires, in every mode of every stage.
    wires = "".join(f"wire W{n} 10AWG 1m S.L -> B.1\n" for n in range(498))
    stages = [f"stage T{n} {{ }}\n" for n in range(MOST_OF["stage"])]
    views = MOST_LOOKED_AT // 500
    assert views % MOST_OF["mode"] == 0
    fits = HEAD + SUPPLY + wires + modes + "".join(stages[: views // MOST_OF["mode"] - 1])
    assert not read_text(fits).problems
    (last,) = read_text(fits + stages[-1]).problems
    assert last.message.startswith(f"more than {MOST_LOOKED_AT} devices and conductors")


@pytest.mark.parametrize("kind", [k for k, v in kinds().items() if v.acts == "source"])
def test_sources_of_all_kinds_count_together(kind: str) -> None:
    mixed = "".join(f"charger U{n}\n{kind} T{n}\n" for n in range(MOST_OF[SOURCES] // 2))
    (last,) = read_text(HEAD + SUPPLY + mixed).problems
    assert last.message == f"more than {MOST_OF[SOURCES]} {SOURCES}"


def test_mistakes_are_told_up_to_a_number() -> None:
    text = HEAD + "!!\n" * (MOST + 10)
    problems = read_text(text).problems
    assert len(problems) == MOST + 1
    assert problems[-1].message == f"more than {MOST} mistakes; no others were looked for"
    assert len(read_text(HEAD + "!!\n" * MOST).problems) == MOST


def test_terminals_are_counted_before_they_fill_the_memory() -> None:
    few = "\n".join(rows(ROWS["terminals"]).split("\n")[: MOST_LOOSE - 1])
    (last,) = read_text(f"{HEAD}{few}\n").problems
    assert last.message == f"more than {MOST_TERMINALS} terminals"


@pytest.mark.parametrize(
    "number", ["nan", "NaN", "inf", "-inf", "infinity", "1e400", "-5", "0x10", "1_000", "١٢", "９"]
)
def test_only_plain_numbers_are_numbers(number: str) -> None:
    for row in (f"lamp E1 {number}V 60W\n", f"ambient {number}degC\n", f"place P x={number}\n"):
        if (number, row.split()[0]) != ("-5", "ambient"):  # it may freeze
            assert read_text(HEAD + row).problems, row


def test_line_ends_and_marks_of_other_systems_mean_the_same(tmp_path: Path) -> None:
    text = (Path(__file__).parents[1] / "cli/starter.rig").read_text(encoding="utf-8")
    plain = read_text(text, "a.rig")
    for other in ("\ufeff" + text, text.replace("\n", "\r\n"), text.replace("\n", "\r")):
        again = read_text(other, "a.rig")
        assert [r.devices for r in again.rigs] == [r.devices for r in plain.rigs]
        assert [r.conductors for r in again.rigs] == [r.conductors for r in plain.rigs]
