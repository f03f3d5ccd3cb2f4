"""The command that makes backings; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from contextlib import suppress
from typing import TYPE_CHECKING

import click
from click.core import ParameterSource

from reedmill.cli.asked import file_line, harp_asked, shown_kind, unused_look
from reedmill.cli.grouping import grouped_options
from reedmill.cli.options import (
    WHOLE,
    Lenient,
    MaybeValued,
    OneOf,
    click_level_option,
    harp_option,
    json_option,
    key_option,
    lead_in_option,
    only_one,
    options,
    paper_options,
    reference_option,
    replace_option,
    tuning_option,
    without_option,
)
from reedmill.cli.saying import say, say_heading, say_json, warn_each
from reedmill.cli.ticking import Ticking
from reedmill.formats.table import BAND_FORMATS, Maker, Usual, made_by, usual_in

if TYPE_CHECKING:
    from click.shell_completion import CompletionItem

    from reedmill.band.arranger import BandSet
    from reedmill.band.feel import BandFeel
    from reedmill.band.form import Form
    from reedmill.cli.wanted import BackingWanted
    from reedmill.make.backing import MadeBacking
    from reedmill.practice.practice import Recording
    from reedmill.theory.positions import Position

_DEFAULT_FEEL = "Medium shuffle"


def _complete(kind: str, start: str) -> list[CompletionItem]:
    from click.shell_completion import CompletionItem

    from reedmill.band.shelf import shipped_feels, shipped_forms
    from reedmill.base.errors import ReedmillError
    from reedmill.base.text import file_slug

    titles: list[str] = []
    with suppress(ReedmillError):  # a shell has no place for what is wrong with a file
        titles = [each.title for each in (shipped_forms() if kind == "form" else shipped_feels())]
    found = [CompletionItem(file_slug(title), help=title) for title in titles]
    fitting = [item for item in found if item.value.startswith(start.lower())]
    return fitting or [CompletionItem(start, type="file")]


def complete_form(_c: click.Context, _p: click.Parameter, start: str) -> list[CompletionItem]:
    """Complete shipped forms; the shell completes file names when there is none."""
    return _complete("form", start)


def complete_feel(_c: click.Context, _p: click.Parameter, start: str) -> list[CompletionItem]:
    """Complete shipped feels; the shell completes file names when there is none."""
    return _complete("feel", start)


backing_options = options(
    click.option(
        "--form", metavar="TITLE", shell_complete=complete_form,
        help="The chords: the title of a form, or a .form file.",
    ),
    click.option(
        "--feel", default=_DEFAULT_FEEL, show_default=True, metavar="TITLE",
        shell_complete=complete_feel,
        help="How they are played: the title of a feel, or a .feel file.",
    ),
    harp_option,
    key_option,
    click.option(
        "--position", multiple=True, callback=only_one, metavar="N",
        help="1 to 12, or in words: 1 is straight harp, 2 cross harp.  "
        "[default: 2, or what the form is for]",
    ),
    tuning_option,
    click.option(
        "--tempo", type=WHOLE, metavar="BPM", help="Beats a minute.  [default: the feel's]"
    ),
    click.option(
        "--choruses", type=WHOLE, metavar="TIMES",
        help="How many times the form is played, 1 to 50.  [default: 4, or those of the plan]",
    ),
    click.option(
        "--seed", type=WHOLE, default=0, show_default=True, metavar="N",
        help="Each number is another performance, always the same.",
    ),
    click.option(
        "--loose", type=WHOLE, default=1, show_default=True, metavar="N",
        help="How freely the players keep time: 0 exactly on the beat, 1 tidy, 2 easy, 3 ragged.",
    ),
    click.option(
        "--plan", metavar="WORDS",
        help='A word for each chorus, such as "quiet x2, stops, full": quiet, even, full, stops, '
        "breaks or trade.  [default: it builds]",
    ),
    click.option(
        "--intro", default="none", show_default=True, metavar="WORD",
        help="What is played before the first chorus: none, five, turnaround or drums.",
    ),
    click.option(
        "--ending", default="written", show_default=True, metavar="WORD",
        help="How the last chorus ends: written, tag or held.",
    ),
    click.option(
        "--to", default=",".join(usual_in(Usual.BACKING, BAND_FORMATS)), show_default=True,
        metavar="FORMATS", help=f"Any of {', '.join(BAND_FORMATS)}, with commas between.",
    ),
    click.option(
        "--count-in", type=WHOLE, default=0, metavar="BARS", help="Bars clicked before the music."
    ),
    click.option(
        "--click", "clicking", cls=MaybeValued, alone="beats", metavar="[WHERE]",
        pattern="beats|offbeats", values="beats or offbeats",
        type=click.Choice(["beats", "offbeats"], case_sensitive=False),
        help="Put a click into the mix: beats or offbeats.  [alone: beats]",
    ),
    click_level_option,
    lead_in_option,
    click.option(
        "--stems", is_flag=True,
        help="Also the band and the click as files of their own: .backing and .click.",
    ),
    click.option(
        "--audio", default="wav", show_default=True, metavar="TYPES",
        help="Any of wav, flac, ogg, mp3, with commas between.",
    ),
    click.option(
        "--bits", type=OneOf("number of bits", "16", "24"), default="16", show_default=True,
        help="How many bits a sample has in WAV and FLAC.",
    ),
    click.option(
        "--band", default="", metavar="FONT",
        help="Who plays: a SoundFont file, or plain for the built-in band.  "
        "[default: the best there is]",
    ),
    without_option,
    reference_option,
    paper_options,
    click.option("--list", "listing", is_flag=True, help="List forms and feels; make nothing."),
    click.option(
        "--out", default="output", show_default=True, metavar="FOLDER",
        help="Where the files go.",
    ),
    replace_option,
    json_option,
)  # fmt: skip


@click.command("backing", cls=Lenient, short_help="Make a band play a form in your key.")
@backing_options
@click.pass_context
@grouped_options(wanted="BackingWanted")
def backing_command(
    ctx: click.Context, /, form: str | None, listing: bool, as_json: bool, wanted: BackingWanted
) -> None:
    """Make a band play a form of chords with a feel, in the key of a harp and position.

    Without a form it names the forms and feels there are; --list says more of them.

    \b
    reedmill backing
    reedmill backing --form "Twelve bars" --harp A --choruses 6
    reedmill backing --form "Twelve bars" --key E
    reedmill backing --form "Dorian vamp" --feel Rumba --position 3 --tempo 104 --seed 7
    reedmill backing --form "Twelve bars" --plan "quiet x2, stops, full x2" --intro turnaround
    reedmill backing --form mine.form --feel mine.feel --count-in 1 --audio mp3

    The full mix has the plain file name, with or without a count-in or click; --stems adds
    .backing and .click.  Listen at a moderate level, especially with headphones.
    """
    if listing or not form:
        if not listing:
            _check_nothing_asked(ctx)
        _show_shelf(whole=listing, as_json=as_json)
        return
    made = _make(form, wanted, Ticking(quiet=as_json))
    if as_json:
        say_json({"files": [each.data() for each in made]})
    else:
        _print_made(made)


def _check_nothing_asked(ctx: click.Context) -> None:
    """Refuse options of a backing where no form is named: they would have no effect."""
    from reedmill.base.errors import InputError

    for param in ctx.command.params:
        name = param.name or ""
        if name != "as_json" and ctx.get_parameter_source(name) is ParameterSource.COMMANDLINE:
            raise InputError(
                f"{param.opts[0]} is for a backing, and no form is named. "
                'Add one: --form "Twelve bars". reedmill backing alone lists them.'
            )


def _make(title: str, wanted: BackingWanted, ticking: Ticking) -> list[MadeBacking]:
    from pathlib import Path

    from reedmill.band.arranger import arrange_set
    from reedmill.band.shelf import find_feel, find_form
    from reedmill.base.errors import InputError
    from reedmill.expand import check_reference
    from reedmill.make.backing import FOR_BACKING, make_backing
    from reedmill.make.wanted_formats import formats_named
    from reedmill.practice.practice import Recording
    from reedmill.score.arrangement import parse_players
    from reedmill.sheet.look import look_named

    names = [name for name in wanted.to.split(",") if name.strip()]
    formats = formats_named(names, BAND_FORMATS, FOR_BACKING)
    if not formats:
        raise InputError("--to names no format. Write for example: --to midi,wav")
    check_reference(wanted.reference)
    recording = _recording(wanted)
    silent = Recording(guided=False, backing=True)
    if recording != silent and not made_by(Maker.SOUND, formats, BAND_FORMATS):
        raise InputError("what you ask of the sound goes into a sound file. Add wav: --to wav")
    look = look_named(wanted.paper, large=wanted.large, black=wanted.black)
    drawn = bool(made_by(Maker.LILYPOND, formats, BAND_FORMATS))
    unused = unused_look(look, drawn=drawn, remedy=f"Add one: --to {','.join((*formats, 'chart'))}")
    form, feel = find_form(title), find_feel(wanted.feel)
    position = _position(wanted.position, form)
    harp = harp_asked(wanted.harp, wanted.key, position, wanted.tuning)
    arrangement = arrange_set(form, feel, harp.key_in(position), _set_asked(wanted))
    arrangement = arrangement.without(*parse_players(wanted.without))
    with ticking as shown:
        made = make_backing(
            arrangement, Path(wanted.out), formats, harp=harp, position=position,
            reference_hz=wanted.reference, recording=recording, look=look,
            progress=shown.done, replace=wanted.replace,
        )  # fmt: skip
    warn_each([_of_tempo(feel, arrangement.tempo_bpm), unused, *(each.notice for each in made)])
    return made


def _set_asked(wanted: BackingWanted) -> BandSet:
    from reedmill.band.arranger import BandSet
    from reedmill.band.set_plan import plan_named
    from reedmill.band.way_in_and_out import Ending, Intro
    from reedmill.base.choosing import chosen_word
    from reedmill.make.naming import USUAL_CHORUSES

    plan = plan_named(wanted.plan) if wanted.plan is not None else ()
    return BandSet(
        (len(plan) or USUAL_CHORUSES) if wanted.choruses is None else wanted.choruses,
        wanted.tempo,
        wanted.seed,
        wanted.loose,
        plan,
        Intro(chosen_word("intro", wanted.intro, [each.value for each in Intro])),
        Ending(chosen_word("ending", wanted.ending, [each.value for each in Ending])),
    )


def _of_tempo(feel: BandFeel, tempo_bpm: int) -> str:
    from reedmill.base.remedies import Remedy, said
    from reedmill.cli.command_remedies import COMMAND_LINE

    notice = feel.tempo_notice(tempo_bpm)
    return notice and " ".join(said(COMMAND_LINE, Remedy.TEMPO_OF_FEEL, notice, {}))


def _position(text: str | None, form: Form) -> Position:
    """Return the position asked for, or the first the form is meant for, or cross harp."""
    from reedmill.theory.positions import Position

    if text:
        return Position.parse(text)
    return Position(form.positions[0] if form.positions else 2)


def _recording(wanted: BackingWanted) -> Recording:
    from reedmill.base.errors import InputError
    from reedmill.practice.practice import (
        Click,
        ClickLevel,
        Practice,
        Recording,
        parse_lead_in,
        parse_types,
    )

    if wanted.stems and not (wanted.clicking or wanted.count_in):
        raise InputError(
            "--stems gives band and click a file each, and here the band plays alone. "
            "Add --click or --count-in 1"
        )
    return Recording(
        guided=False,
        backing=True,
        band=wanted.band,
        click=Click(wanted.clicking) if wanted.clicking else None,
        click_level=ClickLevel(wanted.click_level),
        lead_in_s=parse_lead_in(wanted.lead_in),
        practice=Practice(count_in_bars=wanted.count_in),
        stems=wanted.stems,
        types=parse_types(wanted.audio),
        bits=int(wanted.bits),
    )


def _show_shelf(*, whole: bool, as_json: bool) -> None:
    from reedmill.band.shelf import shelf_data
    from reedmill.cli.shelf_listing import show_shelf_list, show_shelf_titles

    data = shelf_data()
    if as_json:
        say_json(data)
    elif whole:
        show_shelf_list(data)
    else:
        show_shelf_titles(data)


def _print_made(made: list[MadeBacking]) -> None:

    for each in made[:1]:
        played = each.arrangement
        say_heading(
            f"{played.form}, {played.feel}: key of {played.key_words}, "
            f"tempo {played.tempo_bpm}, choruses: {played.choruses}"
        )
    kinds = [shown_kind(each.stem, each.kind) for each in made]
    for each, kind in zip(made, kinds, strict=True):
        say(f"  {file_line(kind, kinds, each.path, each.before)}")
