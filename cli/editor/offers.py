"""What is offered for a place in the text: one record, and the few ways to make many of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import NamedTuple

from ...dsl.records import record

WORD, KIND, KEY, FLAG, VALUE, UNIT, NAME, TERMINAL, FILE = (
    *("word", "kind", "key", "flag", "value", "unit", "name", "terminal", "file"),
)
FIRST, THEN, LAST = 0, 1, 2


@record
class Offer:
    """A completion: what is shown, what it is, a few words on it, and what is written.

    ``rank`` 0 goes before 1, 1 before 2; within a rank they keep their order.
    """

    label: str
    what: str
    detail: str = ""
    text: str = ""
    rank: int = THEN

    @property
    def written(self) -> str:
        return self.text or self.label


class Offers(NamedTuple):
    """Completions, and the index in the text where the word begins that they take the place of."""

    begun: int
    offers: list[Offer]


def of_words(words: Iterable[str], what: str, detail: str = "", rank: int = THEN) -> list[Offer]:
    """An offer for each word."""
    return [Offer(word, what, detail, rank=rank) for word in words]


def of_table(table: Mapping[str, str], what: str) -> list[Offer]:
    """An offer for each word, with what the table says of it."""
    return [Offer(word, what, detail) for word, detail in table.items()]
