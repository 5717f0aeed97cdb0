"""The picture of a file that is being written: built again whenever one of its files was saved."""

from __future__ import annotations

import gc
import os
import threading
import time
from collections.abc import Callable, Iterator, Sequence

from ..checks.books.book import is_own
from ..dsl.reader import Reading
from ..render.report import Page, whole
from ..render.report_trouble import EMPTY, troubled
from . import files
from .errors import Unusable
from .reporting import report

LOOK_S, SETTLED_S = 0.02, 0.01
"""How often the files are looked at, s, and how long they have to stay as they are after a save."""


class Picture:
    """The page as it is now, and its version; whoever waits is told of a new one."""

    def __init__(self) -> None:
        self.version = 0
        self.html = ""
        self.news = threading.Condition()

    def renew(self, page: Page) -> None:
        """Puts a new page in the place of the old one."""
        with self.news:
            self.version += 1
            self.html = whole(page, watching=True, version=str(self.version))
            self.news.notify_all()

    def wait(self, seen: int, patience_s: float) -> int:
        """The version, as soon as it is another than the one seen, or when patience ends."""
        with self.news:
            self.news.wait_for(lambda: self.version != seen, patience_s)
            return self.version


class Builder:
    """Builds the page of a stage of a file; keeps the last that could be built."""

    def __init__(self, file: str, stage: str | None, picture: Picture) -> None:
        self.file, self.stage, self.picture = file, stage, picture
        self.last = EMPTY
        self.files: tuple[str, ...] = (file,)
        self.built: dict[str, Stamp] = {}

    def build(self) -> str:
        """Builds and shows the page; says in a few words what became of it."""
        before = _stamps(self.files)
        words = self._build()
        # What was saved while it was being built is another save.
        self.built = {path: before.get(path) or _stamp(path) for path in self.files}
        return words

    def _build(self) -> str:
        started = time.perf_counter()
        try:
            reading = files.load(self.file)
            self.files = tuple(_files(self.file, reading))
            if reading.problems:
                return self._refused(reading)
            rig = files.stages(reading.rigs, self.stage)[-1]
            self.last = report(reading.rigs, rig)
        except (Unusable, OSError) as error:
            self.picture.renew(troubled(self.last, str(error)))
            return str(error)
        except Exception as error:  # whatever happens, the next save may mend it
            words = f"a defect of ferrule, not of your text: {type(error).__name__}: {error}"
            self.picture.renew(troubled(self.last, words))
            return words
        self.picture.renew(self.last)
        return f"{self.last.name}: drawn in {time.perf_counter() - started:.2f} s"

    def _refused(self, reading: Reading) -> str:
        count = len(reading.problems)
        words = f"{self.file}: {count} mistake{'' if count == 1 else 's'} in the text"
        shown = troubled(self.last, words, reading.problems, reading.sources)
        self.picture.renew(shown)
        return words

    def follow(self, tell: Callable[[str], None]) -> None:
        """Builds at every save, until interrupted."""
        gc.collect()
        gc.freeze()  # what every build needs is not looked through again
        while True:
            time.sleep(LOOK_S)
            now = _stamps(self.files)
            if now == self.built:
                continue
            while (later := _after(SETTLED_S, self.files)) != now:
                now = later
            gc.disable()  # a tenth of a build; what it leaves is collected after it
            words = self.build()
            gc.enable()
            gc.collect()  # here nobody waits for it
            tell(words)


Stamp = tuple[int, int, int]
NOT_THERE: Stamp = (0, 0, 0)


def _files(file: str, reading: Reading) -> Iterator[str]:
    """What the page was made from: the rig, what it uses, and a rule book of its own."""
    yield from dict.fromkeys((file, *reading.sources))
    yield from dict.fromkeys(rig.book for rig in reading.rigs[:1] if is_own(rig.book))


def _stamps(paths: Sequence[str]) -> dict[str, Stamp]:
    """What tells one state of the files from another."""
    return {path: _stamp(path) for path in paths}


def _stamp(path: str) -> Stamp:
    try:
        found = os.stat(path)
    except OSError:
        return NOT_THERE
    return found.st_mtime_ns, found.st_size, found.st_ino


def _after(seconds: float, paths: Sequence[str]) -> dict[str, Stamp]:
    time.sleep(seconds)
    return _stamps(paths)
