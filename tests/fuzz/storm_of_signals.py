"""Stop ``reedmill make`` at random moments, and look at what is left.

    python tests/fuzz/storm_of_signals.py                  100 moments of every row
    python tests/fuzz/storm_of_signals.py --tries 10 --signals INT KILL --kinds mp3 sheet

Every row of the table is one signal and one kind of file.  A file under a final name is
whole when it has the bytes of an undisturbed run; the list of what was made, when it can be
read and names every file there.  Strays are hidden or scratch files in the
output folder and in the folder for temporary files, for KILL those that the next run leaves;
children are processes that are alive a second later.  The exit code is 1 where anything was
damaged, left over or alive, or where a stopped run did not say so by its own exit code.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from reedmill.make.made_files import LIST

_PYTHON_STARTS_S = 0.3
MARK = "REEDMILL_STORM"
TUNE = "Two bars home"
AUDIO = ("wav", "flac", "ogg", "mp3")
KINDS = (*AUDIO, "sheet")
SIGNALS = ("INT", "TERM", "HUP", "KILL")


@dataclass
class Row:
    """What came of one signal over one kind of file."""

    sign: str
    kind: str
    tries: int = 0
    stopped: int = 0  # before they had finished
    whole: int = 0  # final files that are as they should be
    damaged: int = 0
    strays: int = 0
    children: int = 0
    odd: list[str] = field(default_factory=list)  # exit codes that say something else

    @property
    def clean(self) -> bool:
        """Nothing to complain of."""
        return not (self.damaged or self.strays or self.children or self.odd)

    def __str__(self) -> str:
        numbers = (self.tries, self.stopped, self.whole, self.damaged, self.strays, self.children)
        cells = "".join(f"{number:>10}" for number in numbers)
        return f"{self.sign:<6}{self.kind:<7}{cells}  {', '.join(self.odd[:4])}"


HEAD = f"{'signal':<6}{'kind':<7}" + "".join(
    f"{name:>10}" for name in ("tries", "stopped", "whole", "damaged", "strays", "children")
)


def command(kind: str, out: Path, repeats: int) -> list[str]:
    """The command line that makes a file of *kind*; its encoding takes most of the time."""
    wanted = ["--to", "sheet,png"] if kind == "sheet" else ["--to", "wav", "--audio", kind]
    more = [] if kind == "sheet" else ["--repeat", str(repeats)]
    return [sys.executable, "-m", "reedmill.cli", "make", TUNE, *wanted, *more, "--out", str(out)]


class Field:
    """A folder in which one row's runs are made, stopped and looked at."""

    def __init__(self, folder: Path, kind: str, repeats: int) -> None:
        self.folder, self.kind, self.repeats = folder, kind, repeats
        self.out, self.temporary = folder / "out", folder / "tmp"
        for each in (self.out, self.temporary):
            each.mkdir(parents=True)
        self.environment = {**os.environ, "TMPDIR": str(self.temporary), MARK: str(folder)}

    def started(self) -> subprocess.Popen[bytes]:
        """A run on its way."""
        return subprocess.Popen(
            command(self.kind, self.out, self.repeats), env=self.environment,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip

    def undisturbed(self) -> tuple[dict[str, bytes], float]:
        """What a whole run makes, and the seconds it takes."""
        began = time.monotonic()
        process = self.started()
        assert process.wait() == 0
        return self.finals(), time.monotonic() - began

    def finals(self) -> dict[str, bytes]:
        """The files under their final names."""
        seen = [path for path in self.out.iterdir() if not path.name.startswith(".")]
        return {path.name: path.read_bytes() for path in seen}

    def strays(self) -> list[Path]:
        """What lies about; the list of what was made belongs there."""
        hidden = [path for path in self.out.glob(".*") if path.name != LIST]
        return [*hidden, *self.temporary.iterdir()]

    def told(self) -> bool:
        """The list of what was made is whole, and names every file that has its final name."""
        path = self.out / LIST
        listed = json.loads(path.read_bytes())["files"] if path.exists() else {}
        return set(self.finals()) <= set(listed)

    def next_run(self) -> None:
        """A short run after this one, elsewhere in time but in the same folders."""
        words = ["make", TUNE, "--to", "tab", "--out", str(self.out)]
        subprocess.run(
            [sys.executable, "-m", "reedmill.cli", *words], env=self.environment, check=True,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip

    def alive(self) -> list[int]:
        """The processes of these runs that are still there."""
        wanted = f"{MARK}={self.folder}\0".encode()
        found = []
        for process in Path("/proc").glob("[0-9]*"):
            try:
                if wanted in (process / "environ").read_bytes():
                    found.append(int(process.name))
            except OSError:  # it ended, or is none of ours
                continue
        return found

    def clear(self) -> None:
        """Remove what was made."""
        for path in self.out.iterdir():
            if path.is_file():
                path.unlink()


def stopped_at(
    field: Field, sign: str, moment_s: float, wanted: dict[str, bytes], row: Row
) -> None:
    """One run, stopped *moment_s* after its start, and what came of it added to *row*."""
    number = signal.Signals[f"SIG{sign}"]
    process = field.started()
    try:
        process.wait(timeout=moment_s)
    except subprocess.TimeoutExpired:
        process.send_signal(number)
    code = process.wait(timeout=60)
    row.tries += 1
    _wait_until_gone(field)
    row.children += len(field.alive())
    for name, content in field.finals().items():
        row.whole += content == wanted.get(name)
        row.damaged += content != wanted.get(name)
    row.damaged += not field.told()
    finished = set(field.finals()) == set(wanted)
    row.stopped += code != 0
    told = {128 + number, -number}
    if moment_s < _PYTHON_STARTS_S and not field.finals():
        told.add(1)  # Python's own, for a signal that comes before it runs anything of ours
    if code not in told and not (code == 0 and finished):
        row.odd.append(f"code {code} at {moment_s:.2f} s")
    if sign == "KILL":
        field.next_run()
    row.strays += len(field.strays())
    field.clear()


def _wait_until_gone(field: Field) -> None:
    until = time.monotonic() + 1.0
    while field.alive() and time.monotonic() < until:
        time.sleep(0.02)


def storm(
    kinds: Sequence[str], signs: Sequence[str], tries: int, *, repeats: int, seed: int = 1,
    earliest: float = 0.0,
) -> list[Row]:  # fmt: skip
    """Every signal over every kind, *tries* times each.

    A moment lies between *earliest* and the end of a run, as a share of its length.
    """
    for sign in ("SIGINT", "SIGHUP"):  # a shell's background job would hand on that it ignores it
        signal.signal(signal.Signals[sign], signal.SIG_DFL)
    moments, rows = random.Random(seed), []
    with tempfile.TemporaryDirectory() as name:
        for kind in kinds:
            field = Field(Path(name) / kind, kind, repeats)
            wanted, length_s = field.undisturbed()
            field.clear()
            for sign in signs:
                row = Row(sign, kind)
                for _ in range(tries):
                    moment_s = moments.uniform(earliest, 1.0) * length_s
                    stopped_at(field, sign, moment_s, wanted, row)
                rows.append(row)
                print(row, flush=True)
    return rows


def main() -> int:
    """The storm the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("--tries", type=int, default=100)
    asked.add_argument("--kinds", nargs="+", default=KINDS, choices=KINDS)
    asked.add_argument("--signals", nargs="+", default=SIGNALS, choices=SIGNALS)
    asked.add_argument("--repeats", type=int, default=6, help="how long the sound is")
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    print(HEAD)
    rows = storm(
        given.kinds, given.signals, given.tries, repeats=given.repeats, seed=given.seed
    )  # fmt: skip
    return 0 if all(row.clean for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
