"""The files of a pack besides its pages: manifest, playlists, archive, covers of sound files.

Outside facts: the ZIP format as Python's zipfile reads it; APPNOTE.TXT 4.4.15 (external
attributes, Unix permissions in the upper half), from memory; ``#EXTM3U`` and ``#EXTINF``
of RFC 8216, 4.3.1.1 and 4.3.2.1; cover pictures as mutagen and Pillow read them.
"""

from __future__ import annotations

import hashlib
import io
import json
import ntpath
import os
import posixpath
import stat
import zipfile
from dataclasses import replace
from functools import cache
from pathlib import Path
from urllib.parse import unquote

import mutagen
import numpy as np
import pytest
import soundfile
from hypothesis import given
from hypothesis import strategies as st
from mutagen.flac import FLAC, Picture
from mutagen.id3 import ID3
from mutagen.oggvorbis import OggVorbis
from PIL import Image

from reedmill.base.errors import InputError, RenderError
from reedmill.pack.build.archive import write_archive
from reedmill.pack.pages.cover import cover_art, with_cover
from reedmill.pack.site.manifest import PackFile, manifest_json, safe_path
from reedmill.pack.site.playlist import listened_first, playlist, relative
from small_pack import small_pack

# --- names ------------------------------------------------------------------------------

UNSAFE = [
    "", ".", "..", "../x", "a/../b", "a/..", "/etc/passwd", "//host/x", "a//b", "a/", "./a",
    "\\x", "..\\x", "a\\b", "C:/x", "C:x", "c:", "~/x", "~root", ".hidden", "a/.hidden", "a\x00b",
    "a\nb", "a b", "a%2fb", "a:b", "a*", "a?", "a|b", "a<b", 'a"b', "$x", "`x`", "-x", "a/-x",
    "e\u0301", "é.", "é b", "-é", "a\u200bb", "\u0301a", "a\u202eb", "\uff0fx", "a.", "a./b",
    "x" * 241,
]  # fmt: skip


@pytest.mark.parametrize("path", UNSAFE)
def test_a_path_that_could_lead_out_of_the_pack_is_refused(path: str) -> None:
    with pytest.raises(InputError, match=r"a pack holds no file .*letters, digits, \. - and _"):
        safe_path(path)
    with pytest.raises(InputError):
        PackFile(path, "midi")


@pytest.mark.parametrize("path", ["é", "01-дом/дом-c-2nd.mid", "家-1.pdf"])
def test_letters_of_every_script_name_files_of_a_pack(path: str) -> None:
    assert safe_path(path) == path


@given(st.text(st.sampled_from("ab.-_/\\:~ C0\n"), max_size=12))
def test_a_path_that_is_accepted_names_a_file_inside_on_every_system(path: str) -> None:
    """By Python's own rules for the paths of POSIX and of Windows."""
    try:
        safe_path(path)
    except InputError:
        return
    for system in (posixpath, ntpath):
        assert not system.isabs(path)
        assert system.splitdrive(path)[0] == ""
        inside = system.normpath(system.join("top", path))
        assert inside.replace("\\", "/") == f"top/{path}"
        assert system.normpath(path).replace("\\", "/") == path


# --- archive ----------------------------------------------------------------------------


def archived(members: list[tuple[str, Path]]) -> bytes:
    file = io.BytesIO()
    write_archive(file, members)
    return file.getvalue()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "b.txt").write_text("bee\n" * 100)
    (tmp_path / "a.pdf").write_bytes(b"%PDF" + bytes(range(256)))
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep" / "c.mid").write_bytes(b"MThd")
    return tmp_path


def members(folder: Path) -> list[tuple[str, Path]]:
    return [(name, folder / name) for name in ("b.txt", "deep/c.mid", "a.pdf")]


