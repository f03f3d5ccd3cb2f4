"""The command that says what to practise next; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.base.ranges import EVENING_MINUTES
from reedmill.cli.asked import harps_for_keys, named_position
from reedmill.cli.keeping import book_option, book_place
from reedmill.cli.options import (
    Lenient,
    WholeNumber,
    json_option,
    keys_option,
    options,
    replace_option,
)
from reedmill.cli.progressing import student_of
from reedmill.cli.saying import columns_shown, say, say_block, say_heading, say_json

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from reedmill.coaching.evening import Evening
    from reedmill.coaching.planning import PracticeBlock

PACK = "pack"
"""The folder of the pack, beside the course it is made from."""


@click.command("next", cls=Lenient, short_help="Say what to practise next, and why.")
@click.argument("name", required=False, metavar="[STUDENT]")
@click.option(
    "--minutes", type=WholeNumber(EVENING_MINUTES[0], EVENING_MINUTES[-1]), default=15,
    show_default=True, metavar="N",
    help="How long it may take, rests included.",
)  # fmt: skip
@click.option(
    "--harp", "harps", multiple=True, metavar="NAMES",
    help="The harps there are, with commas between.  [default: those that were played, or C]",
)  # fmt: skip
@options(keys_option)
@click.option(
    "--position", metavar="N",
    help="The position to practise in.  [default: the one that was played most, or 2nd]",
)  # fmt: skip
@options(book_option)
@click.option(
    "--out", metavar="FOLDER",
    help="Build a pack of it there: sheets, practice pages, tab and sound, and the course and "
    "drills that it is made from.",
)  # fmt: skip
@options(replace_option, json_option)
def next_command(
    name: str | None, minutes: int, harps: tuple[str, ...], keys: tuple[str, ...],
    position: str | None, book: str | None, out: str | None, replace: bool, as_json: bool,
) -> None:  # fmt: skip
    """Say what a student should practise next, from the takes in the record book.

    \b
    reedmill next Ada
    reedmill next Ada --minutes 30 --harp "A, C, F"
    reedmill next Ada --minutes 5 --out tonight

    First something easy, last a piece of music, and between them the rungs that are furthest out,
    those of which too little was heard, those that are due again, and what is ready to go faster.
    Where no drill of the library fits, one is written, as text that you can keep.  Rests are
    counted in.  How far out a rung is likely to be is estimated from its tries and from those of
    its neighbours; newer tries count for more.

    Stop and breathe normally if you feel dizzy; rest lips and jaw often.  If dizziness or pain
    comes back, ask a teacher or a doctor.
    """
    from datetime import UTC, datetime

    from reedmill.base.errors import InputError
    from reedmill.coaching.evening import evening
    from reedmill.coaching.practice_history import PracticeHistory
    from reedmill.record import open_book

    place = named_position(position or "2") if keys or position is not None else None
    where = [place] if place else []
    owned = harps_for_keys(harps, keys, where, "richter") if harps or keys else []
    if as_json and out is not None:
        raise InputError(
            "--json prints the evening, and --out builds a pack of it. Leave out one of them."
        )
    folder = None if out is None else _free_folder(out, replace=replace)
    now = datetime.now(UTC)
    with open_book(book_place(book)) as opened:
        student = student_of(opened, name).name
        history = PracticeHistory.of(opened.played(student), now)
    found = evening(history, minutes, tuple(owned), place)
    if as_json:
        say_json(evening_data(student, minutes, found))
    else:
        _show(student, minutes, found, drills=folder is None)
    if folder is not None:
        _build(folder, found, now.date())


# --- a pack ---------------------------------------------------------------------------------


def _free_folder(out: str, *, replace: bool) -> Path:
    """Return the folder *out*, in which no evening may be yet, unless it is to be replaced."""
    import os
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.coaching.evening_course import COURSE_FILE, DRILLS_FILE

    folder = Path(out)
    for name in (COURSE_FILE, DRILLS_FILE):
        if os.path.lexists(folder / name) and not replace:
            raise InputError(
                f"{folder / name} is there already, so it is left as it is. Name another folder, "
                "or add --replace."
            )
    return folder


def _build(folder: Path, found: Evening, day: date) -> None:
    """Write the course of the evening and its drills, and build the pack beside them."""
    from functools import partial

    from reedmill.base.writing import save, write_files
    from reedmill.cli.pack import build_pack
    from reedmill.cli.wanted import PackWanted
    from reedmill.coaching.evening_course import (
        COURSE_FILE,
        DRILLS_FILE,
        course_text,
        drills_text,
    )

    texts = {COURSE_FILE: course_text(found, day), DRILLS_FILE: drills_text(found)}
    write_files([
        (folder / name, partial(save, content=text.encode()))
        for name, text in texts.items()
        if text
    ])  # fmt: skip
    wanted = PackWanted(
        only_plan=False, explain=False, archive=False, student=None, lesson=None, jobs=None,
        where=None, scheduler=None,
    )  # fmt: skip
    build_pack(folder / COURSE_FILE, folder / PACK, wanted, as_json=False)


# --- for people -----------------------------------------------------------------------------


def _show(student: str, minutes: int, found: Evening, *, drills: bool) -> None:
    from reedmill.cli.folding import folded
    from reedmill.coaching.evening_course import CAUTION, drills_text

    say_heading(f"{student}: {round(found.minutes)} of {minutes} minutes, rests included")
    if not found.blocks:
        say("", "There is no drill as short as that. Give it more time: --minutes 5")
        return
    for number, block in enumerate(found.blocks, start=1):
        say("", *_block(number, block, found))
    say("", *folded(CAUTION, columns_shown()))
    written = drills_text(found)
    if drills and written:
        say("", *folded(
            "Written for this evening. Keep it as a file that ends in .drill, or let --out build "
            "a pack of all of it:", columns_shown(),
        ), "")  # fmt: skip
        say_block(written.rstrip("\n"))


def _block(number: int, block: PracticeBlock, found: Evening) -> list[str]:
    from reedmill.cli.folding import folded
    from reedmill.coaching.evening_course import purpose
    from reedmill.theory.positions import Position

    offer = block.offer
    times = {1: "once", 2: "twice"}.get(block.passes, f"{block.passes} times")
    pace = f"at {offer.tempo}" + (f", after {offer.faster_than}" if offer.faster_than else "")
    where = f"{offer.harp} harp, {Position(offer.position).ordinal} position"
    lasts = f"{max(1, round(block.seconds / 60))} min"
    start, width = f"{number:>2}. ", columns_shown()
    lines = folded(offer.title, width, "    ", start)
    lines += folded(f"{where}, {pace}, {times}, {lasts}", width, "    ", "    ")
    return lines + folded(purpose(found, block), width, "    ", "    ")


# --- for programs ---------------------------------------------------------------------------


def evening_data(student: str, minutes: int, found: Evening) -> dict[str, object]:
    """Return the evening of *student* as ``--json`` prints it."""
    return {
        "student": student,
        "minutes": minutes,
        "lasts_minutes": round(found.minutes, 1),
        "practice": [_row(block, found) for block in found.blocks],
    }


def _row(block: PracticeBlock, found: Evening) -> dict[str, object]:
    from reedmill.coaching.evening_course import note

    offer, known = block.offer, found.needs.known
    return {
        "part": block.part.value,
        "drill": offer.title,
        "harp": offer.harp,
        "position": offer.position,
        "tempo": offer.tempo,
        "passes": block.passes,
        "minutes": round(block.seconds / 60, 1),
        "rungs": [
            {
                "tab": rung.tab, "from": rung.came_from, "register": rung.register,
                "out_cents": round(known[rung].cents, 1), "sd_cents": round(known[rung].sd, 1),
                "tries": known[rung].tries, "due": rung in found.needs.due,
            }
            for rung in block.aims
        ],
        "why": note(found, block),
        "pattern": offer.pattern or None,
    }  # fmt: skip
