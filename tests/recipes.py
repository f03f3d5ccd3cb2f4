"""A scratch copy of the checkout, in which the recipes of DEVELOPERS.md are carried out."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from itertools import count
from pathlib import Path

import reedmill

ROOT = Path(reedmill.__file__).parents[2]
_COPIED = ("generator", "patterns", "courses", "docs", "scripts", "tests")
_FILES = ("pyproject.toml", "DEVELOPERS.md", "README.md", "CHANGELOG.md")
_LATER = count(1)

Change = Callable[[str], str]
"""Makes the new text of a file of its old one; of a file that is new, the old one is empty."""


_CALLING = """
import ast, importlib.util, sys
from pathlib import Path

sys.path[:0] = ["tests", "scripts"]

def module(path):
    name = path.replace("/", ".").removesuffix(".py")
    spec = importlib.util.spec_from_file_location(name, path)
    found = sys.modules[name] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(found)
    return found

for path, function, *given in ast.literal_eval(sys.argv[1]):
    try:
        known = sys.modules.get(path.replace("/", ".").removesuffix(".py")) or module(path)
        getattr(known, function)(*given)
        print("right:", function, *given)
    except Exception as error:
        print(f"{type(error).__name__}: {' '.join(str(error).split())}")
"""


class Checkout:
    """A copy of what a contributor has, changed and put back for each recipe."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        for name in _COPIED:
            unwanted = shutil.ignore_patterns("__pycache__", ".*")
            shutil.copytree(ROOT / name, folder / name, ignore=unwanted)
        for name in _FILES:
            shutil.copy2(ROOT / name, folder / name)

    @contextmanager
    def changed(self, changes: Mapping[str, Change]) -> Iterator[None]:
        """The copy with these files changed, and as it was afterwards."""
        before = {name: self._read(name) for name in changes}
        try:
            for name, change in changes.items():
                self._write(name, change(before[name] or ""))
            yield
        finally:
            for name, text in before.items():
                if text is None:
                    (self.folder / name).unlink(missing_ok=True)
                else:
                    self._write(name, text)

    def as_they_are(self, *folders: str) -> dict[str, Change]:
        """No change of the texts in *folders*, which are put back after a script of ours."""
        found = (path for name in folders for path in (self.folder / name).rglob("*.*"))
        return {path.relative_to(self.folder).as_posix(): lambda text: text for path in found}

    def run(self, *arguments: str) -> str:
        """What Python prints of *arguments* with the copy's own package, errors too."""
        environment = {
            name: value
            for name, value in os.environ.items()
            # on a build server pyfluidsynth prints where it found its library
            if not name.startswith("PYTEST_") and name != "CI"
        } | {"PYTHONPATH": str(self.folder / "generator")}
        done = subprocess.run(
            [sys.executable, *arguments], cwd=self.folder, env=environment, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=300, check=False,
        )  # fmt: skip
        return done.stdout

    def told(self, *tests: tuple[str, ...]) -> list[str]:
        """What the *tests* of the copy say: each a module, a function and what it is given.

        They are called without pytest, whose start takes longer than all of them.
        """
        return self.run("-W", "ignore", "-c", _CALLING, repr(tests)).splitlines()

    def _read(self, name: str) -> str | None:
        path = self.folder / name
        return path.read_text("utf-8") if path.is_file() else None

    def _write(self, name: str, text: str) -> None:
        path = self.folder / name
        path.write_bytes(text.encode())
        # Python takes a module's old byte code for that of a change within the same second
        later = path.stat().st_mtime + 2 * next(_LATER)
        os.utime(path, (later, later))


def after(place: str, new: str) -> Change:
    """Puts *new* after the only *place* in a file."""

    def change(text: str) -> str:
        assert text.count(place) == 1, f"{text.count(place)} of {place!r}"
        return text.replace(place, place + new)

    return change


def before(place: str, new: str) -> Change:
    """Puts *new* before the only *place* in a file."""

    def change(text: str) -> str:
        assert text.count(place) == 1, f"{text.count(place)} of {place!r}"
        return text.replace(place, new + place)

    return change


def each_of(*changes: Change) -> Change:
    """Makes one change after the other."""

    def change(text: str) -> str:
        for one in changes:
            text = one(text)
        return text

    return change


def whole(new: str) -> Change:
    """Makes *new* the whole file."""
    return lambda _: new
