"""``ferrule books``: the figures the checker uses, with clause, edition and how sure they are."""

from __future__ import annotations

import argparse
from collections.abc import Iterable

from ...checks.books import listing
from ...checks.books.book import Book, book, flaws, is_own
from ...checks.books.data import BOOKS
from ...dsl.problems import render_problem
from ..errors import CLEAN, Unusable
from ..files import unknown, usable


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("book", nargs="?", metavar="BOOK", help="a rule book, or a file NAME.book")
    parser.add_argument("table", nargs="?", metavar="TABLE", help="a table or figure of it")
    parser.add_argument(
        "--from-memory", action="store_true", help="only what no copy we could read confirms"
    )


def run(args: argparse.Namespace) -> int:
    """Print the books, one book's contents, or one table of it."""
    print("\n".join(_lines(args)).rstrip("\n"))
    return CLEAN


def _lines(args: argparse.Namespace) -> Iterable[str]:
    if args.book is None:
        every = [book(name) for name in BOOKS]
        if args.from_memory:
            return (line for rules in every for line in (*listing.from_memory(rules), ""))
        return listing.books(every)
    rules = find(args.book)
    if args.from_memory:
        return listing.from_memory(rules)
    if args.table is None:
        return listing.contents(rules)
    if args.table not in listing.keys(rules):
        raise unknown("table", args.table, listing.keys(rules), args.book)
    return listing.table(rules, args.table)


def find(name: str) -> Book:
    """The book of that name or path; raises ``Unusable`` where there is none that can be used."""
    if is_own(name):
        problems, text = flaws(usable(name))
        if problems:
            told = "\n".join(render_problem(p, {name: text}) for p in problems)
            raise Unusable(f"{name}: a book that cannot be used\n{told}")
    elif name not in BOOKS:
        raise unknown("rule book", name, BOOKS)
    return book(name)
