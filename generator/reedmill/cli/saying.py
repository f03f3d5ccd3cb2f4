"""The one way to the terminal: every line the command line prints goes through here.

A file name, a title or a word of the command line is a stranger's text.  Each argument of
``say`` and ``warn`` is *one* line: a line feed inside it is foreign, so it cannot begin a
line of its own, and whatever a terminal would obey is named instead of sent on.  Only the
headings carry a style, and it is ours.

Nothing is imported at the top but what Python and click have loaded anyway.
"""

from __future__ import annotations

import codecs
import io
import os
import re
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, TextIO, cast

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

DETAILS = "REEDMILL_DETAILS"  # set in the environment, it shows what went wrong inside
_BOLD, _PLAIN = "\x1b[1m", "\x1b[0m"
_NARROWEST = 30  # columns
_NAMED = "reedmill.named"  # our way with characters that the terminal's encoding lacks


def say(*lines: str) -> None:
    """Print each of *lines* on a line of its own."""
    _put("".join(f"{_shown(line)}\n" for line in lines), sys.stdout)


def say_block(text: str) -> None:
    """Print *text* laid out by us in lines, with anything foreign in it made printable."""
    say(*text.split("\n"))


def say_heading(line: str) -> None:
    """Print *line* in bold where there is a terminal to show it."""
    bold = _is_terminal(sys.stdout) and os.environ.get("TERM") != "dumb"
    shown = _shown(line)
    _put(f"{_BOLD}{shown}{_PLAIN}\n" if bold else f"{shown}\n", sys.stdout)


def warn(*lines: str) -> None:
    """Print each of *lines* on standard error, apart from what other programs read."""
    _put("".join(f"{_shown(line)}\n" for line in lines), sys.stderr)


def warn_each(notices: Iterable[str]) -> None:
    """Print each notice for the player once, on standard error."""
    warn(*dict.fromkeys(filter(None, notices)))


def say_json(data: Mapping[str, object]) -> None:
    r"""Print *data* and nothing else on standard output.

    A character that a terminal would obey or that cannot be seen is written as ``\uXXXX``, so
    that a program reads the very text, a lone surrogate of an undecodable file name included.
    """
    import json

    from reedmill.base.text import readable

    unicode = codecs.lookup(getattr(sys.stdout, "encoding", None) or "utf-8").name.startswith("utf")
    text = json.dumps(data, ensure_ascii=not unicode, indent=1, allow_nan=False)
    safe = re.sub(r"[^\n -~]", lambda c: c[0] if readable(c[0]) else json.dumps(c[0])[1:-1], text)
    _put(f"{safe}\n", sys.stdout)


class Redrawn:
    """A line of progress on standard error, redrawn in place."""

    def __init__(self) -> None:
        self._width = 0

    def draw(self, text: str) -> None:
        """Show *text* in place of what was drawn last; an empty one leaves no trace."""
        from reedmill.base.text import columns

        shown = _shown(text)
        width = columns(shown)
        if shown or self._width:
            rest = " " * (self._width - width)  # what is left of a longer line goes
            # noted before it is shown: a signal may come between, and clearing must see it
            self._width = max(self._width, width)
            _put(f"\r{shown}{rest}" + ("" if shown else "\r"), sys.stderr)
        self._width = width

    def line(self, sentence: str) -> None:
        """Print *sentence* on a line of its own, where it stays."""
        self.draw("")
        warn(sentence)


WIDEST = 100  # columns of a line of help


def help_width() -> int:
    """Return the columns of a line of help, by click's rule, without importing shutil."""
    with suppress(KeyError, ValueError):
        if (columns := int(os.environ["COLUMNS"])) > 0:
            return _within(columns)
    with suppress(AttributeError, ValueError, OSError):  # no stream, closed, not a terminal
        return _within(os.get_terminal_size(cast("TextIO", sys.__stdout__).fileno()).columns or 80)
    return _within(80)


def _within(columns: int) -> int:
    return max(min(columns, WIDEST) - 2, 50)


def messages_are_seen() -> bool:
    """Tell whether standard error is a terminal that somebody watches."""
    return _is_terminal(sys.stderr)


def columns_shown() -> int:
    """Return how many columns the terminal has; 80 where there is none."""
    import shutil

    return max(_NARROWEST, shutil.get_terminal_size((80, 24)).columns)


