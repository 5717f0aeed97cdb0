"""A progress bar on standard error: on a terminal only, and only where the work takes long."""

from __future__ import annotations

import sys
import time
from types import TracebackType
from typing import TextIO

PATIENCE_S = 1.0
CELLS = 24


class Progress:
    """Shows how much is done once a second has passed; clears its line at the end."""

    def __init__(self, stream: TextIO | None = None, patience_s: float = PATIENCE_S) -> None:
        self.stream = sys.stderr if stream is None else stream
        self.wanted = self.stream.isatty()
        self.start = time.monotonic()
        self.patience_s = patience_s
        self.shown = False

    def __enter__(self) -> Progress:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self.shown:
            self.stream.write("\r\x1b[K")
            self.stream.flush()

    def step(self, done: int, total: int, what: str = "") -> None:
        """``done`` of ``total`` are finished; ``what`` comes next."""
        if not self.wanted or time.monotonic() - self.start < self.patience_s:
            return
        full = CELLS * done // max(total, 1)
        bar = "█" * full + "·" * (CELLS - full)
        self.stream.write(f"\r\x1b[K{bar} {done}/{total} {what[:40]}")
        self.stream.flush()
        self.shown = True
