"""Building a pack: everything once, again only what changed, and always for a reason."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import wave
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path
from types import SimpleNamespace

import lxml.html
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mutagen.wave import WAVE
from pypdf import PdfReader

from pack_builds import built, contents, environment, made, run, strays, write_course
from reedmill.base.errors import RenderError
from reedmill.base.source import Span
from reedmill.cli.saying import Redrawn
from reedmill.expand import expand
from reedmill.harp import Harp, Reed
from reedmill.language import parse_file
from reedmill.make.material import make
from reedmill.pack.build import building, progress
from reedmill.pack.keep.placing import checked_name
from reedmill.pack.plan import volumes
from reedmill.pack.plan.explain import changed
from reedmill.pack.run import workers
from reedmill.pack.run.carry_out import Done, carry_out
from reedmill.pack.run.workers import Job, WorkerPool
from reedmill.pack.steps import steps, versions
from reedmill.pack.steps.facts import digest, shown
from reedmill.pack.steps.steps import Step
from reedmill.pack.steps.versions import code_facts, code_version
from reedmill.theory.positions import Position

FORMATS = '"sheet", "midi", "tab"'


@pytest.fixture(scope="module")
def pack(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, dict[str, str]]:
    """A course and its pack with sheets and sounds, and what it came to; nobody changes it."""
    folder = tmp_path_factory.mktemp("pack")
    course = write_course(
        folder, formats='"sheet", "png", "html", "midi", "musicxml", "tab", "audio"',
        more='drone = "root"\naudio = ["wav", "flac"]', harps='"C", "A"',
    )  # fmt: skip
    out = folder / "out"
    return course, out, made(built(course, out, "--zip"), out)


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A smaller pack to begin from; only its copies are changed."""
    folder = tmp_path_factory.mktemp("template")
    course = write_course(folder, formats=FORMATS)
    built(course, folder / "out")
    return course, folder / "out"


@pytest.fixture
def begun(template: tuple[Path, Path], tmp_path: Path) -> tuple[Path, Path]:
    """A course that was built a moment ago, and its pack."""
    write_course(template[0].parent, formats=FORMATS)
    shutil.copytree(template[1], tmp_path / "out")
    return template[0], tmp_path / "out"


# --- what is in a pack ------------------------------------------------------------------


def test_an_exercise_is_what_make_makes_of_its_drill(
    pack: tuple[Path, Path, dict[str, str]], tmp_path: Path
) -> None:
    from reedmill.practice.practice import Recording

    course, out, _ = pack
    [alpha, *_] = parse_file(course.parent / "own.drill")
    score = expand(alpha, Harp.parse("C"), Position(2), tempo_bpm=80)
    formats = ("sheet", "png", "html", "midi", "musicxml", "tab", "wav")
    # the drills go round the two harps: three exercises of tones and mix
    twin_track = {"alpha-c-2nd.wav": "1/6", "alpha-c-2nd.mix.wav": "2/6"}
    for file in make([score], tmp_path, formats, recording=Recording(drone=("root",))):
        name = file.path.name.replace("-drone.", ".")  # in a pack, all of an exercise has one name
        twin = out / "01-first" / f"01-{name}"
        if file.kind != "audio":
            assert twin.read_bytes() == file.path.read_bytes(), file.path.name
            continue
        # a track of an album in the pack: the same samples, and no other tag differs
        assert samples(twin) == samples(file.path), file.path.name
        assert tags_in(twin) == tags_in(file.path) | {"TALB": "Evenings", "TRCK": twin_track[name]}


def samples(path: Path) -> bytes:
    """What Python's own reader finds in a WAV file: its form and all its samples."""
    with wave.open(str(path)) as file:
        form = f"{file.getparams()}".encode()
        return b"".join((form, file.readframes(file.getnframes())))


def tags_in(path: Path) -> dict[str, str]:
    """Every ID3 frame of a WAV file, as mutagen reads them."""
    return {name: str(frame) for name, frame in WAVE(path).tags.items()}


def test_the_manifest_knows_every_file_by_its_hash(
    pack: tuple[Path, Path, dict[str, str]],
) -> None:
    _, out, _ = pack
    rows = json.loads((out / "manifest.json").read_bytes())["files"]
    found = {row["path"]: row["sha256"] for row in rows}
    rest = {"manifest.json", "evenings.zip"}  # which cannot tell their own
    assert found == {path: it for path, it in contents(out).items() if path not in rest}


