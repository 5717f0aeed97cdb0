"""What a drawing may be asked to be; the same for every document."""

from __future__ import annotations

from ..dsl.records import record

# The symbol set that goes with each rule book.
SYMBOLS_OF_BOOK = {"nfpa70": "ieee315", "abyc-e11": "ieee315", "iec60364": "iec60617"}
PAPER_OF_SYMBOLS = {"ieee315": "B", "iec60617": "A3"}
SMALL_PAPER = {"ieee315": "A", "iec60617": "A4"}
FEW = 12
"""A rig of no more devices than this goes on the small paper."""


@record
class Options:
    """``symbols`` is iec60617 or ieee315; ``paper`` a key of frame.PAPERS.

    ``first`` is the number of the document's first sheet in the whole set, so that a document can
    refer to its own sheets by number; ``also`` are symbols that other documents of the set use, for
    the legend to name.  ``stocks``: the label stock of the conductor markers and of the device
    labels (keys of labels.STOCKS), empty: what is usual with the paper.
    """

    symbols: str = "iec60617"
    paper: str = "A3"
    first: int = 1
    also: tuple[str, ...] = ()
    stocks: tuple[str, ...] = ()


def options(book: str, symbols: str = "", paper: str = "", devices: int = FEW + 1) -> Options:
    """The options asked for, and the book's own where nothing is asked.

    >>> options("nfpa70").symbols, options("iec60364", paper="A4").paper
    ('ieee315', 'A4')
    """
    chosen = symbols or SYMBOLS_OF_BOOK.get(book, "iec60617")
    usual = SMALL_PAPER if devices <= FEW else PAPER_OF_SYMBOLS
    return Options(chosen, paper or usual[chosen])
