"""A small rig of two files for the tests of the editor, with labels that are not plain ASCII."""

from __future__ import annotations

import re
from pathlib import Path

from ferrule.cli.editor.desk import Desk

PARTS = """\
part fuse10 fuse 10A 32V dc breaks=1kA class=ATO
part strip  bus  100A positions=4
"""
RIG = """\
rig "Bücherbus 🔌 für Gäste" revision=A
rules abyc-e11
ambient 30degC
use "kit.rig"
use "parts/bars.rig"

place BOX  "Kiste “vorn” 🔋"
place REAR "Heck"
route DUCT "Kanal"

battery GB "Batterie 🔋" 12V 100Ah fault=1kA at=BOX
fuse    F1 "Sicherung"   fuse10 at=BOX
bus     PB "Plus"        strip at=BOX
bus     NB "Minus"       strip at=BOX
lamp    E1 "Lampe é🔌"   dc 12V 20W at=REAR

wire  W1 14AWG   0.1m GB.+      -> F1.1
wire  W2 14AWG   0.2m F1.2      -> PB.1
wire  W3 14AWG   0.2m NB.1      -> GB.-
cable C1 2x14AWG 3m   PB.2 NB.2 -> E1.(+ -) via=DUCT

mode on "Betrieb" { GB=on }

stage TWO "Zweite Lampe 🔌" {
  lamp  E2 "Hecklampe" dc 12V 10W at=REAR
  cable C2 2x14AWG 2m PB.3 NB.3 -> E2.(+ -) via=DUCT
  move  W2 PB.1 -> PB.4
}
"""


class Project:
    """Files in a folder, opened at a desk; the rig's text may hold one mark ``|``: the place."""

    def __init__(self, folder: Path, rig: str = RIG, kit: str = PARTS) -> None:
        self.path, self.kit = folder / "bus.rig", folder / "kit.rig"
        self.mark = rig.find("|")
        self.text = rig.replace("|", "", 1)
        self.path.write_text(self.text, encoding="utf-8")
        self.kit.write_text(kit, encoding="utf-8")
        self.file, self.desk = str(self.path), Desk()
        self.desk.put(self.file, self.text)

    def at(self, words: str, inside: str = "") -> int:
        """The index of some words of the rig, or of a word within them."""
        assert len(re.findall(re.escape(words), self.text)) == 1, words
        return self.text.index(words) + (words.index(inside) if inside else 0)


def marked(after: str, line: str) -> str:
    """The rig with a line, which holds the mark, put in after the line that begins with a text."""
    rows = RIG.split("\n")
    number = next(n for n, row in enumerate(rows) if row.strip().startswith(after))
    return "\n".join([*rows[: number + 1], line, *rows[number + 1 :]])