def test_the_archive_holds_what_the_folder_holds(pack: tuple[Path, Path, dict[str, str]]) -> None:
    _, out, _ = pack
    with zipfile.ZipFile(out / "evenings.zip") as archive:  # Python's own reader
        inside = {name: sha256(archive.read(name)).hexdigest() for name in archive.namelist()}
    assert inside == {p: it for p, it in contents(out).items() if p != "evenings.zip"}


def test_a_page_for_screen_readers_is_led_to_by_what_it_is(
    pack: tuple[Path, Path, dict[str, str]],
) -> None:
    course, out, _ = pack
    index = lxml.html.document_fromstring((out / "index.html").read_text("utf-8"))
    links = [link for link in index.iter("a") if "For screen readers" in link.text_content()]
    assert len(links) == 3  # of three exercises
    [alpha, *_] = parse_file(course.parent / "own.drill")
    page = lxml.html.document_fromstring((out / links[0].get("href")).read_text("utf-8"))
    assert page.findtext(".//h1") == alpha.title


def test_books_hold_the_sheets_of_their_lesson(pack: tuple[Path, Path, dict[str, str]]) -> None:
    _, out, _ = pack
    sheets = sum(len(PdfReader(path).pages) for path in (out / "01-first").glob("01-*-2nd.pdf"))
    book = PdfReader(out / "01-first" / "01-first.pdf")
    text = "".join(page.extract_text() for page in book.pages)
    assert len(book.pages) > sheets == 2
    assert "Alpha" in text
    assert "Gamma" not in text
    whole = "".join(page.extract_text() for page in PdfReader(out / "evenings.pdf").pages)
    assert {"Alpha", "Beta", "Gamma"} <= set(whole.replace(",", " ").split())


