"""How the command line refuses: one exception, one line on standard error, exit code 2."""

from __future__ import annotations

CLEAN, FOUND, UNUSABLE = 0, 1, 2


class Unusable(Exception):
    """Input or output that cannot be used; the text says what is wrong, ``hint`` what to do."""

    def __init__(self, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.hint = hint

    def __str__(self) -> str:
        message = super().__str__()
        return f"{message}\n  {self.hint}" if self.hint else message
