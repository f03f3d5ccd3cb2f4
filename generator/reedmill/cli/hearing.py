"""The command that hears takes; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from dataclasses import astuple, replace
from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import (
    again,
    check_phrasing,
    counted,
    file_line,
    harps_of,
    keys_of,
    listed_words,
    pieces_of,
    reference_of,
    unused_look,
)
from reedmill.cli.ending import say_error
from reedmill.cli.grouping import grouped_options
from reedmill.cli.keeping import TakeKeeper, book_place, keeping_options
from reedmill.cli.meant import shell_quoted
from reedmill.cli.options import (
    Lenient,
    complete_drill,
    echo_option,
    json_option,
    over_options,
    paper_options,
    phrasing_options,
    playing_options,
    repeat_option,
    replace_option,
)
from reedmill.cli.saying import (
    can_show,
    columns_shown,
    say,
    say_heading,
    say_json,
    warn_each,
)
from reedmill.cli.ticking import Ticking

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.cli.heard import Signs
    from reedmill.cli.wanted import Listening, Over, Phrasing, Playing, TakeFiles
    from reedmill.ear import HeardNote, HeardTake, ScoreFit, Take
    from reedmill.listening import Told
    from reedmill.score.score import Score
    from reedmill.sheet.look import Look

_MOST_GUESSES = 5


@click.command("hear", cls=Lenient, short_help="Hear how a drill was played, note by note.")
@click.argument("takes", nargs=-1, required=True, metavar="TAKE...", type=click.Path())
@click.option(
    "--drill", metavar="DRILL", shell_complete=complete_drill,
    help="What was played: a title, or a .drill file.  [default: as the take's name tells]",
)  # fmt: skip
@playing_options
@repeat_option
@echo_option
@over_options
@phrasing_options
@click.option(
    "--tolerance", metavar="CENTS",
    help="How far a note may be out to be in tune, then to be nearly so: \"10,25\".  "
    "[default: 10,25]",
)  # fmt: skip
@click.option(
    "--harp-test",
    is_flag=True,
    help="The take has every natural note once, slowly, blow and draw from hole 1 to 10: show how "
    "far each reed of the harp is out.",
)
@click.option(
    "--to", metavar="KIND[,KIND]",
    help="Also make files of each take: sheet (the drill, marked with what was heard), picture "
    "(the pitch over time, PNG and SVG), or both of them.",
)  # fmt: skip
@paper_options
@click.option(
    "--out", metavar="PLACE",
    help="With --to: the folder for the files.  With --harp-test: where the harp is kept for "
    "--my-harp, a .toml file or a folder.  [default with --to: output]",
)  # fmt: skip
@replace_option
@keeping_options
@json_option
@grouped_options(
    playing="Playing", under="Over", phrasing="Phrasing", asked="Listening", shown="TakeFiles"
)  # fmt: skip
def hear_command(
    takes: tuple[str, ...], as_json: bool, playing: Playing, under: Over, phrasing: Phrasing,
    asked: Listening, shown: TakeFiles,
) -> None:  # fmt: skip
    """Hear how a drill was played in each TAKE: a recording, or a folder of them.

    A take is what your phone or computer recorded: M4A, MP3, WAV, FLAC, Ogg, WebM, or a film.
    Play the drill once or several times, at your own tempo.  It stays on this machine.

    \b
    reedmill hear take.m4a --drill "Home from every rung" --harp C
    reedmill hear monday.wav tuesday.wav --drill mine.drill --harp "low F" --tempo 50
    reedmill hear take.m4a --drill "Home from every rung" --student Ada
    reedmill hear take.m4a --drill "Two bars home" --to sheet,picture
    reedmill hear chorus.m4a --phrases --over "Twelve bars" --level 2 --seed 7
    reedmill hear slow.wav --harp-test --harp C --out my-harp.toml
    reedmill hear take.m4a --drill "Home from every rung" --my-harp my-harp.toml

    Every note is compared with its place on the harp as it is tuned, and with the anchor you
    played just before.  What can be heard is the pitch: not which of two holes with one note it
    was, and not how the lips and the tongue made it.

    Record with the harp a hand's width from the microphone, and with noise suppression off.  Stop
    and breathe normally if you feel dizzy.
    """
    from reedmill.listening import take_files
    from reedmill.sheet.look import look_named

    _check_takes(takes)
    files = take_files(_paths(takes))
    _check_asked(asked, shown)
    if asked.harp_test:
        _check_of_test(playing, under, phrasing, asked)
    check_phrasing(phrasing)
    look = look_named(shown.paper, large=shown.large, black=shown.black)
    remedy = "Leave it out." if asked.harp_test else "Add one: --to sheet"
    warn_each([unused_look(look, drawn=shown.to is not None, remedy=remedy)])
    if asked.harp_test:
        _test_harp(files, playing, shown.out, replace=shown.replace, as_json=as_json)
        return
    _Hearing(playing, under, phrasing, asked, shown, look, as_json=as_json).all(files)


def _check_takes(names: Sequence[str]) -> None:
    """Refuse an empty name, and the title of a drill in the place of a recording."""
    import os

    from reedmill.base.errors import InputError
    from reedmill.library import is_title

    for name in names:
        if not name.strip():
            raise InputError('the name of a take is empty: "". Name the file of your recording.')
        if not os.path.lexists(name) and is_title(name):
            raise InputError(
                f'"{name}" is a drill, not a recording. Name the recording, then the drill: '
                f"reedmill hear take.m4a --drill {shell_quoted(name)}"
            )


def _paths(names: Sequence[str]) -> list[Path]:
    from pathlib import Path

    return [Path(name) for name in names]


def _check_asked(asked: Listening, shown: TakeFiles) -> None:
    from reedmill.base.errors import InputError
    from reedmill.practice.practice import Practice

    Practice(repeats=asked.repeat, echo_bars=asked.echo)
    if shown.out is not None and not (asked.harp_test or shown.to):
        raise InputError(
            "--out is where files go, and none are asked for. Add --to sheet, or leave it out."
        )
    if shown.to is not None and asked.harp_test:
        raise InputError(
            "--to is for takes of a drill. Leave out --to, or --harp-test: --out keeps a harp."
        )
    if asked.harp_test and asked.drill is not None:
        raise InputError(
            "--harp-test is for a take of all natural notes. Leave out --drill, or --harp-test."
        )
    if asked.harp_test and asked.keeps:
        raise InputError(
            "--student and --book keep takes of a drill, and a harp test is not one. Leave them "
            "out, or --harp-test: --out keeps a harp."
        )


def _check_of_test(playing: Playing, under: Over, phrasing: Phrasing, asked: Listening) -> None:
    """Refuse options of a drill in a harp test, where they would change nothing."""
    from reedmill.base.errors import InputError

    given = {
        "--key": bool(playing.keys),
        "--position": bool(playing.positions),
        "--embouchure": bool(playing.embouchures),
        "--temperament": playing.temperament.casefold() != "equal",
        "--tempo": playing.tempo is not None,
        "--intonation": playing.intonation != "equal",
        "--offsets": playing.offsets is not None,
        "--repeat": asked.repeat != 1,
        "--echo": asked.echo is not None,
        "--tolerance": asked.tolerance is not None,
        "--over": under.over is not None,
        "--phrases": phrasing.phrases,
        "--level": phrasing.level is not None,
        "--rungs": phrasing.rungs is not None,
    }
    unused = [name for name, is_given in given.items() if is_given]
    if unused:
        raise InputError(
            f"{listed_words(unused)} {'is' if len(unused) == 1 else 'are'} for takes of a drill, "
            "and a harp test is of the harp alone. "
            f"Leave {'it' if len(unused) == 1 else 'them'} out."
        )


# --- takes of a drill -----------------------------------------------------------------------


class _Hearing:
    """The takes of one command: hears each, shows it, and sums up where there are several."""

    def __init__(
        self, playing: Playing, under: Over, phrasing: Phrasing, asked: Listening,
        shown: TakeFiles, look: Look, *, as_json: bool,
    ) -> None:  # fmt: skip
        from reedmill.ear import Tolerance
        from reedmill.make.heard_files import heard_kinds

        self.playing, self.under, self.asked, self.as_json = playing, under, asked, as_json
        self.phrasing, self.shown = phrasing, shown
        self.kinds = heard_kinds(shown.to) if shown.to is not None else ()
        self.look = look
        self.files: list[dict[str, object]] = []
        self.tolerance = Tolerance.parse(asked.tolerance) if asked.tolerance else Tolerance()
        self.data: list[dict[str, object]] = []
        self.together: dict[str, list[tuple[HeardNote, ...]]] = {}  # by what the takes are of
        # what is wrong with them is said before a take is read
        harps_of(playing), keys_of(playing)
        is_named = asked.drill is not None or phrasing.phrases
        self.named = self._scores(asked.drill, playing) if is_named else []
        self.keeper = self._keeper()

    def _keeper(self) -> TakeKeeper | None:
        """Return the record book the takes go into, opened before any of them is heard."""
        if not self.asked.keeps:
            return None
        keeper = TakeKeeper(book_place(self.asked.book), self.asked.student)
        try:
            keeper.check_whose()
        except BaseException:
            keeper.close()
            raise
        return keeper

    def all(self, files: Sequence[Path]) -> None:
        """Hear *files*; name one that cannot be heard, and go on with the others."""
        try:
            failed = self._each(files)
        finally:
            if self.keeper is not None:
                self.keeper.close()
        self._finish()
        if failed:
            raise SystemExit(failed)

    def _each(self, files: Sequence[Path]) -> int:
        """Hear *files*; return the exit code of what failed."""
        from reedmill.base.errors import InputError

        failed = 0
        for file in files:
            try:
                heard, row = self._one(file)
            except InputError as error:
                if len(files) == 1:
                    raise
                failed = say_error(error)
                continue
            self.data.append(row)
            if not self.as_json:
                self._show(heard, key=len(files) == 1)
            failed = self._keep(row) or failed
            self._draw(heard, file)
        return failed

    def _keep(self, row: dict[str, object]) -> int:
        """Put a take into the record book, where one is asked for; return the exit code."""
        from reedmill.base.errors import ReedmillError

        if self.keeper is None:
            return 0
        try:
            added = self.keeper.add_heard(row)
        except ReedmillError as error:  # what was heard is shown all the same
            return say_error(error)
        if not self.as_json:
            there = "" if added.new else ", and was there already"
            say("", f"kept    as {added.student}'s in {self.keeper.place}{there}")
        return 0

    def _finish(self) -> None:
        """Print the summary once all takes are heard."""
        if self.as_json:
            say_json({"takes": self.data} | ({"files": self.files} if self.kinds else {}))
        for what, takes in self.together.items():
            if len(takes) > 1:
                self._show_together(what, takes)

    def _one(self, file: Path) -> tuple[HeardTake, dict[str, object]]:
        from reedmill.ear import read_take, take_data
        from reedmill.listening import recorded_at, source_sha256

        with Ticking(quiet=self.as_json):
            take = read_take(file)
            heard = self._heard(take, self._score_of(take))
        score, at = heard.score, recorded_at(take)
        return heard, take_data(heard, recorded=at, source_sha256=source_sha256(score))

    def _draw(self, heard: HeardTake, file: Path) -> None:
        """Write the files of a take that are asked for, and print their paths."""
        if not self.kinds:
            return
        from pathlib import Path

        from reedmill.base.reading import shown_name
        from reedmill.ear.leaving_footprints import footprints_of
        from reedmill.make.heard_files import HEARD_FILES, make_heard

        out = Path(self.shown.out or "output")
        with Ticking(quiet=self.as_json):
            made = make_heard(
                heard.score, footprints_of(heard), file, self.kinds, out, self.look,
                replace=self.shown.replace,
            )  # fmt: skip
        if not self.as_json:
            say("")
        for kind, placed in made:
            self.files.append({"take": shown_name(file), "kind": kind, "file": str(placed.path)})
            if not self.as_json:
                say(file_line(kind, HEARD_FILES, placed.path, placed.before))

    def _heard(self, take: Take, score: Score) -> HeardTake:
        """Hear *take* against *score*; of another drill, say which one it sounds like."""
        from reedmill.base.errors import InputError
        from reedmill.ear import AnotherDrillError, hear
        from reedmill.listening import library_fits

        try:
            return hear(take, score, self.tolerance)
        except AnotherDrillError as error:
            found = library_fits(take)
            if not found or found[0].score.title == score.title:
                raise
            raise InputError(
                f"{error} It sounds like {_drill_on(found[0])}. Write: {_as_options(found[0])}"
            ) from None

    def _score_of(self, take: Take) -> Score:
        """Return the score that was named, or the one that the take's tags or name tell."""
        from reedmill.listening import told_by

        scores = self.named
        if not scores:
            told = told_by(take)
            if told is None:
                raise _which(take)
            scores = self._scores(told.title, _as_told(self.playing, told))
        return scores[0] if len(scores) == 1 else _best_of(take, scores)

    def _scores(self, drill: str | None, playing: Playing) -> list[Score]:
        """Return each piece of *drill* once: how the mouth picks out a hole is not heard.

        Of phrases it is the form they fill, from the phrases of *drill* alone where it is named.
        """
        from reedmill.base.errors import InputError
        from reedmill.practice.answering import answered

        found: dict[str, Score] = {}
        wanted = () if drill is None else (drill,)
        scores = pieces_of(wanted, playing, self.under, self.phrasing).scores
        for score in scores:
            found.setdefault(score.title, score)
        if playing.embouchures and len(scores) > len(found):
            raise InputError(
                "a take is played in one way, and --embouchure names several. Name the one it was."
            )
        where = {(score.harp, score.position) for score in scores}
        if len(where) > 1:
            raise InputError(
                f"a take is compared with one harp in one position, and {len(where)} are named. "
                "Give the command once for each."
            )
        echo = self.asked.echo
        return [each if echo is None else answered(each, echo) for each in found.values()]

    def _show(self, heard: HeardTake, *, key: bool) -> None:
        from reedmill.cli.folding import folded
        from reedmill.cli.heard import heading, take_lines

        width, what = columns_shown(), heading(heard)
        if self.together:
            say("")
        self.together.setdefault(what, []).append(heard.notes)
        for line in folded(what, width, "  "):
            say_heading(line)
        say(*take_lines(heard, width, _signs(), asked_times=self.asked.repeat, key=key))

    def _show_together(self, what: str, takes: Sequence[tuple[HeardNote, ...]]) -> None:
        """Show the rungs of several takes of one drill and harp as if they were one."""
        from reedmill.cli.folding import folded
        from reedmill.cli.heard import rung_lines
        from reedmill.ear import by_rung

        width, notes = columns_shown(), [note for take in takes for note in take]
        say("")
        all_of_them = "both takes" if len(takes) == 2 else f"all {len(takes)} takes"
        for line in folded(f"{what}: {all_of_them} together", width, "  "):
            say_heading(line)
        say(*rung_lines(by_rung(notes), notes, self.tolerance, width, _signs()))


