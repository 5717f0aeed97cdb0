"""Files of a set of drawings, written whole or not at all.

``pack`` makes every file in memory; ``write`` puts them into a hidden folder first and moves them
in when all are there.  A run that is interrupted, or runs out of space, leaves the earlier files as
they were.  Files that an earlier run of the same stage left and this one no longer makes are
removed after that, of the formats written now only.
"""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from functools import partial
from hashlib import sha256
from pathlib import Path

from .canvas import Sheet
from .draw import TEXTS
from .frame import slug
from .mpl import png
from .pdf import NO_FACTS, pdf
from .svg import svg

try:
    import fcntl
except ImportError:  # not a POSIX system
    fcntl = None  # type: ignore[assignment]

FORMATS = ("svg", "pdf", "png", "csv", "md", "txt", "dot")
LABELS = "labels"
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


def write(files: Mapping[str, bytes], folder: Path, stem: str) -> list[Path]:
    """Write all files into the folder, or none; returns their paths.  OSError if it cannot."""
    fresh = not folder.exists()
    folder.mkdir(parents=True, exist_ok=True)
    # Inside the folder: writable if the folder is, and on the same disk.
    waiting = Path(tempfile.mkdtemp(prefix=".unfinished-", dir=folder))
    try:
        new, old = waiting / "new", waiting / "old"
        for part in (new, old):
            part.mkdir()
        for name, data in files.items():
            (new / name).write_bytes(data)
        with _alone(folder):
            _exchange(folder, new, old, files, _stale(folder, stem, files))
    finally:
        shutil.rmtree(waiting, ignore_errors=True)
        if fresh and not any(folder.iterdir()):
            folder.rmdir()
    return [folder / name for name in files]


@contextmanager
def _alone(folder: Path) -> Iterator[None]:
    """While open, no other run moves files into the folder: of two at once, one's set stays whole.

    Where the system or its disk has no such locks, they are not waited for.
    """
    if fcntl is None:
        yield
        return
    held = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):
            fcntl.flock(held, fcntl.LOCK_EX)
        yield
    finally:
        os.close(held)


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


def _exchange(
    folder: Path, new: Path, old: Path, files: Iterable[str], stale: Iterable[str]
) -> None:
    """Move the new files in, keeping what they replace until the last is there."""
    moved: list[str] = []
    try:
        for name in files:
            if (folder / name).exists():
                shutil.copy2(folder / name, old / name)
            moved.append(name)
            os.replace(new / name, folder / name)
    except BaseException:
        for name in moved:
            _restore(folder / name, old / name)
        raise
    for name in stale:
        (folder / name).unlink(missing_ok=True)


def _restore(path: Path, kept: Path) -> None:
    """Put back what was there; nothing was there if nothing was kept."""
    if kept.exists():
        os.replace(kept, path)
    else:
        path.unlink(missing_ok=True)
