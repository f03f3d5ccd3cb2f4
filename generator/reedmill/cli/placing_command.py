"""The command that tells a player's level, and a path; only click is imported at the top."""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import click

from reedmill.cli.asked import again, counted, harp_asked, listed_words
from reedmill.cli.ending import say_error
from reedmill.cli.keeping import book_option, book_place
from reedmill.cli.meant import shell_quoted
from reedmill.cli.options import (
    Lenient,
    WholeNumber,
    complete_harp,
    json_option,
    key_option,
    options,
    replace_option,
)
from reedmill.cli.progressing import student_of
from reedmill.cli.saying import columns_shown, say, say_heading, say_json
from reedmill.cli.ticking import Ticking

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from reedmill.coaching.learning_path import PathStep
    from reedmill.coaching.level_model import LevelFound
    from reedmill.coaching.placement import Placement, TaskHeard
    from reedmill.harp import Harp
    from reedmill.make.material import Made
    from reedmill.record import KeptTake
    from reedmill.score.score import Score
    from reedmill.theory.positions import Position

_MOST_STEPS = 500


@click.command("place", cls=Lenient, short_help="Tell a level by ten short tasks, and a path.")
@click.argument("takes", nargs=-1, metavar="[TAKE]...", type=click.Path())
@click.option(
    "--harp", metavar="KEY", shell_complete=complete_harp,
    help="The harp: C, Bb, F#, 'low F', 'high G'.  [default: as the takes' names tell, or C]",
)  # fmt: skip
@options(key_option)
@click.option(
    "--position", metavar="N",
    help="The positions of the path, with commas between.  [default: the one that was played most, "
    "or 2nd]",
)  # fmt: skip
@click.option(
    "--student", metavar="NAME",
    help="Tell the level of a student by the newest take of each task in the record book.",
)  # fmt: skip
@options(book_option)
@click.option(
    "--level", type=WholeNumber(1, 5), metavar="N",
    help="Show the path from this level, without any take.",
)  # fmt: skip
@click.option(
    "--steps", type=WholeNumber(1, _MOST_STEPS), default=12, show_default=True, metavar="N",
    help="How many drills of the path to show.",
)  # fmt: skip
@click.option(
    "--out", metavar="FOLDER", help="Make the sheets and tones of the ten tasks there."
)  # fmt: skip
@options(replace_option, json_option)
def place_command(
    takes: tuple[str, ...], harp: str | None, key: str | None, position: str | None,
    student: str | None, book: str | None, level: int | None, steps: int, out: str | None,
    replace: bool, as_json: bool,
) -> None:  # fmt: skip
    """Tell a player's level, 1 to 5, by ten short tasks, and the drills to play from there.

    \b
    reedmill place --harp C --out tasks
    reedmill place recordings --harp C
    reedmill place --student Ada
    reedmill place --level 2 --position "2nd, 3rd"

    Without a TAKE it shows the ten tasks, and --out makes their sheets and tones.  Play each once
    and record it; a TAKE is such a recording, or a folder of them, named by the number of its
    task: task-3.m4a.  A task is passed with seven of ten of its notes in place, and all tasks
    together tell the level, so that one bad take does no harm.

    Rest between the tasks.  Stop and breathe normally if you feel dizzy; rest lips and jaw.  If
    dizziness or pain comes back, ask a teacher or a doctor.
    """
    from reedmill.harp import Harp
    from reedmill.theory.positions import Position

    _check_one_way(takes, student, book, level, out)
    positions = () if position is None else Position.parse_list(position)
    on = None
    if harp is not None or key is not None:
        on = harp_asked(harp, key, positions[0] if positions else Position(2), "richter")
    if level is not None:
        found = _Found(on or Harp("C"), positions or (Position(2),), steps, level=level)
    elif student is not None:
        found = _of_book(book_place(book), student, on, positions, steps)
    elif takes:
        found = _of_takes(takes, on, positions, steps, quiet=as_json)
    else:
        _check_of_tasks(position)
        _tasks(on or Harp("C"), out, replace=replace, as_json=as_json)
        return
    if as_json:
        say_json(_data(found))
    else:
        _show(found)
    if found.failed:
        raise SystemExit(found.failed)


