"""The command that makes what is answered by ear: dictations, and which rung it was."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import file_line, scores_of, shown_kind
from reedmill.cli.grouping import grouped_options
from reedmill.cli.options import (
    WHOLE,
    Lenient,
    drills_argument,
    json_option,
    options,
    paper_options,
    playing_options,
    pure_option,
    replace_option,
)
from reedmill.cli.saying import say, say_heading, say_json
from reedmill.cli.ticking import Ticking

if TYPE_CHECKING:
    from reedmill.cli.wanted import DictationWanted, Playing
    from reedmill.make.dictation_files import MadeDictation
    from reedmill.sheet.look import Look

_ASKING = options(
    click.option(
        "--questions", type=WHOLE, default=12, show_default=True, metavar="N",
        help="How many questions a recording has, 1 to 40.",
    ),
    click.option(
        "--seed", type=WHOLE, default=0, show_default=True, metavar="N",
        help="Which questions: every number draws others, and always the same ones.",
    ),
    click.option(
        "--pause", type=WHOLE, default=6, show_default=True, metavar="SECONDS",
        help="How long each question leaves for the answer, 2 to 30.",
    ),
    click.option(
        "--tell", is_flag=True,
        help="After each pause play the rungs, from the highest down to the one that it was.",
    ),
    pure_option,
    click.option(
        "--audio", default="wav", show_default=True, metavar="TYPES",
        help="Any of wav, flac, ogg, mp3, with commas between.",
    ),
    click.option(
        "--apart", is_flag=True,
        help="Put the answers into a file of their own, instead of on the last page.",
    ),
)  # fmt: skip


@click.command("dictate", cls=Lenient, short_help="Make dictations, to be written down by ear.")
@drills_argument
@playing_options
@click.option(
    "--to", default="sheet,tones,questions", show_default=True, metavar="WHAT",
    help="sheet: the rhythm with empty boxes; tones: what is to be heard for it; questions: a "
    "recording that asks which rung it was, with its page.",
)  # fmt: skip
@_ASKING
@paper_options
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the files go."
)
@replace_option
@json_option
@grouped_options(playing="Playing", wanted="DictationWanted")
def dictate_command(
    drills: tuple[str, ...], as_json: bool, playing: Playing, wanted: DictationWanted
) -> None:
    """Make pages and recordings of each DRILL that are answered by ear.

    The sheet has the rhythm of the drill and an empty box under each note, to write its tab in;
    play the drill to your students, or give them the tones.  A recording of questions asks which
    rung it was: two clicks, the anchor, one of the rungs, and time to tick it on its page.

    \b
    reedmill dictate "Home from every rung" --harp "A, low F"
    reedmill dictate "Home from four rungs" --to questions --questions 20 --seed 5 --tell
    reedmill dictate "Blues scale, low end" --to sheet --large --apart

    The last page has the answers: keep it back.  What is filled in, and the names of the files,
    have a number in place of the title, which may tell what is played.

    Listen at a moderate level, especially with headphones.  Stop and breathe normally if
    you feel dizzy; rest lips and jaw often.  If dizziness or pain comes back, ask a teacher
    or a doctor.
    """
    with Ticking(quiet=as_json) as shown:
        made = _make(drills, playing, wanted, shown)
    if as_json:
        from reedmill.make.dictation_files import dictations_data

        say_json(dictations_data(made))
        return
    _print_made(made)


def _make(
    drills: tuple[str, ...], playing: Playing, wanted: DictationWanted, shown: Ticking
) -> list[MadeDictation]:
    from pathlib import Path

    from reedmill.make.dictation_files import dictations_named, make_dictations
    from reedmill.practice.practice import parse_types
    from reedmill.score.rung_questions import Asking

    formats = dictations_named(wanted.to.split(","))
    asking = Asking(wanted.questions, wanted.seed, wanted.pause, wanted.tell)
    types = parse_types(wanted.audio)
    _check_asked(formats, asking != Asking(), types != ("wav",), wanted.pure)
    return make_dictations(
        scores_of(drills, playing), Path(wanted.out), formats, asking=asking, types=types,
        pure=wanted.pure, look=_look(wanted), apart=wanted.apart, progress=shown.done,
        replace=wanted.replace,
    )  # fmt: skip


def _check_asked(formats: tuple[str, ...], asking: bool, types: bool, pure: bool) -> None:
    """Refuse choices for a recording where none is to be made."""
    from reedmill.base.errors import InputError

    if asking and "questions" not in formats:
        raise InputError(
            "--questions, --seed, --pause and --tell are for a recording of questions. "
            f"Add it: --to {','.join((*formats, 'questions'))}"
        )
    if types and formats == ("sheet",):
        raise InputError("--audio is for recordings. Add one: --to sheet,tones")
    if pure and formats == ("sheet",):
        raise InputError("--pure is for recordings. Add one: --to sheet,tones")


def _look(wanted: DictationWanted) -> Look:
    from reedmill.sheet.look import look_named

    return look_named(wanted.paper, large=wanted.large, black=wanted.black)


def _print_made(made: list[MadeDictation]) -> None:
    """List every file under its drill, with the number that stands for it."""
    heading = None
    kinds = [shown_kind(None, each.kind) for each in made]
    for each, kind in zip(made, kinds, strict=True):
        score = each.drill
        here = (
            f"{score.title}, number {each.number}: {score.harp.full_name} harp, "
            f"position {score.position.number}"
        )
        if here != heading:
            say_heading(here)
            heading = here
        say(f"  {file_line(kind, kinds, each.path, each.before)}")
