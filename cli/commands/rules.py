"""``ferrule rules``: the list of rules, a line each."""

from __future__ import annotations

import argparse

from ...checks.registry import rules
from ..errors import CLEAN


def arguments(parser: argparse.ArgumentParser) -> None:
    """Add what this subcommand takes: nothing."""


def run(args: argparse.Namespace) -> int:
    """Print code, severity, name and meaning of every rule."""
    every = rules()
    width = max((len(rule.name) for rule in every), default=0)
    for rule in every:
        print(f"{rule.code}  {rule.severity:<8} {rule.name:<{width}}  {rule.summary}".rstrip())
    return CLEAN