def _check_one_way(
    takes: Sequence[str], student: str | None, book: str | None, level: int | None, out: str | None
) -> None:
    """Refuse two ways of telling a level in one command."""
    from reedmill.base.errors import InputError

    given = {
        "takes": bool(takes), "--student": student is not None, "--level": level is not None,
        "--out": out is not None,
    }  # fmt: skip
    ways = [name for name, is_given in given.items() if is_given]
    if len(ways) > 1:
        raise InputError(
            f"{listed_words(ways)} do not go together: --out makes the ten tasks, takes or "
            "--student tell the level by them, and --level says it. Give one of them."
            + (
                " To keep takes in the record book, hear them first: reedmill hear takes "
                "--student Ada"
                if takes and student is not None
                else ""
            )
        )
    if book is not None and student is None:
        raise InputError("--book is where a student's takes are. Name the student: --student Ada")
    if any(not name.strip() for name in takes):
        raise InputError('the name of a take is empty: "". Name the file of your recording.')


def _check_of_tasks(position: str | None) -> None:
    from reedmill.base.errors import InputError

    if position is not None:
        raise InputError(
            "--position is for the path, and the ten tasks are alike in every position. Leave it "
            "out, or name takes, a --student or a --level."
        )


# --- the ten tasks --------------------------------------------------------------------------


def _tasks(harp: Harp, out: str | None, *, replace: bool, as_json: bool) -> None:
    """Show the ten tasks, and make them where a folder is named."""
    from reedmill.expand import expand
    from reedmill.library import placement_tasks, usual_position

    tasks = placement_tasks()
    scores = [expand(each.drill, harp, usual_position(each.drill)) for each in tasks]
    made = [] if out is None else _make(scores, out, replace=replace, quiet=as_json)
    if as_json:
        files = [_file_row(each) for each in made]
        say_json({"harp": harp.full_name, "tasks": _task_rows(scores), "files": files})
        return
    _show_tasks(harp, scores, made)


def _make(scores: Sequence[Score], out: str, *, replace: bool, quiet: bool) -> list[Made]:
    from pathlib import Path

    from reedmill.make.early import early_engraver
    from reedmill.make.material import make

    formats = ("sheet", "wav")
    with Ticking(quiet=quiet) as shown, early_engraver(formats) as engraver:
        return make(
            scores, Path(out), formats, engraver=engraver, progress=shown.done, replace=replace
        )


def _show_tasks(harp: Harp, scores: Sequence[Score], made: Sequence[Made]) -> None:
    from reedmill.cli.folding import folded
    from reedmill.coaching.evening_course import CAUTION

    width = columns_shown()
    say_heading(f"Ten tasks that tell your level, on {harp.spoken}")
    for row in _task_rows(scores):
        line = f"{row['title']} (level {row['level']}): {row['about']} Name the take {row['take']}."
        say("", *folded(line, width, "  "))
    for each in made:
        say(*([""] if each is made[0] else []), f"{each.path}{again(each.before)}")
    typed = shell_quoted(harp.name)
    if not made:
        make = f"Make their sheets and tones: reedmill place --harp {typed} --out tasks"
        say("", *folded(make, width))
    for text in (f"{_HOW} reedmill place recordings --harp {typed}", CAUTION):
        say("", *folded(text, width))


_HOW = (
    "Listen to a task's tones once. Then play it once by yourself, as you are today, and record "
    "it: each takes less than twenty seconds. Where two tasks in a row do not come at all, stop "
    "there. Put the recordings in a folder of their own, and let them be heard:"
)


