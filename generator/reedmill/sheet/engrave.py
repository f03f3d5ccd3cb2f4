"""LilyPond as a process: started early, fed when the music is ready, judged by its output."""

from __future__ import annotations

import os
import re
import select
import shutil
import subprocess
import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from reedmill.base.articles import with_article
from reedmill.base.children import Child, TimeoutExpired
from reedmill.base.errors import RenderError, reason_of
from reedmill.base.scratch import Scratch
from reedmill.base.stopping import check, held
from reedmill.base.writing import jot
from reedmill.sheet.fonts import Font, fontconfig, lay_out
from reedmill.sheet.letters import fonts_drawing, learn_undrawn
from reedmill.sheet.page_files import finished_pdf, finished_png
from reedmill.sheet.quick_lilypond import SETTINGS, SETTINGS_FILE, UNSWEPT

# A sheet takes a second or two; ten times that is a busy machine.
_SECONDS_WITHOUT_A_SHEET = 40.0
_SECONDS_AFTER_A_HANG = 15.0  # so that two in a row are over within a minute
_SECONDS_ALLOWED = 60.0
_SECONDS_A_SHEET = 10.0
_LOOK_S = 0.1
_MOST_SAID = 1_000_000  # bytes
_PDF = ["-dbackend=cairo", "--pdf"]
_DOTS_AN_INCH = 150  # of a PNG
_PNG = ["--png", f"-dresolution={_DOTS_AN_INCH}"]
_SVG = "--svg"
_TITLED = re.compile(r'\\bookOutputName "sheet-(\d+)"\s*\\header \{ title = "((?:[^"\\]|\\.)*)"')
_NO_GLYPH = re.compile(r".*no glyph for character U\+([0-9A-F]+).*")


class Hung(RenderError):  # noqa: N818  it says what happened
    """A LilyPond that did not end; *drawn* is how many sheets it had finished by then."""

    def __init__(self, message: str, drawn: int) -> None:
        self.drawn = drawn
        super().__init__(message)


class _Trust:
    """The time limits for LilyPond, by how it behaved in this process."""

    hangs = 0  # in a row, in which nothing at all was drawn

    @classmethod
    def seconds(cls) -> float:
        """Return how long LilyPond may take over one sheet."""
        return min(_SECONDS_WITHOUT_A_SHEET, _SECONDS_AFTER_A_HANG if cls.hangs else 1e9)


def hangs_always() -> bool:
    """Return True when LilyPond hung twice in a row and drew nothing: it would again."""
    return _Trust.hangs > 1


