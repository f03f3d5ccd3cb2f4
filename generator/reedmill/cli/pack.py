"""The commands for lesson packs: ``pack`` builds one, ``clean`` removes what it no longer needs.

Nothing but click is imported at the top.  A build that finds nothing to do imports no more
than it takes to see that.
"""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reedmill.cli.asked import counted
from reedmill.cli.grouping import grouped_options
from reedmill.cli.options import WHOLE, Lenient, WholeNumber, json_option
from reedmill.cli.saying import (
    Redrawn,
    messages_are_seen,
    say,
    say_heading,
    say_json,
    warn,
    warn_each,
)

if TYPE_CHECKING:
    from pathlib import Path

    from reedmill.cli.wanted import PackWanted
    from reedmill.pack.build.building import PoolMaker
    from reedmill.pack.build.forecast import ForecastRow
    from reedmill.pack.build.result import Built, CourseSource, Failure, File
    from reedmill.pack.course.course import Course
    from reedmill.pack.keep.ledger import BuildScope, LedgerEntry

_MOST_SHOWN = 12  # reasons and failures of one kind


@click.command("pack", cls=Lenient, short_help="Build a lesson pack from a course file.")
@click.argument("curriculum", metavar="COURSE.toml")
@click.option(
    "--out",
    metavar="FOLDER",
    help="Where the pack goes; the next build goes on from there.  [default: output/NAME, as the "
    "file]",
)
@click.option("--plan", "only_plan", is_flag=True, help="Say what would be made, and make nothing.")
@click.option("--explain", is_flag=True, help="Say why each thing is made.")
@click.option("--zip", "archive", is_flag=True, help="Also the whole pack as one ZIP file.")
@click.option("--student", metavar="NAME", help="Only the pack of one student.")
@click.option("--lesson", type=WHOLE, metavar="N", help="Only the files of one lesson.")
@click.option(
    "--jobs", type=WholeNumber(1, 64), metavar="N",
    help="How many to make at once.  [default: one for each processor]",
)  # fmt: skip
@click.option(
    "--on",
    "where",
    type=click.Choice(["dask"], case_sensitive=False),
    help="dask: let other machines do the work.",
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Where their Dask scheduler is, for example tcp://10.0.0.5:8786.",
)
@json_option
@grouped_options(wanted="PackWanted")
def pack_command(curriculum: str, out: str | None, as_json: bool, wanted: PackWanted) -> None:
    """Build the lesson pack of COURSE.toml: sheets, sounds, books and a page that opens it.

    \b
    reedmill pack course.toml
    reedmill pack course.toml --out course --plan
    reedmill pack course.toml --out course --student Ada --zip

    Build it again and only what changed is made again; a build that was interrupted picks up
    where it left off.
    """
    from pathlib import Path

    from reedmill.base.text import file_slug
    from reedmill.pack.course.shipped_courses import find_course

    source_file = find_course(curriculum)
    folder = Path(out or f"output/{file_slug(source_file.stem)}")
    _check_place(wanted)
    build_pack(source_file, folder, wanted, as_json=as_json)


def build_pack(source_file: Path, folder: Path, wanted: PackWanted, *, as_json: bool) -> None:
    """Build the pack of the course at *source_file* in *folder*, or plan it, and show that."""
    from reedmill.pack.build.unchanged import inputs_of_build, unchanged

    inputs_seen = inputs_of_build(source_file)
    same = None if wanted.only_plan else unchanged(source_file, folder, wanted.chosen, inputs_seen)
    if same:
        _print_same(folder, same[1], as_json=as_json)
        return
    from reedmill.pack.build.result import CourseSource

    _build(CourseSource(source_file, inputs_seen, wanted.chosen), folder, wanted, as_json=as_json)


def _check_place(wanted: PackWanted) -> None:
    from reedmill.base.errors import InputError

    if wanted.where and not wanted.scheduler:
        raise InputError("--on dask needs to know the scheduler. Add --scheduler tcp://HOST:8786")
    if wanted.scheduler and not wanted.where:
        raise InputError("--scheduler is for --on dask. Add --on dask, or leave both out.")


