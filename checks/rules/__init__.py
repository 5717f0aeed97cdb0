"""One module per topic; the letter of its family begins its name.  Importing registers them."""

from . import d_references, p_conductors, p_direction, p_poles, p_ratings

__all__ = ["d_references", "p_conductors", "p_direction", "p_poles", "p_ratings"]
