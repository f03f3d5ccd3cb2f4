"""Drop what no curriculum built in a folder needs any more: our own files, never another."""

from __future__ import annotations

import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from reedmill.base.errors import InputError, RenderError
from reedmill.pack.ledger import Ledger, Origin, read_ledger, read_origins
from reedmill.pack.placing import checked_name, is_inside
from reedmill.pack.render import hashed
from reedmill.pack.store import FOLDER, Store


@dataclass(frozen=True, slots=True)
class Cleaned:
    """What went, and what did not."""

    removed: tuple[str, ...]  # paths in the pack
    kept: tuple[str, ...]  # no longer needed, but changed since we made them
    freed: int  # bytes, of files and of the store
    gone: tuple[str, ...]  # curriculum files that are not there any more; their packs stay


def clean(out: Path) -> Cleaned:
    """Remove from *out* and its store what no curriculum needs.

    A file that was changed since it was made is somebody's work by now, and stays.
    ``InputError`` for a folder without a pack.
    """
    if not (out / FOLDER / "journal").is_file():
        raise InputError(
            f"{out} holds no lesson pack. Name the folder that was given to reedmill pack "
            "with --out."
        )
    with Store(out) as store:
        ledgers = sorted((store.root / "packs").glob("*.json"))
        read = [(read_ledger(path), read_origins(path)) for path in ledgers]
        needed = {path for ledger, _ in read for path in ledger.files}
        removed, kept, freed = _clean_pack(out, store, needed)
        freed += _clean_store(store, _steps(read), needed | set(kept))
        gone = tuple(each.curriculum for each, _ in read if not Path(each.curriculum).exists())
    return Cleaned(removed, kept, freed, gone)


def _steps(read: list[tuple[Ledger, dict[str, Origin]]]) -> set[str]:
    files = {each.step for ledger, _ in read for each in ledger.files.values()}
    return files | {each.step for _, origins in read for each in origins.values()}


def _clean_pack(
    out: Path, store: Store, needed: set[str]
) -> tuple[tuple[str, ...], tuple[str, ...], int]:
    removed, kept, freed = [], [], 0
    for path in sorted(set(store.placed) - needed):
        place = out / path
        try:
            checked_name(path)
            ours = place.is_file() and not place.is_symlink() and is_inside(out, place.parent)
            sha256, size = hashed(place) if ours else ("", 0)
            if sha256 in store.placed[path]:
                place.unlink()
                removed.append(path)
                freed += size
                _drop_empty(out, place.parent)
            elif os.path.lexists(place):
                kept.append(path)
        except (OSError, RenderError):
            kept.append(path)
    return tuple(removed), tuple(kept), freed


def _drop_empty(out: Path, folder: Path) -> None:
    with suppress(OSError):  # when something is in it
        while folder != out and folder.is_relative_to(out):
            folder.rmdir()
            folder = folder.parent


def _clean_store(store: Store, steps: set[str], paths: set[str]) -> int:
    """Drop the records of other steps, then every object no record names."""
    records = {step: record for step, record in store.records.items() if step in steps}
    placed = {path: hashes for path, hashes in store.placed.items() if path in paths}
    store.rewrite(records, placed)
    named = {part.sha256 for record in records.values() for part in record.parts}
    freed = 0
    for each in list(store.objects()):
        if each.name not in named:
            freed += each.stat().st_size
            each.unlink()
    return freed
