"""The one place of the command line where modules are imported late.

A run pays only for the subcommand and the writer it uses; ``check`` and ``--version`` never pay
for the drawing room.
"""

from __future__ import annotations

from collections.abc import Iterable
from contextlib import AbstractContextManager
from importlib import import_module
from types import ModuleType


def command(name: str) -> ModuleType:
    """The module of a subcommand: ``arguments(parser)`` and ``run(args) -> exit code``."""
    return import_module(f".commands.{name}", __package__)


def parsers() -> ModuleType:
    """The module that reads command lines and prints help."""
    return import_module(".parsers", __package__)


def reaching(outside: bool) -> AbstractContextManager[None]:
    """How far the rigs of a run may reach: to files outside their folders, or not."""
    scope: AbstractContextManager[None]
    scope = import_module(".files", __package__).reaching(outside)
    return scope


def writer(name: str) -> ModuleType:
    """The module of a writer of findings: ``write(outcomes) -> text``."""
    return import_module(f".writers.{name}", __package__)


def summaries(rigs: Iterable[object]) -> dict[str, object]:
    """The few figures of every stage and mode."""
    module = import_module("..checks.figures.summary", __package__)
    found: dict[str, object] = module.summaries(rigs)
    return found


def told(name: str) -> ModuleType:
    """The module that tells a comparison in a format: ``write(comparisons, colour) -> text``."""
    return import_module(f".diff.{name}", __package__)


def ordered(name: str) -> ModuleType:
    """The module that writes a work order in a format: ``write(plan, title, colour) -> text``."""
    return import_module(f".rework.{name}", __package__)


def fleet(name: str) -> ModuleType:
    """The module that does a subcommand for many rigs: ``run(args) -> exit code``."""
    return import_module(f".fleet.{name}", __package__)


def editor() -> ModuleType:
    """The server of editors: ``serve()``; ImportError where pygls is not installed."""
    return import_module(".editor.server", __package__)


def folded(words: str, width: int) -> list[str]:
    """Words in lines of that many columns; a rig without findings has none to fold."""
    lines: list[str] = import_module("textwrap").wrap(words, width, break_long_words=False)
    return lines


def did_you_mean(word: str, words: Iterable[str]) -> str:
    """A hint naming the near miss, or an empty string where nothing is near."""
    hint: str = import_module("..dsl.problems", __package__).did_you_mean(word, words)
    return hint


def plain(words: str) -> str:
    """Words that no terminal acts on."""
    shown: str = import_module("..dsl.problems", __package__).plain(words)
    return shown
