"""Files are written in one place, so that a final name only ever holds a whole one."""

from __future__ import annotations

import ast
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest

import reedmill
from reedmill.base.writing import jot, save

PACKAGE = Path(reedmill.__file__).parent
WRITING = {"base/writing.py"}
# What opens files for writing itself, and why.
EXCEPTIONS = {
    "base/below.py": "a file in an open folder, through which no link leads elsewhere",
    "base/rewriting.py": "a file with further names gets its new text in its own place",
    "cli/saying.py": "the null device, where a closed terminal's last words go",
    "pack/build/archive.py": "members of a ZIP whose file others opened",
    "pack/build/build_report.py": "the lock of a pack, of which nothing is written",
    "pack/keep/store.py": "the journal of a store, which grows line by line",
    "pack/run/worker.py": "the pipe to whoever started it",
    "sheet/engrave.py": "the log LilyPond writes as it goes, in a scratch folder",
    "sound/recording/audio_files.py": "sound, which comes piece by piece into a part not yet named",
    "sound/soundfont/font_process.py": "the pipe to whoever started it",
}
_FLAGS = {"O_WRONLY", "O_RDWR", "O_CREAT", "O_APPEND"}


def writes(tree: ast.AST) -> Iterator[str]:
    """Whatever in a module may put bytes into a file, by the call that does it."""
    for node in ast.walk(tree):
        match node:
            case ast.Attribute(attr="write_text" | "write_bytes" as name):
                yield name
            case ast.Attribute(value=ast.Name(id="os"), attr=flag) if flag in _FLAGS:
                yield flag
            case ast.Call(func=ast.Attribute(attr="open" | "fdopen") | ast.Name(id="open")):
                words = [*node.args, *(each.value for each in node.keywords)]
                modes = [each.value for each in words if isinstance(each, ast.Constant)]
                yield from (str(mode) for mode in modes if set(str(mode)) & set("wxa+"))


FOUND = {
    path.relative_to(PACKAGE).as_posix(): sorted(set(writes(ast.parse(path.read_text("utf-8")))))
    for path in PACKAGE.rglob("*.py")
}


def test_every_file_is_written_in_one_place() -> None:
    others = {name: how for name, how in FOUND.items() if how and name not in WRITING}
    assert others.keys() - EXCEPTIONS.keys() == set(), others


@pytest.mark.parametrize("module", EXCEPTIONS)
def test_every_exception_opens_a_file_for_writing(module: str) -> None:
    assert FOUND[module]


def test_a_file_is_saved_once_with_the_permissions_it_is_to_have(tmp_path: Path) -> None:
    """open(2): O_EXCL fails where something is; the umask is taken from the mode."""
    before = os.umask(0o022)
    try:
        save(tmp_path / "shown", b"a")
        save(tmp_path / "private", b"b", mode=0o600)
    finally:
        os.umask(before)
    modes = {each.name: stat.S_IMODE(each.stat().st_mode) for each in tmp_path.iterdir()}
    assert modes == {"shown": 0o644, "private": 0o600}
    with pytest.raises(FileExistsError):
        save(tmp_path / "shown", b"c")
    assert (tmp_path / "shown").read_bytes() == b"a"


def test_a_note_in_a_scratch_folder_takes_the_place_of_a_link_and_never_follows_it(
    tmp_path: Path,
) -> None:
    (tmp_path / "theirs").write_bytes(b"theirs")
    (tmp_path / "note").symlink_to(tmp_path / "theirs")
    jot(tmp_path / "note", b"ours")
    assert (tmp_path / "theirs").read_bytes() == b"theirs"
    assert (tmp_path / "note").read_bytes() == b"ours"
