"""Which rules may tell of a class of fault that the oracle decides.

Another finding is counted as a catch too, and apart: one cause is told once.
"""

from __future__ import annotations

TOLD_BY = {
    "end in the air": "D01 D02",
    "terminal overfull": "D03",
    "unknown state": "S07",
    "load never live": "S06 D04 D11 D13 D14 B07 S14 S11",
    "conductor too thin": "P01 P02 P03 P17",
    "short circuit": "S15 S13 S09 S12 B12 S08 S03",
    "return joined to earth": "B04 B12 B15",
    "count of bonds": "B01 B02 B03 B09 B16",
    "sources together": "S01 S02 B05 B09 B08 S03",
    "voltages joined": "S13 S12 S04",
    "line and return crossed": "S08 S09 S15 B05 B08",
    "return lost": "B07 B08 B12 D13",
    "earth missing": "B10 B11 B13",
    "device in earth": "P05",
    "device in return alone": "P06 P20",
    "residual device on one side": "B06 B18",
    "kind of current": "P07",
    "unprotected": "P01 P03",
    "wrong voltage": "S04 P08",
    "interrupts too little": "P11",
    "load above its device": "P22",
    "voltage lost": "V01",
    "supply side reversed": "P09 P10",
    "tie too thin": "P35 P34 P36",
    "chassis untied": "B14 B15 B10 B11",
    "negative joined twice": "B15",
    "bar too small": "P13",
    "return too thin": "P17 P02",
    "live from inside": "S02 S01",
    "residual device missing": "P29",
    "one pole only": "P20",
}