def test_a_book_that_would_be_too_long_is_bound_in_parts(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    monkeypatch.setattr(volumes, "MOST_LEAVES", 5)
    course.write_text(course.read_text() + "# looked at anew\n")
    why = made(built(course, out), out)
    assert {path for path in why if path.endswith(".pdf")} == {
        "evenings-part-1.pdf", "evenings-part-2.pdf",
    }  # fmt: skip
    texts = [
        "".join(page.extract_text() for page in PdfReader(out / path).pages)
        for path in sorted(why) if path.endswith(".pdf")
    ]  # fmt: skip
    assert ["Alpha" in text for text in texts] == [True, False]
    assert ["Gamma" in text for text in texts] == [False, True]


def test_rows_for_other_programs_say_what_each_file_is(
    pack: tuple[Path, Path, dict[str, str]],
) -> None:
    course, out, _ = pack
    rows = built(course, out, "--zip")["files"]
    assert {row["kind"] for row in rows} == {
        "sheet-pdf", "sheet-png", "html", "midi", "musicxml", "tab", "audio", "page", "archive",
    }  # fmt: skip
    [mix] = [row for row in rows if row["path"].endswith("01-beta-a-2nd.mix.flac")] or [
        row for row in rows if row["path"].endswith("01-beta-c-2nd.mix.flac")
    ]
    assert (mix["drill"], mix["position"], mix["tempo"], mix["stem"]) == ("Beta", 2, 80, "mix")
    assert all(Path(row["path"]).is_file() for row in rows)


# --- nothing changed --------------------------------------------------------------------


def test_a_build_of_nothing_changes_nothing_and_imports_next_to_nothing(
    pack: tuple[Path, Path, dict[str, str]],
) -> None:
    course, out, _ = pack
    built(course, out, "--zip")
    before = {path: path.stat().st_mtime_ns for path in out.rglob("*") if path.is_file()}
    program = (
        "import sys\nfrom reedmill.cli import cli\n"
        f"cli(['pack', {str(course)!r}, '--out', {str(out)!r}, '--zip'], standalone_mode=False)\n"
        "print(' '.join(sys.modules))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], env=environment(), capture_output=True, text=True,
        check=True, timeout=60,
    )  # fmt: skip
    said, *_, modules = done.stdout.splitlines()
    assert said == f"{out}: nothing has changed, {len(contents(out))} files"
    heavy = {"abjad", "numpy", "lark", "pydantic", "pypdf", "mido", "multiprocessing", "asyncio"}
    assert heavy.isdisjoint(modules.split())
    after = {path: path.stat().st_mtime_ns for path in out.rglob("*") if path.is_file()}
    report = out / ".reedmill" / "last-build.json"
    assert {p: t for p, t in after.items() if p != report} == {
        p: t for p, t in before.items() if p != report
    }
    assert {row["status"] for row in json.loads(report.read_bytes())["files"]} == {"reused"}


def test_lines_moved_in_a_pattern_file_make_nothing_anew(begun: tuple[Path, Path]) -> None:
    course, out = begun
    write_course(course.parent, formats=FORMATS, above="# a remark\n\n\n")
    assert made(built(course, out), out) == {}


def test_a_comment_above_a_drill_changes_no_music(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    write_course(course.parent, formats=FORMATS, above="# Play it slowly.\n")
    told = run("pack", course, "--out", out, "--plan", "--explain").output.splitlines()
    for kind in ("sheet", "midi", "tab", "page", "book"):
        [line] = [line for line in told if line.split()[0] == kind]
        assert " 0 to make" in line
    monkeypatch.setattr(workers, "_Worker", None)  # nobody works
    built(course, out)


def test_a_practice_page_is_the_same_wherever_its_drill_stands_in_the_file(tmp_path: Path) -> None:
    course, out = write_course(tmp_path, formats='"page", "midi"'), tmp_path / "out"
    built(course, out)
    write_course(tmp_path, formats='"page", "midi"', above="# Play it slowly.\n")
    assert not {Path(path).suffixes[-2:] for path in made(built(course, out), out)} & {
        (".page", ".html"), (".mid",)
    }  # fmt: skip
    again = tmp_path / "again"  # equal inputs give equal bytes, whatever was there before
    built(course, again, anew=True)
    for path in out.rglob("*.page.html"):
        assert path.read_bytes() == (again / path.relative_to(out)).read_bytes()


def test_a_plan_makes_nothing(tmp_path: Path) -> None:
    course, out = write_course(tmp_path / "course"), tmp_path / "out"
    done = run("pack", course, "--out", out, "--plan", "--explain")
    assert done.exit_code == 0, done.output
    assert not out.exists()
    assert "midi              3 to make, 0 ready" in done.output
    assert "(as is usual)" in done.output
    assert "01-first/01-alpha-c-2nd (midi): new drill" in done.output


# --- something changed ------------------------------------------------------------------


def test_one_changed_drill_makes_its_own_files_and_the_books_that_hold_it(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    before = contents(out)
    rendered: list[str] = []

    def noted(steps: list[Step], pool: WorkerPool) -> Iterator[tuple[Job, list[Done]]]:
        rendered.extend(step.kind for step in steps)
        return carry_out(steps, pool)

    monkeypatch.setattr(building, "carry_out", noted)
    write_course(course.parent, formats=FORMATS, tempi={"Gamma": 96})
    why = made(built(course, out), out)
    its_own = {path for path in why if path.startswith("02-second/02-gamma-c-2nd.")}
    assert {Path(path).suffix for path in its_own} >= {".pdf", ".mid", ".txt"}
    assert {why[path] for path in its_own} == {"tempo changed, 80 to 96"}
    assert set(why) - its_own == {
        "02-second/02-second.pdf", "evenings.pdf", "manifest.json", "index.html", "offline.js",
    }  # fmt: skip
    assert '"2.1 Gamma C harp, 2nd position" changed' in why["02-second/02-second.pdf"]
    # the opening and the log of the lesson tell the tempo too
    assert sorted(rendered) == ["book", "book", "midi", "page", "page", "sheet", "tab"]
    after = contents(out)
    assert {path for path in after if after[path] != before[path]} == set(why)
    assert strays(out) == []


def test_every_reason_is_told_in_musical_words(begun: tuple[Path, Path]) -> None:
    course, out = begun
    write_course(course.parent, harps='"A"')
    drills = (course.parent / "own.drill").read_text()
    (course.parent / "own.drill").write_text(drills.replace("3 4 5 -5", "3 4 5 -6"))
    why = made(built(course, out, "--lesson", "1"), out)
    assert why["01-first/01-alpha-a-2nd.mid"] == "harp changed, C to A"
    text = course.read_text()
    more = '\n  [[lessons.exercises]]\n  drill = "Alpha"\n  file = "own.drill"\n  positions = 1\n'
    course.write_text(text + more)
    why = made(built(course, out, "--lesson", "2"), out)
    assert why["02-second/02-gamma-a-2nd.txt"] == "harp changed, C to A; notes were changed"
    assert why["02-second/02-alpha-a-1st.mid"] == "new MIDI file of a drill that was there"
    done = run("pack", course, "--out", out, "--lesson", "2", "--explain")
    assert done.output.splitlines() == [
        f"{out}: nothing has changed, 5 files", f"Open {out / '02-second' / '02-second.pdf'}",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("before", "now", "words"),
    [
        ({"harp": "C", "pitches": "1"}, {"harp": "A", "pitches": "2"}, ["harp changed, C to A"]),
        ({"notes": "1", "length": "4"}, {"notes": "2", "length": "8"}, ["notes were changed"]),
        ({"Reedmill": "1"}, {"Reedmill": "2"}, ["Reedmill itself changed"]),
        (
            {"lilypond": "2.24.3"}, {"lilypond": "2.24.4"},
            ["LilyPond changed, 2.24.3 to 2.24.4"],
        ),
        ({"drone": "none"}, {"drone": "root, fifth"}, ["drone changed, none to root, fifth"]),
        ({"purpose": "#1a"}, {"purpose": "Home."}, ["purpose changed"]),
    ],
)  # fmt: skip
def test_changes_are_told_by_their_causes(
    before: dict[str, str], now: dict[str, str], words: list[str]
) -> None:
    assert changed(before, now) == words


def test_a_file_that_is_missing_or_was_changed_is_restored_without_being_made(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    before = contents(out)
    built(course, out)  # looked at, so that later only the look of a file tells
    monkeypatch.setattr(workers, "_Worker", None)  # nobody works
    (out / "01-first" / "01-alpha-c-2nd.mid").unlink()
    altered = out / "01-first" / "01-beta-c-2nd.txt"
    seen = altered.stat()
    altered.write_bytes(altered.read_bytes().replace(b"Beta", b"Meta"))
    os.utime(altered, ns=(seen.st_atime_ns, seen.st_mtime_ns))  # as sly as can be
    assert made(built(course, out, anew=True), out) == {
        "01-first/01-alpha-c-2nd.mid": "its file was missing",
        "01-first/01-beta-c-2nd.txt": "its file had been changed",
    }
    assert contents(out) == before


def test_a_spoilt_store_is_noticed_and_made_good(begun: tuple[Path, Path]) -> None:
    course, out = begun
    before = contents(out)
    for each in (out / ".reedmill" / "objects").glob("??/*"):
        each.write_bytes(b"x" * each.stat().st_size)
    shutil.rmtree(out / "02-second")
    built(course, out, "--lesson", "2")
    assert contents(out) == before


def test_a_store_that_was_removed_is_filled_again_and_no_file_changes(
    begun: tuple[Path, Path],
) -> None:
    course, out = begun
    before = contents(out)
    shutil.rmtree(out / ".reedmill")
    assert made(built(course, out, "--lesson", "2", anew=True), out) == {}
    assert contents(out) == before


def test_what_a_test_takes_from_another_is_what_workers_make(
    template: tuple[Path, Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that tests which share their packs see what a player gets."""
    course = write_course(template[0].parent, formats=FORMATS)
    built(course, tmp_path / "anew", anew=True)
    built(course, tmp_path / "first")

    def nobody(_: Path) -> None:
        raise OSError("nobody works here")

    monkeypatch.setattr(workers, "_Worker", nobody)
    built(course, tmp_path / "again")
    assert contents(tmp_path / "first") == contents(tmp_path / "anew")
    assert contents(tmp_path / "again") == contents(tmp_path / "anew")


def test_another_version_of_the_code_makes_its_own_kind_anew(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    monkeypatch.setattr(
        steps, "code_facts",
        lambda kind: code_facts(kind) | ({"Reedmill": "new"} if kind == "midi" else {}),
    )  # fmt: skip
    course.write_text(course.read_text() + "# so that the course is looked at\n")
    data = built(course, out)
    # the bytes are the same, so that no file had to be touched
    assert made(data, out) == {}
    plan = run("pack", course, "--out", out, "--plan", "--explain")
    assert "midi              0 to make, 3 ready" in plan.output


def test_a_practice_page_is_made_anew_when_its_style_or_program_changes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What stands in an assets folder is not a module, and decides the page all the same."""
    package = tmp_path / "reedmill"
    shutil.copytree(versions.PACKAGE, package, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(versions, "PACKAGE", package)
    page, midi = ("reedmill.page.practice_page",), ("reedmill.formats.midi",)

    def seen() -> tuple[str, str]:
        return code_version.__wrapped__(page), code_version.__wrapped__(midi)

    last = seen()
    for name in ("page.css", "page.js", "page.html"):
        with (package / "page" / "assets" / name).open("a") as file:
            file.write("\n")
        now = seen()
        assert now[0] != last[0], name
        assert now[1] == last[1], name
        last = now


def test_the_version_of_a_renderer_follows_what_it_imports() -> None:
    # by their import statements: sheets print tab, MIDI does not
    assert code_version(("reedmill.sheet.page",)) != code_version(("reedmill.formats.text_tab",))
    assert set(code_facts("sheet")) == {"Reedmill", "lilypond", "abjad"}
    assert code_facts("sheet")["lilypond"] == "2.24.3"  # pinned in pyproject.toml


def test_a_terminal_shows_items_rate_and_time_left(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    now = iter([0.0, 10.0, 20.0])
    monkeypatch.setattr(progress, "time", SimpleNamespace(monotonic=lambda: next(now)))
    shown = progress.OnTerminal(Redrawn())
    shown.begin(100, 50.0)
    shown.done(20, 10.0)  # a fifth of the work in ten seconds
    assert capsys.readouterr().err == "\r20 of 100 made, 2.0 a second, 40 s left"
    shown.done(80, 40.0)
    shown.end()
    last = capsys.readouterr().err.rpartition("left")[2]
    assert last.strip() == ""  # no line stays behind


# --- shares -----------------------------------------------------------------------------


def test_a_student_and_a_lesson_can_be_built_alone(tmp_path: Path) -> None:
    out = tmp_path / "out"
    course = write_course(tmp_path, formats='"midi"')
    students = '\n[[students]]\nname = "Ada"\nharps = ["D"]\n\n[[students]]\nname = "Ben"\n'
    course.write_text(course.read_text() + students)
    ada = built(course, out, "--student", "Ada", "--lesson", "2")
    assert {Path(row["path"]).parent.relative_to(out).as_posix() for row in ada["files"]} == {
        "ada/02-second"
    }
    built(course, out, "--lesson", "2")
    assert {path.split("/")[0] for path in contents(out)} == {"ada", "ben"}
    again = built(course, out, "--student", "Ada", "--lesson", "2")
    assert made(again, out) == {}
    assert len(again["files"]) == len(ada["files"])
    done = run("pack", course, "--out", out, "--student", "Adda")
    assert done.exit_code == 2
    assert 'has no student "Adda". Did you mean "Ada"?' in done.output
    done = run("pack", course, "--out", out, "--lesson", "3")
    assert "there is no lesson 3 in Evenings. Its lessons are 1 to 2." in done.output


# --- cleaning ---------------------------------------------------------------------------


def test_clean_takes_what_is_no_longer_needed_and_nothing_else(begun: tuple[Path, Path]) -> None:
    course, out = begun
    write_course(course.parent, harps='"A"', formats='"tab"')
    built(course, out)
    mine = out / "01-first" / "notes-of-mine.txt"
    mine.write_text("harder than it looks")
    marked = out / "01-first" / "01-alpha-c-2nd.txt"
    marked.write_text("with a fingering of mine")
    wanted = {path for path in contents(out) if "-c-2nd" not in path} | {
        "01-first/01-alpha-c-2nd.txt"
    }
    done = run("clean", out)
    assert done.exit_code == 0, done.output
    assert set(contents(out)) == wanted
    assert f"kept     {marked}: it was changed since it was made" in done.output
    assert made(built(course, out), out) == {}
    objects = {each.name for each in (out / ".reedmill" / "objects").glob("??/*")}
    unbound = objects - set(contents(out).values())
    assert len(unbound) == 6  # cover, cautions, an opening and a log for each lesson


def test_clean_refuses_a_folder_that_is_not_a_pack(tmp_path: Path) -> None:
    done = run("clean", tmp_path)
    assert done.exit_code == 2
    assert f"{tmp_path} does not hold a lesson pack" in done.output
    assert list(tmp_path.iterdir()) == []


# --- names and facts --------------------------------------------------------------------


@pytest.mark.parametrize(
    "name",
    ["../x", "/etc/x", "a/../x", "a//x", "", ".hidden", "a/.reedmill", "A b", "a\n", "a\\x",
     "x" * 300, "a/b/c/d/e", "C:x", "nai\u0308ve", "Na\u00efve"],
)  # fmt: skip
def test_no_name_leaves_the_folder(name: str) -> None:
    with pytest.raises(RenderError, match="cannot be the name of a file of a pack"):
        checked_name(name)


@given(st.text(max_size=40))
def test_whatever_is_written_stays_inside(name: str) -> None:
    try:
        checked_name(name)
    except RenderError:
        return
    inside = Path("/pack").joinpath(name)
    assert inside.is_relative_to("/pack")
    assert ".." not in inside.parts


def test_a_folder_that_leads_elsewhere_is_refused(tmp_path: Path) -> None:
    course, out, elsewhere = write_course(tmp_path), tmp_path / "out", tmp_path / "elsewhere"
    out.mkdir()
    elsewhere.mkdir()
    (out / "01-first").symlink_to(elsewhere)
    done = run("pack", course, "--out", out)
    assert done.exit_code == 1
    assert "is a link that leads out of" in done.output
    assert list(elsewhere.iterdir()) == []
    assert (out / "02-second" / "02-gamma-c-2nd.mid").is_file()


def test_a_file_of_somebody_else_is_not_written_over(tmp_path: Path) -> None:
    course, out = write_course(tmp_path), tmp_path / "out"
    out.mkdir()
    (out / "index.html").write_text("my own page")
    done = run("pack", course, "--out", out)
    assert done.exit_code == 1
    assert "is there already and was not made for this pack" in done.output
    assert (out / "index.html").read_text() == "my own page"


def test_two_curricula_in_one_folder_keep_their_files(begun: tuple[Path, Path]) -> None:
    course, out = begun
    before = contents(out)
    other = course.with_name("other.toml")
    other.write_text(course.read_text().replace('"Gamma"\n', '"Gamma"\n  tempo = 66\n'))
    done = run("pack", other, "--out", out, "--lesson", "2")
    assert done.exit_code == 1
    assert f"belongs to the pack of {course}, which was built in the same folder" in done.output
    assert contents(out) == before
    course.rename(other)  # and now it is the same one under another name
    assert made(built(other, out, "--lesson", "2"), out) == {}
    other.rename(course)


@pytest.mark.parametrize(
    ("text", "said"),
    [(None, "it is not there"), ("title = ", "course.toml:1:"), ("harps = 'C'", "title")],
)
def test_a_curriculum_that_cannot_be_read_is_told_before_anything_is_made(
    tmp_path: Path, text: str | None, said: str
) -> None:
    course, out = tmp_path / "course.toml", tmp_path / "out"
    if text is not None:
        course.write_text(text)
    done = run("pack", course, "--out", out)
    assert done.exit_code == 2
    assert said in done.output
    assert not out.exists()


@given(st.lists(st.text(max_size=5), max_size=4), st.lists(st.text(max_size=5), max_size=4))
def test_different_values_are_different_facts(one: list[str], other: list[str]) -> None:
    assert (digest(one) == digest(other)) == (one == other)
    assert (shown(tuple(one)) == shown(tuple(other))) <= (
        one == other or {tuple(one), tuple(other)} == {(), ("none",)}
    )


@dataclass(frozen=True)
class Traced:
    """A value of a pattern that knows where it stood, as a stranger's module might have it."""

    reed: Reed
    at: Span | None = None
    beside: tuple[tuple[str, Span], ...] = ()


@given(st.integers(1, 500), st.integers(1, 80), st.integers(0, 40))
def test_a_place_is_not_music_however_deep_it_stands(line: int, column: int, width: int) -> None:
    here, there = Span("a.drill", 3, 5), Span("b.drill", line, column, width)
    for one, other in [
        (here, there),
        ([here, (here,)], [there, (there,)]),
        ({"at": here}, {"at": there}),
        (Traced(Reed.parse("-3"), here), Traced(Reed.parse("-3"), there)),
        (Traced(Reed.parse("-3"), None, (("I", here),)),
         Traced(Reed.parse("-3"), None, (("I", there),))),
    ]:  # fmt: skip
        assert digest(one) == digest(other)
        assert shown(one) == shown(other)
    assert digest(Traced(Reed.parse("-3"), here)) != digest(Traced(Reed.parse("-3'"), here))