class Engraver:
    """One LilyPond process, started at once so that it warms up while the music is made.

    Use as a context manager: ``feed`` the input once, then take the ``sheets`` (PDF), and
    with *png* or *svg* the ``pictures``.  Leaving the block stops the process and removes
    its scratch folder.

    SVG comes from a backend of its own, which keeps the ids of notes and draws no PDF.

    LilyPond sees its own fonts alone, so that a sheet looks the same on every machine.  For
    letters that these lack it is started anew, with those fonts besides that have them.
    """

    def __init__(self, *, png: bool = False, svg: bool = False) -> None:
        self._wanted = [_SVG] if svg else [*_PDF, *(_PNG if png else [])]
        self._endings = ["svg"] if svg else ["pdf", *(["png"] if png else [])]
        self._program = _lilypond()  # first, so that nothing needs tidying when it is missing
        self._source = ""
        with held():
            self._scratch = Scratch()
            self._place = self._scratch.path
            self._log = (self._place / "log").open("w+", encoding="utf-8", errors="replace")
            self._start(())

    def _start(self, fonts: tuple[Font, ...]) -> None:
        jot(self._place / "fonts.conf", fontconfig(fonts).encode())
        jot(self._place / SETTINGS_FILE, SETTINGS.encode())
        lay_out(fonts, self._place)
        self._child = self._started(self._program, self._place)
        self._process = self._child.process
        self._moved = time.monotonic()  # when it last was seen to do something
        self._drawn = 0

    def _start_anew(self, source: str) -> None:
        """Start the process again, with the fonts that *source* needs and nothing drawn."""
        with held():
            self._child.stop()
            for old in [*self._place.glob("sheet-*"), *self._place.glob("letters/*")]:
                old.unlink()
            self._log.seek(0)
            self._log.truncate()
            self._start(fonts_drawing(source))

    def _started(self, program: str, place: Path) -> Child:
        command = [
            program, *self._wanted, "-dno-point-and-click", f"-dinclude-settings={SETTINGS_FILE}",
            "--loglevel=WARNING", "--output=.", "-",
        ]  # fmt: skip
        environment = {
            **os.environ, "FONTCONFIG_FILE": str(place / "fonts.conf"), "LC_ALL": "C",
            "TMPDIR": str(place), **UNSWEPT,
        }  # fmt: skip
        try:
            return Child(
                command, cwd=place, env=environment, stdin=subprocess.PIPE,
                stdout=self._log, stderr=subprocess.STDOUT,
            )  # fmt: skip
        except OSError as error:
            self._log.close()
            self._scratch.remove()
            raise RenderError(f"LilyPond cannot be started ({reason_of(error)}).") from None

    def feed(self, source: str) -> None:
        """Send the LilyPond input; engraving starts at once and runs alongside.

        ``RenderError`` when it does not take it.
        """
        self._source = source
        if fonts_drawing(source):
            self._start_anew(source)
        self._send(source)

    def _send(self, source: str) -> None:
        assert self._process.stdin is not None  # noqa: S101  opened as a pipe above
        pipe = self._process.stdin.fileno()
        os.set_blocking(pipe, False)
        ready = select.poll()
        ready.register(pipe, select.POLLOUT)
        left = memoryview(source.encode())
        self._moved = time.monotonic()
        try:
            while left:
                if ready.poll(1000 * _LOOK_S):
                    left = left[os.write(pipe, left[:65536]) :]
                    self._moved = time.monotonic()
                check()
                self._refuse_a_hang()
            self._process.stdin.close()
        except BrokenPipeError:
            with suppress(TimeoutExpired):  # what it had to say is in its log
                self._process.wait(1)
            self._child.stop()
            raise RenderError(f"LilyPond stopped early. {self._said()}") from None

    def sheets(self, count: int) -> list[bytes]:
        """Return the *count* PDFs, in order; ``RenderError`` if LilyPond has any complaint."""
        self._end(count)
        return [finished_pdf(self._read(f"sheet-{number}.pdf")) for number in range(count)]

    def pictures(self, count: int, ending: str, *, bare: bool = False) -> list[list[bytes]]:
        """Return the pages of each of *count* sheets as ``png`` or ``svg``; errors as ``sheets``.

        *bare* ones are as LilyPond drew them: they have no name, and no faces of their own.
        """
        self._end(count)
        found: list[list[bytes]] = []
        for number in range(count):
            # one page has no number in its name, several count from 1
            several = sorted(self._place.glob(f"sheet-{number}-*.{ending}"), key=_page_number)
            names = [path.name for path in several] or [f"sheet-{number}.{ending}"]
            self._refuse_gaps(number, several)
            drawn = [self._read(name) for name in names]
            found.append(
                drawn if bare else [self._finished(each, ending, number) for each in drawn]
            )
        return found

    def _finished(self, page: bytes, ending: str, number: int) -> bytes:
        """Return a picture with what LilyPond leaves out of it."""
        if ending == "png":
            return finished_png(page, _DOTS_AN_INCH)
        from reedmill.sheet.svg_fonts import with_fonts, with_title  # few ask for SVG

        named = with_title(_well_formed(page), _titles(self._source).get(number, ""))
        return with_fonts(named, own_fonts(self._program), fonts_drawing(self._source))

    def _refuse_gaps(self, number: int, pages: Sequence[Path]) -> None:
        """Refuse a page without a picture: there are as many as the PDF has, if it has any."""
        pdf = self._place / f"sheet-{number}.pdf"
        wanted = _pages_of(pdf.read_bytes()) if pdf.exists() else len(pages) or 1
        found = [_page_number(path) for path in pages] or [1]
        if found != list(range(1, wanted + 1)):
            raise RenderError(
                f"LilyPond drew {len(found)} of {wanted} pages of this sheet. "
                "Its installation may be damaged, or the disk full."
            )

    def _end(self, count: int) -> None:
        """Wait for LilyPond; run it again without the letters it cannot draw, if any."""
        said = self._finish(count)
        undrawn = _undrawn(said)
        if undrawn:
            learn_undrawn(undrawn)
            self._source = "".join(each for each in self._source if each not in undrawn)
            self._start_anew(self._source)
            self._send(self._source)
            said = self._finish(count)
        if said:
            raise RenderError(*_complaint(said).split("\n"))

    def _finish(self, count: int) -> str:
        """Wait for LilyPond's end; return its complaints, or nothing."""
        latest = time.monotonic() + _SECONDS_ALLOWED + _SECONDS_A_SHEET * count
        while True:
            try:
                code = self._child.wait(_LOOK_S)
                break
            except TimeoutExpired:
                check()
                self._refuse_a_hang()
                if time.monotonic() > latest or self._log_size() > _MOST_SAID:
                    raise self._hang() from None
        return self._said() or (f"it ended with code {code}" if code != 0 else "")

    def _refuse_a_hang(self) -> None:
        """Raise ``Hung`` when no sheet was finished for too long."""
        drawn = len(list(self._place.glob("sheet-*")))
        if drawn > self._drawn:
            self._drawn, self._moved = drawn, time.monotonic()
            _Trust.hangs = 0
        if time.monotonic() - self._moved > _Trust.seconds():
            raise self._hang()

    def _hang(self) -> Hung:
        self._child.stop()
        drawn = 0
        while self._is_drawn(drawn):
            drawn += 1
        _Trust.hangs += not self._drawn
        return Hung("LilyPond took too long over this sheet and was stopped.", drawn)

    def _is_drawn(self, number: int) -> bool:
        """Return True when everything wanted of a sheet exists and is whole."""
        return all(
            found and all(_WHOLE[ending](path.read_bytes()) for path in found)
            for ending in self._endings
            for found in [[*self._place.glob(f"sheet-{number}[.-]*{ending}")]]
        )

    def _log_size(self) -> int:
        return (self._place / "log").stat().st_size

    def _read(self, name: str) -> bytes:
        try:
            content = (self._place / name).read_bytes()
        except OSError as error:
            raise RenderError(f"LilyPond left no sheet to read ({reason_of(error)}).") from None
        ending = name.rpartition(".")[2]
        if not _WHOLE[ending](content):
            raise RenderError(
                f"LilyPond left {with_article(ending.upper())} that is not whole "
                f"({len(content)} bytes). Its installation may be damaged, or the disk full."
            )
        return content

    def _said(self) -> str:
        self._log.flush()
        with (self._place / "log").open("rb") as file:
            return file.read(_MOST_SAID).decode("utf-8", "replace").strip()

    def __enter__(self) -> Engraver:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        with held():
            self._child.stop()
            self._log.close()
            self._scratch.remove()


