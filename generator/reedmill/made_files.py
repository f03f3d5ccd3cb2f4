"""Which files of a folder Reedmill made, and what for: the list beside them.

The list, ``.reedmill-made.json``, has a row for each file: what it was made for, and the
SHA-256 of what was in it.  So a file that Reedmill did not make, made for something else, or
that was changed since, is never replaced unless that is asked for; and the same request
finds its own files again.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass, field
from pathlib import Path

from reedmill.base.errors import InputError
from reedmill.base.reading import bounded, open_plain

LIST = ".reedmill-made.json"
_FORMAT = 1
_MOST_BYTES = 32_000_000  # of a list: some hundred thousand files
_PIECE = 1 << 20


@dataclass(frozen=True, slots=True)
class Row:
    """One file Reedmill made."""

    purpose: str  # what it was made for: equal for the same request
    sha256: str  # of what was in it, hexadecimal


@dataclass(slots=True)
class MadeFiles:
    """The files Reedmill made in *folder*, as its list has them and as they are made now."""

    folder: Path
    titles: dict[str, str] = field(default_factory=dict)  # name that files begin with: purpose
    rows: dict[str, Row] = field(default_factory=dict)  # by the file's name
    replace: bool = False  # whatever is in the way may go

    @classmethod
    def of(cls, folder: Path, *, replace: bool = False) -> MadeFiles:
        """What the list in *folder* says; nothing where there is none that can be read."""
        titles, rows = _read(folder / LIST)
        return cls(folder, titles, rows, replace)

    def title(self, wanted: str, purpose: str) -> str:
        """What the files of *purpose* begin with: *wanted*, with a number where it is another's.

        "Song 5" and "Song, 5!" want the same name; whoever came first in this folder has it,
        and the same purpose always finds its own name again.
        """
        name, again = wanted, 1
        while self.titles.setdefault(name, purpose) != purpose:
            again += 1
            name = f"{wanted}-{again}"
        return name

    def allow(self, name: str, purpose: str) -> bool:
        """True when the file *name* replaces one that was made for the same purpose.

        ``InputError`` when something is there that may not be replaced.
        """
        path = self.folder / name
        seen = _sha256(path)
        if seen is None:
            return False
        row = self.rows.get(name)
        ours = row is not None and row.purpose == purpose and row.sha256 == seen
        if not ours and not self.replace:
            raise InputError(_in_the_way(path, row, seen))
        return ours

    def note(self, name: str, purpose: str, sha256: str) -> None:
        """Write down that *name* is made for *purpose* and holds these bytes."""
        self.rows[name] = Row(purpose, sha256)

    def content(self) -> bytes:
        """The list as a file, sorted by name: equal rows give equal bytes."""
        rows = {name: [row.purpose, row.sha256] for name, row in sorted(self.rows.items())}
        titles = dict(sorted(self.titles.items()))
        data = {"reedmill_made": _FORMAT, "titles": titles, "files": rows}
        return json.dumps(data, ensure_ascii=False, indent=0).encode() + b"\n"


def _in_the_way(path: Path, row: Row | None, seen: str) -> str:
    if row is None:
        why = "is there already, and Reedmill did not make it"
    elif row.sha256 != seen:
        why = "was changed since Reedmill made it"
    else:
        why = "is there already, made for something else"
    return f"{path} {why}, so it is left as it is."


def _sha256(path: Path) -> str | None:
    """Of the plain file at *path*; ``None`` where nothing is, and a mark for anything else."""
    try:
        with open_plain(path, follow=False) as file:
            digest = hashlib.sha256()
            while piece := file.read(_PIECE):
                digest.update(piece)
        return digest.hexdigest()
    except FileNotFoundError:
        return None
    except OSError:
        return "not a plain file"


def _read(path: Path) -> tuple[dict[str, str], dict[str, Row]]:
    """Titles and rows of the list at *path*; what is not a list of ours counts as none."""
    try:
        with open_plain(path, follow=False) as file:
            raw = bounded(file, _MOST_BYTES)
        data = json.loads(raw or b"{}")
        if data["reedmill_made"] != _FORMAT:
            return {}, {}
        titles = {_text(name): _text(purpose) for name, purpose in data["titles"].items()}
        rows = {_text(name): Row(*map(_text, row)) for name, row in data["files"].items()}
    except (OSError, ValueError, TypeError, KeyError, AttributeError, RecursionError):
        return {}, {}
    return titles, rows


def _text(value: object) -> str:
    if not isinstance(value, str):
        raise TypeError(type(value).__name__)
    return value
