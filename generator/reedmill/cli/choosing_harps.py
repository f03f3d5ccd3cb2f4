"""The command that says which harp to take; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import again, named_harp, named_harps, unused_look
from reedmill.cli.meant import shell_quoted
from reedmill.cli.options import (
    Lenient,
    complete_harp,
    complete_key,
    json_option,
    only_one,
    options,
    paper_options,
    replace_option,
    tuning_option,
)
from reedmill.cli.saying import columns_shown, say, say_heading, say_json, warn_each

if TYPE_CHECKING:
    from collections.abc import Sequence

    from reedmill.harp import Harp
    from reedmill.harp.harp_places import HarpPlace
    from reedmill.make.made_files import PlacedFile
    from reedmill.theory.positions import Position
    from reedmill.theory.song_keys import SongKey

_MOST_HARPS = 40  # in a case


@click.command("keys", cls=Lenient, short_help="Say which harp to take for a song.")
@click.option(
    "--key", multiple=True, callback=only_one, metavar="KEY", shell_complete=complete_key,
    help="The key of the song: E, Bb, 'F# minor', 'G blues'.",
)  # fmt: skip
@click.option(
    "--harp", metavar="KEY", shell_complete=complete_harp,
    help="Show the keys of this harp: C, Bb, 'low F'.",
)  # fmt: skip
@click.option(
    "--position", "positions", multiple=True, metavar="N",
    help="Only this position: 1 to 12, or in words. Commas between several.  [default: all]",
)  # fmt: skip
@click.option(
    "--case", multiple=True, metavar="HARPS", shell_complete=complete_harp,
    help="The harps you own, with commas between: show all keys on them, or with --key which of "
    "them to take.",
)  # fmt: skip
@options(tuning_option)
@click.option("--to", metavar="FORMAT", help="sheet: make a chart of the case to print, as PDF.")
@options(paper_options)
@click.option(
    "--out", default="output", show_default=True, metavar="FOLDER", help="Where the chart goes."
)
@options(replace_option, json_option)
def keys_command(
    key: str | None, harp: str | None, positions: tuple[str, ...], case: tuple[str, ...],
    tuning: str, to: str | None, paper: str, large: bool, black: bool, out: str, replace: bool,
    as_json: bool,
) -> None:  # fmt: skip
    """Say which harp to take for the key of a song, and what each choice is good for.

    \b
    reedmill keys --key E
    reedmill keys --key "F# minor" --position 3
    reedmill keys --harp C
    reedmill keys --case "C, A, D, F, Bb"
    reedmill keys --case "C, A, D, F, Bb" --key Em
    reedmill keys --case "C, A, low F" --to sheet

    Scales, homes and bends follow from the reeds of the harp.  What a position is good for is
    common practice among players: try it, and trust your ears.
    """
    from reedmill.sheet.look import look_named
    from reedmill.theory.positions import Position
    from reedmill.theory.song_keys import SongKey

    _check_together(key, harp, case, to, positions=bool(positions))
    where = Position.parse_list(*positions) if positions else ()
    look = look_named(paper, large=large, black=black)
    warn_each([unused_look(look, drawn=bool(to), remedy='Add a case: --case "C, A" --to sheet')])
    song = None if key is None else SongKey.parse(key)
    if song is not None:
        _show_song(song, _places(song, harp, where, case, tuning), tuning, as_json=as_json)
    elif harp is not None:
        _show_harp(named_harp(harp, tuning), where, as_json=as_json)
    else:
        from pathlib import Path

        from reedmill.make.material import make_case_chart

        harps = _case(case, tuning)
        made = make_case_chart(harps, Path(out), look, replace=replace) if to else None
        _show_case(harps, made, as_json=as_json)


def _check_together(
    key: str | None, harp: str | None, case: Sequence[str], to: str | None, *, positions: bool
) -> None:
    """Refuse options that do not go together, or none of those that ask something."""
    from reedmill.base.choosing import known_word
    from reedmill.base.errors import InputError

    if key is None and harp is None and not case:
        raise InputError(
            "say what you know: the key of the song (--key E), a harp (--harp C), or the harps "
            'you own (--case "C, A, D").'
        )
    if harp is not None and case:
        raise InputError(
            "--harp is one harp, and --case are all that you own. Leave out one of them."
        )
    if case and positions:
        raise InputError("--case shows every harp in the position it needs. Leave out --position.")
    if to is None:
        return
    if known_word(to, ("sheet",)) is None:
        raise InputError(f'there is no chart of keys as "{to:.40}". Write --to sheet.')
    if not case or key is not None:
        raise InputError('--to sheet makes a chart of a case: --case "C, A, D" without --key.')


def _case(texts: tuple[str, ...], tuning: str) -> list[Harp]:
    """Return the harps of a case; ``InputError`` for more than anyone carries."""
    from reedmill.base.errors import InputError

    if sum(text.count(",") + 1 for text in texts) > _MOST_HARPS:
        raise InputError(f"a case has room for {_MOST_HARPS} harps. Name fewer.")
    return named_harps(texts, tuning)


def _places(
    song: SongKey, harp: str | None, where: Sequence[Position], case: tuple[str, ...], tuning: str
) -> Sequence[HarpPlace]:
    """Return the harps to take for *song*: of all, of a case, in a position, or a named one."""
    from reedmill.cli.for_keys import places_for_keys
    from reedmill.harp import layout_named
    from reedmill.harp.harp_choices import choices_for, choices_in, position_for

    layout = layout_named(tuning)
    if case:
        return choices_in(song, _case(case, tuning))
    if harp is None and not where:
        return choices_for(song, layout)
    named = [] if harp is None else [named_harp(harp, tuning)]
    return places_for_keys([song], named, where or [position_for(song, named[0])], layout)


def _show_song(song: SongKey, places: Sequence[HarpPlace], tuning: str, *, as_json: bool) -> None:
    """Show the harps to take for *song*, and how to practise on the first of them."""
    from reedmill.formats.keys_data import song_data

    if as_json:
        say_json(song_data(song, places))
        return
    say_heading(f"A song in {song.label}")
    if not places:
        say("", *_without_harp(song, tuning))
        return
    for each in places:
        say("", *_card(each, song))
    say("", *_to_practise(song, places[0], tuning))


def _without_harp(song: SongKey, tuning: str) -> list[str]:
    """Return what to say where no harp of a case is ready for *song*: which would be."""
    from reedmill.harp import layout_named
    from reedmill.harp.harp_choices import choices_for

    would = choices_for(song, layout_named(tuning))
    lines = ["None of these harps is ready for it. These would be:"]
    return [*lines, *(line for each in would for line in ("", *_card(each, song)))]


def _card(place: HarpPlace, song: SongKey | None = None) -> list[str]:
    from reedmill.cli.harp_cards import place_card

    return place_card(place, columns_shown(), song)


def _to_practise(song: SongKey, place: HarpPlace, tuning: str) -> list[str]:
    """Return how to make material for the first choice."""
    from reedmill.cli.folding import folded
    from reedmill.harp import LAYOUTS, RICHTER

    words = [f"--key {shell_quoted(song.label)}"]
    number = place.position.number
    words += [f"--position {number}"] if number != 2 else []
    layout = place.harp.layout
    named = layout.name if layout in LAYOUTS.values() else tuning
    words += [f"--tuning {shell_quoted(named)}"] if layout != RICHTER else []
    return folded(
        f"To practise in this key, add {' '.join(words)} to make, backing, notes or expand.",
        columns_shown(),
    )


def _show_harp(harp: Harp, where: Sequence[Position], *, as_json: bool) -> None:
    """Show what *harp* gives in each of the positions *where*, or in all twelve."""
    from reedmill.formats.keys_data import positions_data
    from reedmill.harp.harp_choices import POSITIONS_THERE_ARE
    from reedmill.harp.harp_places import HarpPlace

    chosen = where or POSITIONS_THERE_ARE
    if as_json:
        say_json(positions_data(harp, chosen))
        return
    say_heading(harp.label)
    for each in chosen:
        say("", *_card(HarpPlace(harp, each)))


def _show_case(harps: Sequence[Harp], made: PlacedFile | None, *, as_json: bool) -> None:
    """Show every key on every harp of a case, or where the chart of it is."""
    from reedmill.formats.keys_data import case_data

    if as_json:
        files = {} if made is None else {"files": [str(made.path)],
                                         "replaced": made.before.value != "nothing"}  # fmt: skip
        say_json(case_data(harps) | files)
    elif made is not None:
        say(f"chart  {made.path}{again(made.before)}")
    else:
        from reedmill.cli.harp_cards import case_table
        from reedmill.harp.harp_choices import keys_of_case

        say_heading("In which position each harp plays a song")
        say("", *case_table(keys_of_case(harps), columns_shown()))
