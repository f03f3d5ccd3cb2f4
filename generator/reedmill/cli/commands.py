"""The commands.

Nothing but click is imported at the top, so that help is there at once.
"""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any

import click

from reedmill.cli.backing import backing_command
from reedmill.cli.options import (
    Commands,
    Lenient,
    MaybeValued,
    complete_drill,
    drills_argument,
    harp_option,
    json_option,
    looking_options,
    options,
    over_options,
    own_position_option,
    playing_options,
    position_option,
    print_notices,
    reference_option,
    sounding_options,
    tuning_option,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from reedmill.harp import Harp
    from reedmill.language import Drill
    from reedmill.make import Made
    from reedmill.practice import Recording
    from reedmill.score import Score
    from reedmill.sheet.look import Look
    from reedmill.theory.positions import Position

# What a command without these options plays with.
_AS_WRITTEN = {"tempo": None, "intonation": "equal", "offsets": None, "reference": 440.0}


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(package_name="reedmill", message="%(prog)s %(version)s")
def cli() -> None:
    """Practice material for the ten-hole diatonic harmonica, from a short pattern.

    \b
    A first sheet:    reedmill make "Home from every rung" --harp G
    What is there:    reedmill drills
    Your own drill:   write mine.drill, then  reedmill check mine.drill
                      and  reedmill make mine.drill --harp A,C --drone
    """


@cli.command("make", cls=Lenient, short_help="Make sheet, tones, MIDI and tab of a drill.")
@drills_argument
@playing_options
@click.option(
    "--to",
    default="sheet,midi,wav,tab",
    show_default=True,
    metavar="FORMATS",
    help="Any of sheet, png, svg, midi, wav, tab, musicxml, json, with commas between.",
)
@sounding_options
@over_options
@looking_options
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the files go."
)
@json_option
def make_command(drills: tuple[str, ...], to: str, out: str, as_json: bool, **options: Any) -> None:
    """Make sheet, tones, MIDI and tab for each DRILL: a title, or a .drill file.

    \b
    reedmill make "Home from every rung" --harp C --drone
    reedmill make mine.drill --harp "G, low F" --position 3 --tempo 50
    reedmill make mine.drill --drone root+fifth --click --count-in 1 --repeat 4 --fade-out
    reedmill make mine.drill --click --ladder "60 to 90 by 5" --audio mp3 --verify
    reedmill make "Down from the fifth" --over "Twelve bars" --choruses 2 --stems

    Listen at a moderate level, above all with headphones.  Stop and breathe normally when
    you feel dizzy; rest lips and jaw often.  If dizziness or pain comes back, ask a teacher
    or a doctor.
    """
    from pathlib import Path

    from reedmill.make import early_engraver, make

    formats = [name.strip() for name in to.split(",") if name.strip()]
    recording = _recording(options)
    _check_formats(formats, recording)
    look = _look(options)
    show = _shown_progress(as_json)
    with early_engraver(formats) as engraver:
        scores = _scores(drills, options)
        made = make(
            scores, Path(out), formats, recording=recording, look=look, engraver=engraver,
            progress=show,
        )  # fmt: skip
    print_notices(each.notice for each in made)
    if as_json:
        _print_json({"files": [each.data() for each in made]})
    else:
        _print_made(made)
    if not all(each.right for file in made for each in file.heard):
        raise SystemExit(1)


def _look(options: dict[str, Any]) -> Look:
    from reedmill.sheet.look import look_named

    return look_named(
        options["paper"], options["show"], large=options["large"], black=options["black"]
    )


def _print_made(made: list[Made]) -> None:
    """Every file under its drill and, where it was checked, every note in it."""
    from reedmill.hearing import hearing_table

    heading = None
    for each in made:
        here = f"{each.drill}: {each.harp} harp, position {each.position}, tempo {each.tempo}"
        if here != heading:
            click.secho(here, bold=True)
            heading = here
        kind = {"guide": "tones", None: each.kind.split("-")[0]}.get(each.stem, each.stem)
        click.echo(f"  {kind:<7} {each.path}")
        if each.heard:
            click.echo(hearing_table(each.heard))


def _recording(options: dict[str, Any]) -> Recording:
    """What the options say about the sound."""
    from reedmill.practice import (
        Click,
        Practice,
        Recording,
        parse_drone,
        parse_ladder,
        parse_types,
    )

    practice = Practice(
        count_in_bars=options["count_in"],
        repeats=options["repeat"],
        echo_bars=options["echo"],
        fade_out=options["fade_out"],
        tempi_bpm=parse_ladder(options["ladder"]) if options["ladder"] is not None else (),
    )
    return Recording(
        drone=parse_drone(options["drone"]) if options["drone"] is not None else (),
        backing=options["over"] is not None,
        band=options["band"],
        click=Click(options["clicking"]) if options["clicking"] else None,
        practice=practice,
        types=parse_types(options["audio"]),
        bits=int(options["bits"]),
        **{name: options[name] for name in ("voice", "stems", "wide", "apart", "loop", "verify")},
    )


