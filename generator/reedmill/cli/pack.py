"""The commands for lesson packs: ``pack`` builds one, ``clean`` drops what it no longer needs.

Nothing but click is imported at the top.  A build that finds nothing to do imports no more
than it takes to see that.
"""

# ruff: noqa: D301  click wants the backspace sign itself where lines are not to be joined

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from reedmill.cli.asked import counted
from reedmill.cli.options import WHOLE, json_option
from reedmill.cli.saying import Redrawn, messages_are_seen, say, say_heading, say_json, warn

if TYPE_CHECKING:
    from pathlib import Path

    from reedmill.pack.build import CrewMaker
    from reedmill.pack.course import Course
    from reedmill.pack.ledger import Placed, Share
    from reedmill.pack.result import Built, Failure, File, Source

_MOST_SHOWN = 12  # reasons and failures of one kind


@click.command("pack", short_help="Build a lesson pack from a curriculum file.")
@click.argument("curriculum", metavar="CURRICULUM.toml")
@click.option(
    "--out",
    metavar="FOLDER",
    help="Where the pack goes; built on there next time.  [default: output/NAME, as the file]",
)
@click.option("--plan", "only_plan", is_flag=True, help="Say what would be made, and make nothing.")
@click.option("--explain", is_flag=True, help="Say why each thing is made.")
@click.option("--zip", "archive", is_flag=True, help="Also the whole pack as one ZIP file.")
@click.option("--student", metavar="NAME", help="Only the pack of one student.")
@click.option("--lesson", type=WHOLE, metavar="N", help="Only the files of one lesson.")
@click.option(
    "--jobs", type=click.IntRange(1, 64), metavar="N",
    help="How many to make at once.  [default: one for each processor]",
)  # fmt: skip
@click.option(
    "--on", "where", type=click.Choice(["dask"]), help="dask: make it on an existing scheduler."
)
@click.option(
    "--scheduler",
    metavar="ADDRESS",
    help="Where that scheduler is, for example tcp://10.0.0.5:8786.",
)
@json_option
def pack_command(curriculum: str, out: str | None, as_json: bool, **options: Any) -> None:
    """Build the lesson pack of CURRICULUM.toml: sheets, sounds, books and a page that opens it.

    \b
    reedmill pack course.toml
    reedmill pack course.toml --out course --plan
    reedmill pack course.toml --out course --student Ada --zip

    Build it again and only what changed is made again; a build that was interrupted picks up
    where it left off.
    """
    from pathlib import Path

    from reedmill.base.text import file_slug
    from reedmill.pack.courses import find_course
    from reedmill.pack.unchanged import fed_by, unchanged

    source_file = find_course(curriculum)
    folder = Path(out or f"output/{file_slug(source_file.stem)}")
    chosen = f"student={options['student']} lesson={options['lesson']} zip={options['archive']}"
    _check_place(options)
    fed = fed_by(source_file)
    same = None if options["only_plan"] else unchanged(source_file, folder, chosen, fed)
    if same:
        _print_same(folder, same[1], as_json=as_json)
        return
    from reedmill.pack.result import Source

    _build(Source(source_file, fed, chosen), folder, as_json=as_json, **options)


def _check_place(options: dict[str, Any]) -> None:
    from reedmill.base.errors import InputError

    if options["where"] and not options["scheduler"]:
        raise InputError("--on dask needs to know the scheduler. Add --scheduler tcp://HOST:8786")
    if options["scheduler"] and not options["where"]:
        raise InputError("--scheduler is for --on dask. Add --on dask, or leave both out.")


def _print_same(out: Path, files: list[Placed], *, as_json: bool) -> None:
    from reedmill.pack.report import report_nothing_done
    from reedmill.pack.result import REUSED, File

    report_nothing_done(out, files)
    if as_json:
        say_json({"files": [_row(File(each, REUSED), out) for each in files], "failed": []})
    else:
        say(f"{out}: nothing has changed, {counted(len(files), 'file')}")