def test_an_archive_gives_back_what_went_in(folder: Path, tmp_path: Path) -> None:
    target = tmp_path / "out"
    with zipfile.ZipFile(io.BytesIO(archived(members(folder)))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["a.pdf", "b.txt", "deep/c.mid"]
        archive.extractall(target)
    for name, path in members(folder):
        assert (target / name).read_bytes() == path.read_bytes()


def test_equal_files_make_equal_archives_whatever_their_order_time_and_rights(folder: Path) -> None:
    first = archived(members(folder))
    for _, path in members(folder):
        os.utime(path, (1, 1))
        path.chmod(0o600)
    assert archived(members(folder)[::-1]) == first


def test_every_member_has_a_fixed_time_and_may_be_read_but_not_run(folder: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(archived(members(folder)))) as archive:
        for each in archive.infolist():
            assert each.date_time == (2020, 1, 1, 0, 0, 0)
            assert each.create_system == 3  # Unix
            assert stat.S_ISREG(each.external_attr >> 16)
            assert stat.S_IMODE(each.external_attr >> 16) == 0o644


def test_what_is_compressed_already_is_stored(folder: Path) -> None:
    with zipfile.ZipFile(io.BytesIO(archived(members(folder)))) as archive:
        kinds = {each.filename: each.compress_type for each in archive.infolist()}
    assert kinds["a.pdf"] == zipfile.ZIP_STORED
    assert kinds["b.txt"] == zipfile.ZIP_DEFLATED


@pytest.mark.parametrize("path", ["../x", "/x", "C:/x", "a\\b", "a/../../x", ".ssh/config"])
def test_an_archive_takes_no_name_that_climbs_out_when_it_is_unpacked(
    folder: Path, path: str
) -> None:
    with pytest.raises(InputError, match="a pack holds no file"):
        archived([(path, folder / "b.txt")])


def test_a_link_is_no_member(folder: Path) -> None:
    (folder / "link.txt").symlink_to("/etc/passwd")
    with pytest.raises(RenderError, match=r"link\.txt: is not a plain file"):
        archived([("link.txt", folder / "link.txt")])


def test_a_folder_or_a_missing_file_is_no_member(folder: Path) -> None:
    with pytest.raises(RenderError, match="deep: is not a plain file"):
        archived([("deep", folder / "deep")])
    with pytest.raises(RenderError, match=r"none\.txt: cannot go into the ZIP \(No such file"):
        archived([("none.txt", folder / "none.txt")])


def test_no_name_comes_twice_not_even_in_capitals(folder: Path) -> None:
    """Some systems take both for one file, and the second would overwrite the first."""
    with pytest.raises(InputError, match=r'holds "b\.txt" once'):
        archived([("B.txt", folder / "b.txt"), ("b.txt", folder / "a.pdf")])


def test_an_archive_is_written_piece_by_piece(folder: Path) -> None:
    """No write is larger than a piece, so a large pack needs little memory."""
    with (folder / "long.wav").open("wb") as file:
        file.truncate(30 << 20)
    largest = 0

    class Watched(io.BytesIO):
        def write(self, data: bytes) -> int:  # type: ignore[override]
            nonlocal largest
            largest = max(largest, len(data))
            return super().write(data)

    write_archive(Watched(), [("long.wav", folder / "long.wav")])
    assert largest <= 2 << 20


# --- manifest ---------------------------------------------------------------------------


def test_the_manifest_tells_the_truth_about_every_file() -> None:
    pack = small_pack()
    rows = json.loads(manifest_json("Bends as places", "jon-weaver", pack.files))["files"]
    assert {row["path"] for row in rows} == {
        path.relative_to(pack.folder).as_posix()
        for path in pack.folder.rglob("*")
        if path.is_file()
    }
    for row in rows:
        content = pack.read(row["path"])
        assert row["sha256"] == hashlib.sha256(content).hexdigest()
        assert row["size"] == len(content)


def test_the_manifest_names_lesson_drill_harp_position_and_tempo() -> None:
    pack = small_pack()
    rows = json.loads(manifest_json("Bends as places", "jon-weaver", pack.files))["files"]
    [row] = [row for row in rows if row["path"].endswith("low-f-2nd-drone.mix.wav")]
    del row["sha256"], row["size"], row["path"]
    assert row == {
        "kind": "audio", "lesson": 1, "exercise": "01-home-from-every-rung-low-f-2nd",
        "drill": "Home from every rung", "harp": "low F", "position": 2, "tempo": 56,
        "stem": "mix", "seconds": 16 * 60 / 56,  # four bars of 4/4
    }  # fmt: skip


def test_the_manifest_does_not_depend_on_the_order_of_its_rows() -> None:
    files = small_pack().files
    assert manifest_json("A", "b", files) == manifest_json("A", "b", files[::-1])
    paths = [row["path"] for row in json.loads(manifest_json("A", "b", files))["files"]]
    assert paths == sorted(paths)


# --- playlist ---------------------------------------------------------------------------

SONG = PackFile(
    "audio/01-a.mix.flac", "audio", drill="Höhe,\n#up", harp="Bb", position=2, seconds=3.2
)


def test_a_playlist_has_a_line_of_facts_and_a_path_for_each_sound() -> None:
    lines = playlist("Päck", [replace(SONG, stem="mix"), PackFile("x.mid", "midi")]).decode()
    assert lines.splitlines() == [
        "#EXTM3U",
        "#PLAYLIST:Päck",
        "#EXTINF:4,Höhe, #up - Bb harp, position 2 (mix)",
        "audio/01-a.mix.flac",
    ]
    assert lines.endswith("\n")


def test_a_length_that_is_not_known_is_minus_one() -> None:
    assert "#EXTINF:-1," in playlist("A", [replace(SONG, seconds=None)]).decode()


def test_a_title_cannot_add_a_line_to_a_playlist() -> None:
    text = playlist("a\nb\r\u2028c", [replace(SONG, drill="x\n../../etc/passwd\n#EXT")]).decode()
    assert len(text.splitlines()) == 4


@given(st.lists(st.sampled_from("abc"), max_size=3), st.lists(st.sampled_from("abc"), max_size=3))
def test_a_relative_path_leads_to_its_file(inside: list[str], folder: list[str]) -> None:
    path, place = "/".join([*inside, "x.flac"]), "/".join(folder)
    found = unquote(relative(path, place))
    assert posixpath.normpath(posixpath.join(place, found)) == path


def test_the_playlist_of_a_pack_leads_to_sounds_as_long_as_it_says() -> None:
    pack = small_pack()
    lines = pack.read("course.m3u8").decode().splitlines()[2:]
    assert len(lines) == 2 * 3
    for facts, path in zip(lines[::2], lines[1::2], strict=True):
        info = soundfile.info(pack.folder / path)
        assert abs(int(facts.split(":")[1].split(",")[0]) - info.duration) < 1.5


def test_of_each_exercise_the_fullest_sound_is_listened_to() -> None:
    stems = ("drone", "mix", "tones")
    files = [PackFile(f"{stem}.wav", "audio", exercise="a", stem=stem) for stem in stems]
    other = PackFile("b.wav", "audio", exercise="b", stem="tones")
    assert [each.path for each in listened_first([*files, other])] == ["mix.wav", "b.wav"]


# --- covers -----------------------------------------------------------------------------

RATE = 44_100


@cache
def art() -> bytes:
    return cover_art("Bends as places", "Lesson 3")


def sound(kind: str) -> bytes:
    """A second of a tone, encoded by libsndfile, with a title in its tags."""
    file = io.BytesIO()
    wave = 0.3 * np.sin(2 * np.pi * 392 * np.arange(RATE) / RATE)
    with soundfile.SoundFile(file, "w", RATE, 1, format=kind.upper()) as out:
        out.title = "Come home"
        out.write(wave)
    return file.getvalue()


def test_the_cover_is_a_square_picture_in_ink_of_the_sheets() -> None:
    image = Image.open(io.BytesIO(art())).convert("RGB")
    assert image.width == image.height >= 600
    colours = image.getcolors(1 << 20)
    assert colours is not None
    count, ground = max(colours)
    assert ground == (20, 76, 20)  # the accent of the sheets
    assert 0.5 < count / image.width**2 < 0.9
    assert image.getpixel((0, 0)) == image.getpixel((image.width - 1, image.height - 1)) == ground


def test_the_same_words_make_the_same_picture() -> None:
    assert cover_art("Bends as places", "Lesson 3") == art()


@pytest.mark.parametrize("kind", ["flac", "ogg", "mp3"])
def test_a_sound_carries_its_cover_and_still_sounds_the_same(kind: str) -> None:
    plain = sound(kind)
    covered = with_cover(plain, kind, art())
    assert picture_in(covered, kind) == (art(), "image/png", 3)  # 3: the front cover
    before, _ = soundfile.read(io.BytesIO(plain))
    after, rate = soundfile.read(io.BytesIO(covered))
    assert rate == RATE
    assert np.array_equal(before, after)


def picture_in(content: bytes, kind: str) -> tuple[bytes, str, int]:
    file = io.BytesIO(content)
    if kind == "mp3":
        [frame] = ID3(file).getall("APIC")
        return frame.data, frame.mime, int(frame.type)
    if kind == "flac":
        [picture] = FLAC(file).pictures
        assert (picture.width, picture.height) == Image.open(io.BytesIO(art())).size
    else:
        from base64 import b64decode

        [text] = OggVorbis(file)["METADATA_BLOCK_PICTURE"]
        picture = Picture(b64decode(text))
    return picture.data, picture.mime, int(picture.type)


@pytest.mark.parametrize("kind", ["flac", "ogg", "mp3"])
def test_other_tags_stay_and_a_second_cover_takes_the_place_of_the_first(kind: str) -> None:
    plain = sound(kind)
    once = with_cover(plain, kind, art())
    assert with_cover(plain, kind, art()) == once
    assert with_cover(with_cover(plain, kind, b"\x89PNG" + bytes(20)), kind, art()) == once
    tags = mutagen.File(io.BytesIO(once)).tags
    title = tags["TIT2"].text if kind == "mp3" else tags["title"]
    assert title == ["Come home"]


def test_a_file_that_is_not_sound_gets_no_cover() -> None:
    for kind in ("flac", "ogg"):
        with pytest.raises(RenderError, match="cover could not be put into the sound file"):
            with_cover(b"no sound", kind, art())


def test_a_type_without_pictures_is_refused() -> None:
    with pytest.raises(InputError, match='of type "wav" carries no cover; write flac, ogg or mp3'):
        with_cover(b"", "wav", art())
