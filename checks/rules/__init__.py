"""One module per topic; the letter of its family begins its name.  Importing registers them."""

from . import d_references

__all__ = ["d_references"]
