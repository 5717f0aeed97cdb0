"""What a work order says in so many words: how to isolate, how long to wait, what to leave off."""

from __future__ import annotations

from collections.abc import Mapping

OPENED: Mapping[str, str] = {
    "inlet": "pull the plug, keep it with you",
    "fuse": "take the fuse out, keep it with you",
    "breaker": "open the breaker, lock it",
    "switch": "open the switch, lock it",
    "selector": "set it to off, lock it",
    "contactor": "open it and its control circuit",
}
"""By the kind of the device that parts a source from the work."""
BY_ITSELF: Mapping[str, str] = {
    "supply": "have it switched off where it comes from, or unplug it",
    "generator": "stop it, take its starting key or lift its starting battery",
    "alternator": "stop the engine, keep its key",
    "solar": "live as long as there is light: open its isolator or cover the panels",
    "inverter": "off at itself, and its battery side open: its output is a source of its own",
    "charger": "off at itself, and its input open",
    "dcdc": "off at itself, and its input open",
    "transformer": "open its input",
}
"""By the kind of a source that nothing outside the work parts from it."""
STAYS_LIVE = (
    "stays live at its own terminals: lift negative, then positive, cap both; insulated tools"
)
CAPPED = "live by itself: its terminals stay capped until they are landed"
DISCHARGED = (
    "until its capacitors are discharged: as long as its plate says, else 5 min (common practice, "
    "no published source); then measure"
)
NO_SOURCE = "no source reaches it in any mode it is run in; prove it all the same"
UNLANDED = "lands nowhere now: insulate each core and say so on its marker"
LEFT_OFF = "what is new: locked or its fuse kept out, a sign on it, until the last job is done"
PROVED = "checked in these modes: no error but what the old or the new text has too"
SET: Mapping[str, str] = {"fuse": "exchange the fuse link", "supply": "other supply"}
"""What is done where a rating changes and no conductor comes off; else it is set."""
