"""The writers of findings: one record in, four formats out."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from ferrule.checks.findings import Finding, Related, Report
from ferrule.checks.registry import rules
from ferrule.cli.files import Outcome
from ferrule.cli.writers import github, sarif, text
from ferrule.cli.writers import json as json_writer
from ferrule.dsl.model import Span
from ferrule.dsl.problems import Problem

ROOT = Path(__file__).parents[1]
SARIF = ROOT / "tests/data/sarif/sarif-2.1.0-rtm.5.json"  # OASIS SARIF 2.1.0, published schema
FINDINGS = ROOT / "cli/findings.schema.json"
TEXT = 'rig "R"\nwire W1 14AWG 3m A.1 -> B.1\nbreaker Q1 30A\n'
RULE = rules()[0]

FINDING = Finding(
    rule=RULE.code,
    name=RULE.name,
    severity="error",
    stage="base",
    modes=("shore", "away"),
    on=("W1", "Q1"),
    span=Span("van, 1:a.rig", 2, 6, 2, 8),
    message="W1 (14 AWG) may carry 20 A, but 30 A can flow: 100%\nof the day",
    value=30.0,
    limit=20.0,
    unit="A",
    why=("SHORE.L to Q1.1 through W2", "Q1 lets 30 A pass"),
    related=(Related(Span("van, 1:a.rig", 3, 9, 3, 11), "fed from here"),),
    clause="NFPA 70 240.4(D)(3)",
    fix="protect W1 at 15 A or less, or make it 10 AWG",
)
PROBLEM = Problem(Span("van, 1:a.rig", 1, 1, 1, 4), "no such word", "rig", "did you mean `rig`?")


def report(*findings: Finding) -> Outcome:
    sources = {"van, 1:a.rig": TEXT}
    return Outcome("van, 1:a.rig", sources, report=Report("van, 1:a.rig", ("base",), findings))


def unread() -> Outcome:
    return Outcome("van, 1:a.rig", {"van, 1:a.rig": TEXT}, (PROBLEM,))


def waived() -> Finding:
    from ferrule.dsl.records import replace

    return replace(FINDING, accepted="the inlet has a fitted tail")


CASES = {
    "clean": [report()],
    "one": [report(FINDING)],
    "accepted": [report(waived())],
    "unread": [unread()],
    "several": [report(FINDING, waived()), unread(), report()],
}


@pytest.mark.parametrize("outcomes", CASES.values(), ids=CASES)
def test_json_follows_the_schema_in_the_repository(outcomes: list[Outcome]) -> None:
    schema = json.loads(FINDINGS.read_text())
    jsonschema.Draft202012Validator.check_schema(schema)
    jsonschema.Draft202012Validator(schema).validate(json.loads(json_writer.write(outcomes)))


def test_json_says_everything_the_finding_says() -> None:
    document = json.loads(json_writer.write([report(FINDING)]))
    assert list(document) == ["file", "stages", "findings", "figures"]
    assert list(document["findings"][0]) == [
        *("rule", "name", "severity", "stage", "modes", "on", "file", "line", "column"),
        *("end_line", "end_column", "message", "value", "limit", "unit", "why", "related"),
        *("clause", "fix", "accepted"),
    ]
    found = document["findings"][0]
    assert found["on"] == ["W1", "Q1"]
    assert (found["value"], found["limit"], found["unit"]) == (30.0, 20.0, "A")
    assert (found["line"], found["column"], found["end_line"], found["end_column"]) == (2, 6, 2, 8)
    assert found["related"][0]["text"] == "fed from here"
    assert found["accepted"] is None


@pytest.mark.parametrize("missing", ["rule", "why", "accepted", "end_column"])
def test_the_schema_refuses_a_finding_without_a_field(missing: str) -> None:
    document = json.loads(json_writer.write([report(FINDING)]))
    del document["findings"][0][missing]
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate(document, json.loads(FINDINGS.read_text()))


def sarif_log(outcomes: list[Outcome]) -> Any:
    log = json.loads(sarif.write(outcomes))
    jsonschema.Draft4Validator(json.loads(SARIF.read_text())).validate(log)
    return log


@pytest.mark.parametrize("outcomes", CASES.values(), ids=CASES)
def test_sarif_follows_its_published_schema(outcomes: list[Outcome]) -> None:
    assert sarif_log(outcomes)["version"] == "2.1.0"


def test_sarif_results_name_listed_rules_and_escape_the_file() -> None:
    run = sarif_log([report(FINDING)])["runs"][0]
    result = run["results"][0]
    assert result["ruleId"] in [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    place = result["locations"][0]["physicalLocation"]
    assert place["artifactLocation"]["uri"] == "van%2C%201%3Aa.rig"
    assert place["region"] == {"startLine": 2, "startColumn": 6, "endLine": 2, "endColumn": 8}
    assert run["invocations"][0]["executionSuccessful"] is True
    assert "suppressions" not in result


def test_sarif_keeps_an_accepted_finding_suppressed_with_its_reason() -> None:
    result = sarif_log([report(waived())])["runs"][0]["results"][0]
    assert result["suppressions"] == [
        {"kind": "inSource", "justification": "the inlet has a fitted tail"}
    ]


def test_sarif_of_an_unreadable_text_has_notifications_and_no_results() -> None:
    run = sarif_log([unread()])["runs"][0]
    assert run["results"] == []
    assert run["invocations"][0]["executionSuccessful"] is False
    note = run["invocations"][0]["toolExecutionNotifications"][0]
    assert "did you mean `rig`?" in note["message"]["text"]


def test_github_escapes_what_its_commands_are_made_of() -> None:
    lines = github.write([report(FINDING)]).splitlines()
    assert len(lines) == 1  # one finding is one command, whatever line ends its message holds
    marks, _, message = lines[0].removeprefix("::error ").partition("::")
    keys = dict(mark.split("=", 1) for mark in marks.split(","))
    assert keys["file"] == "van%2C 1%3Aa.rig"
    assert (keys["line"], keys["col"], keys["endColumn"]) == ("2", "6", "8")
    assert keys["title"] == f"{RULE.code} {RULE.name}"
    assert "100%25%0Aof the day" in message


def test_github_shows_an_accepted_error_as_a_notice() -> None:
    assert github.write([report(waived())]).startswith("::notice ")
    assert github.write([report()]) == ""
    assert github.write([unread()]).startswith("::error ")


def test_text_points_with_carets_and_says_all_parts() -> None:
    said = text.write([report(FINDING)])
    lines = said.splitlines()
    assert lines[0].startswith(f"van, 1:a.rig:2:6: error {RULE.code} {RULE.name}: W1 (14 AWG)")
    line = next(number for number, row in enumerate(lines) if "wire W1" in row)
    column = lines[line].index("W1")
    assert lines[line + 1][column - 1 : column + 3].rstrip() == " ^^"
    for words in (*FINDING.why, "fed from here", FINDING.clause, FINDING.fix, "shore, away"):
        assert words in said
    assert "1 error in 1 stage" in said
    assert "\x1b" not in said


def test_text_in_colour_is_the_same_text() -> None:
    coloured = text.write([report(FINDING, waived())], colour=True)
    assert "\x1b[" in coloured
    plain = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert plain == text.write([report(FINDING, waived())])


def test_text_counts_what_stands_and_what_is_accepted() -> None:
    said = text.write([report(FINDING, waived())])
    assert "1 error, 1 accepted in 1 stage" in said
    assert "the inlet has a fitted tail" in said
    assert text.write([report()]) == "van, 1:a.rig: no findings in 1 stage\n"
