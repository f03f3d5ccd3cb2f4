"""The commands that show: harps, roles, timelines, the library, fonts."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import (
    again,
    harp_asked,
    look_of,
    named_position,
    named_reeds,
    pieces_of,
    playings,
    unused_look,
)
from reedmill.cli.grouping import grouped_options
from reedmill.cli.options import (
    Lenient,
    MaybeValued,
    WholeNumber,
    drills_or_phrases_argument,
    harp_option,
    json_option,
    key_option,
    looking_options,
    only_one,
    options,
    over_options,
    phrasing_options,
    playing_options,
    position_option,
    reference_option,
    replace_option,
    tuning_option,
)
from reedmill.cli.saying import say, say_block, say_heading, say_json, warn_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reedmill.cli.wanted import Looks, Over, Phrasing, Playing
    from reedmill.library import Shelved, Wanted
    from reedmill.make.made_files import PlacedFile


@click.command("notes", cls=Lenient, short_help="Show every note a harp gives.")
@options(harp_option, key_option, position_option, reference_option, tuning_option, json_option)
def notes_command(
    harp: str | None, key: str | None, position: str, reference: float, tuning: str, as_json: bool
) -> None:
    """Show every note a harp gives: tab, name, Hz and degree.

    \b
    reedmill notes --harp A
    reedmill notes --key E
    reedmill notes --harp "low F" --position 3 --reference 442
    """
    from reedmill.cli.picture import harp_picture, notes_table
    from reedmill.expand import check_reference
    from reedmill.formats.data import notes_data

    where = named_position(position)
    on = harp_asked(harp, key, where, tuning)
    check_reference(reference)
    if as_json:
        say_json(notes_data(on, where, reference))
        return
    played = on.key_words(where)
    say_heading(f"{on.label}, {where.label}, key of {played}, A4 = {reference:g} Hz")
    say("", *harp_picture(on, where).split("\n"), "")
    say_block(notes_table(on, where, reference))


@click.command("roles", cls=Lenient, short_help="Show what a reed is in each position or chord.")
@options(harp_option, key_option, tuning_option)
@click.option(
    "--reeds",
    default="-3 -3' -3'' -3'''",
    show_default=True,
    metavar="TAB",
    help="The reeds to look at, as tab in quotes.",
)
@click.option(
    "--chords",
    cls=MaybeValued,
    alone="I7 IV7 V7",
    metavar="[CHORDS]",
    pattern=r"[b#]?[IViv]+[A-Za-z0-9#+-]*([ ,|].*)?",
    values="I7 or more chords in quotes, such as 'i7 iv7 V7'",
    told="the three of the blues, I7 IV7 V7",
    help="What each reed is in these chords instead; alone it means 'I7 IV7 V7'.",
)
@options(position_option)
@click.option("--to", metavar="FORMAT", help="sheet: make a role chart to print, as PDF.")
@looking_options
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the chart goes."
)
@replace_option
@json_option
@grouped_options(looks="Looks")
def roles_command(
    harp: str | None, key: str | None, tuning: str, reeds: str, position: str,
    chords: str | None, to: str | None, out: str, replace: bool, as_json: bool, looks: Looks,
) -> None:  # fmt: skip
    """Show which degree each reed is in each of the twelve positions, or what in each chord.

    \b
    reedmill roles
    reedmill roles --chords --position 2
    reedmill roles --reeds "-3 -3' -3''" --chords "i7 iv7 V7" --position 3
    reedmill roles --harp D --reeds "-2 -2' -2''" --to sheet
    """
    from pathlib import Path

    from reedmill.base.choosing import known_word
    from reedmill.base.errors import InputError
    from reedmill.cli.picture import chords_table, roles_table
    from reedmill.formats.data import chord_roles_data, roles_data
    from reedmill.harp.chord_roles import BLUES, parse_chords
    from reedmill.make.material import make_role_chart

    where = named_position(position)
    on = harp_asked(harp, key, where, tuning)
    chosen = on.reeds_named(reeds)
    played = parse_chords(chords) if chords is not None else BLUES
    look = look_of(looks)
    if to is not None and known_word(to, ("sheet",)) is None:
        raise InputError(f'there is no role chart as "{to:.40}". Write --to sheet.')
    made = None
    warn_each([unused_look(look, drawn=bool(to), remedy="Add one: --to sheet")])
    if to:
        made = make_role_chart(on, chosen, Path(out), look, played, where, replace=replace)
    if as_json:
        data = roles_data(on, chosen)
        if chords is not None:
            data = chord_roles_data(on, where, chosen, played)
        say_json(data | _made_data(made))
    elif made:
        say(f"role chart  {made.path}{again(made.before)}")
    elif chords is not None:
        say_heading(f"{on.label}, {where.label}, key of {on.key_words(where)}")
        say_block(chords_table(on, where, chosen, played))
    else:
        say_heading(on.label)
        say_block(roles_table(on, chosen))


def _made_data(made: PlacedFile | None) -> dict[str, object]:
    if made is None:
        return {}
    return {"files": [str(made.path)], "replaced": made.before.value != "nothing"}


@click.command("expand", cls=Lenient, short_help="Show when each note of a drill comes.")
@drills_or_phrases_argument
@playing_options
@over_options
@phrasing_options
@click.option(
    "--why", is_flag=True,
    help="Show where a tune could be played on other reeds, and why it is not; of phrases, why "
    "each stands where it does.",
)  # fmt: skip
@json_option
@grouped_options(playing="Playing", under="Over", phrasing="Phrasing")
def expand_command(
    drills: tuple[str, ...], why: bool, as_json: bool, playing: Playing, under: Over,
    phrasing: Phrasing,
) -> None:  # fmt: skip
    """Show the timeline of each DRILL: when each note comes and what it is.

    \b
    reedmill expand "Lean on the rung before"
    reedmill expand mine.drill --harp "A, low F" --position 3 --why
    reedmill expand --phrases --over "Twelve bars" --rungs "-4' -3'" --why
    """
    from reedmill.cli.phrase_words import picked_phrases_text
    from reedmill.cli.picture import timeline
    from reedmill.formats.data import score_data

    found = pieces_of(drills, playing, under, phrasing)
    scores = found.scores
    if as_json:
        data: dict[str, object] = {"drills": [score_data(score) for score in scores]}
        if phrasing.phrases:
            data |= {"phrases": [chorus.data() for chorus in found.choruses]}
        elif why:
            data |= {"why": _why_rows(drills, playing)}
        say_json(data)
        return
    for score in scores:
        where = f"{score.harp.label}, {score.position.label}, key of {score.key_words}"
        say_heading(f"{score.title}: {where}")
        say_block(timeline(score))
    for chorus in found.choruses:
        say_block(picked_phrases_text(chorus, why=why))
    if why and not phrasing.phrases:
        _print_why(drills, playing)


def _print_why(drills: tuple[str, ...], playing: Playing) -> None:
    from reedmill.cli.why_words import why_these_reeds
    from reedmill.expand import why_reeds
    from reedmill.expand.expansion import DEFAULT_METER

    for drill, harp, where in playings(drills, playing):
        tunes = why_reeds(drill, harp, where, tempo_bpm=playing.tempo)
        for found in tunes:
            tune = f"{drill.title}, {harp.label}, {where.ordinal} position"
            say_block(why_these_reeds(tune, found, drill.meter or DEFAULT_METER))
        if not tunes:
            say(f"{drill.title}: its reeds are written out; only a tune leaves a choice")


def _why_rows(drills: tuple[str, ...], playing: Playing) -> list[dict[str, object]]:
    from reedmill.expand import why_reeds
    from reedmill.expand.reed_choices import why_data

    return [
        {"title": drill.title, "harp": harp.full_name, "position": where.number}
        | {"tunes": [why_data(each) for each in tunes]}
        for drill, harp, where in playings(drills, playing)
        for tunes in [why_reeds(drill, harp, where, tempo_bpm=playing.tempo)]
    ]


@click.command("drills", cls=Lenient, short_help="List and search the library.")
@click.argument("words", nargs=-1, metavar="[WORD]...")
@click.option("--level", type=WholeNumber(1, 5), help="Only drills of this level.")
@click.option(
    "--hole",
    type=WholeNumber(1, 10),
    help="Only drills that practise this hole: its rungs, or the bends of plain music.",
)
@click.option(
    "--rung",
    "rungs",
    multiple=True,
    metavar="TAB",
    help="Only drills that practise all these reeds.",
)
@click.option(
    "--from",
    "come_from",
    multiple=True,
    metavar="TAB",
    help="Only drills that come to a rung from this reed.",
)
@click.option("--topic", metavar="NAME", help="Only drills of this topic: home, thirds, ...")
@click.option(
    "--position",
    "number",
    multiple=True,
    callback=only_one,
    metavar="N",
    help="Only drills meant for this position.",
)
@click.option(
    "--chord",
    metavar="CHORD",
    help="Only phrases for this chord of a form, or for its turnaround or ending.",
)
@click.option("--technique", metavar="NAME", help="Only drills that need this: slide, echo, ...")
@click.option("--topics", is_flag=True, help="List the topics instead, with how many drills.")
@click.option(
    "--techniques", is_flag=True, help="List the techniques instead, with how many drills."
)
@click.option(
    "--coverage",
    is_flag=True,
    help="Show how many drills practise each rung in each way instead.",
)
@click.option("--tab", "with_tab", is_flag=True, help="Show each drill's tab on a C harp.")
@json_option
def drills_command(
    words: tuple[str, ...], number: str | None, rungs: tuple[str, ...], come_from: tuple[str, ...],
    topics: bool, techniques: bool, coverage: bool, with_tab: bool, as_json: bool,
    level: int | None, hole: int | None, topic: str | None, technique: str | None,
    chord: str | None,
) -> None:  # fmt: skip
    """List the library; WORDs search titles, purposes and techniques.

    \b
    reedmill drills
    reedmill drills slides --level 2 --hole 3 --tab
    reedmill drills --rung "-3'''" --from -2
    reedmill drills --techniques
    reedmill drills --coverage --level 2
    reedmill drills --chord IV --level 2

    Phrases to fill a form with, two bars each, are listed by --chord, by --topic phrases and by
    WORDs.  What a drill practises are its rungs; in music without rungs it is the bends, and where
    there are none, the notes it plays most often.
    """
    from reedmill.cli.picture import counts_table, shelf_card
    from reedmill.library import Wanted, drills_data, search, techniques_data, topics_data

    position = named_position(number).number if number else None
    trained = Wanted(
        words, level=level, hole=hole, position=position, rungs=named_reeds(rungs),
        come_from=named_reeds(come_from), topic=topic, technique=technique, over=chord,
    )  # fmt: skip
    found = search(trained)
    if coverage:
        _show_coverage(found, as_json=as_json)
        return
    if topics or techniques:
        data = (topics_data(found) if topics else {}) | (
            techniques_data(found) if techniques else {}
        )
        if as_json:
            say_json(data)
            return
        for rows in data.values():
            say_block(counts_table(rows))
        _say_phrases_apart(trained)
        return
    if as_json:
        say_json(drills_data(found))
        return
    for each in found:
        say_heading(each.drill.title)
        say_block(shelf_card(each, with_tab=with_tab))
    if not found:
        say("No drill fits. Leave out a word or an option to see more.")
    _say_phrases_apart(trained)


def _show_coverage(found: Sequence[Shelved], *, as_json: bool) -> None:
    from reedmill.cli.coverage_table import coverage_text
    from reedmill.coverage import coverage_data

    if as_json:
        say_json(coverage_data(found))
    else:
        say_block(coverage_text(found))


def _say_phrases_apart(trained: Wanted) -> None:
    """Tell where the phrases are, which a search for drills leaves out."""
    from reedmill.library import shipped_phrases

    if not trained.phrases:
        say("", f"{len(shipped_phrases())} phrases of two bars stand apart: --topic phrases")


@click.command("soundfont", cls=Lenient, short_help="Show how far a SoundFont is out of tune.")
@click.argument("font", required=False, metavar="[FILE[:PROGRAM]]")
@json_option
def soundfont_command(font: str | None, as_json: bool) -> None:
    """Show the tuning of a SoundFont's harmonica, key by key, before and after correction.

    Without a FILE it is the font that comes with pretty_midi. PROGRAM is the number in the
    General MIDI list, 1 to 128; 23 is the harmonica.

    \b
    reedmill soundfont
    reedmill soundfont --json
    """
    from reedmill.sound.soundfont.file import open_soundfont, parse_voice
    from reedmill.sound.soundfont.player import default_soundfont
    from reedmill.sound.soundfont.tuning import measure_preset
    from reedmill.sound.soundfont.tuning_report import tuning_data, tuning_text

    path, program = parse_voice(font) if font else (default_soundfont(), None)
    found = open_soundfont(path)
    tuning = measure_preset(found, found.preset(program))
    if as_json:
        say_json(tuning_data(tuning))
    else:
        say_block(tuning_text(tuning))