def _print_same(out: Path, files: list[LedgerEntry], *, as_json: bool) -> None:
    from reedmill.pack.build.build_report import report_nothing_done
    from reedmill.pack.build.result import REUSED, File

    report_nothing_done(out, files)
    if as_json:
        say_json({"files": [_row(File(each, REUSED), out) for each in files], "failed": []})
    else:
        say(f"{out}: nothing has changed, {counted(len(files), 'file')}")
        _print_doors(out, files)


_MOST_ELSEWHERE = 5  # notices; a topic in one position may have a hundred


def _say_elsewhere(notices: list[str]) -> None:
    """Warn of the first few drills outside the positions they are meant for."""
    each_once = list(dict.fromkeys(notices))
    warn_each(each_once[:_MOST_ELSEWHERE])
    more = len(each_once) - _MOST_ELSEWHERE
    if more > 0:
        warn(f"and {counted(more, 'more notice')} of that kind: reedmill check shows them")


def _build(source: CourseSource, out: Path, wanted: PackWanted, *, as_json: bool) -> None:
    """Read the course and build its pack, or plan it."""
    from reedmill.base.stopping import keeps
    from reedmill.base.text import printable
    from reedmill.cli.command_remedies import COMMAND_LINE
    from reedmill.pack.build.building import build, local_pool
    from reedmill.pack.build.progress import InALog, OnTerminal
    from reedmill.pack.course.course_reading import read_course
    from reedmill.pack.course.elsewhere import played_elsewhere
    from reedmill.pack.pages.on_paper import letters_left_out
    from reedmill.pack.plan.pieces import build_scope
    from reedmill.pack.run.workers import usual_workers

    course = read_course(source.curriculum)
    warn_each(course.notices)
    _say_elsewhere([each.notice for each in played_elsewhere(course)])
    scope = build_scope(course, wanted.student, wanted.lesson, archive=wanted.archive)
    workers = wanted.jobs or usual_workers()
    if wanted.only_plan:
        _plan(course, source, out, scope, workers, as_json=as_json, explain=wanted.explain)
        return
    quiet = as_json or not messages_are_seen()
    here, there = local_pool(workers), _dask(wanted.scheduler)
    keeps(printable(
        f"What was finished is kept in {out}: give the same command again, and it makes only the "
        "rest."
    ))  # fmt: skip
    built = build(
        course, source, out, scope, pool=there or here, binders=here if there else None,
        progress=(InALog if quiet else OnTerminal)(Redrawn()), words=COMMAND_LINE,
    )  # fmt: skip
    keeps("")
    warn_each([letters_left_out(course)])
    _print_built(built, as_json=as_json, explain=wanted.explain)
    if built.failed:
        raise SystemExit(1)


def _dask(scheduler: str | None) -> PoolMaker | None:
    if scheduler is None:
        return None
    from reedmill.pack.run.dask_engine import DaskPool

    return lambda scratch: DaskPool(scheduler, scratch)


def _plan(
    course: Course, source: CourseSource, out: Path, scope: BuildScope, workers: int, *,
    as_json: bool, explain: bool,
) -> None:  # fmt: skip
    from reedmill.pack.build.forecast import forecast
    from reedmill.pack.build.progress import lasting, size_in_words

    found = forecast(course, source.curriculum, out, scope)
    if as_json:
        say_json(found.data(workers))
        return
    say_heading(f"{course.title}: the plan for {out}")
    for row in found.rows:
        _print_plan(row, exact=found.exact)
    if any(row.number for row in found.rows):
        say(
            f"  in all about {lasting(found.passing_s(workers))} with "
            f"{counted(workers, 'processor')}, {size_in_words(found.size)} to make, and as much "
            f"again in {out / '.reedmill'}; the pack will have {'' if found.exact else 'about '}"
            f"{counted(found.files, 'file')}"
        )
    _print_failed(found.failed)
    if explain:
        _print_reasons(found.reasons)


def _print_plan(row: ForecastRow, *, exact: bool) -> None:
    """Print one kind of step: how many are to be made, their pages, time and size."""
    from reedmill.pack.build.progress import lasting, size_in_words

    if row.kind == "text":
        say(
            f"  {'texts':<13} {round(row.files):>5}: pages that open the pack, playlists, manifests"
        )
        return
    basis = "as measured here" if row.measured else "as is usual"
    types = f" ({', '.join(row.forms)})" if row.forms else ""
    pages = f", {'' if exact else 'about '}{counted(round(row.pages), 'page')}" if row.pages else ""
    cost = (
        f"; {lasting(row.seconds)} of work, {size_in_words(row.size)} ({basis})"
        if row.number
        else ""
    )
    say(f"  {row.kind:<13} {row.number:>5} to make, {row.ready} ready{types}{pages}{cost}")


