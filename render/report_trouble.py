"""Why there is no new picture: the mistakes of a text, over the last one that could be drawn."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ..dsl.problems import Problem, excerpt
from .markup import Markup, el, join
from .report_page import Page

NONE: Mapping[str, str] = {}
EMPTY = Page("Nothing drawn yet", Markup(""), Markup(""))


def troubled(
    page: Page, words: str, problems: Sequence[Problem] = (), sources: Mapping[str, str] = NONE
) -> Page:
    """The page with what is wrong above it."""
    listed = el("ol", join(el("li", *_problem(p, sources)) for p in problems)) if problems else ""
    trouble = el("section", el("h2", words), listed, id="trouble", role="alert")
    start = page.inner or el("main", id="main", tabindex="-1")
    return page._replace(inner=join((trouble, start)))


def _problem(problem: Problem, sources: Mapping[str, str]) -> Iterator[Markup]:
    yield el("strong", f"{problem.span}: {problem.message}")
    shown = excerpt(problem.span, sources)
    if shown:
        yield el("pre", "\n".join(shown))
    for word, said in (("expected", problem.expected), ("hint", problem.hint)):
        if said:
            yield el("p", f"{word}: {said}")
