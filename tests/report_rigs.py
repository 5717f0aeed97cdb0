"""Rigs for the tests of the report: one with findings and stages, one with hostile labels."""

from __future__ import annotations

from pathlib import Path

ROOT = Path(__file__).parents[1]
STARTER = ROOT / "cli/starter.rig"
CLINIC = ROOT / "examples/mobile_clinic.rig"

STAGED = (
    STARTER.read_text(encoding="utf-8")
    + """
stage TENDER "A second lamp and a switch" {
  switch S1 "Lamp switch" 10A dc
  lamp   E2 "Deck lamp"   12V 24W dc
  move W2 F1.2 -> S1.2
  wire W5 14AWG 0.4m F1.2 -> S1.1
  wire W6 14AWG 3m   E1.+ -> E2.+
  wire W7 14AWG 3m   E1.- -> E2.-
  mode on  { }
  mode off { S1=open }
}
"""
)
"""Clean in its first stage; two conductors on one terminal, twice, in its second."""

LABELS = (
    "</script><script>window.broken=1</script>",
    "<img src=x onerror=window.broken=2>",
    "a' onmouseover='window.broken=3' b=&lt;&amp;",
    "]]> --> </svg></style><style>*{display:none}</style>",
    "${window.broken=4} `",
)


def hostile() -> str:
    """The starter with labels that would like to be more than text."""
    text = STARTER.read_text(encoding="utf-8")
    for old, new in zip(("Starter", "House battery", "Lamp fuse", "Cabin lamp", "Hull"), LABELS,
                        strict=True):  # fmt: skip
        assert f'"{old}"' in text
        text = text.replace(f'"{old}"', f'"{new}"')
    return text


def faulty() -> str:
    """The clinic with a cable that is too thin and a breaker too large for what it feeds."""
    text = CLINIC.read_text(encoding="utf-8")
    changes = ("cable C2  3x14AWG", "cable C2  3x18AWG"), ("mcb15 at=AP.3", "mcb30 at=AP.3")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    return text
