"""The objects of a PDF file and the file made of them (ISO 32000-1, 7.5)."""

from __future__ import annotations

import zlib
from collections.abc import Iterable

HEAD = b"%PDF-1.5\n%\xe2\xe3\xcf\xd3\n"
"""The comment's bytes tell whoever moves the file that it is no text."""
LEVEL = 6


class Objects:
    """Numbered objects, in the order in which they were asked for."""

    def __init__(self) -> None:
        self._bodies: list[bytes] = []

    def reserve(self, count: int = 1) -> int:
        """Numbers for so many objects that are given later; returns the first."""
        self._bodies += [b"null"] * count
        return len(self._bodies) - count + 1

    def give(self, number: int, body: bytes) -> None:
        """The body of a reserved object."""
        self._bodies[number - 1] = body

    def add(self, body: bytes) -> int:
        """A new object; returns its number."""
        number = self.reserve()
        self.give(number, body)
        return number

    def stream(self, data: bytes, words: bytes = b"") -> int:
        """A compressed stream; ``words`` go into its dictionary."""
        packed = zlib.compress(data, LEVEL)
        head = b"<< /Length %d /Filter /FlateDecode%b >>" % (len(packed), words)
        return self.add(b"%b\nstream\n%b\nendstream" % (head, packed))

    def written(self, root: int, info: int) -> bytes:
        """The whole file."""
        out = bytearray(HEAD)
        places = []
        for number, body in enumerate(self._bodies, 1):
            places.append(len(out))
            out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
        start, size = len(out), len(places) + 1
        out += b"xref\n0 %d\n0000000000 65535 f \n" % size
        out += b"".join(b"%010d 00000 n \n" % place for place in places)
        out += b"trailer\n<< /Size %d /Root %d 0 R /Info %d 0 R >>\n" % (size, root, info)
        return bytes(out + b"startxref\n%d\n%%%%EOF\n" % start)


def text(words: str) -> bytes:
    """A text string, in UTF-16 whatever is in it."""
    return b"<FEFF%b>" % words.encode("utf-16-be", "replace").hex().upper().encode()


def listed(numbers: Iterable[int]) -> bytes:
    """References to objects, for an array."""
    return b" ".join(b"%d 0 R" % number for number in numbers)