def _task_rows(scores: Sequence[Score]) -> list[dict[str, object]]:
    from reedmill.coaching.placement import asked_tabs
    from reedmill.library import placement_tasks

    return [
        {
            "task": number,
            "title": task.drill.title,
            "about": task.drill.about or "",
            "level": task.drill.level or 1,
            "asks": list(asked_tabs(task)),
            "seconds": round(float(score.seconds(score.length)), 1),
            "take": f"task-{number}.m4a",
        }
        for number, (task, score) in enumerate(zip(placement_tasks(), scores, strict=True), start=1)
    ]


def _file_row(made: Made) -> dict[str, object]:
    from reedmill.coaching.placement import task_number

    return {
        "task": task_number(made.drill),
        "path": str(made.path),
        "kind": made.kind,
        "replaced": made.replaced,
    }


# --- a level --------------------------------------------------------------------------------


class _Found(NamedTuple):
    """A player's level, with the harp, the positions and the length of the path to show."""

    harp: Harp
    positions: Sequence[Position]
    steps: int
    level: int
    placement: Placement | None = None
    student: str | None = None
    by_sound: Sequence[tuple[str, int]] = ()  # files without a name that tells, and their tasks
    failed: int = 0  # the exit code of what could not be heard

    def path(self) -> tuple[PathStep, ...]:
        """Return the whole path."""
        from reedmill.coaching.learning_path import learning_path

        fallen = self.placement.on(self.harp).fallen if self.placement else None
        return learning_path(self.begins_at, self.harp, self.positions, fallen)

    @property
    def begins_at(self) -> int:
        """The level of the path: that of its harp's register, where it is told."""
        return self.placement.on(self.harp).level if self.placement else self.level


def _of_takes(
    names: Sequence[str], harp: Harp | None, positions: Sequence[Position], steps: int, *,
    quiet: bool,
) -> _Found:  # fmt: skip
    """Hear the takes; name one that cannot be heard, and go on with the others."""
    from pathlib import Path

    from reedmill.base.errors import InputError
    from reedmill.base.reading import shown_name
    from reedmill.listening import take_files

    files = take_files([Path(name) for name in names])
    takes: list[KeptTake] = []
    by_sound: list[tuple[str, int]] = []
    failed = 0
    for file in files:
        try:
            with Ticking(quiet=quiet):
                take, number = _heard(file, harp)
            takes.append(take)
            by_sound += [(shown_name(file), number)] if number else []
        except InputError as error:
            if len(files) == 1:
                raise
            failed = say_error(error)
    if failed and not takes:
        raise SystemExit(failed)
    return _placed(takes, harp, positions, steps)._replace(by_sound=by_sound, failed=failed)


def _heard(file: Path, harp: Harp | None) -> tuple[KeptTake, int]:
    """Return what is heard in *file*, and the number of its task if only its sound tells that."""
    from reedmill.base.errors import InputError
    from reedmill.coaching.placement import task_number
    from reedmill.ear import AnotherDrillError, hear, read_take, take_data
    from reedmill.expand import expand
    from reedmill.listening import recorded_at, task_told
    from reedmill.record import KeptTake

    take = read_take(file)
    told = task_told(take, harp)
    try:
        heard = hear(take, expand(told.task.drill, told.harp, told.position))
    except AnotherDrillError as error:
        raise InputError(f"{error} Record that task once more.") from None
    number = task_number(told.task.drill.title) if told.by == "sound" else None
    return KeptTake(take_data(heard, recorded=recorded_at(take))), number or 0


def _of_book(
    place: Path, name: str, harp: Harp | None, positions: Sequence[Position], steps: int
) -> _Found:
    from datetime import UTC, datetime

    from reedmill.base.errors import InputError
    from reedmill.coaching.placement import newest_by_register, newest_takes
    from reedmill.coaching.practice_history import PracticeHistory
    from reedmill.record import open_book

    with open_book(place) as opened:
        student = student_of(opened, name).name
        played = list(opened.played(student))
    takes = newest_takes(played)
    if not takes:
        raise InputError(
            f"{student} has played none of the ten tasks yet. Make them with: reedmill place --out "
            "tasks, and keep the takes with: reedmill hear TAKE --student NAME"
        )
    usual = (PracticeHistory.of(played, datetime.now(UTC)).position,)
    each_register = newest_by_register(played)
    found = _placed(takes, harp, positions or usual, steps, each_register)
    return found._replace(student=student)


