"""Files of a set of drawings, written whole or not at all.

``pack`` makes every file in memory; ``write`` puts them into a hidden folder first and moves them
in when all are there.  A run that is interrupted, or runs out of space, leaves the earlier files as
they were; what a killed run left is taken away, and half of its files undone, by the next one into
the same folder.  Files that an earlier run of the same stage left and this one no longer makes are
removed after that, of the formats written now only.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from contextlib import ExitStack
from functools import partial
from hashlib import sha256
from pathlib import Path

from .canvas import Sheet
from .draw import TEXTS
from .frame import slug
from .mpl import png
from .pdf import NO_FACTS, pdf
from .svg import svg
from .unfinished import abandoned, held

FORMATS = ("svg", "pdf", "png", "csv", "md", "txt", "dot")
LABELS = "labels"
UNFINISHED, NEW, OLD, ADDED = ".unfinished-", "new", "old", "added"
MISSING, CHANGED, STALE = "missing", "changed", "stale"
Step = Callable[[int, int, str], None]


def _silent(done: int, total: int, what: str) -> None:
    """Progress that nobody watches."""


def _svg_bytes(sheet: Sheet) -> bytes:
    return svg(sheet).encode()


def _text_bytes(text: Callable[[], str]) -> bytes:
    return text().encode()


def pack(
    sheets: Sequence[Sheet],
    tables: Mapping[str, Callable[[], str]],
    stem: str,
    formats: Collection[str] = ("svg", "pdf"),
    title: str = "",
    step: Step = _silent,
    facts: Mapping[str, str] = NO_FACTS,
) -> dict[str, bytes]:
    """Every file of the set, by name: ``<stem>-<nn>-<document>.svg`` and so on, ``<stem>.pdf``.

    Sheets of labels are ``<stem>-labels-<nn>-<document>.svg`` and bound in ``<stem>-labels.pdf``.
    ``tables`` make texts, by the end of their name (``chart.csv``); ``step(done, total, what)`` is
    told of progress; ``facts`` are the PDFs' document information besides their title.
    """
    jobs: list[tuple[str, Callable[[], bytes]]] = []
    for sheet in sheets:
        series = stem if sheet.framed else f"{stem}-{LABELS}"
        name = f"{series}-{sheet.number:02d}-{slug(sheet.doc)}"
        if "svg" in formats:
            jobs.append((f"{name}.svg", partial(_svg_bytes, sheet)))
        if "png" in formats:
            jobs.append((f"{name}.png", partial(png, sheet)))
    if "pdf" in formats:
        for name, framed in ((stem, True), (f"{stem}-{LABELS}", False)):
            bound = [sheet for sheet in sheets if sheet.framed is framed]
            if bound:
                jobs.append((f"{name}.pdf", partial(pdf, bound, title or stem, facts)))
    for end, text in tables.items():
        if end.rpartition(".")[2] in formats:
            jobs.append((f"{stem}-{end}", partial(_text_bytes, text)))
    made = {}
    for index, (name, make) in enumerate(jobs):
        step(index, len(jobs), name)
        made[name] = make()
    return made


def write(files: Mapping[str, bytes], folder: Path, *stems: str) -> list[Path]:
    """Write all files into the folder, or none; returns their paths.  OSError if it cannot.

    ``stems`` are what the names of the sets begin with whose other files are out of date.
    """
    fresh = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        with held(folder):
            _tidy(folder)
            # Inside the folder: writable if the folder is, and on the same disk.
            waiting = Path(tempfile.mkdtemp(prefix=UNFINISHED, dir=folder))
            stack.enter_context(held(waiting))
        try:
            for part in (NEW, OLD):
                (waiting / part).mkdir()
            for name, data in files.items():
                (waiting / NEW / name).write_bytes(data)
            with held(folder):
                stale = [name for stem in stems for name in _stale(folder, stem, files)]
                _exchange(folder, waiting, list(files), stale)
        finally:
            shutil.rmtree(waiting, ignore_errors=True)
            if fresh and not any(folder.iterdir()):
                folder.rmdir()
    return [folder / name for name in files]


def _tidy(folder: Path) -> None:
    """Take away what killed runs left; one that was killed while it moved files in is undone."""
    for waiting in sorted(folder.glob(f"{UNFINISHED}*")):
        if waiting.is_dir() and abandoned(waiting):
            _undo(folder, waiting)
            shutil.rmtree(waiting, ignore_errors=True)


def sums(files: Mapping[str, bytes]) -> dict[str, str]:
    """The SHA-256 of every file, by name."""
    return {name: sha256(data).hexdigest() for name, data in files.items()}


def differences(made: Mapping[str, str], folder: Path, stem: str) -> dict[Path, str]:
    """What keeps a folder from holding just these files: what is wrong with each, by path.

    ``made`` are the ``sums`` of what the text gives.  ``missing``, ``changed`` or ``stale``: a
    file of this stage that the text no longer gives.
    """
    found: dict[Path, str] = {}
    for name, want in made.items():
        path = folder / name
        if not path.is_file():
            found[path] = MISSING
        elif sha256(path.read_bytes()).hexdigest() != want:
            found[path] = CHANGED
    if folder.is_dir():
        found |= {folder / name: STALE for name in _stale(folder, stem, made)}
    return dict(sorted(found.items()))


def _stale(folder: Path, stem: str, files: Iterable[str]) -> list[str]:
    """Files of this stage and these formats that an earlier run made and this one did not."""
    suffixes = {Path(name).suffix for name in files}
    texts = "|".join(TEXTS)
    ours = re.compile(
        rf"{re.escape(stem)}((-{LABELS})?-[0-9]{{2,}}-[a-z0-9-]+|-({texts})|-overview-[a-z0-9-]+)?"
        r"\.[a-z]+"
    )
    return sorted(
        path.name
        for path in folder.iterdir()
        if path.suffix in suffixes and ours.fullmatch(path.name) and path.name not in set(files)
    )


def _exchange(folder: Path, waiting: Path, names: list[str], stale: Iterable[str]) -> None:
    """Move the new files in, keeping what they replace until the last is there."""
    there = [name for name in names if (folder / name).exists()]
    for name in there:
        shutil.copy2(folder / name, waiting / OLD / name)
    added = "".join(f"{name}\n" for name in names if name not in there)
    (waiting / ADDED).write_text(added, encoding="utf-8")
    try:
        for name in names:
            os.replace(waiting / NEW / name, folder / name)
    except BaseException:
        _undo(folder, waiting)
        raise
    (waiting / ADDED).unlink()  # from here on, the new set stands
    for name in stale:
        (folder / name).unlink(missing_ok=True)


def _undo(folder: Path, waiting: Path) -> None:
    """Put back what was there before files were moved in; nothing where none was moved yet."""
    added = waiting / ADDED
    if not added.is_file():
        return
    for kept in sorted((waiting / OLD).iterdir()):
        os.replace(kept, folder / kept.name)
    for name in added.read_text(encoding="utf-8").splitlines():
        (folder / name).unlink(missing_ok=True)
