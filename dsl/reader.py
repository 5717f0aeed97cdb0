"""Reads a rig file: its text, the files it uses, and its stages, each a complete ``Rig``."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator

from .bounds import WITHIN, Bounds, real
from .items import Given, ItemReader
from .kinds import words
from .library import is_shipped, locate, shipped
from .model import Mode, Quantity, Rig, Span
from .most import Tally
from .problems import Problem, Problems, TooMany, did_you_mean, told_once
from .records import record
from .site import Site
from .source import Spoiled, Statement, statements
from .stage import apply, check_landings
from .units import Bad, quantity

BOOKS = ("nfpa70", "abyc-e11", "iec60364")
OWN_BOOK = ".book"  # how the file of a project's own book ends
AMBIENT_C = 30.0  # reference ambient of the ampacity tables of all three books
BASE = "base"
DEEPEST = 40
MOST_BYTES = 64_000_000  # of one file: six times a rig of 100,000 conductors
Loader = Callable[[str], "str | Problem"]
"""Gives the text of a file by its path, or says why not."""
ONCE = ("rig", "rules", "ambient")


@record
class Reading:
    """What reading a file gave: a rig for each stage, or what is wrong with the text.

    ``rigs`` is empty where there is any problem.  ``sources`` holds the text of every file read,
    by the name that spans use.
    """

    rigs: tuple[Rig, ...]
    problems: tuple[Problem, ...]
    sources: dict[str, str]


class _Stage:
    """The statements of one stage, in the order of the text; it grows while the text is read."""

    def __init__(self, name: str, label: str, span: Span | None = None) -> None:
        self.name = name
        self.label = label
        self.span = span
        self.statements: list[Statement | Spoiled] = []


def read(path: os.PathLike[str] | str, outside: bool = False) -> Reading:
    """Reads a rig from a file; mistakes are in the result's ``problems``, none is raised.

    ``outside``: the files it names may lie anywhere, not within its ``Bounds`` alone.
    """
    name = os.fspath(path)
    return _Reader(name, load, outside).read(_load(name))


def read_text(
    text: str, file: str = "<text>", beside: Loader | None = None, outside: bool = False
) -> Reading:
    """Reads a rig from a text, as if it stood in ``file`` (which ``use`` starts from).

    ``beside`` gives the text of the files it names, by path; the files themselves unless given.
    """
    return _Reader(file, beside or load, outside).read(cleaned(text))


def load(path: str) -> str | Problem:
    """The text of a plain file; bytes that are not UTF-8 come as U+FFFD.

    A pipe or a device that a rig names is not opened: it might never end.
    """
    if os.path.exists(path) and not os.path.isfile(path):
        return _not_read(path, "it is a folder" if os.path.isdir(path) else "it is no plain file")
    return _load(path)


def _load(path: str) -> str | Problem:
    """The text of whatever was named on the command line; a pipe, too."""
    try:
        with open(path, "rb") as file:
            raw = file.read(MOST_BYTES + 1)
    except (OSError, ValueError) as error:
        return _not_read(path, getattr(error, "strerror", None) or "its name cannot be a file's")
    if len(raw) > MOST_BYTES:
        return _not_read(path, f"it is larger than {MOST_BYTES // 1_000_000} MB")
    return cleaned(raw.decode("utf-8", errors="replace"))


def _not_read(path: str, reason: str) -> Problem:
    return Problem(Span(path, 1, 1, 1, 1), f"cannot read {path}: {reason}", "a rig file")


def cleaned(text: str) -> str:
    """The text without a byte order mark, its lines ended alike."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


