"""The sound files of a pack as an album: numbered in reading order, of one course, recorded once.

Tags are read by libsndfile through soundfile, which writes none of them; it reads none in WAV
and no totals, so these are read by the rules of RIFF and ID3v2.4 here, and by mutagen.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Iterator
from pathlib import Path

import mutagen
import numpy as np
import pytest
import soundfile

from pack_builds import built, contents, made, run, strays, write_course
from reedmill.base.errors import RenderError
from reedmill.pack.build import building
from reedmill.pack.run.carry_out import Done, carry_out
from reedmill.pack.run.workers import Job, WorkerPool
from reedmill.pack.steps.steps import Step
from reedmill.sound.recording.album import put_in_album
from reedmill.sound.signal.tags import InAlbum

TYPES = ("wav", "flac", "ogg", "mp3")
STUDENTS = """
[[students]]
name = "Ada"
harps = ["D"]

[[students]]
name = "Ben"
without = ["Beta"]
"""
IN_FRONT = """
  [[lessons.exercises]]
  drill = "Gamma"
  file  = "own.drill"
"""


def track_in(path: Path) -> tuple[str, int, int]:
    """Album, number and total of a sound file, as its own kind of tags has them."""
    match path.suffix:
        case ".wav":
            frames = id3_frames(chunk_of(path.read_bytes(), b"id3 "))
            number, _, total = frames["TRCK"].partition("/")
            return frames["TALB"], int(number), int(total)
        case ".mp3":
            read = by_libsndfile(path)
            number, _, total = read["tracknumber"].partition("/")
            return read["album"], int(number), int(total)
        case _:
            read = by_libsndfile(path)
            [total] = mutagen.File(path)["TRACKTOTAL"]
            return read["album"], int(read["tracknumber"]), int(total)


def by_libsndfile(path: Path) -> dict[str, str]:
    with soundfile.SoundFile(path) as file:
        found: dict[str, str] = file.copy_metadata()
    return found


def chunk_of(riff: bytes, name: bytes) -> bytes:
    """RIFF: chunks of a name, a length and that many bytes, padded to an even number."""
    assert int.from_bytes(riff[4:8], "little") == len(riff) - 8
    at = 12
    while riff[at : at + 4] != name:
        at += 8 + -(-int.from_bytes(riff[at + 4 : at + 8], "little") // 2) * 2
    return riff[at + 8 : at + 8 + int.from_bytes(riff[at + 4 : at + 8], "little")]


def id3_frames(tag: bytes) -> dict[str, str]:
    """ID3v2.4: ten bytes, then frames of name, length in sevens of bits, flags, encoding, text."""
    assert tag[:4] == b"ID3\x04"
    at, found = 10, {}
    while at < len(tag) and tag[at]:
        length = sum(each << shift for each, shift in zip(tag[at + 4 : at + 8], (21, 14, 7, 0),
                                                          strict=True))  # fmt: skip
        assert tag[at + 10] == 3  # UTF-8
        name = tag[at : at + 4].decode()
        found[name] = tag[at + 11 : at + 10 + length].decode().rstrip("\0")
        at += 10 + length
    return found


def sounds(folder: Path) -> dict[str, tuple[str, int, int]]:
    """The track of every sound file below *folder*, by its path there."""
    return {
        path.relative_to(folder).as_posix(): track_in(path)
        for path in sorted(folder.rglob("*.*"))
        if path.suffix[1:] in TYPES and ".reedmill" not in path.parts
    }


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A course that is heard as WAV, and its pack; only copies are changed."""
    folder = tmp_path_factory.mktemp("tracks")
    course = write_course(folder, formats='"audio"', more='audio = ["wav"]')
    built(course, folder / "out")
    return course, folder / "out"


@pytest.fixture
def begun(template: tuple[Path, Path], tmp_path: Path) -> tuple[Path, Path]:
    shutil.copytree(template[1], tmp_path / "out")
    write_course(template[0].parent, formats='"audio"', more='audio = ["wav"]')
    return template[0], tmp_path / "out"


def test_every_sound_of_a_students_pack_is_a_numbered_track_of_the_course(tmp_path: Path) -> None:
    more = 'drone = "root"\naudio = ["wav", "flac", "ogg", "mp3"]'
    course, out = write_course(tmp_path, formats='"audio"', more=more), tmp_path / "out"
    course.write_text(course.read_text() + STUDENTS, "utf-8")
    built(course, out)
    # the tones and the mix of each exercise, in the order of the course; Ben has no Beta
    order = {
        "ada": ["01-alpha-d-2nd", "01-beta-d-2nd", "02-gamma-d-2nd"],
        "ben": ["01-alpha-c-2nd", "02-gamma-c-2nd"],
    }
    for student, rows in order.items():
        tracks = [f"{row}{cut}" for row in rows for cut in ("", ".mix")]
        lesson = {"01": "01-first", "02": "02-second"}
        assert sounds(out / student) == {
            f"{lesson[name[:2]]}/{name}.{kind}": ("Evenings", number, len(tracks))
            for number, name in enumerate(tracks, start=1)
            for kind in TYPES
        }
        manifest = json.loads((out / student / "manifest.json").read_bytes())
        found = {row["path"]: row["sha256"] for row in manifest["files"]}
        assert {p: it for p, it in contents(out / student).items() if p in found} == found
        sizes = {row["path"]: row["size"] for row in manifest["files"] if row["kind"] == "audio"}
        assert {path: (out / student / path).stat().st_size for path in sizes} == sizes