def can_show(signs: str) -> bool:
    """Tell whether the terminal's encoding has *signs*."""
    if os.environ.get("TERM") == "dumb":
        return False
    with suppress(UnicodeError, LookupError):
        signs.encode(getattr(sys.stdout, "encoding", None) or "ascii")
        return True
    return False


# --- how it is put there -----------------------------------------------------------------


def _shown(line: str) -> str:
    from reedmill.base.text import printable

    return printable(line)


def _is_terminal(stream: TextIO | None) -> bool:
    with suppress(ValueError):  # it is closed
        return stream is not None and stream.isatty()
    return False


def _put(text: str, stream: TextIO | None) -> None:
    """Write *text* at once; end quietly where nobody reads on, with an error where it is lost."""
    behind = stream.behind if isinstance(stream, Guarded) else stream
    if behind is None:  # closed by whoever started us
        return
    try:
        behind.write(text)
        behind.flush()
    except OSError as error:
        _let_go(behind)
        if stream is sys.stderr:  # there is nowhere left to say it
            return
        if not isinstance(error, BrokenPipeError):
            from reedmill.base.errors import reason_of

            warn(
                f"What was to be printed could not be written ({reason_of(error)}). "
                "Give the command again with its output elsewhere."
            )
        raise SystemExit(1) from None


def _let_go(stream: TextIO) -> None:
    """Discard what is left of *stream*, so that Python's exit does not fail on it."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


# --- what others print -------------------------------------------------------------------


class Guarded(io.TextIOBase):
    """A standard stream as click, a library or Python sees it, with text made printable.

    Their line breaks stay, for they lay out their own text; all else is made printable.
    """

    def __init__(self, behind: TextIO) -> None:
        self.behind = behind

    @property
    def encoding(self) -> str:  # type: ignore[override]
        """The encoding of the stream behind it."""
        return self.behind.encoding

    @property
    def errors(self) -> str | None:  # type: ignore[override]
        """The error handling of the stream's encoding."""
        return self.behind.errors

    def writable(self) -> bool:
        """Return True: text can be written."""
        return True

    def isatty(self) -> bool:
        """Tell whether the stream behind it is a terminal."""
        return self.behind.isatty()

    def fileno(self) -> int:
        """Return the descriptor of the stream behind it."""
        return self.behind.fileno()

    def flush(self) -> None:
        """Do nothing: no text is held back."""

    def close(self) -> None:
        """Do nothing: the stream behind it stays open."""

    def write(self, text: str) -> int:
        """Write *text* in printable form."""
        _put("\n".join(map(_shown, text.split("\n"))), cast("TextIO", self))
        return len(text)


def open_door() -> None:
    """Send all output of this process through this module from now on."""
    codecs.register_error(_NAMED, _named)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None or isinstance(stream, Guarded):
            continue
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors=_NAMED)
        setattr(sys, name, cast("TextIO", Guarded(stream)))
    _quieten()


def _named(error: UnicodeError) -> tuple[str, int]:
    """Return a name for a character that this terminal cannot show, as for unreadable ones."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    lacking = error.object[error.start : error.end]
    return "".join(f"[U+{ord(c):04X}]" for c in lacking), error.end


def _quieten() -> None:
    """Hide Python's messages to developers: warnings, and errors nobody handled."""
    import threading
    import warnings

    warnings.showwarning = _show_warning
    threading.excepthook = lambda met: show_details(met.exc_value)
    sys.unraisablehook = lambda met: show_details(met.exc_value)
    if not sys.warnoptions and not os.environ.get(DETAILS):
        warnings.simplefilter("ignore")


def _show_warning(
    message: Warning | str, category: type[Warning], filename: str, lineno: int,
    file: TextIO | None = None, line: str | None = None,
) -> None:  # fmt: skip
    del file, line
    warn(f"{filename}:{lineno}: {category.__name__}: {message}")


def show_details(error: BaseException | None) -> None:
    """Print where *error* came from, for a user who asked for details, indented."""
    if error is None or not os.environ.get(DETAILS):
        return
    import traceback

    for part in traceback.format_exception(error):
        warn(*(f"  {line}" for line in part.rstrip("\n").split("\n")))