def _is_whole_pdf(content: bytes) -> bool:
    """Return True when *content* begins and ends as a PDF, with its table where it says.

    ISO 32000-1, 7.5.2 to 7.5.5: the header, and ``startxref``, an offset, ``%%EOF`` at the end.
    """
    end = re.search(rb"startxref\s+(\d+)\s+%%EOF\s*\Z", content[-1024:])
    if not content.startswith(b"%PDF-") or end is None:
        return False
    at = int(end[1])
    table = re.compile(rb"xref\b|\d+\s+\d+\s+obj\b").match(content, at)
    return table is not None and _pages_of(content) > 0


def _pages_of(pdf: bytes) -> int:
    """Return the page count in the root of a PDF's page tree; 0 when none is found."""
    counts = re.findall(rb"/Type\s*/Pages\b[^>]*?/Count\s+(\d+)", pdf)
    return max(map(int, counts), default=0)


def _is_whole_png(content: bytes) -> bool:
    """Check the signature and the IEND chunk's checksum (PNG, W3C, 5.2 and 11.2.5)."""
    return content.startswith(b"\x89PNG\r\n\x1a\n") and content.endswith(b"IEND\xaeB`\x82")


def _is_whole_svg(content: bytes) -> bool:
    return b"<svg" in content and content.rstrip().endswith(b"</svg>")


_WHOLE: dict[str, Callable[[bytes], bool]] = {
    "pdf": _is_whole_pdf,
    "png": _is_whole_png,
    "svg": _is_whole_svg,
}


def _well_formed(page: bytes) -> bytes:
    """Escape the one mark that LilyPond forgets: XML text may hold no ``]]>``."""
    style, end, rest = page.partition(b"</style>")  # which ends with one that is none of a text
    return style + end + rest.replace(b"]]>", b"]]&gt;")


def _page_number(path: Path) -> int:
    return int(re.sub(r"\D", "", path.stem.rpartition("-")[2]))


def _lilypond() -> str:
    """Return the lilypond package's program; the PATH's where that package does not exist."""
    try:
        import lilypond
    except ImportError:
        found = shutil.which("lilypond")
        if found is None:
            raise RenderError(
                "LilyPond is missing, which draws the sheets. Install it with: "
                "pip install lilypond==2.24.3, or where there is no such package as LilyPond 2.24 "
                "of your system."
            ) from None
        return found
    return str(lilypond.executable())


def _titles(source: str) -> dict[int, str]:
    """Return the titles in the headers of the books of *source*, by their numbers."""
    return {int(book[1]): re.sub(r"\\(.)", r"\1", book[2]) for book in _TITLED.finditer(source)}


def own_fonts(program: str) -> Path | None:
    """Return the folder of text fonts that *program* brings; ``None`` where there is none."""
    real = Path(program).resolve()
    found = sorted(real.parents[1].glob("share/lilypond/*/fonts/otf/C059-Roman.otf"))
    return found[-1].parent if found else None


def _undrawn(said: str) -> str:
    """Return the letters LilyPond could not draw, if those are its only complaint.

    ASCII is never among them: it is what commands are written in.
    """
    lines = [_NO_GLYPH.fullmatch(line) for line in said.splitlines()]
    letters = {chr(int(line[1], 16)) for line in lines if line}
    return "" if None in lines or any(map(str.isascii, letters)) else "".join(sorted(letters))


def _complaint(said: str) -> str:
    return "LilyPond could not draw this sheet without complaint:\n  " + said[:2000].replace(
        "\n", "\n  "
    )
