"""Makes the bundled fonts and their table of metrics: ``python -m ferrule.render.make_fonts``.

The fonts are the DejaVu Sans faces that ship inside matplotlib, cut down to the characters a
drawing uses, without hinting and without kerning, so that a text is exactly as wide as the sum of
its advances.  The licence (``fonts/LICENSE``) lets a modified font be distributed under a name
that contains neither "Bitstream" nor "Vera" (nor, for its Arev glyphs, "Tavmjong Bah" or "Arev");
the result is called "Ferrule Sans" and keeps the notices.  Needs fontTools and matplotlib; neither
is needed to read what it wrote.  Same input, same bytes.
"""

from __future__ import annotations

import json
import shutil
from importlib import resources
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parent / "fonts"
FACES = {"regular": "DejaVuSans.ttf", "bold": "DejaVuSans-Bold.ttf"}
FAMILY = "Ferrule Sans"
SIGNS = "–—‘’‚“”„†•…‰′″⁄€№™←↑→↓↔⇄Δ∅−√∞∿≈≠≡≤≥⌀■□▲△▶▼▽◀○●◯✓✗ﬁﬂ"
CHARACTERS = (
    *range(0x20, 0x7F),  # ASCII
    *range(0xA0, 0x180),  # Latin-1 and Latin Extended-A
    *range(0x384, 0x3CF),  # Greek
    *map(ord, SIGNS),
)
COPYRIGHT, FAMILY_ID, STYLE, UNIQUE, FULL, POSTSCRIPT = 0, 1, 2, 3, 4, 6
KEPT_NAMES = (COPYRIGHT, FAMILY_ID, STYLE, UNIQUE, FULL, POSTSCRIPT, 13, 14)


def source_folder() -> Path:
    """Where matplotlib keeps its fonts and their licence."""
    return Path(str(resources.files("matplotlib"))) / "mpl-data" / "fonts" / "ttf"


def subset(source: Path) -> Any:
    """A font with our characters only, as a fontTools object."""
    from fontTools import subset as cutter  # type: ignore[import-untyped]

    options = cutter.Options(
        hinting=False,
        layout_features=[],
        name_IDs=list(KEPT_NAMES),
        recalc_timestamp=False,
        drop_tables=["GPOS", "GSUB", "GDEF", "kern", "FFTM", "DSIG"],
    )
    font = cutter.load_font(str(source), options)
    worker = cutter.Subsetter(options)
    worker.populate(unicodes=CHARACTERS)
    worker.subset(font)
    return font


def rename(font: Any, face: str) -> None:
    """Give the modified font its own name, as the licence asks."""
    style = face.capitalize()
    names = {
        FAMILY_ID: FAMILY,
        STYLE: style,
        UNIQUE: f"{FAMILY} {style}, cut from DejaVu Sans",
        FULL: f"{FAMILY} {style}",
        POSTSCRIPT: f"{FAMILY.replace(' ', '')}-{style}",
    }
    for record in font["name"].names:
        if record.nameID in names:
            record.string = names[record.nameID]


def metrics(font: Any) -> dict[str, list[int]]:
    """Advance, lowest and highest point of each character, in font units."""
    outlines = font["glyf"]
    rows = {}
    for code, name in sorted(font.getBestCmap().items()):
        glyph = outlines[name]
        low, high = (glyph.yMin, glyph.yMax) if glyph.numberOfContours else (0, 0)
        rows[chr(code)] = [font["hmtx"][name][0], low, high]
    return rows


def main() -> None:
    """Write the TTF and WOFF files, the metrics table and the licence."""
    FOLDER.mkdir(exist_ok=True)
    table: dict[str, Any] = {"family": FAMILY}
    for face, file in FACES.items():
        font = subset(source_folder() / file)
        rename(font, face)
        table["units_per_em"] = font["head"].unitsPerEm
        table[face] = metrics(font)
        stem = FOLDER / f"ferrule-sans-{face}"
        font.save(stem.with_suffix(".ttf"))
        font.flavor = "woff"
        font.save(stem.with_suffix(".woff"))
    text = json.dumps(table, ensure_ascii=False, separators=(",", ":"))
    text = text.replace('],"', '],\n"')
    (FOLDER / "metrics.json").write_text(text + "\n", encoding="utf-8")
    shutil.copyfile(source_folder() / "LICENSE_DEJAVU", FOLDER / "LICENSE")


if __name__ == "__main__":
    main()
