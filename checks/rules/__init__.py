"""One module per topic; the letter of its family begins its name.  Importing registers them."""

from . import (
    d_feeds,
    d_landings,
    d_references,
    d_unused,
    p_conductors,
    p_direction,
    p_poles,
    p_ratings,
)

__all__ = [
    "d_feeds",
    "d_landings",
    "d_references",
    "d_unused",
    "p_conductors",
    "p_direction",
    "p_poles",
    "p_ratings",
]
