"""The commands that read what players and teachers write: check and format."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from reedmill.cli.asked import counted, named_harp, scores_of
from reedmill.cli.ending import say_error
from reedmill.cli.options import (
    complete_drill,
    harp_option,
    json_option,
    options,
    own_position_option,
    tuning_option,
)
from reedmill.cli.saying import say, say_block, say_json

if TYPE_CHECKING:
    from reedmill.playability import Finding
    from reedmill.score import Score

# What a command without these options plays with.
_OTHERS = ("form", "feel", "course", "tuning")  # files that hold no drills
_AS_WRITTEN = {"tempo": None, "intonation": "equal", "offsets": None, "reference": 440.0}


@click.command("check", short_help="Say whether your files are right.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", shell_complete=complete_drill)
@options(harp_option, own_position_option, tuning_option, json_option)
def check_command(
    files: tuple[str, ...], harp: str, positions: tuple[str, ...], tuning: str, as_json: bool
) -> None:
    """Say whether files are right, and what in a drill is hard to play.

    Drills, forms, feels and courses: .drill, .form, .feel and .toml files.

    \b
    reedmill check mine.drill
    reedmill check mine.form mine.feel course.toml
    """
    from reedmill.base.errors import InputError
    from reedmill.base.kinds import our_kind
    from reedmill.base.reading import head_of
    from reedmill.formats.data import check_data
    from reedmill.playability import playability
    from reedmill.theory.positions import Position

    named_harp(harp, tuning)  # what is wrong with every file is said once
    Position.parse_list(*positions or ("2",))
    playing = {"harps": (harp,), "tuning": tuning, "positions": positions}
    rows: list[dict[str, Any]] = []
    failed = False
    for file in files:
        try:
            if our_kind(head_of(file), file) in _OTHERS:
                rows.append(_checked(file, quiet=as_json))
                continue
            scores = scores_of((file,), {**_AS_WRITTEN, **playing})
        except InputError as error:
            say_error(error)
            failed = True
            continue
        findings = [playability(score) for score in scores]
        rows.append(check_data(file, scores, findings))
        if not as_json:
            _print_checked(file, scores, findings)
    if as_json:
        say_json({"files": rows})
    if failed:
        raise SystemExit(2)


def _print_checked(file: str, scores: list[Score], findings: list[list[Finding]]) -> None:
    from reedmill.picture import playability_table

    titles = len({score.title for score in scores})
    plans = f", {counted(len(scores), 'version')}" if len(scores) > titles else ""
    say(f"{file}: right, {counted(titles, 'drill')}{plans}")
    for score, found in zip(scores, findings, strict=True):
        size = f"{counted(score.bars, 'bar')}, {counted(len(score.notes), 'note')}"
        plan = f" ({score.embouchure.short})" if score.embouchure else ""
        say(f"  {score.title}{plan}: {size}")
        say_block(playability_table(found))


def _checked(file: str, *, quiet: bool) -> dict[str, Any]:
    """Read a file that holds no drills, say what is in it, and return its row of data."""
    from pathlib import Path

    from reedmill.base.kinds import our_kind
    from reedmill.base.reading import head_of

    path = Path(file)
    if our_kind(head_of(path), file) in ("course", "tuning"):
        from reedmill.pack.reading import read_course

        course = read_course(path)
        held = [f"{course.title}: {counted(len(course.lessons), 'lesson')}"]
    else:
        from reedmill.band.form import Form
        from reedmill.band.parser import parse_band_file

        held = [
            f"{each.title}: {counted(len(each.bars), 'bar')}"
            if isinstance(each, Form)
            else f"{each.title}: a feel in {each.meter.name}"
            for each in parse_band_file(path)
        ]
    if not quiet:
        say(f"{file}: right", *(f"  {each}" for each in held))
    return {"file": file, "holds": held}


@click.command("format", short_help="Tidy pattern files.")
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