def test_an_exercise_in_front_renumbers_the_others_and_records_none_of_them_again(
    begun: tuple[Path, Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    course, out = begun
    before = {path.name: soundfile.read(path)[0] for path in out.rglob("*.wav")}
    recorded: list[str] = []

    def noted(steps: list[Step], pool: WorkerPool) -> Iterator[tuple[Job, list[Done]]]:
        recorded.extend(step.kind for step in steps)
        return carry_out(steps, pool)

    monkeypatch.setattr(building, "carry_out", noted)
    text = course.read_text()
    first = text.index("\n  [[lessons.exercises]]")
    course.write_text(text[:first] + IN_FRONT.replace("Gamma", "Delta") + text[first:])
    drills = course.parent / "own.drill"
    drills.write_text(drills.read_text() + '\ndrill "Delta"\n  tempo 80\n  play 3 -3\n')
    why = made(built(course, out), out)
    assert recorded.count("audio") == 1
    assert {path: why[path] for path in why if path.endswith(".wav")} == {
        "01-first/01-delta-c-2nd.wav": "new drill",
        "01-first/01-alpha-c-2nd.wav": "track changed, 1 of 3 to 2 of 4",
        "01-first/01-beta-c-2nd.wav": "track changed, 2 of 3 to 3 of 4",
        "02-second/02-gamma-c-2nd.wav": "track changed, 3 of 3 to 4 of 4",
    }
    assert [track[1:] for _, track in sorted(sounds(out).items())] == [
        (2, 4), (3, 4), (1, 4), (4, 4),
    ]  # fmt: skip
    after = {path.name: soundfile.read(path)[0] for path in out.rglob("*.wav")}
    assert all(np.array_equal(after[name], sound) for name, sound in before.items())
    rows = json.loads((out / "manifest.json").read_bytes())["files"]
    now = contents(out)
    assert all(now[row["path"]] == row["sha256"] for row in rows)
    assert strays(out) == []
    assert run("clean", out).exit_code == 0
    assert made(built(course, out), out) == {}
    course.write_text(course.read_text() + "# looked at anew\n")
    assert made(built(course, out), out) == {}


def test_a_lesson_alone_has_the_numbers_it_has_in_the_whole_course(
    begun: tuple[Path, Path], tmp_path: Path
) -> None:
    course, whole = begun
    built(course, tmp_path / "alone", "--lesson", "2")
    [name] = sounds(tmp_path / "alone")
    assert sounds(tmp_path / "alone")[name] == ("Evenings", 3, 3) == sounds(whole)[name]
    assert (tmp_path / "alone" / name).read_bytes() == (whole / name).read_bytes()


def test_another_title_is_another_album_of_the_same_recordings(begun: tuple[Path, Path]) -> None:
    course, out = begun
    course.write_text(course.read_text().replace('title = "Evenings"', 'title = "Mornings"'))
    why = made(built(course, out), out)
    assert why["02-second/02-gamma-c-2nd.wav"] == "album changed, Evenings to Mornings"
    assert {track[0] for track in sounds(out).values()} == {"Mornings"}


@pytest.mark.parametrize("lost", [".reedmill/packs", ".reedmill"])
def test_whatever_is_forgotten_the_same_files_are_found_right(
    lost: str, begun: tuple[Path, Path]
) -> None:
    course, out = begun
    before = contents(out)
    shutil.rmtree(out / lost)
    assert made(built(course, out, anew=True), out) == {}
    assert contents(out) == before


def test_a_numbered_sound_that_was_changed_or_removed_is_restored(
    begun: tuple[Path, Path],
) -> None:
    course, out = begun
    before = contents(out)
    (out / "01-first" / "01-alpha-c-2nd.wav").unlink()
    (out / "01-first" / "01-beta-c-2nd.wav").write_bytes(b"RIFF")
    assert made(built(course, out), out) == {
        "01-first/01-alpha-c-2nd.wav": "its file was missing",
        "01-first/01-beta-c-2nd.wav": "its file had been changed",
    }
    assert contents(out) == before


@pytest.mark.parametrize("kind", TYPES)
@pytest.mark.parametrize("content", [b"", b"no sound", bytes(5000)])
def test_what_is_no_sound_becomes_no_track(kind: str, content: bytes, tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(content)
    with path.open("r+b") as file, pytest.raises(RenderError, match="track number cannot be"):
        put_in_album(file, kind, InAlbum("Evenings", 1, 2))
