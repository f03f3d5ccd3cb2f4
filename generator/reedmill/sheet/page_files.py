"""Finishing of LilyPond's files: exact paper and language of a PDF, resolution of a PNG.

LilyPond 2.24 rounds the paper of a PDF up to whole points, names no language, and writes a PNG
without its resolution.  Only bytes that say so are changed, and the table of a PDF with them.
Neither can it tag a PDF (ISO 14289-1, PDF/UA): for a screen reader there are the plain tab and
the web page of a drill, which say the same in text.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Sequence
from dataclasses import dataclass

LANGUAGE = "en"
"""Of the words that are printed on every page."""

# A4 is 210 by 297 mm (ISO 216), Letter 8.5 by 11 inches (ANSI/ASME Y14.1); a point of a PDF is
# a 72nd of an inch of 25.4 mm.  By what LilyPond makes of them, which rounds 612.0000001 up too.
# What is cut off lies at the foot, so that the top of the page stays where it is.
_SIZES = {b"0 0 596 842": b"0 0.11 595.28 842", b"0 0 613 793": b"0 1 612 793"}
_BOX = re.compile(rb"/MediaBox \[ (0 0 \d+ \d+) \]")
_CATALOG = re.compile(rb"<< /Type /Catalog\n")
_TABLE = re.compile(
    rb"xref\n0 (\d+)\n((?:\d{10} \d{5} [nf] \n)+)(trailer\n.*?startxref\n)(\d+)", re.S
)
_INCH_M = 0.0254


@dataclass(frozen=True, slots=True)
class _Edit:
    """Bytes to replace others in a file."""

    start: int
    end: int
    new: bytes

    @property
    def longer(self) -> int:
        """The number of bytes by which what follows is moved."""
        return len(self.new) - (self.end - self.start)


def finished_pdf(pdf: bytes) -> bytes:
    """Return *pdf* with its exact paper, its language, and its title for the window's name.

    ISO 32000-1: 7.7.3.3 (``MediaBox``), 14.9.2 (``Lang``), 12.2 (``DisplayDocTitle``) and
    7.5.4 (the table of objects).  A file of another form than LilyPond's cairo writes is
    given back as it is.
    """
    table = _TABLE.search(pdf)
    catalog = _CATALOG.search(pdf)
    if table is None or catalog is None or b"/Lang" in pdf[catalog.start() : table.start()]:
        return pdf
    said = f"   /Lang ({LANGUAGE})\n   /ViewerPreferences << /DisplayDocTitle true >>\n".encode()
    edits = [_Edit(catalog.end(), catalog.end(), said)]
    for box in _BOX.finditer(pdf, 0, table.start()):
        edits.append(_Edit(*box.span(1), _SIZES.get(box[1], box[1])))
    edits.sort(key=lambda each: each.start)
    head = _edited(pdf[: table.start()], edits)
    return head + _moved_table(table, edits, len(head)) + pdf[table.end() :]


def _edited(content: bytes, edits: Sequence[_Edit]) -> bytes:
    parts, done = [], 0
    for edit in edits:
        parts += [content[done : edit.start], edit.new]
        done = edit.end
    return b"".join([*parts, content[done:]])


def _moved_table(table: re.Match[bytes], edits: Sequence[_Edit], start: int) -> bytes:
    """Return the table with every object where it is now; *start* is the table's own place."""
    rows = []
    for row in table[2].splitlines(keepends=True):
        at = int(row[:10])
        moved = at + sum(edit.longer for edit in edits if edit.start < at)
        rows.append(b"%010d" % moved + row[10:] if row[17:18] == b"n" else row)
    return b"xref\n0 %b\n%b%b%d" % (table[1], b"".join(rows), table[3], start)


def finished_png(png: bytes, dots_an_inch: int) -> bytes:
    """Return *png* with its resolution, so that it prints as large as the page it shows.

    PNG (W3C), 11.3.5.3: dots a metre, after the header (IHDR, 33 bytes with the signature)
    and before the picture.
    """
    if b"pHYs" in png[33:4096]:
        return png
    a_metre = round(dots_an_inch / _INCH_M)
    body = b"pHYs" + struct.pack(">IIB", a_metre, a_metre, 1)
    chunk = struct.pack(">I", len(body) - 4) + body + struct.pack(">I", zlib.crc32(body))
    return png[:33] + chunk + png[33:]