def _signs() -> Signs:
    from reedmill.cli.heard import DRAWN, TYPED

    return DRAWN if can_show("".join(astuple(DRAWN))) else TYPED


def _as_told(playing: Playing, told: Told) -> Playing:
    """Return *playing* completed by what the take says of itself."""
    return replace(
        playing,
        harps=playing.harps or ((told.harp,) if _asks_harp(playing) and told.harp else ()),
        positions=playing.positions or ((told.position,) if told.position else ()),
        tempo=told.tempo_bpm if playing.tempo is None else playing.tempo,
        reference=told.reference_hz if playing.reference is None else playing.reference,
        intonation=told.intonation or playing.intonation,
    )


def _asks_harp(playing: Playing) -> bool:
    """Tell whether nothing that was typed says which harp it is."""
    return not (playing.keys or playing.my_harp)


def _best_of(take: Take, scores: Sequence[Score]) -> Score:
    """Return the one of several drills of a file that is played in *take*."""
    from reedmill.base.errors import InputError
    from reedmill.ear import fits

    found = [each for each in fits(take, scores) if each.harp == each.score.harp]
    if not found:
        raise InputError(
            f"{take.name}: what is played here is none of the {len(scores)} drills that are named, "
            f"on {scores[0].harp.spoken}. Name the drill and the harp of this take."
        )
    return found[0].score


