"""Bookmarks for a PDF that matplotlib wrote: it has no call for them.

They are added as an incremental update (ISO 32000-1, 7.5.6): new objects, a new version of the
catalogue and a further cross-reference section behind the unchanged file.  This needs only what
matplotlib writes in plain text: the trailer, the catalogue and the list of pages.
"""

from __future__ import annotations

import re
from collections.abc import Sequence


def with_outline(pdf: bytes, names: Sequence[str]) -> bytes:
    """The PDF with one bookmark per page, in order.  ValueError if it is not as expected."""
    root = int(_find(rb"/Root (\d+) 0 R", pdf))
    size = int(_find(rb"/Size (\d+)", pdf))
    start = int(_find(rb"startxref\s+(\d+)\s+%%EOF", pdf))
    catalogue = _find(rb"\n%d 0 obj\s*<<(.*?)>>\s*endobj" % root, pdf)
    pages_id = int(_find(rb"/Pages (\d+) 0 R", catalogue))
    pages = _find(rb"\n%d 0 obj\s*<<(.*?)>>\s*endobj" % pages_id, pdf)
    kids = re.findall(rb"(\d+) 0 R", _find(rb"/Kids \[(.*?)\]", pages))
    if len(kids) != len(names):
        raise ValueError(f"{len(kids)} pages, but {len(names)} bookmarks")
    extra = (
        b" /Outlines %d 0 R /PageMode /UseOutlines /Lang (en)"
        b" /ViewerPreferences << /DisplayDocTitle true >>" % size
    )
    objects = {root: b"<<" + catalogue.rstrip() + extra + b" >>", size: _head(size, len(kids))}
    for index, (kid, name) in enumerate(zip(kids, names, strict=True)):
        objects[size + 1 + index] = _entry(size, index, len(kids), int(kid), name)
    info = re.search(rb"/Info \d+ 0 R", pdf)
    return _appended(pdf, objects, root, start, info.group() if info else b"")


def _find(pattern: bytes, data: bytes) -> bytes:
    """The last match: a file's end has the last word."""
    found = re.findall(pattern, data, re.DOTALL)
    if not found:
        raise ValueError(f"the PDF has no {pattern!r}")
    return bytes(found[-1])


def _head(own: int, count: int) -> bytes:
    return b"<< /Type /Outlines /First %d 0 R /Last %d 0 R /Count %d >>" % (
        own + 1,
        own + count,
        count,
    )


def _entry(parent: int, index: int, count: int, page: int, name: str) -> bytes:
    """One bookmark; its name in UTF-16 as PDF text strings are."""
    text = name.encode("utf-16-be").hex().upper().encode()
    before = b" /Prev %d 0 R" % (parent + index) if index else b""
    after = b" /Next %d 0 R" % (parent + index + 2) if index + 1 < count else b""
    return b"<< /Title <FEFF%s> /Parent %d 0 R /Dest [%d 0 R /Fit]%s%s >>" % (
        text,
        parent,
        page,
        before,
        after,
    )


def _appended(
    pdf: bytes, objects: dict[int, bytes], root: int, previous: int, info: bytes
) -> bytes:
    out = bytearray(pdf if pdf.endswith(b"\n") else pdf + b"\n")
    places = {}
    for number, body in objects.items():
        places[number] = len(out)
        out += b"%d 0 obj\n%s\nendobj\n" % (number, body)
    start = len(out)
    out += b"xref\n"
    for number, offset in sorted(places.items()):
        out += b"%d 1\n%010d 00000 n \n" % (number, offset)
    out += b"trailer\n<< /Size %d /Root %d 0 R /Prev %d %s >>\n" % (
        max(places) + 1,
        root,
        previous,
        info,
    )
    return bytes(out + b"startxref\n%d\n%%%%EOF\n" % start)
