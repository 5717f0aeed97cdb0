"""``ferrule explain``: what a rule means, why it matters, whose it is."""

from __future__ import annotations

import argparse
from inspect import cleandoc

from ...checks.registry import Rule, rules
from ..errors import CLEAN
from ..files import unknown


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes."""
    parser.add_argument("rule", metavar="RULE", help="a rule's code or its name")


def run(args: argparse.Namespace) -> int:
    """Print the rule's own text."""
    rule = find(args.rule)
    clauses = [f"  {book or 'any book'}: {clause}" for book, clause in rule.clauses.items()]
    head = f"{rule.code} {rule.name} ({rule.severity})"
    tail = ["\n".join(["Whose rule it is:", *clauses])] if clauses else []
    print("\n\n".join([head, cleandoc(rule.doc), *tail]))
    return CLEAN


def find(word: str) -> Rule:
    """The rule of that code or name, in any case; raises ``Unusable`` where there is none."""
    table = {key.casefold(): rule for rule in rules() for key in (rule.code, rule.name)}
    rule = table.get(word.casefold())
    if rule is None:
        raise unknown("rule", word, (name for r in rules() for name in (r.code, r.name)))
    return rule