def _which(take: Take) -> InputError:
    """Return the question which drill a take is of, with those of the library it sounds like."""
    from reedmill.base.errors import InputError
    from reedmill.listening import library_fits

    found = library_fits(take)
    if not found:
        return InputError(
            f"{take.name}: nothing says which drill this is, and none of the library is like it. "
            "Name the drill and the harp: --drill mine.drill --harp C"
        )
    rows = [
        f"  {_drill_on(each)}: {each.good} of {counted(each.compared, 'note')} right"
        for each in found[:_MOST_GUESSES]
    ]
    return InputError(
        f"{take.name}: nothing says which drill this is. It sounds most like:",
        *rows,
        f"Name the right one, for example: {_as_options(found[0])}",
    )


def _drill_on(fit: ScoreFit) -> str:
    return f'"{fit.score.title}" on {fit.harp.spoken}'


def _as_options(fit: ScoreFit) -> str:
    """Return what to type for the drill and harp of *fit*."""
    position = fit.score.position.number
    title, harp = shell_quoted(fit.score.title), shell_quoted(fit.harp.name)
    return f"--drill {title} --harp {harp} --position {position}"


# --- a take of a harp -------------------------------------------------------------------------


def _test_harp(
    files: Sequence[Path], playing: Playing, out: str | None, *, replace: bool, as_json: bool
) -> None:
    """Show how far every reed is out, and save the harp where that is asked for."""
    from reedmill.base.errors import InputError
    from reedmill.cli.heard import harp_lines
    from reedmill.ear import hear_harp, read_take, tested_data
    from reedmill.expand import check_reference
    from reedmill.make.own_harp_file import keep_own_harp

    harps = harps_of(playing)
    if len(files) != 1 or len(harps) != 1:
        raise InputError(
            "--harp-test takes one recording of one harp. Give the command once for each."
        )
    reference = reference_of(playing)
    check_reference(reference)
    with Ticking(quiet=as_json):
        tested = hear_harp(read_take(files[0]), harps[0], reference)
    placed = keep_own_harp(tested.own_harp, harps[0], out, tested.missing, replace=replace) if (
        out is not None) else None  # fmt: skip
    if as_json:
        say_json(tested_data(tested) | {"file": str(placed.path) if placed else None})
        return
    say_heading(f"Harp test: {harps[0].label}")
    say(*harp_lines(tested, columns_shown(), _signs()))
    if placed:
        say("", f"kept    {placed.path}{again(placed.before)}")
    else:
        say("", "Keep this harp for --my-harp with: --out my-harp.toml")
