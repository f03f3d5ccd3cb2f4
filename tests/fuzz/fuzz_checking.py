"""Damage the shipped drills, forms, feels and courses, and compare check with making.

    python tests/fuzz/fuzz_checking.py [FILES] [--seed SEED] [--only NUMBER]

File NUMBER of a seed is always the same text.  A file fails when

- anything but ``ReedmillError`` is raised;
- ``check`` finds a mistake and making goes through, or the other way round;
- making is refused at a place that is not among those that ``check`` shows.

Making a drill is what ``make`` does with it in each position it is meant for, MIDI, MusicXML,
tab and LilyPond input among it (LilyPond does not run); a form or feel is arranged; a
course is read and every row planned and drawn.  ``tests/cli/test_checking.py`` runs a sample.
"""

from __future__ import annotations

import argparse
import random
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import product
from pathlib import Path

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parents[1] / "generator")]

from reedmill.band.accompany import USUAL_FEEL  # noqa: E402
from reedmill.band.arranger import arrange  # noqa: E402
from reedmill.band.backing_parser import parse_band_file  # noqa: E402
from reedmill.band.feel import BandFeel  # noqa: E402
from reedmill.band.form import Form  # noqa: E402
from reedmill.band.shelf import find_feel, find_form  # noqa: E402
from reedmill.base.errors import PatternError, ReedmillError  # noqa: E402
from reedmill.base.shipped import patterns_dir  # noqa: E402
from reedmill.checking.checked_files import check_band, check_course, check_drills  # noqa: E402
from reedmill.expand import expand, versions  # noqa: E402
from reedmill.expand.taken_over import mistakes_placed_in  # noqa: E402
from reedmill.formats.midi import midi_bytes  # noqa: E402
from reedmill.formats.musicxml import musicxml_bytes  # noqa: E402
from reedmill.formats.text_tab import tab_text  # noqa: E402
from reedmill.formats.writable import check_writable  # noqa: E402
from reedmill.harp import HARP_KEYS, Harp  # noqa: E402
from reedmill.library import find_drills, usual_position  # noqa: E402
from reedmill.pack.course.course_reading import read_course  # noqa: E402
from reedmill.pack.keep.ledger import BuildScope  # noqa: E402
from reedmill.pack.plan.pieces import plan_pack  # noqa: E402
from reedmill.pack.steps.work import (  # noqa: E402
    Drawing,
    ScoreFile,
    Sheet,
    unpack_work,
)
from reedmill.practice.practice import Recording  # noqa: E402
from reedmill.practice.sound_limits import check_scores, check_sound_length  # noqa: E402
from reedmill.sheet.page import pages  # noqa: E402
from reedmill.theory.positions import Position  # noqa: E402

COURSES = HERE.parents[1] / "courses"
KINDS = (".drill", ".drill", ".drill", ".form", ".feel", ".toml")
# What a hurried hand writes in place of a word: wrong reeds, lengths, numbers and signs.
SLIPS = (
    "-5'", "-2''''", "11", "-3:1/5", "-3:1/8..", "0", "x", "999", "|", "(", ")", ":", ",", '"',
    "triplet(-2 -3)", "triplet(-2 -3 -4 -3)", "anchor", "rung", "next", "9^", "~-1", "C7", "V7x3",
    "%", "on", "true", "[", "-1", "20", "300", "7", "12", "5+++", "b9---", "move up 3", "meter 5/8",
    "positions 5, 9", "from",
)  # fmt: skip


@dataclass
class Tally:
    """What was met, and what failed."""

    counts: Counter[str] = field(default_factory=Counter)
    failures: list[str] = field(default_factory=list)


def damaged(seed: int, number: int) -> tuple[str, str]:
    """The ending and the text of file *number*."""
    draw = random.Random(f"{seed} {number}")
    suffix = KINDS[number % len(KINDS)]
    root = COURSES if suffix == ".toml" else patterns_dir()
    files = sorted(root.rglob(f"*{suffix}"))
    text = draw.choice(files).read_text("utf-8")
    if suffix == ".toml":
        text = _short(text, draw)
    for _ in range(draw.choice((0, 1, 1, 2, 3))):
        text = _slip(text, draw)
    return suffix, text


def _short(text: str, draw: random.Random) -> str:
    """A course with at most three of its lessons, so that thousands are tried in an hour."""
    head, *lessons = re.split(r"(?m)^(?=\[\[lessons\]\])", text)
    last, mark, tail = lessons[-1].partition("[[students]]")
    kept = [*lessons[:-1], last]
    return head + "".join(draw.sample(kept, min(3, len(kept)))) + mark + tail


def _slip(text: str, draw: random.Random) -> str:
    """*text* with one word, line or sign changed, lost, doubled or moved."""
    lines = text.split("\n")
    full = [at for at, line in enumerate(lines) if line.strip() and line.strip()[0] != "#"]
    at = draw.choice(full)
    words = [match.span() for match in re.finditer(r"[^\s]+", lines[at])]
    start, end = draw.choice(words)
    line = lines[at]
    match draw.randrange(6):
        case 0:
            lines[at] = line[:start] + draw.choice(SLIPS) + line[end:]
        case 1:
            lines[at] = line[:start] + line[end:]
        case 2:
            lines[at] = f"{line[:end]} {draw.choice(SLIPS)}{line[end:]}"
        case 3:
            lines.insert(draw.choice(full), line)
        case 4:
            lines[at] = f"  {draw.choice(SLIPS)}"
        case _:
            spot = draw.randrange(start, end)
            lines[at] = line[:spot] + line[spot + 1 :]
    return "\n".join(lines)


# --- making -------------------------------------------------------------------------------


