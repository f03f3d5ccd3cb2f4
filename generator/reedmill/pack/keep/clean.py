"""Removal of files no course in a folder needs any more: only our own, unchanged ones."""

from __future__ import annotations

import hashlib
import os
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from reedmill.base.below import Folder, os_errors_worded
from reedmill.base.errors import InputError, RenderError
from reedmill.base.remedies import Remedy
from reedmill.pack.keep.ledger import (
    FOLDER,
    Ledger,
    Origin,
    is_file_name,
    is_there,
    ledger_names,
    read_origins,
    sound_ledger,
)
from reedmill.pack.keep.store import Store


@dataclass(frozen=True, slots=True)
class Cleaned:
    """The files removed, those kept, and the bytes freed."""

    removed: tuple[str, ...]  # paths in the pack
    kept: tuple[str, ...]  # no longer needed, but changed since we made them
    freed: int  # bytes, of files and of the store
    gone: tuple[str, ...]  # curriculum files that are not there any more; their packs stay


def clean(out: Path) -> Cleaned:
    """Remove from *out* and its store what no course needs.

    A file that was changed since it was made is somebody's work by now, and stays.
    ``InputError`` for a folder without a pack.
    """
    if not os.path.lexists(out / FOLDER / "journal"):
        raise InputError(f"{out} does not hold a lesson pack.", way_out=Remedy.FOLDER_OF_PACK)
    with Store(out) as store, os_errors_worded(store.root):
        read = [_read(store.packs, name) for name in ledger_names(store.packs)]
        needed = {path for ledger, _ in read for path in ledger.files}
        removed, kept, freed = _clean_pack(store, needed)
        dropped, spoilt = _clean_store(store, _steps(read), needed | set(kept))
        gone = tuple(each.curriculum for each, _ in read if not is_there(each.curriculum))
    return Cleaned(removed, kept + spoilt, freed + dropped, gone)


def _read(packs: Folder, name: str) -> tuple[Ledger, dict[str, Origin]]:
    """Return a ledger and its facts; an unreadable one counts as still needed."""
    ledger = sound_ledger(packs, name)
    if ledger is None:
        raise RenderError(
            f"{packs.path / name} is damaged, so Reedmill cannot tell which files its course "
            "needs, and nothing was removed. Build that course again first; if you no longer "
            "have it, delete this file."
        )
    return ledger, read_origins(packs, name)


def _steps(read: list[tuple[Ledger, dict[str, Origin]]]) -> set[str]:
    files = {each.step for ledger, _ in read for each in ledger.files.values()}
    return files | {each.step for _, origins in read for each in origins.values()}


def _clean_pack(store: Store, needed: set[str]) -> tuple[tuple[str, ...], tuple[str, ...], int]:
    removed, kept, freed = [], [], 0
    for path in sorted(set(store.placed) - needed):
        if not is_file_name(path):
            continue  # never a name of ours, whoever wrote it down
        try:
            size = _remove_from_pack(store, path)
        except FileNotFoundError:
            continue
        except (OSError, RenderError):
            size = None
        if size is None:
            kept.append(path)
        else:
            removed.append(path)
            freed += size
            _drop_empty(store.top, path)
    return tuple(removed), tuple(kept), freed


def _remove_from_pack(store: Store, path: str) -> int | None:
    """Remove the file at *path*; return its size, ``None`` when it was changed."""
    parent, _, name = path.rpartition("/")
    with store.top.below(parent) as folder:
        return _remove(folder, name, store.placed[path])


def _remove(folder: Folder, name: str, ours: set[str]) -> int | None:
    """Remove the plain file *name* if its hash is one of *ours*: its size, else ``None``.

    Not if it was exchanged for another while it was read.
    """
    with folder.reading(name) as file:
        read = os.fstat(file.fileno())
        if hashlib.file_digest(file, "sha256").hexdigest() not in ours:
            return None
    now = folder.look(name)
    if now is None or not _is_same(now, read):
        return None
    folder.remove(name)
    return read.st_size


def _is_same(one: os.stat_result, other: os.stat_result) -> bool:
    return os.path.samestat(one, other) and (one.st_size, one.st_mtime_ns, one.st_ctime_ns) == (
        other.st_size, other.st_mtime_ns, other.st_ctime_ns,
    )  # fmt: skip


def _drop_empty(top: Folder, path: str) -> None:
    """Remove the folders above *path* as far as they are empty now."""
    with suppress(OSError, RenderError):  # when something is in it
        while path := path.rpartition("/")[0]:
            parent, _, name = path.rpartition("/")
            with top.below(parent) as folder:
                folder.remove_folder(name)


def _clean_store(store: Store, steps: set[str], paths: set[str]) -> tuple[int, tuple[str, ...]]:
    """Drop the records of other steps, then every object no record names.

    An object that is not what its name says may be somebody's file; it is told, and stays.
    """
    records = {step: record for step, record in store.records.items() if step in steps}
    placed = {path: hashes for path, hashes in store.placed.items() if path in paths}
    store.rewrite(records, placed)
    named = {part.sha256 for record in records.values() for part in record.parts}
    freed, kept = 0, []
    for folder, name in store.objects():
        if name in named:
            continue
        size = _remove(folder, name, {name})
        if size is None:
            kept.append((folder.path / name).relative_to(store.out).as_posix())
        freed += size or 0
    return freed, tuple(kept)