def _placed(
    takes: Sequence[KeptTake], harp: Harp | None, positions: Sequence[Position], steps: int,
    of_registers: Sequence[KeptTake] | None = None,
) -> _Found:  # fmt: skip
    """Return what *takes* tell, with a path on the harp and in the position of most of them."""
    from collections import Counter

    from reedmill.coaching.placement import place_player
    from reedmill.theory.positions import Position

    placement = place_player(takes, of_registers)
    [(most, _)] = Counter(take.position for take in takes).most_common(1)
    return _Found(
        harp or placement.harps[0], positions or (Position(most),), steps, placement.level,
        placement,
    )  # fmt: skip


# --- for people -----------------------------------------------------------------------------


def _show(found: _Found) -> None:
    from reedmill.cli.folding import folded
    from reedmill.coaching.evening_course import CAUTION

    if found.placement is None:
        say_heading(f"From level {found.level}")
    else:
        _show_placement(found.placement, found.student)
        if found.by_sound:
            told = listed_words([f"{name} is task {number}" for name, number in found.by_sound])
            say("", *folded(f"Told by the sound alone: {told}.", columns_shown()))
    path = found.path()
    shown = path[: found.steps]
    where = listed_words([each.ordinal for each in found.positions])
    level = f", from level {found.begins_at}" if found.begins_at != found.level else ""
    of_all = f"the first {len(shown)} of {len(path)}" if len(shown) < len(path) else f"{len(path)}"
    say("")
    say_heading(
        f"The path from here: {of_all} drills, on {found.harp.spoken}, {where} position{level}"
    )
    for number, step in enumerate(shown, start=1):
        say(*_step(number, step))
    if len(shown) < len(path):
        say("", f"All of it: --steps {len(path)}")
    say("", *folded(CAUTION, columns_shown()))


def _step(number: int, step: PathStep) -> list[str]:
    from reedmill.cli.folding import folded
    from reedmill.theory.positions import Position

    where = f"level {step.level}, {Position(step.position).ordinal}, at {step.tempo}"
    start, width = f"{number:>3}. ", columns_shown()
    lines = folded(f"{step.title} ({where})", width, "     ", start)
    return lines + folded(step.why, width, "     ", "     ")


def _show_placement(placement: Placement, student: str | None) -> None:
    from reedmill.cli.folding import folded
    from reedmill.cli.picture import text_columns

    told = len(placement.tasks) - len(placement.untold)
    who = f"{student}: level" if student else "Level"
    say_heading(f"{who} {placement.level}, by {told} of the ten tasks")
    rows = [_task_cells(each) for each in placement.tasks]
    say(
        "", *text_columns(("task", "level", "in place", "of 100", "", "fell out"), rows).split("\n")
    )
    for line in _sentences(placement):
        say("", *folded(line, columns_shown()))


def _task_cells(task: TaskHeard) -> tuple[str, ...]:
    lowest, highest = (round(100 * each) for each in task.bounds)
    fallen = ", ".join(f"{each.tab} {each.in_place} of {each.tries}" for each in task.fallen)
    return (
        task.task.drill.title, str(task.level),
        f"{task.in_place} of {task.tries}" if task.tries else "-",
        f"{lowest} to {highest}" if task.is_told else "-",
        _OUTCOMES[_outcome(task)], fallen,
    )  # fmt: skip


_OUTCOMES = {"passed": "passed", "not-yet": "not yet", "not-told": "not told"}


def _outcome(task: TaskHeard) -> str:
    if not task.is_told:
        return "not-told"
    return "passed" if task.passed else "not-yet"