def _build(source: Source, out: Path, *, as_json: bool, **options: Any) -> None:
    """Read the course and build its pack, or plan it."""
    from reedmill.pack.build import build, local_crew
    from reedmill.pack.plan import share_of
    from reedmill.pack.progress import InALog, OnTerminal
    from reedmill.pack.reading import read_course
    from reedmill.pack.workers import usual_workers

    course = read_course(source.curriculum)
    share = share_of(course, options["student"], options["lesson"], archive=options["archive"])
    workers = options["jobs"] or usual_workers()
    if options["only_plan"]:
        _plan(course, source, out, share, workers, as_json=as_json, explain=options["explain"])
        return
    quiet = as_json or not messages_are_seen()
    here, there = local_crew(workers), _dask(options["scheduler"])
    built = build(
        course, source, out, share, crew=there or here, binders=here if there else None,
        progress=(InALog if quiet else OnTerminal)(Redrawn()),
    )  # fmt: skip
    _print_built(built, as_json=as_json, explain=options["explain"])
    if built.failed:
        raise SystemExit(1)


def _dask(scheduler: str | None) -> CrewMaker | None:
    if scheduler is None:
        return None
    from reedmill.pack.dask_engine import DaskCrew

    return lambda scratch: DaskCrew(scheduler, scratch)


def _plan(
    course: Course, source: Source, out: Path, share: Share, workers: int, *, as_json: bool,
    explain: bool,
) -> None:  # fmt: skip
    from reedmill.pack.forecast import forecast
    from reedmill.pack.progress import lasting, sized

    found = forecast(course, source.curriculum, out, share)
    if as_json:
        say_json(found.data(workers))
        return
    say_heading(f"{course.title}: the plan for {out}")
    for row in found.rows:
        basis = "as measured here" if row.measured else "as is usual"
        cost = (
            f"; {lasting(row.seconds)} of work, {sized(row.size)} ({basis})" if row.number else ""
        )
        say(f"  {row.kind:<9} {row.number:>5} to make, {row.ready} ready{cost}")
    if any(row.number for row in found.rows):
        say(
            f"  in all about {lasting(found.seconds / workers)} with "
            f"{counted(workers, 'processor')}, {sized(found.size)}, and as much again in "
            f"{out / '.reedmill'}; then the books, playlists and the page that opens the pack"
        )
    _print_failed(found.failed)
    if explain:
        _print_reasons(found.reasons)


def _print_built(built: Built, *, as_json: bool, explain: bool) -> None:
    from reedmill.pack.report import failure_row
    from reedmill.pack.result import REUSED

    if as_json:
        rows = [_row(each, built.out) for each in built.files]
        say_json({"files": rows, "failed": [failure_row(each) for each in built.failed]})
    else:
        reused = sum(each.status == REUSED for each in built.files)
        made = counted(len(built.files) - reused, "file")
        say(f"{built.out}: {made} made, {reused} as they were")
    if explain and not as_json:
        _print_reasons(
            [(each.placed.path, each.why) for each in built.files if each.status != REUSED]
        )
    _print_failed(built.failed)


def _row(file: File, out: Path) -> dict[str, Any]:
    """The row of a file: what it is, and what was done with it and why."""
    from reedmill.pack.report import file_row

    return file_row(file) | file.placed.row(out)


def _print_reasons(reasons: list[tuple[str, str]]) -> None:
    for what, why in reasons:
        say(f"  {what}: {why}")


def _print_failed(failed: list[Failure]) -> None:
    """Each reason once, with what it kept from being made."""
    reasons: dict[str, list[str]] = {}
    for each in failed:
        reasons.setdefault(each.reason, []).append(each.what)
    for reason, names in reasons.items():
        shown = "; ".join(names[:_MOST_SHOWN])
        left = len(names) - _MOST_SHOWN
        rest = f"; and {left} more" if left > 0 else ""
        first, *more = reason.split("\n")  # where an error points, on lines of its own
        warn(f"not made: {shown}{rest}: {first}", *(f"  {line}" for line in more))


@click.command("clean", short_help="Drop what a pack no longer needs.")
@click.argument("folder", metavar="FOLDER")
@json_option
def clean_command(folder: str, as_json: bool) -> None:
    """Remove from a pack's FOLDER what no course built there needs any more.

    \b
    reedmill clean course

    Only files that Reedmill made go, and only while they are as it made them.
    """
    from pathlib import Path

    from reedmill.pack.clean import clean
    from reedmill.pack.progress import sized

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
    freed = sized(done.freed) if done.freed else "nothing"
    say(f"{out}: {counted(len(done.removed), 'file')} removed, {freed} freed")