def make_drills(
    path: Path, harps: Sequence[Harp] = (Harp("C"),), positions: Sequence[Position] = ()
) -> None:
    """Everything but LilyPond that ``make`` does, in *positions* or each a drill is for."""
    drills = find_drills(str(path))
    pieces = [each for each in drills for _ in versions(each)]
    times = len(harps) * max(1, len(positions))
    notes = sum(min(each.count(len(each.rungs)), 2_000) for each in pieces)
    check_scores(len(pieces) * times, notes * times)
    for drill, harp in product(drills, harps):
        meant = [usual_position(drill), *map(Position, drill.positions)]
        for where in dict.fromkeys(positions or meant):
            for version in versions(drill):
                score = expand(drill, harp, where, version=version)
                check_sound_length([score], Recording())
                with mistakes_placed_in(drill):
                    check_writable(score, ("sheet", "midi", "wav", "tab"))
                pages([score])
                midi_bytes(score)
                tab_text(score)


def make_band(path: Path) -> None:
    """What ``backing`` does with each form and feel of a file, in every key."""
    for each in parse_band_file(path):
        form = each if isinstance(each, Form) else find_form("Twelve bars")
        feel = each if isinstance(each, BandFeel) else find_feel(USUAL_FEEL)
        for name in HARP_KEYS[::4]:
            key = Harp(name).key_in(Position(form.positions[0] if form.positions else 2))
            arrange(form, feel, key, choruses=4)
        for tempo in (feel.tempo_bpm, feel.tempo_goal_bpm):
            arrange(form, feel, key, choruses=4, tempo_bpm=tempo)


def make_course(path: Path) -> None:
    """Every row of a course, planned and drawn; the first that fails is raised."""
    found = plan_pack(read_course(path), BuildScope(None, None, False), lambda _: False)
    if found.failed:
        raise NotMadeError(found.failed[0][1].reason)
    for step in found.steps.values():
        if step.kind in ("sheet", "drawing"):
            work = unpack_work(step.packed)
            if isinstance(work, Sheet | Drawing):
                pages([work.score])
        if step.kind == "musicxml":
            work = unpack_work(step.packed)
            if isinstance(work, ScoreFile):
                musicxml_bytes(work.score)


class NotMadeError(ReedmillError):
    """A row of a pack that could not be made."""


MAKING: dict[str, Callable[[Path], None]] = {
    ".drill": make_drills, ".form": make_band, ".feel": make_band, ".toml": make_course,
}  # fmt: skip


# --- comparing ----------------------------------------------------------------------------


def run_one(seed: int, number: int, tally: Tally, folder: Path) -> None:
    """Check and make file *number*, and note where they disagree."""
    suffix, text = damaged(seed, number)
    path = folder / f"mine{suffix}"
    path.write_text(text, "utf-8")
    try:
        wrong = _disagreement(path, suffix, tally)
    except Exception as error:
        wrong = f"{type(error).__name__}: {error}"
    if wrong:
        tally.failures.append(f"{number} ({suffix}): {wrong}")


def _disagreement(path: Path, suffix: str, tally: Tally) -> str:
    refused = _refusal(path, suffix)
    if suffix == ".drill":
        checked = check_drills(path, [Harp("C")], ())
    else:
        checked = (check_course if suffix == ".toml" else check_band)(path)
    tally.counts["wrong" if refused else "right"] += 1
    tally.counts["mistakes"] += len(checked.mistakes)
    tally.counts["several"] += len(checked.mistakes) > 1
    if refused is None:
        return f"made, but check says: {checked.mistakes[0]}" if checked.mistakes else ""
    if not checked.mistakes:
        return f"check is content, but: {refused}"
    if not _shown(refused, list(checked.mistakes)):
        return f"refused at another place than check shows: {refused}"
    return ""


def _refusal(path: Path, suffix: str) -> ReedmillError | None:
    try:
        MAKING[suffix](path)
    except ReedmillError as error:
        return error
    return None


def _shown(refused: ReedmillError, mistakes: list[ReedmillError]) -> bool:
    """True when a mistake has the place of *refused*, or says the same without one."""
    if isinstance(refused, PatternError):
        return refused.span.place in _places(mistakes)
    first = str(refused).split("\n", maxsplit=1)[0]
    facts = [each.fact for each in _every(mistakes) if isinstance(each, PatternError)]
    places = _places(mistakes)
    return any(place in first for place in places) or any(
        fact in first or first.split(". ")[0].rstrip(".") in fact
        for fact in (*facts, *map(str, mistakes))
    )


def _every(mistakes: list[ReedmillError]) -> Iterator[ReedmillError]:
    """The mistakes and what each led to."""
    for each in mistakes:
        yield each
        if isinstance(each, PatternError) and each.led_to:
            yield from _every([each.led_to])


def _places(mistakes: list[ReedmillError]) -> set[str]:
    return {each.span.place for each in _every(mistakes) if isinstance(each, PatternError)}


def run_share(seed: int, numbers: range) -> Tally:
    """Run the files of *numbers*, one after the other."""
    tally = Tally()
    with tempfile.TemporaryDirectory() as folder:
        for number in numbers:
            run_one(seed, number, tally, Path(folder))
    return tally


def main() -> int:
    """Run what the command line asks for, and say what was found; 1 where files fail."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("files", nargs="?", type=int, default=300)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int)
    asked = parser.parse_args()
    only = asked.only
    numbers = range(asked.files) if only is None else range(only, only + 1)
    if only is not None:
        print(damaged(asked.seed, only)[1])
    tally = run_share(asked.seed, numbers)
    print(*(f"{name}: {count}" for name, count in sorted(tally.counts.items())), sep="\n")
    print(*tally.failures, sep="\n")
    return 1 if tally.failures else 0


if __name__ == "__main__":
    sys.exit(main())
