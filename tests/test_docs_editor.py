"""The settings for editors: each in the syntax of its file, and starting the server that there is.

The editors themselves are not here to try them in.
"""

from __future__ import annotations

import json
import plistlib
import re
import shutil
import subprocess
import tomllib
import xml.etree.ElementTree as xml
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGE = (ROOT / "docs/editor.md").read_text(encoding="utf-8")
BLOCKS: dict[str, list[str]] = {}
for kind, block in re.findall(r"```(\w+)\n(.*?)```", PAGE, re.S):
    BLOCKS.setdefault(kind, []).append(block)
SERVER = ["ferrule", "editor"]


def commands(found: object) -> list[object]:
    """Every value under a key ``command``, at any depth; with ``args``, where they stand apart."""
    if isinstance(found, list):
        return [one for each in found for one in commands(each)]
    if not isinstance(found, dict):
        return []
    own = [found["command"]] if "command" in found else []
    own = [[*own, *found["args"]]] if own and "args" in found else own
    return own + [one for each in found.values() for one in commands(each)]


def test_every_editor_of_the_tree_has_its_settings() -> None:
    named = set(re.findall(r"^[├└]── ([A-Z][\w ]*?)(?:  |$)", PAGE, re.M))
    headed = set(re.findall(r"^### ([\w ]+?)(?: \(.*)?$", PAGE, re.M))
    assert named == headed and len(named) == 6


def test_json_and_toml_are_read_and_start_the_server() -> None:
    started = [one for text in BLOCKS["json"] for one in commands(json.loads(text))]
    started += [one for text in BLOCKS["toml"] for one in commands(tomllib.loads(text))]
    assert started == [SERVER] * 3


def test_the_script_of_the_extension_is_read_by_node(tmp_path: Path) -> None:
    node = shutil.which("node")
    if node is None:
        pytest.skip("node is not here")
    (text,) = BLOCKS["js"]
    script = tmp_path / "extension.js"
    script.write_text(text, encoding="utf-8")
    ran = subprocess.run([node, "--check", str(script)], capture_output=True, text=True)
    assert ran.returncode == 0, ran.stderr
    assert 'command: "ferrule", args: ["editor"]' in text


@pytest.mark.parametrize("kind", ["lua", "elisp"])
def test_brackets_are_closed_in_what_nothing_here_reads(kind: str) -> None:
    (text,) = BLOCKS[kind]
    bare = re.sub(r'"(?:[^"\\]|\\.)*"', '""', text)
    opened: list[str] = []
    for mark in re.findall(r"[()\[\]{}]", bare):
        if mark in "([{":
            opened.append(mark)
        else:
            assert opened.pop() + mark in ("()", "[]", "{}")
    assert not opened
    assert re.findall(r'"(\w+)"', text.split("ferrule", 1)[1]), "it names the server"
    assert '"ferrule"' in text and '"editor"' in text


def test_the_colours_of_kate_are_sound_xml() -> None:
    (text,) = BLOCKS["xml"]
    language = xml.fromstring(text.encode())
    assert language.get("extensions") == "*.rig"
    (context,) = language.iter("context")
    (data,) = language.iter("itemData")
    assert context.get("attribute") == data.get("name")
    assert f"^{language.get('name')}$" in PAGE, "the name that the server is chosen by"


def test_the_property_list_is_the_grammar(tmp_path: Path) -> None:
    (command,) = BLOCKS["sh"]
    (tmp_path / "docs").symlink_to(ROOT / "docs")
    subprocess.run(["sh", "-c", command], cwd=tmp_path, check=True)
    written = plistlib.loads((tmp_path / "ferrule.tmLanguage").read_bytes())
    assert written == json.loads((ROOT / "docs/editor/ferrule.tmLanguage.json").read_text("utf-8"))
