"""The journal of the store: a line of JSON for every step done and every file placed.

It comes with the pack, so it may come from a stranger: a line is believed only when all of
it is what we would have written; any other is passed over.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, fields
from typing import IO, Any

from reedmill.pack.steps.records import Record, StepFile

MOST_BYTES = 128_000_000  # of a journal: ten times what the largest course writes
_LONGEST = 1_000_000  # bytes of a line
_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_ENDING = re.compile(r"[a-z0-9._-]{1,80}", re.ASCII)
_TYPES = [type(each.default) for each in fields(StepFile)][4:]  # those that may be left out


@dataclass
class Remembered:
    """The steps and placed files that a journal records."""

    records: dict[str, Record] = field(default_factory=dict)  # by step
    placed: dict[str, set[str]] = field(default_factory=dict)  # path in the pack: hashes put there

    def take(self, file: IO[bytes]) -> int:
        r"""Read every line of *file*; return the length of the whole lines, before a torn one.

        >>> import io
        >>> journal = Remembered()
        >>> journal.take(io.BytesIO(b'{"placed":"a.mid","sha256":"' + b"0" * 64 + b'"}\n{"pl'))
        95
        >>> sorted(journal.placed)
        ['a.mid']
        """
        whole = 0
        for line, length in _lines(file):
            whole += length
            row = _row(line)
            if isinstance(row.get("step"), str):
                record = _record(row)
                if record:
                    self.records[row["step"]] = record
            elif isinstance(row.get("placed"), str) and isinstance(row.get("sha256"), str):
                self.placed.setdefault(row["placed"], set()).add(row["sha256"])
        return whole


def is_sha256(value: object) -> bool:
    """Return True for 64 hexadecimal digits."""
    return isinstance(value, str) and _SHA256.fullmatch(value) is not None


def _lines(file: IO[bytes]) -> Iterator[tuple[bytes, int]]:
    """Yield every whole line with its length; a line too long to be ours without its text."""
    while line := file.readline(_LONGEST):
        length, text = len(line), line
        while not line.endswith(b"\n"):
            line, text = file.readline(_LONGEST), b""
            length += len(line)
            if not line:
                return
        yield text, length


def _row(line: bytes) -> dict[str, Any]:
    try:
        row = json.loads(line)
    except (ValueError, RecursionError):
        return {}
    return row if isinstance(row, dict) else {}


def _record(row: dict[str, Any]) -> Record | None:
    kind, parts = row.get("kind"), row.get("parts")
    if not isinstance(kind, str) or not isinstance(parts, list) or not all(map(_is_part, parts)):
        return None
    if not all(_is_amount(row.get(name)) for name in ("seconds", "amount")):
        return None
    return Record(kind, tuple(StepFile(*part) for part in parts), row["seconds"], row["amount"])


def _is_amount(value: object) -> bool:
    return type(value) in (int, float) and 0 <= value < math.inf  # type: ignore[operator]


def _is_part(row: object) -> bool:
    """Return True for a row that ``StepFile.data`` makes."""
    if not isinstance(row, list) or not 4 <= len(row) <= 4 + len(_TYPES):
        return False
    ending, sha256, size, kind, *rest = row
    return (
        isinstance(ending, str)
        and _ENDING.fullmatch(ending) is not None
        and is_sha256(sha256)
        and type(size) is int
        and size >= 0
        and isinstance(kind, str)
        and all(
            _is_amount(value) if wanted is float else type(value) is wanted
            for value, wanted in zip(rest, _TYPES, strict=False)
        )
    )


def step_row(step: str, record: Record) -> dict[str, object]:
    """Return the row of a step that was done."""
    return {
        "step": step, "kind": record.kind, "seconds": round(record.seconds, 4),
        "amount": round(record.amount, 3), "parts": [part.data() for part in record.parts],
    }  # fmt: skip


def placed_row(path: str, sha256: str) -> dict[str, object]:
    """Return the row of a file that is put into the pack."""
    return {"placed": path, "sha256": sha256}


def line_of(row: dict[str, object]) -> bytes:
    """Return *row* as a line of the journal."""
    return json.dumps(row, separators=(",", ":")).encode() + b"\n"


def lines_of(rows: Iterable[dict[str, object]]) -> bytes:
    """Return *rows* as a whole journal."""
    return b"".join(map(line_of, rows))
