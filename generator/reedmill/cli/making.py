"""The command that makes sheets, sound and files of drills."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import file_line, look_of, pieces_of, shown_kind, unused_look
from reedmill.cli.grouping import grouped_options
from reedmill.cli.options import (
    Lenient,
    drills_or_phrases_argument,
    json_option,
    looking_options,
    over_options,
    phrasing_options,
    playing_options,
    replace_option,
    sounding_options,
)
from reedmill.cli.saying import say, say_block, say_heading, say_json, warn_each
from reedmill.cli.ticking import Ticking
from reedmill.formats.table import DRILL_FORMATS, Maker, Usual, made_by, usual_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reedmill.cli.wanted import Looks, Over, Phrasing, Playing, Sounds
    from reedmill.make.material import Made
    from reedmill.practice.practice import Recording


@click.command("make", cls=Lenient, short_help="Make sheet, tones, MIDI and tab of a drill.")
@drills_or_phrases_argument
@playing_options
@click.option(
    "--to",
    default=",".join(usual_in(Usual.COMMAND, DRILL_FORMATS)),
    show_default=True,
    metavar="FORMATS",
    help=f"Any of {', '.join(DRILL_FORMATS)}, with commas between.",
)
@sounding_options
@over_options
@phrasing_options
@looking_options
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the files go."
)
@replace_option
@json_option
@grouped_options(
    playing="Playing", sounds="Sounds", under="Over", phrasing="Phrasing", looks="Looks"
)
def make_command(
    drills: tuple[str, ...], to: str, out: str, replace: bool, as_json: bool,
    playing: Playing, sounds: Sounds, under: Over, phrasing: Phrasing, looks: Looks,
) -> None:  # fmt: skip
    """Make sheet, tones, MIDI and tab for each DRILL: a title, or a .drill file.

    Several harps and positions: every drill comes on the first harp in each position, then on
    the next harp.

    \b
    reedmill make "Home from every rung" --harp C --drone
    reedmill make mine.drill --harp "G, low F" --position "2nd, 3rd" --tempo 50
    reedmill make mine.drill --drone root+fifth --click --count-in 1 --repeat 4 --fade-out
    reedmill make mine.drill --click --ladder "60 to 90 by 5" --audio mp3 --verify
    reedmill make "Down from the fifth" --over "Twelve bars" --tempo 96 --stems
    reedmill make --phrases --over "Twelve bars" --level 2 --seed 7

    A file's name says what is not as the drill is written.  The same command again makes
    its own files again; whatever else is in the way is left as it is, unless --replace.

    Listen at a moderate level, especially with headphones.  Stop and breathe normally if
    you feel dizzy; rest lips and jaw often.  If dizziness or pain comes back, ask a teacher
    or a doctor.
    """
    from pathlib import Path

    from reedmill.cli.phrase_words import picked_phrases_text
    from reedmill.make.early import early_engraver
    from reedmill.make.wanted_formats import formats_named

    formats = formats_named([name for name in to.split(",") if name.strip()], DRILL_FORMATS)
    with Ticking(quiet=as_json) as shown, early_engraver(formats) as engraver:
        recording = _recording(sounds, under)
        _check_formats(formats, recording)
        look = look_of(looks)
        drawn = bool(made_by(Maker.LILYPOND, formats, DRILL_FORMATS))
        with_one = f"Add one: --to {','.join((*formats, 'sheet'))}"
        unused = unused_look(look, drawn=drawn, remedy=with_one)
        from reedmill.make.material import make

        wanted = pieces_of(drills, playing, under, phrasing, formats)
        scores = wanted.scores
        made = make(
            scores, Path(out), formats, recording=recording, look=look, engraver=engraver,
            progress=shown.done, replace=replace,
        )  # fmt: skip
    warn_each([unused, *(each.notice for each in made)])
    if as_json:
        say_json({"files": [each.data() for each in made]})
    else:
        _print_made(made)
        for chorus in wanted.choruses:
            say_block(picked_phrases_text(chorus))
    if not all(each.right for file in made for each in file.heard):
        raise SystemExit(1)


def _print_made(made: list[Made]) -> None:
    """Return every file under its drill and, where it was checked, every note in it."""
    from reedmill.make.tone_check import hearing_table

    heading = None
    kinds = [shown_kind(each.stem, each.kind) for each in made]
    for each, kind in zip(made, kinds, strict=True):
        here = f"{each.drill}: {each.harp} harp, position {each.position}, tempo {each.tempo}"
        if here != heading:
            say_heading(here)
            heading = here
        say(f"  {file_line(kind, kinds, each.path, each.before)}")
        if each.heard:
            say_block(hearing_table(each.heard))


def _recording(sounds: Sounds, under: Over) -> Recording:
    """Return the recording that the options describe."""
    from reedmill.practice.practice import (
        Click,
        ClickLevel,
        Practice,
        Recording,
        parse_drone,
        parse_ladder,
        parse_lead_in,
        parse_types,
    )

    practice = Practice(
        count_in_bars=sounds.count_in,
        repeats=sounds.repeat,
        echo_bars=sounds.echo,
        fade_out=sounds.fade_out,
        tempi_bpm=parse_ladder(sounds.ladder) if sounds.ladder is not None else (),
    )
    return Recording(
        voice=sounds.voice,
        pure=sounds.pure,
        drone=parse_drone(sounds.drone) if sounds.drone is not None else (),
        backing=under.over is not None,
        band=under.band,
        click=Click(sounds.clicking) if sounds.clicking else None,
        click_level=ClickLevel(sounds.click_level),
        lead_in_s=parse_lead_in(sounds.lead_in),
        practice=practice,
        stems=sounds.stems,
        wide=sounds.wide,
        apart=sounds.apart,
        loop=sounds.loop,
        types=parse_types(sounds.audio),
        bits=int(sounds.bits),
        verify=sounds.verify,
    )


def _check_formats(formats: Sequence[str], recording: Recording) -> None:
    """Refuse options that would silently make less than was asked for."""
    from reedmill.base.errors import InputError
    from reedmill.practice.practice import Recording

    if not formats:
        raise InputError("--to names no format. Write for example: --to sheet,wav")
    silent = Recording(backing=recording.backing)
    if recording != silent and not made_by(Maker.SOUND, formats, DRILL_FORMATS):
        raise InputError("what you ask of the sound goes into a sound file. Add wav: --to wav")
