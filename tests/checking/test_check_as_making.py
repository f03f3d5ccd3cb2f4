"""What check says of hand-made files, and where, is what making them comes to.

``tests/check_cases.py`` has the files; ``tests/fuzz/fuzz_checking.py`` compares damaged ones.
"""

from __future__ import annotations

import re
from pathlib import Path

import fuzz_checking
import pytest

from check_cases import CASES, Case, near
from reedmill.base.errors import InputError, PatternError, ReedmillError
from reedmill.checking.checked_files import Checked, check_band, check_course, check_drills
from reedmill.cli.asked import named_harps
from reedmill.harp import Harp
from reedmill.theory.positions import Position


def laid_out(folder: Path, case: Case) -> Path:
    for name, text in {**case.beside, case.name: case.text}.items():
        (folder / name).write_text(text, "utf-8")
    for name, goal in case.links.items():
        (folder / name).symlink_to(goal)
    return folder / case.name


def asked(case: Case) -> tuple[list[Harp], tuple[Position, ...]]:
    positions = Position.parse_list(case.position) if case.position else ()
    return named_harps((case.harp,), case.tuning), tuple(positions)


def checked(path: Path, case: Case) -> Checked:
    if path.suffix == ".drill":
        return check_drills(path, *asked(case))
    return check_course(path) if path.suffix == ".toml" else check_band(path)


def made(path: Path, case: Case) -> ReedmillError | None:
    try:
        if path.suffix == ".drill":
            fuzz_checking.make_drills(path, *asked(case))
        else:
            fuzz_checking.MAKING[path.suffix](path)
    except ReedmillError as error:
        return error
    return None


def places(errors: tuple[InputError, ...]) -> list[tuple[str, int]]:
    """Where *errors* are, and where what they led to is."""
    found: list[tuple[str, int]] = []
    for error in errors:
        while isinstance(error, PatternError):
            found.append(near(error.span))
            if error.led_to is None:
                break
            error = error.led_to
    return found


def test_there_are_cases_of_every_kind() -> None:
    assert len(CASES) == len({(case.name, case.what) for case in CASES}) > 80
    for suffix in (".drill", ".form", ".feel", ".toml"):
        mine = [case for case in CASES if case.name.endswith(suffix)]
        assert any(case.wrong for case in mine)
        assert not all(case.wrong for case in mine)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.name[5:]}: {case.what}")
def test_check_says_what_making_comes_to(tmp_path: Path, case: Case) -> None:
    path = laid_out(tmp_path, case)
    found, refused = checked(path, case), made(path, case)
    assert bool(found.mistakes) == bool(case.wrong) == (refused is not None)
    if refused is None:
        return
    if case.wrong == "0":  # of the whole command, not of a line
        assert [str(each) for each in found.mistakes] == [str(refused)]
        return
    assert case.place() in places(found.mistakes)
    for each in found.mistakes:
        assert isinstance(each, PatternError)
        assert each.source_line.strip(), str(each)
    if isinstance(refused, PatternError):
        assert near(refused.span) == case.place()
    elif path.suffix == ".drill":  # of a whole drill, by its title
        facts = [each.fact for each in found.mistakes if isinstance(each, PatternError)]
        assert any(map(str(refused).startswith, facts))
    else:  # what pack says of a row, with its place in front
        told = re.match(r"(?:.*/)?([^/:]+):(\d+):\d+: ", str(refused))
        assert told, str(refused)
        assert (told[1], int(told[2])) == case.place()