def _sentences(placement: Placement) -> list[str]:
    """Return what the level rests on, and what could not be told."""
    said = [
        'A task is passed with seven of ten of the notes it asks for within 25 cents. "of 100" '
        "is where the true share is likely to lie. The level is the likeliest by all tasks "
        "together, one of which may be a bad take."
    ]
    lowest, highest = placement.found.between
    if lowest != highest:
        said.append(
            f"It may be anything from {lowest} to {highest}: what was heard does not tell for sure."
        )
    heard = max(each.level for each in placement.tasks if each.is_told)
    if placement.level == heard and heard < placement.tasks[-1].level:
        said.append(f"Nothing above level {heard} was heard, so it may be more.")
    said += [
        f"{each.task.drill.title}: this does not go with the level. Was it a bad take? Record it "
        "once more."
        for each in placement.doubtful
    ]
    untold = [_untold(each) for each in placement.untold]
    if untold:
        said.append(f"Could not be told: {listed_words(untold)}.")
    return said + _on_several_harps(placement)


def _on_several_harps(placement: Placement) -> list[str]:
    """Return what takes on several harps tell: the level in each register, where there are two."""
    harps = [each.full_name for each in placement.harps]
    if len(placement.registers) > 1:
        told = [_register_words(name, on.found) for name, on in placement.registers.items()]
        return [f"By the takes of each alone: {'; '.join(told)}. Their reeds bend differently."]
    if len(harps) > 1:
        return [
            f"Takes on several harps ({', '.join(harps)}) were counted together; reeds of other "
            "harps bend differently."
        ]
    return []


def _register_words(name: str, found: LevelFound) -> str:
    lowest, highest = found.between
    unsure = "" if found.is_sure else f" (it may be {lowest} to {highest})"
    return f"level {found.level} on {name} harps{unsure}"


def _untold(task: TaskHeard) -> str:
    if not task.takes:
        return f"task {task.number} (no take of it)"
    return f"task {task.number} (only {counted(task.tries, 'clear note')})"


# --- for programs ---------------------------------------------------------------------------


def _data(found: _Found) -> dict[str, object]:
    from reedmill.harp.harp_registers import register

    placement, path = found.placement, found.path()
    return {
        "student": found.student,
        "level": found.level,
        "between": list(placement.found.between) if placement else None,
        "registers": [
            {"register": name, "level": each.level, "between": list(each.found.between)}
            for name, each in (placement.registers.items() if placement else ())
        ],
        "likely": [round(each, 3) for each in placement.found.likely] if placement else None,
        "tasks": [_task_row(each) for each in placement.tasks] if placement else [],
        "by_sound": [{"take": name, "task": number} for name, number in found.by_sound],
        "doubtful": [each.number for each in placement.doubtful] if placement else [],
        "harp": found.harp.full_name,
        "register": register(found.harp),
        "positions": [each.number for each in found.positions],
        "drills": len(path),
        "path": [_step_row(each) for each in path[: found.steps]],
    }


def _task_row(task: TaskHeard) -> dict[str, object]:
    lowest, highest = task.bounds
    return {
        "task": task.number,
        "title": task.task.drill.title,
        "level": task.level,
        "outcome": _outcome(task),
        "takes": task.takes,
        "tries": task.tries,
        "in_place": task.in_place,
        "unclear": task.unclear,
        "lowest_share": round(lowest, 3),
        "highest_share": round(highest, 3),
        "notes": [
            {"tab": each.tab, "tries": each.tries, "in_place": each.in_place,
             "fell_out": each.fell_out}
            for each in task.rungs
        ],
    }  # fmt: skip


def _step_row(step: PathStep) -> dict[str, object]:
    return {
        "drill": step.title,
        "topic": step.topic,
        "level": step.level,
        "harp": step.harp,
        "position": step.position,
        "tempo": step.tempo,
        "new": list(step.new),
        "fell_out": [each.tab for each in step.fallen],
        "begins": list(step.begins),
        "why": step.why,
    }