def _check_formats(formats: list[str], recording: Recording) -> None:
    """Refuse what would make less than was asked for without a word."""
    from reedmill.errors import InputError
    from reedmill.practice import Recording

    if not formats:
        raise InputError("--to names no format. Write for example: --to sheet,wav")
    silent = Recording(backing=recording.backing, band=recording.band)
    if recording != silent and "wav" not in formats:
        raise InputError("what you ask of the sound goes into a sound file. Add wav: --to wav")


def _shown_progress(quiet: bool) -> Callable[[str], None]:
    """Count files on the terminal, unless the output is for another program."""
    done = 0

    def show(_name: str) -> None:
        nonlocal done
        done += 1
        if not quiet and sys.stderr.isatty():
            click.echo(f"\r{_counted(done, 'file')}\r", err=True, nl=False)

    return show


@cli.command("notes", short_help="Show every note a harp gives.")
@options(harp_option, position_option, reference_option, tuning_option, json_option)
def notes_command(harp: str, position: str, reference: float, tuning: str, as_json: bool) -> None:
    """Show every note a harp gives: tab, name, Hz and degree.

    \b
    reedmill notes --harp A
    reedmill notes --harp "low F" --position 3 --reference 442
    """
    from reedmill.expand import check_reference
    from reedmill.formats.data import notes_data
    from reedmill.picture import harp_picture, notes_table

    on, where = _harp(harp, tuning), _where(position)
    check_reference(reference)
    if as_json:
        _print_json(notes_data(on, where, reference))
        return
    key = where.key(on.fifths).name
    click.secho(f"{on.name} harp, {where.label}, key of {key}, A4 = {reference:g} Hz", bold=True)
    click.echo()
    click.echo(harp_picture(on, where))
    click.echo()
    click.echo(notes_table(on, where, reference))


@cli.command("roles", cls=Lenient, short_help="Show what a reed is in each position or chord.")
@options(harp_option, tuning_option)
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
    help="What each reed is in these chords instead; alone it means 'I7 IV7 V7'.",
)
@options(position_option)
@click.option("--to", metavar="FORMAT", help="sheet: make a role chart to print, as PDF.")
@looking_options
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the chart goes."
)
@json_option
def roles_command(
    harp: str, tuning: str, reeds: str, position: str, chords: str | None, to: str | None,
    out: str, as_json: bool, **options: Any,
) -> None:  # fmt: skip
    """Show which degree each reed is in each of the twelve positions, or what in each chord.

    \b
    reedmill roles
    reedmill roles --chords --position 2
    reedmill roles --reeds "-3 -3' -3''" --chords "i7 iv7 V7" --position 3
    reedmill roles --harp D --reeds "-2 -2' -2''" --to sheet
    """
    from pathlib import Path

    from reedmill.chord_roles import BLUES, parse_chords
    from reedmill.errors import InputError
    from reedmill.formats.data import chord_roles_data, roles_data
    from reedmill.make import make_role_chart
    from reedmill.picture import chords_table, roles_table

    on = _harp(harp, tuning)
    chosen, where = on.reeds_named(reeds), _where(position)
    played = parse_chords(chords) if chords is not None else BLUES
    look = _look(options)
    if to not in (None, "sheet"):
        raise InputError(f'there is no role chart as "{to}". Write --to sheet.')
    made = make_role_chart(on, chosen, Path(out), look, played, where) if to else None
    if as_json:
        data = roles_data(on, chosen)
        if chords is not None:
            data = chord_roles_data(on, where, chosen, played)
        _print_json(data | ({"files": [str(made)]} if made else {}))
    elif made:
        click.echo(f"role chart  {made}")
    elif chords is not None:
        key = where.key(on.fifths).name
        click.secho(f"{on.name} harp, {where.label}, key of {key}", bold=True)
        click.echo(chords_table(on, where, chosen, played))
    else:
        click.secho(f"{on.name} harp", bold=True)
        click.echo(roles_table(on, chosen))


@cli.command("expand", short_help="Show when each note of a drill comes.")
@drills_argument
@playing_options
@over_options
@click.option("--why", is_flag=True, help="Say why a tune is played on these reeds.")
@json_option
def expand_command(drills: tuple[str, ...], why: bool, as_json: bool, **playing: Any) -> None:
    """Show the timeline of each DRILL: when each note comes and what it is.

    \b
    reedmill expand "Lean on the rung before"
    reedmill expand mine.drill --harp "A, low F" --position 3 --why
    """
    from reedmill.formats.data import score_data
    from reedmill.picture import timeline

    scores = _scores(drills, playing)
    if as_json:
        _print_json({"drills": [score_data(score) for score in scores]})
        return
    for score in scores:
        where = f"{score.harp.name} harp, {score.position.label}, key of {score.key.name}"
        click.secho(f"{score.title}: {where}", bold=True)
        click.echo(timeline(score))
    if why:
        _print_why(drills, playing)


