"""Run LilyPond: started early, fed when the music is ready, judged by all it says."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from contextlib import suppress
from pathlib import Path
from types import TracebackType

from reedmill.base.errors import RenderError

_SECONDS_ALLOWED = 60.0
_SECONDS_A_SHEET = 10.0
_PDF = ["-dbackend=cairo", "--pdf"]
_PNG = ["--png", "-dresolution=150"]
_SVG = "--svg"
_NO_GLYPH = re.compile(r"no glyph for character U\+([0-9A-F]+)")

# Only LilyPond's own fonts, so that a sheet looks the same on every machine.  The cache is
# where LilyPond runs, so that no folder is named here: "Ann & Ben" would not be XML.
_FONTS = """<?xml version="1.0"?>
<!DOCTYPE fontconfig SYSTEM "fonts.dtd">
<fontconfig><cachedir>fonts</cachedir></fontconfig>
"""


class Engraver:
    """One LilyPond process, started at once so that it warms up while the music is made.

    Use as a context manager: ``feed`` the input once, then take the ``sheets`` (PDF), and
    with *png* or *svg* the ``pictures``.  Leaving the block stops the process and removes
    its scratch folder.

    SVG comes from a backend of its own, which keeps the ids of notes and draws no PDF.
    """

    def __init__(self, *, png: bool = False, svg: bool = False) -> None:
        self._wanted = [_SVG] if svg else [*_PDF, *(_PNG if png else [])]
        program = _lilypond()  # first, so that nothing needs tidying when it is missing
        self._folder = tempfile.TemporaryDirectory(prefix="reedmill-")
        place = Path(self._folder.name)
        (place / "fonts.conf").write_text(_FONTS, "utf-8")
        self._log = (place / "log").open("w+", encoding="utf-8", errors="replace")
        self._process = self._started(program, place)

    def _started(self, program: str, place: Path) -> subprocess.Popen[bytes]:
        command = [
            program, *self._wanted, "-dno-point-and-click", "--loglevel=WARNING", "--output=.", "-",
        ]  # fmt: skip
        environment = {**os.environ, "FONTCONFIG_FILE": str(place / "fonts.conf"), "LC_ALL": "C"}
        try:
            return subprocess.Popen(
                command, cwd=place, env=environment, stdin=subprocess.PIPE,
                stdout=self._log, stderr=subprocess.STDOUT,
            )  # fmt: skip
        except OSError as error:
            self._log.close()
            self._folder.cleanup()
            raise RenderError(f"LilyPond cannot be started ({error.strerror}).") from None

    def feed(self, source: str) -> None:
        """Send the LilyPond input; engraving starts at once and runs alongside."""
        assert self._process.stdin is not None  # noqa: S101  opened as a pipe above
        try:
            self._process.stdin.write(source.encode())
            self._process.stdin.close()
        except BrokenPipeError:
            raise RenderError(f"LilyPond stopped early. {self._said()}") from None

    def sheets(self, count: int) -> list[bytes]:
        """The *count* PDFs, in order; ``RenderError`` if LilyPond has anything to say."""
        self._finish(count)
        return [self._read(f"sheet-{number}.pdf") for number in range(count)]

    def pictures(self, count: int, ending: str) -> list[list[bytes]]:
        """The pages of each of *count* sheets as ``png`` or ``svg``; errors as ``sheets``."""
        self._finish(count)
        place = Path(self._folder.name)
        found: list[list[bytes]] = []
        for number in range(count):
            # one page has no number in its name, several count from 1
            several = sorted(place.glob(f"sheet-{number}-*.{ending}"), key=_page_number)
            names = [path.name for path in several] or [f"sheet-{number}.{ending}"]
            found.append([_well_formed(self._read(name), ending) for name in names])
        return found

    def _finish(self, count: int) -> None:
        try:
            code = self._process.wait(_SECONDS_ALLOWED + _SECONDS_A_SHEET * count)
        except subprocess.TimeoutExpired:
            raise RenderError("LilyPond took too long over this sheet and was stopped.") from None
        said = self._said()
        if code != 0 or said:
            raise RenderError(*_complaint(said or f"it ended with code {code}").split("\n"))

    def _read(self, name: str) -> bytes:
        try:
            return (Path(self._folder.name) / name).read_bytes()
        except OSError as error:
            raise RenderError(f"LilyPond left no sheet to read ({error.strerror}).") from None

    def _said(self) -> str:
        self._log.flush()
        return (Path(self._folder.name) / "log").read_text("utf-8", "replace").strip()

    def __enter__(self) -> Engraver:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        if self._process.poll() is None:
            self._process.kill()
        if self._process.stdin is not None:
            with suppress(BrokenPipeError):  # what it did not read before it stopped
                self._process.stdin.close()
        self._process.wait()
        self._log.close()
        self._folder.cleanup()


def _well_formed(page: bytes, ending: str) -> bytes:
    """*page* with the one mark escaped that LilyPond forgets: XML text may hold no ``]]>``."""
    if ending != "svg":
        return page
    style, end, rest = page.partition(b"</style>")  # which ends with one that is none of a text
    return style + end + rest.replace(b"]]>", b"]]&gt;")


def _page_number(path: Path) -> int:
    return int(re.sub(r"\D", "", path.stem.rpartition("-")[2]))


def _lilypond() -> str:
    """The lilypond package's program; the PATH's where that package does not exist."""
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


def _complaint(said: str) -> str:
    lacking = sorted({chr(int(code, 16)) for code in _NO_GLYPH.findall(said)})
    if lacking:
        signs = ", ".join(f"{sign} (U+{ord(sign):04X})" for sign in lacking)
        return f"the sheet's letters have no sign for {signs}. Write the title or text without it."
    return "LilyPond could not draw this sheet without complaint:\n  " + said[:2000].replace(
        "\n", "\n  "
    )
