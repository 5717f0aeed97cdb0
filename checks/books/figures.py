"""What a book answers: a figure with its clause and steps, an allowance, or why there is none."""

from __future__ import annotations

from ...dsl.records import record
from .table import CONFIRMED


@record
class Figure:
    """A number of the book: ``value`` in ``unit``, whose ``clause``, and the steps to it.

    ``status`` tells whether the book's cells could be confirmed (see book_data).
    """

    value: float
    unit: str
    clause: str
    steps: tuple[str, ...] = ()
    status: str = CONFIRMED


@record
class Allowance(Figure):
    """A length, m, that may run unprotected, on ``conditions``.

    ``ratio`` is the least ampacity as a share of the rating of the device ahead (0: no such
    condition); ``ends_in_device`` says that the conductor must end in a device that holds it.
    """

    ratio: float = 0.0
    ends_in_device: bool = False
    conditions: tuple[str, ...] = ()


@record
class Missing:
    """The book has no figure here; ``reason`` says why, for people."""

    reason: str
    clause: str = ""