def _print_why(drills: tuple[str, ...], playing: dict[str, Any]) -> None:
    from reedmill.expand import ways
    from reedmill.picture import why_these_reeds

    for drill, harp, where in _playings(drills, playing):
        tunes = ways(drill, harp, where, tempo_bpm=playing["tempo"])
        for found in tunes:
            click.echo(why_these_reeds(drill.title, found))
        if not tunes:
            click.echo(f"{drill.title}: its reeds are written out; only a tune leaves a choice")


cli.add_command(backing_command)


@cli.command("check", short_help="Say whether pattern files are right.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", shell_complete=complete_drill)
@options(harp_option, own_position_option, tuning_option, json_option)
def check_command(
    files: tuple[str, ...], harp: str, position: str | None, tuning: str, as_json: bool
) -> None:
    """Say whether pattern files are right, and what in them is hard to play.

    \b
    reedmill check mine.drill
    """
    from reedmill.errors import InputError
    from reedmill.formats.data import check_data
    from reedmill.picture import playability_table
    from reedmill.playability import playability

    _harp(harp, tuning)  # what is wrong with every file is said once
    if position:
        _where(position)
    playing = {"harps": (harp,), "tuning": tuning, "position": position}
    rows: list[dict[str, Any]] = []
    failed = False
    for file in files:
        try:
            scores = _scores((file,), {**_AS_WRITTEN, **playing})
        except InputError as error:
            click.echo(str(error), err=True)
            failed = True
            continue
        findings = [playability(score) for score in scores]
        rows.append(check_data(file, scores, findings))
        if not as_json:
            titles = len({score.title for score in scores})
            plans = f", {_counted(len(scores), 'version')}" if len(scores) > titles else ""
            click.echo(f"{file}: right, {_counted(titles, 'drill')}{plans}")
            for score, found in zip(scores, findings, strict=True):
                size = f"{_counted(score.bars, 'bar')}, {_counted(len(score.notes), 'note')}"
                plan = f" ({score.embouchure.short})" if score.embouchure else ""
                click.echo(f"  {score.title}{plan}: {size}")
                click.echo(playability_table(found), nl=False)
    if as_json:
        _print_json({"files": rows})
    if failed:
        raise SystemExit(2)


@cli.command("format", short_help="Tidy pattern files.")
@click.argument("files", nargs=-1, required=True, metavar="FILE...", shell_complete=complete_drill)
@click.option("--check", "only_check", is_flag=True, help="Change nothing; say what is untidy.")
def format_command(files: tuple[str, ...], only_check: bool) -> None:
    """Tidy pattern files: one layout for all, comments kept.

    \b
    reedmill format mine.drill
    reedmill format --check mine.drill
    """
    from pathlib import Path

    from reedmill.language import read_pattern
    from reedmill.language.formatter import tidy
    from reedmill.make import write_files

    untidy = 0
    for file in files:
        text = read_pattern(Path(file))
        tidied = tidy(text, file)
        if tidied == text:
            click.echo(f"{file}: tidy")
            continue
        untidy += 1
        if not only_check:
            write_files([(Path(file), tidied.encode())])
        click.echo(f"{file}: {'untidy' if only_check else 'tidied'}")
    if only_check and untidy:
        raise SystemExit(2)


@cli.command("drills", short_help="List and search the library.")
@click.argument("words", nargs=-1, metavar="[WORD]...")
@click.option("--level", type=click.IntRange(1, 5), help="Only drills of this level.")
@click.option("--hole", type=click.IntRange(1, 10), help="Only drills that use this hole.")
@click.option("--topic", metavar="FOLDER", help="Only drills of this folder of the library.")
@click.option("--position", "number", metavar="N", help="Only drills meant for this position.")
@click.option("--technique", metavar="NAME", help="Only drills that need this: slide, echo, ...")
@click.option("--tab", "with_tab", is_flag=True, help="Show each drill's tab on a C harp.")
@json_option
def drills_command(
    words: tuple[str, ...], number: str | None, with_tab: bool, as_json: bool, **wanted: Any
) -> None:
    """List the library; WORDs search titles, purposes and techniques.

    \b
    reedmill drills
    reedmill drills slide --level 2 --hole 3 --tab
    """
    from reedmill.library import Wanted, drills_data, search
    from reedmill.picture import shelf_card

    position = _where(number).number if number else None
    found = search(Wanted(words, position=position, **wanted))
    if as_json:
        _print_json(drills_data(found))
        return
    for each in found:
        click.secho(each.drill.title, bold=True)
        click.echo(shelf_card(each, with_tab=with_tab))
    if not found:
        click.echo("No drill fits. Leave out a word or an option to see more.")


