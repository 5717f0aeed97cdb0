"""The server as an editor sees it: a client of the protocol over standard input and output."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from editor_rigs import PARTS, RIG
from ferrule.dsl.writer import format_text
from lsp_client import Client

ERROR, WARNING, NOTE, HINT = 1, 2, 3, 4


@pytest.fixture
def client(tmp_path: Path) -> Iterator[Client]:
    (tmp_path / "kit.rig").write_text(PARTS, encoding="utf-8")
    client = Client(root=tmp_path)
    yield client
    raw = client.raw
    assert client.close() == 0
    assert b"Traceback" not in raw and b'"traceback"' not in raw
    assert client.process.stderr is not None and client.process.stderr.read() == b""


def place(text: str, words: str, inside: str = "") -> tuple[int, int]:
    """Line and column, in UTF-16 code units, of some words of a text."""
    start = text.index(words) + (words.index(inside) if inside else 0)
    before = text[:start].rpartition("\n")[2]
    return text.count("\n", 0, start), len(before.encode("utf-16-le")) // 2


def made(text: str, edits: list[dict[str, Any]]) -> str:
    """The text with an answer's edits made, as an editor that counts UTF-16 makes them."""
    rows = [row.encode("utf-16-le") for row in text.split("\n")]
    starts = [0]
    for row in rows:
        starts.append(starts[-1] + len(row) // 2 + 1)
    units = text.encode("utf-16-le")

    def index(spot: dict[str, int]) -> int:
        return 2 * (starts[min(spot["line"], len(rows) - 1)] + spot["character"])

    spots = [(index(e["range"]["start"]), index(e["range"]["end"]), e["newText"]) for e in edits]
    for start, end, new in sorted(spots, reverse=True):
        units = units[:start] + new.encode("utf-16-le") + units[end:]
    return units.decode("utf-16-le")


def test_what_is_wrong_is_told_as_one_types(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    told = {row["code"] for row in client.diagnostics(uri)}
    assert "text" not in told
    client.change(uri, RIG.replace("fuse10 at", "fuse11 at"))
    (row,) = client.diagnostics(uri)
    line, column = place(RIG, "fuse10 at")
    assert row["range"]["start"] == {"line": line, "character": column}
    assert row["range"]["end"] == {"line": line, "character": column + 6}
    assert (row["severity"], row["code"], row["source"]) == (ERROR, "text", "ferrule")
    assert "fuse10" in row["message"], "the near miss is told"
    client.change(uri, RIG.replace("fuse10 at", "60A 32V dc breaks=1kA at"), 3)
    rows = client.diagnostics(uri)
    thin = next(row for row in rows if row["code"] == "P02")
    assert thin["severity"] == ERROR
    assert thin["relatedInformation"][0]["location"]["uri"] == uri
    assert "fix: " in thin["message"] and "clause: " in thin["message"]
    assert "conductor-undersized" in thin["message"]
    client.change(uri, RIG, 4)
    assert {row["code"] for row in client.diagnostics(uri)} == told


def test_columns_after_letters_of_two_units(client: Client, tmp_path: Path) -> None:
    text = RIG.replace('"Lampe é🔌"   dc', '"Lampe é🔌🔌"   dcc')
    uri = client.open(tmp_path / "bus.rig", text)
    (row,) = client.diagnostics(uri)
    line, column = place(text, "dcc")
    assert row["range"]["start"] == {"line": line, "character": column}
    (action,) = actions(client, uri, row)
    assert made(text, action["edit"]["changes"][uri]) == text.replace("dcc", "dc")


def actions(client: Client, uri: str, row: dict[str, Any]) -> list[dict[str, Any]]:
    params = {
        "textDocument": {"uri": uri},
        "range": row["range"],
        "context": {"diagnostics": [row]},
    }
    found: list[dict[str, Any]] = client.result("textDocument/codeAction", params)
    return found


def test_a_finding_is_accepted_by_an_action(client: Client, tmp_path: Path) -> None:
    text = RIG.replace("fuse10 at", "60A 32V dc breaks=1kA at")
    uri = client.open(tmp_path / "bus.rig", text)
    row = next(row for row in client.diagnostics(uri) if row["code"] == "P02")
    action = next(a for a in actions(client, uri, row) if "accept P02" in a["title"])
    assert action["diagnostics"] == [row]
    client.change(uri, made(text, action["edit"]["changes"][uri]))
    after = client.diagnostics(uri)
    assert [r["severity"] for r in after if "accepted: …" in r["message"]] == [HINT]


def test_hover_shows_figures_while_the_text_is_broken(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    client.diagnostics(uri)
    line, column = place(RIG, "wire  W1", "W1")
    whole = client.result("textDocument/hover", client.at(uri, line, column))
    client.change(uri, RIG + "\nwire W")
    broken = client.result("textDocument/hover", client.at(uri, line, column))
    assert whole["contents"] == broken["contents"]
    assert whole["contents"]["kind"] == "markdown" and "Ampacity" in whole["contents"]["value"]


def test_completion_offers_free_terminals_first(client: Client, tmp_path: Path) -> None:
    line = "wire W9 14AWG 1m PB."
    uri = client.open(tmp_path / "bus.rig", RIG.replace("\nmode", f"\n{line}\nmode"))
    number, _ = place(RIG, "\nmode on")
    found = client.result("textDocument/completion", client.at(uri, number + 1, len(line)))
    ordered = sorted(found["items"], key=lambda item: item["sortText"])
    assert [item["label"] for item in ordered] == ["3", "4", "1", "2"]
    assert ordered[0]["textEdit"]["range"]["start"]["character"] == len(line)


def test_completion_in_the_middle_of_a_word(tmp_path: Path) -> None:
    """LSP 3.17, InsertReplaceEdit: the word's start alone, or all of it, as the editor likes."""
    (tmp_path / "kit.rig").write_text(PARTS, encoding="utf-8")
    item = {"completionItem": {"insertReplaceSupport": True}}
    client = Client(root=tmp_path, able={"textDocument": {"completion": item}})
    uri = client.open(tmp_path / "bus.rig", RIG)
    line, column = place(RIG, "fuse10 at")
    found = client.result("textDocument/completion", client.at(uri, line, column + 2))
    edit = next(item["textEdit"] for item in found["items"] if item["label"] == "fuse10")
    start, at, end = ({"line": line, "character": column + n} for n in (0, 2, 6))
    assert edit == {
        "newText": "fuse10",
        "insert": {"start": start, "end": at},
        "replace": {"start": start, "end": end},
    }
    assert client.close() == 0


def test_definition_and_references_over_files(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    kit = (tmp_path / "kit.rig").as_uri()
    spot = client.at(uri, *place(RIG, "fuse10 at"))
    (there,) = client.result("textDocument/definition", spot)
    assert there["uri"] == kit and there["range"]["start"] == {"line": 0, "character": 5}
    found = client.result(
        "textDocument/references", {**spot, "context": {"includeDeclaration": True}}
    )
    assert sorted(row["uri"] for row in found) == [uri, kit]
    shipped = client.at(uri, *place(RIG, 'use "parts/bars.rig"', "bars"))
    (library,) = client.result("textDocument/definition", shipped)
    path = library["uri"].removeprefix("file://")
    assert Path(path).read_text(encoding="utf-8").count("part ") > 1


def test_rename_in_all_files_or_not_at_all(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    kit = (tmp_path / "kit.rig").as_uri()
    spot = client.at(uri, *place(RIG, "fuse10 at"))
    asked = client.result("textDocument/prepareRename", spot)
    assert asked["placeholder"] == "fuse10"
    changes = client.result("textDocument/rename", {**spot, "newName": "melt"})["changes"]
    assert made(RIG, changes[uri]) == RIG.replace("fuse10", "melt")
    assert made(PARTS, changes[kit]) == PARTS.replace("fuse10", "melt")
    refused = client.ask("textDocument/rename", {**spot, "newName": "strip"})["error"]
    assert "taken" in refused["message"] and not refused.get("data")
    refused = client.ask("textDocument/rename", {**spot, "newName": "2x"})["error"]
    assert "no name" in refused["message"]


def test_the_layout_is_that_of_fmt(client: Client, tmp_path: Path) -> None:
    ragged = re.sub(" {2,}", " ", RIG)
    uri = client.open(tmp_path / "bus.rig", ragged)
    options = {"tabSize": 4, "insertSpaces": True}
    params = {"textDocument": {"uri": uri}, "options": options}
    edits = client.result("textDocument/formatting", params)
    assert made(ragged, edits) == format_text(ragged) != ragged
    client.change(uri, ragged + "wire W")
    assert client.result("textDocument/formatting", params) == []


def test_lines_end_as_the_editors_own_do(client: Client, tmp_path: Path) -> None:
    ragged = re.sub(" {2,}", " ", RIG).replace("\n", "\r\n")
    uri = client.open(tmp_path / "bus.rig", ragged)
    options = {"tabSize": 4, "insertSpaces": True}
    params = {"textDocument": {"uri": uri}, "options": options}
    edits = client.result("textDocument/formatting", params)
    assert made(ragged, edits) == format_text(ragged).replace("\n", "\r\n")


def test_the_outline(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    found = client.result("textDocument/documentSymbol", {"textDocument": {"uri": uri}})
    names = {row["name"]: [child["name"] for child in row["children"]] for row in found}
    assert names["BOX"] == ["GB", "F1", "PB", "NB"]
    assert "Conductors" in names and "TWO" in names


def test_a_used_file_that_is_not_saved_yet_counts(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    client.diagnostics(uri)
    kit = client.open(tmp_path / "kit.rig", PARTS.replace("fuse10", "fuse12"))
    (row,) = client.diagnostics(uri)
    assert "fuse10" in row["message"]
    client.tell("textDocument/didClose", {"textDocument": {"uri": kit}})
    assert all(row["code"] != "text" for row in client.diagnostics(uri))


def test_a_mistake_in_a_used_file_is_told_there(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    client.diagnostics(uri)
    kit = client.open(tmp_path / "kit.rig", PARTS.replace("100A", "100Ah"))
    row = client.diagnostics(kit)[0]
    assert row["code"] == "text" and row["range"]["start"]["line"] == 1


def test_many_changes_at_once_are_looked_at_once(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    client.diagnostics(uri)
    for number in range(30):
        client.change(uri, RIG + "#" * number + "\nnonsense", number + 2)
    client.change(uri, RIG, 99)
    shown = [client.diagnostics(uri)]
    client.result("textDocument/documentSymbol", {"textDocument": {"uri": uri}})
    while any(n.get("method") == "textDocument/publishDiagnostics" for n in client.notes):
        shown.append(client.diagnostics(uri))
    assert len(shown) < 10
    assert all(row["code"] != "text" for row in shown[-1])


def test_a_request_can_be_cancelled(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG)
    spot = client.at(uri, *place(RIG, "wire  W1", "W1"))
    numbers = [client.start("textDocument/hover", spot) for _ in range(5)]
    client.tell("$/cancelRequest", {"id": numbers[-1]})
    answers = [client.answer(number) for number in numbers]
    assert all("result" in answer for answer in answers[:-1])
    last = answers[-1]
    assert "result" in last or last["error"]["code"] == -32800  # LSP: RequestCancelled


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "utf-32"])
def test_the_encoding_that_the_editor_asks_for(tmp_path: Path, encoding: str) -> None:
    (tmp_path / "kit.rig").write_text(PARTS, encoding="utf-8")
    client = Client((encoding,), tmp_path)
    assert client.able["positionEncoding"] == encoding
    text = RIG.replace("dc 12V 20W", "dcc 12V 20W")
    uri = client.open(tmp_path / "bus.rig", text)
    (row,) = client.diagnostics(uri)
    before = text[: text.index("dcc")].rpartition("\n")[2]
    codec, width = {"utf-8": ("utf-8", 1), "utf-16": ("utf-16-le", 2), "utf-32": ("utf-32-le", 4)}[
        encoding
    ]
    assert row["range"]["start"]["character"] == len(before.encode(codec)) // width
    assert client.close() == 0


HOSTILE = ("\0", "\ufeff" + RIG, RIG.replace("\n", "\r\n"), "}" * 500, "mode x {\n" * 50, '"' * 99)


@pytest.mark.parametrize("text", HOSTILE, ids=["zero", "bom", "crlf", "braces", "modes", "quotes"])
def test_whatever_is_typed_everything_is_answered(
    client: Client, tmp_path: Path, text: str
) -> None:
    uri = client.open(tmp_path / "bus.rig", text)
    client.diagnostics(uri)
    for method in ("hover", "completion", "definition", "prepareRename"):
        for spot in ((0, 0), (0, 7), (10, 3), (9999, 9999)):
            client.ask(f"textDocument/{method}", client.at(uri, *spot))
    document = {"textDocument": {"uri": uri}}
    client.result("textDocument/documentSymbol", document)
    client.result(
        "textDocument/formatting", {**document, "options": {"tabSize": 2, "insertSpaces": True}}
    )
    assert not [n for n in client.notes if n.get("method") == "window/logMessage"]


def test_a_malformed_question_ends_nothing(client: Client, tmp_path: Path) -> None:
    client.start("textDocument/hover", {"nonsense": 1})
    assert client.ask("textDocument/none", {})["error"]["code"] == -32601  # JSON-RPC: not found
    client.tell("textDocument/didOpen", {"nonsense": 1})
    uri = client.open(tmp_path / "bus.rig", RIG)
    assert client.diagnostics(uri) is not None


def test_a_text_without_a_file(client: Client) -> None:
    uri = "untitled:Untitled-1"
    document = {"uri": uri, "languageId": "rig", "version": 1, "text": 'rig "A"\nlmap E1\n'}
    client.tell("textDocument/didOpen", {"textDocument": document})
    assert any("lamp" in row["message"] for row in client.diagnostics(uri))


def test_an_address_is_given_back_as_the_editor_wrote_it(client: Client, tmp_path: Path) -> None:
    """RFC 3986 2.3: %62 is b. An editor knows its file by the one of them that it wrote."""
    uri = (tmp_path / "bus.rig").as_uri().replace("bus.rig", "%62us%2Erig")
    document = {"uri": uri, "languageId": "rig", "version": 1, "text": RIG + "nonsense"}
    client.tell("textDocument/didOpen", {"textDocument": document})
    assert client.diagnostics(uri)[0]["code"] == "text"
    found = client.result("textDocument/definition", client.at(uri, *place(RIG, "F1.1", "F1")))
    assert found[0]["uri"] == uri


def found_at(client: Client, method: str, uri: str, words: str, text: str) -> list[dict[str, Any]]:
    spot = client.at(uri, *place(text, words))
    params = {**spot, "context": {"includeDeclaration": True}}
    answer: list[dict[str, Any]] = client.result(f"textDocument/{method}", params)
    return answer


def test_a_file_out_of_bounds_is_not_followed(client: Client, tmp_path: Path) -> None:
    """dsl/bounds.py: a rig's own folder and those below; not what lies beside it."""
    inside = tmp_path / "van"
    inside.mkdir()
    secret = tmp_path / "secret.rig"
    secret.write_text(PARTS, encoding="utf-8")
    (inside / "kit.rig").symlink_to(secret)
    for label in ("../secret.rig", "kit.rig"):
        text = RIG.replace('"kit.rig"', f'"{label}"')
        uri = client.open(inside / "bus.rig", text)
        assert any("outside" in row["message"] for row in client.diagnostics(uri))
        assert found_at(client, "definition", uri, f'use "{label}"', text) == []
        assert found_at(client, "definition", uri, "fuse10 at", text) == []
        found = found_at(client, "references", uri, "fuse10 at", text)
        assert [row["uri"] for row in found] == [uri]
        client.tell("textDocument/didClose", {"textDocument": {"uri": uri}})
        client.diagnostics(uri)


def test_rigs_of_all_folders_of_the_workspace_share_names(tmp_path: Path) -> None:
    """A folder of parts beside the rigs' folders is within bounds (dsl/bounds.py)."""
    for name in ("parts", "one", "two"):
        (tmp_path / name).mkdir()
    (tmp_path / "parts/kit.rig").write_text(PARTS, encoding="utf-8")
    text = RIG.replace('"kit.rig"', '"../parts/kit.rig"')
    for name in ("one", "two"):
        (tmp_path / name / "bus.rig").write_text(text, encoding="utf-8")
    client = Client(root=tmp_path / "one")
    uri = client.open(tmp_path / "one/bus.rig", text)
    alone = found_at(client, "references", uri, "fuse10 at", text)
    two = {"uri": (tmp_path / "two").as_uri(), "name": "two"}
    client.tell("workspace/didChangeWorkspaceFolders", {"event": {"added": [two], "removed": []}})
    both = found_at(client, "references", uri, "fuse10 at", text)
    assert {row["uri"] for row in both} - {row["uri"] for row in alone} == {
        (tmp_path / "two/bus.rig").as_uri()
    }
    assert client.close() == 0


def test_a_root_is_a_folder_too(tmp_path: Path) -> None:
    (tmp_path / "kit.rig").write_text(PARTS, encoding="utf-8")
    (tmp_path / "deep").mkdir()
    other = tmp_path / "deep/other.rig"
    other.write_text(RIG.replace('"kit.rig"', '"../kit.rig"'), encoding="utf-8")
    client = Client(root=tmp_path, folders=False)
    uri = client.open(tmp_path / "kit.rig", PARTS)
    found = found_at(client, "references", uri, "fuse10", PARTS)
    assert {row["uri"] for row in found} == {uri}, "the other rig may not use what lies above it"
    other.write_text(RIG, encoding="utf-8")
    (tmp_path / "bus.rig").write_text(RIG, encoding="utf-8")
    client.tell("textDocument/didSave", {"textDocument": {"uri": uri}})
    found = found_at(client, "references", uri, "fuse10", PARTS)
    assert {row["uri"] for row in found} == {uri, (tmp_path / "bus.rig").as_uri()}
    assert client.close() == 0


def test_a_closed_file_is_underlined_no_more(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG + "nonsense")
    assert client.diagnostics(uri)
    client.tell("textDocument/didClose", {"textDocument": {"uri": uri}})
    assert client.diagnostics(uri) == []


def test_a_part_of_an_open_rig_is_judged_with_it_alone(client: Client, tmp_path: Path) -> None:
    """Half of a rig, in a file of its own, is wrong only where its rig is not there."""

    def mistaken(wanted: bool) -> None:
        while wanted != any(row["code"] == "text" for row in client.diagnostics(kit)):
            pass  # the client gives up by itself

    half = PARTS + 'lamp E9 "Half" dc 12V 5W at=REAR\nwire W9 14AWG 1m E9.- -> NB.4\n'
    (tmp_path / "kit.rig").write_text(half, encoding="utf-8")
    kit = client.open(tmp_path / "kit.rig", half)
    mistaken(True)
    uri = client.open(tmp_path / "bus.rig", RIG)
    mistaken(False)
    client.tell("textDocument/didClose", {"textDocument": {"uri": uri}})
    mistaken(True)


def test_files_that_change_on_the_disk_are_asked_for_and_heeded(tmp_path: Path) -> None:
    kit = tmp_path / "kit.rig"
    kit.write_text(PARTS, encoding="utf-8")
    watches = {"didChangeWatchedFiles": {"dynamicRegistration": True}}
    client = Client(root=tmp_path, able={"workspace": watches})
    uri = client.open(tmp_path / "bus.rig", RIG)
    client.diagnostics(uri)
    (asked,) = [n for n in client.notes if n.get("method") == "client/registerCapability"]
    watchers = asked["params"]["registrations"][0]["registerOptions"]["watchers"]
    assert [row["globPattern"] for row in watchers] == ["**/*.rig", "**/*.book"]
    kit.write_text(PARTS.replace("fuse10", "fuse12"), encoding="utf-8")
    change = {"uri": kit.as_uri(), "type": 2}
    client.tell("workspace/didChangeWatchedFiles", {"changes": [change]})
    (row,) = client.diagnostics(uri)
    assert "fuse10" in row["message"]
    assert client.close() == 0


def test_actions_of_another_kind_are_not_answered_with_ours(client: Client, tmp_path: Path) -> None:
    uri = client.open(tmp_path / "bus.rig", RIG.replace("lamp    E1", "lmap    E1"))
    (row,) = client.diagnostics(uri)
    document = {"textDocument": {"uri": uri}, "range": row["range"]}
    for only, count in ((["source.fixAll"], 0), (["refactor"], 0), (["quickfix"], 1), ([""], 1)):
        context = {"diagnostics": [row], "only": only}
        found = client.result("textDocument/codeAction", {**document, "context": context})
        assert len(found) == count, only


def test_places_where_lines_end_by_two_characters(client: Client, tmp_path: Path) -> None:
    """LSP 3.17: \\r\\n ends a line; columns count from its start."""
    text = RIG.replace("fuse10 at", "fuse11 at")
    uri = client.open(tmp_path / "bus.rig", text.replace("\n", "\r\n"))
    (row,) = client.diagnostics(uri)
    line, column = place(text, "fuse11 at")
    assert row["range"]["start"] == {"line": line, "character": column}
    (action,) = actions(client, uri, row)
    assert made(text, action["edit"]["changes"][uri]) == RIG
    spot = client.at(uri, *place(RIG, "wire  W1", "W1"))
    client.change(uri, RIG.replace("\n", "\r\n"), 3)
    assert "GB.+ to F1.1" in client.result("textDocument/hover", spot)["contents"]["value"]


def test_rename_over_stages(client: Client, tmp_path: Path) -> None:
    """W2 is laid in the base and moved in a stage; GB is set in a mode."""
    uri = client.open(tmp_path / "bus.rig", RIG)
    for words, old, new in (("wire  W2", "W2", "W20"), ("battery GB", "GB", "BAT")):
        spot = client.at(uri, *place(RIG, words, old))
        edit = client.result("textDocument/rename", {**spot, "newName": new})
        text = made(RIG, edit["changes"][uri])
        assert text == re.sub(rf"\b{old}\b", new, RIG)


def test_what_an_action_mends_is_underlined_no_more(client: Client, tmp_path: Path) -> None:
    text = RIG.replace("fuse10 at", "60A 32V dc breaks=1kA at")
    uri = client.open(tmp_path / "bus.rig", text)
    rows = client.diagnostics(uri)
    tried = 0
    for row in rows:
        for action in actions(client, uri, row):
            if action["title"].startswith("accept "):
                continue
            client.change(uri, made(text, action["edit"]["changes"][uri]), tried + 2)
            after = client.diagnostics(uri)
            places = {(r["code"], r["message"].split("\n")[0]) for r in after}
            assert (row["code"], row["message"].split("\n")[0]) not in places, action["title"]
            assert len(after) < len(rows)
            client.change(uri, text, tried + 3)
            client.diagnostics(uri)
            tried += 2
    assert tried, "nothing was offered: the rig of this test has to have a fault that can be mended"