def _print_built(built: Built, *, as_json: bool, explain: bool) -> None:
    from reedmill.pack.build.build_report import failure_row
    from reedmill.pack.build.result import REUSED

    if as_json:
        rows = [_row(each, built.out) for each in built.files]
        say_json({"files": rows, "failed": [failure_row(each) for each in built.failed]})
    else:
        reused = sum(each.status == REUSED for each in built.files)
        made = counted(len(built.files) - reused, "file")
        say(f"{built.out}: {made} made, {reused} as they were")
        _print_doors(built.out, [each.placed for each in built.files])
    if explain and not as_json:
        _print_reasons(
            [(each.placed.path, each.why) for each in built.files if each.status != REUSED]
        )
    _print_failed(built.failed)


def _print_doors(out: Path, files: list[LedgerEntry]) -> None:
    """Print what to open of the pack, and what to hand on."""
    from reedmill.pack.build.build_report import doors

    found = doors(files)
    if found.top:
        whither = ": it leads to every student" if found.students else ""
        say(f"Open {out / found.top.path}{whither}")
    for each in found.archives:
        say(f"All of it in one file: {_sized(out, each)}")
    for number, (page, *archives) in enumerate(found.students.values(), start=1):
        if number > _MOST_SHOWN:
            say(f"  and {len(found.students) - _MOST_SHOWN} more students")
            break
        start = "  " if found.top else "Open "
        say(
            f"{start}{'; '.join([str(out / page.path), *(_sized(out, each) for each in archives)])}"
        )
    if not found.top and not found.students:
        for each in found.books[:_MOST_SHOWN]:
            say(f"Open {out / each.path}")


def _sized(out: Path, file: LedgerEntry) -> str:
    from reedmill.pack.build.progress import size_in_words

    return f"{out / file.path}, {size_in_words(file.seen.size)}"


def _row(file: File, out: Path) -> dict[str, object]:
    """Return the JSON row of a file: what it is, what was done with it and why."""
    from reedmill.pack.build.build_report import file_row

    return file_row(file) | file.placed.row(out)


def _print_reasons(reasons: list[tuple[str, str]]) -> None:
    for what, why in reasons:
        say(f"  {what}: {why}")


def _print_failed(failed: list[Failure]) -> None:
    """Print each reason once, with what it kept from being made."""
    reasons: dict[str, list[str]] = {}
    for each in failed:
        reasons.setdefault(each.reason, []).append(each.what)
    for reason, names in reasons.items():
        shown = "; ".join(names[:_MOST_SHOWN])
        left = len(names) - _MOST_SHOWN
        rest = f"; and {left} more" if left > 0 else ""
        first, *more = reason.split("\n")  # where an error points, on lines of its own
        warn(f"not made: {shown}{rest}: {first}", *(f"  {line}" for line in more))


@click.command("clean", cls=Lenient, short_help="Drop what a pack no longer needs.")
@click.argument("folder", metavar="FOLDER")
@json_option
def clean_command(folder: str, as_json: bool) -> None:
    """Remove from a pack's FOLDER what no course built there needs any more.

    \b
    reedmill clean course

    Only files that Reedmill made go, and only while they are as it made them.
    """
    from pathlib import Path

    from reedmill.pack.build.progress import size_in_words
    from reedmill.pack.keep.clean import clean

    out = Path(folder)
    done = clean(out)
    if as_json:
        say_json({"removed": list(done.removed), "kept": list(done.kept), "bytes": done.freed})
        return
    for path in done.removed:
        say(f"removed  {out / path}")
    for path in done.kept:
        say(f"kept     {out / path}: it was changed since it was made")
    for curriculum in done.gone:
        say(f"kept     all files of {curriculum}, although that course is gone")
    freed = size_in_words(done.freed) if done.freed else "nothing"
    say(f"{out}: {counted(len(done.removed), 'file')} removed, {freed} freed")