class _Reader:
    """One reading of one rig."""

    def __init__(self, file: str, beside: Loader, outside: bool) -> None:
        self.file, self.beside, self.outside = file, beside, outside
        self.problems = Problems()
        self.sources: dict[str, str] = {}
        self.site = Site(self.problems)
        self.once: dict[str, Statement] = {}
        self.spoiled_once: set[str] = set()
        self.using: list[str] = []
        self.tally = Tally()
        self.names: dict[str, str] = {}  # of files read, by where they are

    def read(self, text: str | Problem) -> Reading:
        if isinstance(text, Problem):
            return Reading((), (text,), {})
        self.sources[self.file] = text
        try:
            rigs = self._rigs(text)
        except TooMany as error:
            end = Span(self.file, text.count("\n") + 1, 1, text.count("\n") + 1, 1)
            last = Problem(end, str(error), "a text that a person can follow")
            return Reading((), (*told_once(self.problems), last), self.sources)
        problems = told_once(self.problems)
        return Reading(() if problems else rigs, problems, self.sources)

    def _rigs(self, text: str) -> tuple[Rig, ...]:
        """A rig for each stage; they count where no problem was found."""
        stages = self._stages(text)
        head = self._head()
        names = tuple(stage.name for stage in stages)
        for stage in stages[1:]:
            self._note_later(stage)
        return tuple(self._rig(stage, names, head) for stage in stages)

    # -- the text into stages ------------------------------------------------------------------

    def _stages(self, text: str) -> list[_Stage]:
        base = _Stage(BASE, "")
        stages, current = [base], base
        for statement in self._expanded(text, self.file):
            self.tally.statement(statement)
            if statement.word == "stage":
                if current is not base:
                    self._unclosed(current)
                current = self._open(statement, stages)
                stages.append(current)
            elif statement.word == "}":
                if current is base and isinstance(statement, Statement):
                    self._problem(statement, "a `}` that closes nothing", "stage NAME { … }")
                current = base
            elif statement.word in ONCE:
                self._keep_once(statement, current is base)
            else:
                current.statements.append(statement)
        if current is not base:
            self._unclosed(current)
        self.tally.text()
        return stages

    def _expanded(self, text: str, file: str) -> Iterator[Statement | Spoiled]:
        """The statements of a text, those of the files it uses in their place."""
        self.using.append(file)
        for statement in statements(text, file, self.problems):
            if statement.word != "use":
                yield statement
            elif isinstance(statement, Spoiled):
                self.site.blind = True
            else:
                yield from self._use(statement)
        self.using.pop()

    def _use(self, statement: Statement) -> Iterator[Statement | Spoiled]:
        label = statement.text_of_label()
        file, path = locate(label, statement.file)
        if not is_shipped(file):
            place = real(path)
            if not self._reaches(statement, path, place):
                self.site.blind = True
                return
            self.names.setdefault(real(self.file), self.file)
            file = self.names.setdefault(place, file)
        if file in self.using:
            ring = " uses ".join([*self.using[self.using.index(file) :], file])
            self._problem(statement, f"files that use each other: {ring}", "", "take one `use` out")
            return
        if file in self.sources:
            return
        if len(self.using) > DEEPEST:
            self._problem(statement, f"files that use files, more than {DEEPEST} deep")
            return
        text = load(path) if is_shipped(file) else self.beside(path)
        if isinstance(text, Problem):
            self.site.blind = True
            expected = "a file by a path relative to this one, or a shipped one: parts/…"
            self._problem(statement, text.message, expected, did_you_mean(label, shipped()))
            return
        self.sources[file] = text
        yield from self._expanded(text, file)

    def _reaches(self, statement: Statement, path: str, place: str) -> bool:
        """Whether a rig may bring a file in; a link is judged by where it leads, its ``place``."""
        if self.outside or Bounds(self.file).hold(place):
            return True
        linked = place != os.path.abspath(path)
        what = f"{path} leads to {place}, outside" if linked else f"{path} lies outside"
        hint = "if you trust it: --allow-outside"
        self._problem(statement, f"{what} the folders of this rig", WITHIN, hint)
        return False

    def _problem(
        self, statement: Statement, message: str, expected: str = "", hint: str = ""
    ) -> None:
        self.problems.append(Problem(statement.span, message, expected, hint))

    def _open(self, statement: Statement | Spoiled, stages: list[_Stage]) -> _Stage:
        if isinstance(statement, Spoiled):
            return _Stage(statement.name, "")
        name = str(statement.name)
        same = next((s for s in stages if s.name == name), None)
        if same:
            where = (
                f"first declared at {same.span}"
                if same.span
                else "it is the text outside any stage"
            )
            self._problem(statement, f"the name {name} is taken", "a name of its own", where)
        return _Stage(name, statement.text_of_label(), statement.span)

    def _unclosed(self, stage: _Stage) -> None:
        if stage.span:
            hint = "close it with `}` on a line of its own"
            self.problems.append(
                Problem(stage.span, f"the stage {stage.name} is not closed", "`}`", hint)
            )

    def _note_later(self, stage: _Stage) -> None:
        for statement in stage.statements:
            if (
                isinstance(statement, Statement)
                and statement.name
                and statement.word not in NOT_NEW
            ):
                self.site.later.setdefault(str(statement.name), statement.at(statement.name))

    # -- what is said once ---------------------------------------------------------------------

    def _keep_once(self, statement: Statement | Spoiled, outside: bool) -> None:
        word = statement.word
        if isinstance(statement, Spoiled):
            self.spoiled_once.add(word)
        elif statement.file != self.file:
            hint = f"take it out of {statement.file}"
            self._problem(statement, f"`{word}` in a used file", "the rig's own file says it", hint)
        elif not outside:
            self._problem(statement, f"`{word}` inside a stage", "it stands outside any stage")
        elif word in self.once:
            self._problem(
                statement, f"a second `{word}`", "one", f"the first is at {self.once[word].span}"
            )
        else:
            self.once[word] = statement

    def _head(self) -> _Head:
        rig = self.once.get("rig")
        given = ItemReader(rig, words("rig"), self.problems).read() if rig else Given()
        label = rig.text_of_label() if rig else os.path.splitext(os.path.basename(self.file))[0]
        span = rig.span if rig else Span(self.file, 1, 1, 1, 1)
        return _Head(label, given, span, self._book(), self._ambient())

    def _book(self) -> str:
        rules = self.once.get("rules")
        if rules is None:
            if "rules" not in self.spoiled_once:
                message = "the rig does not say whose rules it follows"
                expected = "a line: rules " + " or rules ".join(BOOKS)
                self.problems.append(Problem(Span(self.file, 1, 1, 1, 1), message, expected))
            return ""
        if rules.label:
            return self._own_book(rules)
        book = str(rules.name)
        if book not in BOOKS and rules.name:
            message, hint = f"there is no rule book `{book}`", did_you_mean(book, BOOKS)
            expected = "one of: " + " ".join(BOOKS)
            self.problems.append(Problem(rules.at(rules.name), message, expected, hint))
        return book

    def _own_book(self, rules: Statement) -> str:
        """The path of the project's own rule book; the reader does not judge what stands in it."""
        label = rules.text_of_label()
        path = os.path.normpath(os.path.join(os.path.dirname(self.file), label))
        if not label.endswith(OWN_BOOK):
            expected = f'a book of your own, "NAME{OWN_BOOK}", or one of: ' + " ".join(BOOKS)
            hint = f"write rules {label} without quotes" if label in BOOKS else ""
            self._problem(rules, f'there is no rule book "{label[:40]}"', expected, hint)
        elif not self._reaches(rules, path, real(path)):
            pass
        elif "\0" in path or not self._is_file(path):
            expected = "a file by a path relative to this one"
            self._problem(rules, f"there is no file {path}", expected, _near_file(path))
        return path

    def _is_file(self, path: str) -> bool:
        if self.beside is load:
            return os.path.isfile(path)
        return isinstance(self.beside(path), str)

    def _ambient(self) -> float:
        ambient = self.once.get("ambient")
        if ambient is None:
            return AMBIENT_C
        token = ambient.items[0]
        try:
            value: Quantity = quantity(str(token), "degC")
        except Bad as bad:
            self.problems.append(Problem(ambient.at(token), bad.message, bad.expected, bad.hint))
            return AMBIENT_C
        return value.value

    # -- a stage as a rig ----------------------------------------------------------------------

    def _rig(self, stage: _Stage, names: tuple[str, ...], head: _Head) -> Rig:
        site = self.site
        for statement in stage.statements:
            if isinstance(statement, Statement) and statement.name:
                site.later.pop(str(statement.name), None)
        apply(site, stage.statements)
        if stage.name != BASE:
            check_landings(site)
        modes = dict(site.modes) or {"all": Mode("all", "", (), head.span)}
        rig = Rig(
            file=self.file,
            label=head.label,
            attrs=head.given.attrs,
            span=head.span,
            stage=stage.name,
            stage_label=stage.label,
            stages=names,
            book=head.book,
            ambient_c=head.ambient_c,
            devices=dict(site.devices),
            conductors=dict(site.conductors),
            cables=dict(site.cables),
            places=dict(site.places),
            routes=dict(site.routes),
            panels=dict(site.panels),
            parts=dict(site.parts),
            modes=modes,
            accepts=tuple(site.accepts),
            sources=self.sources,
            revisions=dict(site.revisions),
        )
        self.tally.stage(rig)
        return rig


def _near_file(path: str) -> str:
    """A hint naming the nearest file beside the one that is not there."""
    folder, name = os.path.split(path)
    try:
        names = [n for n in os.listdir(folder or ".") if n.endswith(OWN_BOOK)]
    except (OSError, ValueError):
        names = []
    return did_you_mean(name, names)


NOT_NEW = ("remove", "move", "change", "accept", "mode", "revision")


@record
class _Head:
    """What the statements say that may stand only once: title block, book, ambient in degC."""

    label: str
    given: Given
    span: Span
    book: str
    ambient_c: float
