"""One module per topic; the letter of its family begins its name.  Importing registers them."""

from . import (
    b_bonds,
    b_chassis,
    b_earth,
    b_joined,
    b_neutrals,
    b_residual,
    b_returns,
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
    "b_bonds",
    "b_chassis",
    "b_earth",
    "b_joined",
    "b_neutrals",
    "b_residual",
    "b_returns",
    "d_feeds",
    "d_landings",
    "d_references",
    "d_unused",
    "p_conductors",
    "p_direction",
    "p_poles",
    "p_ratings",
]