@cli.command("soundfont", short_help="Show how far a SoundFont is out of tune.")
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
    from reedmill.sound.soundfont_file import open_soundfont, parse_voice
    from reedmill.sound.soundfont_player import default_soundfont
    from reedmill.sound.soundfont_report import tuning_data, tuning_text
    from reedmill.sound.soundfont_tuning import measure_preset

    path, program = parse_voice(font) if font else (default_soundfont(), None)
    found = open_soundfont(path)
    tuning = measure_preset(found, found.preset(program))
    if as_json:
        _print_json(tuning_data(tuning))
    else:
        click.echo(tuning_text(tuning))


@cli.command("completion", short_help="Print the completion script of a shell.")
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion_command(shell: str) -> None:
    """Print the completion script of a shell.

    \b
    bash:  reedmill completion bash >> ~/.bashrc
    zsh:   reedmill completion zsh >> ~/.zshrc
    fish:  reedmill completion fish > ~/.config/fish/completions/reedmill.fish
    """
    from click.shell_completion import get_completion_class

    kind = get_completion_class(shell)
    if kind is None:
        raise click.UsageError(f'no completion for the shell "{shell}"')
    click.echo(kind(cli, {}, "reedmill", "_REEDMILL_COMPLETE").source())


# --- from words to domain objects ---------------------------------------------------------


def _harp(name: str, tuning: str) -> Harp:
    from reedmill.harp import Harp, layout_named

    return Harp.parse(name, layout_named(tuning))


def _where(position: str) -> Position:
    from reedmill.theory.positions import Position

    return Position.parse(position)


def _scores(wanted: tuple[str, ...], playing: dict[str, Any]) -> list[Score]:
    """Every drill on every harp with every embouchure plan, in that order."""
    from reedmill.expand import expand, versions
    from reedmill.theory.intonation import intonation_named

    tuning = intonation_named(playing["intonation"])
    if playing["offsets"] is not None:
        tuning = tuning.with_offsets(playing["offsets"])
    scores = [
        expand(
            drill, harp, where, tempo_bpm=playing["tempo"], intonation=tuning,
            reference_hz=playing["reference"], version=version,
        )
        for drill, harp, where in _playings(wanted, playing)
        for version in versions(drill)
    ]  # fmt: skip
    scores = _accompanied(scores, playing)
    for score in scores:
        for warning, span in score.warnings:
            click.echo(f"{span.place}: {warning}", err=True)
    return scores


def _accompanied(scores: list[Score], playing: dict[str, Any]) -> list[Score]:
    """The *scores* over the band that is asked for, if one is."""
    from reedmill.accompany import USUAL_FEEL, Accompaniment, accompanied
    from reedmill.errors import InputError

    form, feel, way = (playing.get(name) for name in ("over", "feel", "lay"))
    choruses, seed = playing.get("choruses"), playing.get("seed", 0)
    if form is not None:
        under = Accompaniment(form, feel or USUAL_FEEL, way or "loop", choruses, seed)
        return [accompanied(score, under) for score in scores]
    if feel or way or choruses is not None or seed or playing.get("band"):
        raise InputError(
            "--feel, --lay, --choruses, --seed and --band say how a band plays under the drill. "
            "Say over which form, for example: --over 'Twelve bars'"
        )
    return scores


def _playings(
    wanted: tuple[str, ...], playing: dict[str, Any]
) -> list[tuple[Drill, Harp, Position]]:
    """Every drill with every harp, and the position it is played in."""
    from reedmill.library import find_drills, usual_position

    names = [name for text in playing["harps"] or ("C",) for name in text.split(",")]
    harps = [_harp(name, playing["tuning"]) for name in names]
    fixed = _where(playing["position"]) if playing["position"] else None
    drills = [drill for each in wanted for drill in find_drills(each)]
    return [(drill, harp, fixed or usual_position(drill)) for drill in drills for harp in harps]


def _print_json(data: dict[str, Any]) -> None:
    import json

    click.echo(json.dumps(data, ensure_ascii=False, indent=1))


def _counted(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"


def main() -> None:
    """The ``reedmill`` command."""
    import gc
    import os

    # A short run makes little garbage: looking for it costs a tenth of the imports.
    gc.set_threshold(100_000)
    # Our sums need no matrix threads, and starting them costs numpy half its import.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    cli(prog_name="reedmill")
