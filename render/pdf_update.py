"""Objects added to a PDF that matplotlib wrote: it has no call for bookmarks, links and labels.

They are added as an incremental update (ISO 32000-1, 7.5.6): new objects, a new version of the
catalogue and of the pages' lists of annotations, and a further cross-reference section behind the
unchanged file.  This needs only what matplotlib writes in plain text: the trailer, the catalogue,
the list of pages and the pages.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(slots=True)
class Update:
    """A PDF and what is to be added to it: objects by number, words for the catalogue.

    ``pages`` and ``notes`` are the numbers of each page and of its list of annotations.
    ValueError if the file is not as expected.
    """

    pdf: bytes
    root: int = field(init=False)
    next: int = field(init=False)
    pages: list[int] = field(init=False)
    notes: list[int] = field(init=False)
    objects: dict[int, bytes] = field(default_factory=dict)
    catalogue: bytes = b""

    def __post_init__(self) -> None:
        self.root = int(_find(rb"/Root (\d+) 0 R", self.pdf))
        self.next = int(_find(rb"/Size (\d+)", self.pdf))
        kids = _find(rb"/Kids \[(.*?)\]", self._body(int(_find(rb"/Pages (\d+) 0 R", self.pdf))))
        self.pages = [int(number) for number in re.findall(rb"(\d+) 0 R", kids)]
        self.notes = [int(_find(rb"/Annots (\d+) 0 R", self._body(page))) for page in self.pages]

    def _body(self, number: int) -> bytes:
        return _find(rb"\n%d 0 obj\s*<<(.*?)>>\s*endobj" % number, self.pdf)

    def add(self, body: bytes) -> int:
        """A new object; returns its number."""
        self.objects[self.next] = body
        self.next += 1
        return self.next - 1

    def reserve(self, count: int) -> int:
        """Numbers for so many objects that are given later; returns the first."""
        self.next += count
        return self.next - count

    def written(self) -> bytes:
        """The whole file."""
        root = self._body(self.root).rstrip()
        objects = {self.root: b"<<%b%b >>" % (root, self.catalogue), **self.objects}
        return _appended(self.pdf, objects, self.root, self.next)


def text(words: str) -> bytes:
    """A PDF text string, in UTF-16 whatever is in it."""
    return b"<FEFF%b>" % words.encode("utf-16-be", "replace").hex().upper().encode()


def _find(pattern: bytes, data: bytes) -> bytes:
    """The last match: a file's end has the last word."""
    found = re.findall(pattern, data, re.DOTALL)
    if not found:
        raise ValueError(f"the PDF has no {pattern!r}")
    return bytes(found[-1])


def _appended(pdf: bytes, objects: Mapping[int, bytes], root: int, size: int) -> bytes:
    """The file, the objects behind it, and the cross-reference section that finds them."""
    previous = int(_find(rb"startxref\s+(\d+)\s+%%EOF", pdf))
    info = re.search(rb"/Info \d+ 0 R", pdf)
    out = bytearray(pdf if pdf.endswith(b"\n") else pdf + b"\n")
    places = {}
    for number, body in sorted(objects.items()):
        places[number] = len(out)
        out += b"%d 0 obj\n%b\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n0 1\n0000000000 65535 f \n"
    for number, offset in places.items():
        out += b"%d 1\n%010d 00000 n \n" % (number, offset)
    out += b"trailer\n<< /Size %d /Root %d 0 R /Prev %d %b >>\n" % (
        size, root, previous, info.group() if info else b"",
    )  # fmt: skip
    return bytes(out + b"startxref\n%d\n%%%%EOF\n" % start)
