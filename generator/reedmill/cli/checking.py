"""The commands that read what players and teachers write: check and format."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted, harps_for_keys
from reedmill.cli.ending import say_error
from reedmill.cli.options import (
    Lenient,
    complete_drill,
    harps_option,
    json_option,
    keys_option,
    options,
    own_position_option,
    tuning_option,
)
from reedmill.cli.saying import say, say_block, say_json, warn

if TYPE_CHECKING:
    from reedmill.base.errors import InputError
    from reedmill.checking.checked_files import Checked
    from reedmill.harp import Harp
    from reedmill.score.playability import Finding
    from reedmill.score.score import Score
    from reedmill.theory.positions import Position

_COURSES, _BANDS = ("course", "tuning"), ("form", "feel")
_OTHERS = (*_COURSES, *_BANDS)  # kinds of files that hold no drills


@click.command("check", cls=Lenient, short_help="Say whether your files are right.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", shell_complete=complete_drill)
@options(harps_option, keys_option, own_position_option, tuning_option, json_option)
def check_command(
    files: tuple[str, ...],
    harps: tuple[str, ...],
    keys: tuple[str, ...],
    positions: tuple[str, ...],
    tuning: str,
    as_json: bool,
) -> None:
    """Say whether files are right, and what in a drill is hard to play.

    Drills, forms, feels and courses: .drill, .form, .feel and .toml files.  All mistakes are
    shown: whatever make, backing or pack would refuse.

    \b
    reedmill check mine.drill
    reedmill check mine.form mine.feel course.toml
    """
    from reedmill.formats.data import check_data
    from reedmill.score.playability import playability
    from reedmill.theory.positions import Position

    # what is wrong with every file is said once
    where = Position.parse_list(*positions) if positions else ()
    on_harps = harps_for_keys(harps, keys, where, tuning)
    rows: list[dict[str, object]] = []
    mistakes: list[dict[str, object]] = []
    warnings: list[dict[str, object]] = []
    for file in files:
        checked = _checked(file, on_harps, where)
        mistakes += [_found_data(file, each, checked) for each in checked.mistakes]
        warnings += [_found_data(file, each, checked) for each in checked.warnings]
        _say_mistakes(checked)
        if checked.mistakes:
            continue
        findings = [playability(score) for score in checked.scores]
        scores = list(checked.scores)
        holds = _holds(checked)
        rows.append({"file": file, "holds": holds} if holds else check_data(file, scores, findings))
        if not as_json and not checked.held:
            _print_checked(file, scores, findings)
        elif not as_json:
            say(f"{file}: right", *(f"  {each}" for each in holds))
    if as_json:
        say_json({"files": rows, "mistakes": mistakes, "warnings": warnings})
    if mistakes:
        raise SystemExit(2)


_MOST_TOLD = 20  # mistakes of one file


def _say_mistakes(checked: Checked) -> None:
    """Print all mistakes of a file by place, the first twenty in full, then its warnings."""
    for error in checked.mistakes[:_MOST_TOLD]:
        _say_found(error, checked)
    more = len(checked.mistakes) - _MOST_TOLD
    if more > 0:
        warn(f"and {counted(more, 'more mistake')}")
    for warning in checked.warnings[:_MOST_TOLD]:
        _say_found(warning, checked)
    left = len(checked.warnings) - _MOST_TOLD
    if left > 0:
        warn(f"and {counted(left, 'more warning')}")


def _say_found(error: InputError, checked: Checked) -> None:
    """Print a mistake or warning and, where several were tried, its harps and positions."""
    say_error(error)
    only = checked.settings.words(error)
    if only:
        warn(f"  {only}")


def _found_data(file: str, error: InputError, checked: Checked) -> dict[str, object]:
    from reedmill.cli.command_remedies import COMMAND_LINE
    from reedmill.formats.data import mistake_data

    settings = [(each.harp, each.position) for each in checked.settings.of(error)]
    return mistake_data(file, error.worded(COMMAND_LINE), settings)


def _checked(file: str, harps: list[Harp], positions: tuple[Position, ...]) -> Checked:
    """Check *file*, or the drill of the library with this title."""
    from pathlib import Path

    from reedmill.base.kinds import our_kind
    from reedmill.base.reading import head_of
    from reedmill.checking.checked_files import (
        check_band,
        check_course,
        check_drills,
        check_library_drills,
    )
    from reedmill.library import SUFFIX, find_drills

    path = Path(file)
    kind = our_kind(head_of(path), file)
    if kind in _COURSES:
        return check_course(path)
    if kind in _BANDS:
        return check_band(path)
    if path.suffix == SUFFIX or os.path.isfile(file):  # noqa: PTH113  odd names
        return check_drills(path, harps, positions)
    return check_library_drills(lambda: find_drills(file), harps, positions)


def _holds(checked: Checked) -> list[str]:
    """Return what a file without drills does hold, in words."""
    from reedmill.band.feel import BandFeel
    from reedmill.band.form import Form

    held = []
    for each in checked.held:
        match each:
            case Form():
                held.append(f"{each.title}: {counted(len(each.bars), 'bar')}")
            case BandFeel():
                held.append(f"{each.title}: a feel in {each.meter.name}")
            case _:
                held.append(f"{each.title}: {counted(len(each.lessons), 'lesson')}")
    return held


def _print_checked(file: str, scores: list[Score], findings: list[list[Finding]]) -> None:
    from reedmill.cli.picture import playability_table

    titles = len({score.title for score in scores})
    versions = len({(score.title, score.embouchure) for score in scores})
    plans = f", {counted(versions, 'version')}" if versions > titles else ""
    say(f"{file}: right, {counted(titles, 'drill')}{plans}")
    for score, found in zip(scores, findings, strict=True):
        size = f"{counted(score.bars, 'bar')}, {counted(len(score.notes), 'note')}"
        plan = f" ({score.embouchure.short})" if score.embouchure else ""
        where = f"{score.harp.label}, {score.position.ordinal} position"
        say(f"  {score.title}{plan}, {where}: {size}")
        say_block(playability_table(found))


@click.command("format", cls=Lenient, short_help="Tidy pattern files.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", shell_complete=complete_drill)
@click.option("--check", "only_check", is_flag=True, help="Change nothing; say what is untidy.")
def format_command(files: tuple[str, ...], only_check: bool) -> None:
    """Tidy pattern files: one layout for all, comments kept.

    \b
    reedmill format mine.drill
    reedmill format --check mine.drill
    """
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.base.kinds import our_kind
    from reedmill.base.reading import decoded, head_of
    from reedmill.base.rewriting import rewrite
    from reedmill.language.formatter import tidy
    from reedmill.language.parser import pattern_bytes

    untidy = 0
    for file in files:
        if our_kind(head_of(file), file) in _OTHERS:
            raise InputError(
                f"{file}: only drills are tidied. reedmill check {file} says whether it is right."
            )
    for file in files:
        raw = pattern_bytes(Path(file))
        text = decoded(raw, file)
        tidied = tidy(text, file)
        if tidied == text:
            say(f"{file}: tidy")
            continue
        untidy += 1
        if not only_check:
            rewrite(Path(file), raw, tidied.encode())
        say(f"{file}: {'untidy' if only_check else 'tidied'}")
    if only_check and untidy:
        raise SystemExit(2)
