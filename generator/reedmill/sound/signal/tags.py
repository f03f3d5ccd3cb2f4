"""Tags of a sound file (title, key, tempo, harp) as ID3 and as Vorbis comments.

ID3v2.4.0 ("ID3 tag version 2.4.0 - Main Structure" and "- Native Frames", 2000, from
memory) is written here, so that a WAV file needs no library.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reedmill.practice.practice import RecordingPlan

_ALBUM = "Reedmill"
_UTF_8 = b"\x03"  # the encoding byte of a text frame


@dataclass(frozen=True, slots=True)
class Tags:
    """The tags of a file: printable texts, none empty."""

    title: str
    key: str  # G or Am: the root and m for minor
    tempo: str  # beats a minute; first and last of a ladder
    harp: str
    position: str
    stem: str  # which of tones, backing, drone, click it holds


@dataclass(frozen=True, slots=True)
class InAlbum:
    """A place among the tracks of an album."""

    album: str  # printable, not empty
    number: int  # from 1
    total: int


def tags_of(plan: RecordingPlan, stems: Sequence[str]) -> Tags:
    """Return the tags of a file that holds *stems* of *plan*."""
    score = plan.score
    tempi = [plan.passes[0].score.tempo_bpm, plan.passes[-1].score.tempo_bpm]
    return Tags(
        title=_title(plan, "-".join(dict.fromkeys(map(str, tempi))), stems),
        key=score.key.name + ("m" if score.key.minor else ""),
        tempo="-".join(dict.fromkeys(map(str, tempi))),
        harp=score.harp.full_name,
        position=str(score.position.number),
        stem=", ".join(stems),
    )


def _title(plan: RecordingPlan, tempo: str, stems: Sequence[str]) -> str:
    """Return the title players show: the drill, then what tells this file from others of it.

    ``Home from every rung (A harp, 60 bpm, tones)``
    """
    score = plan.score
    heard = [_HEARD.get(stem, stem) for stem in stems]
    feel = (score.band.feel,) if score.band else ()
    parts = (score.harp.label, score.position.ordinal, f"{tempo} bpm", *feel, " and ".join(heard))
    return f"{score.title or 'Untitled'} ({', '.join(parts)})"


_HEARD = {"backing": "band"}


def vorbis_comments(tags: Tags) -> dict[str, str]:
    """Return the tags as Vorbis comments, for FLAC and OGG."""
    return {
        "TITLE": tags.title,
        "ALBUM": _ALBUM,
        "INITIALKEY": tags.key,
        "BPM": tags.tempo,
        "HARP": tags.harp,
        "POSITION": tags.position,
        "STEM": tags.stem,
    }


def id3(tags: Tags) -> bytes:
    """Return the tags as an ID3v2.4 tag, for MP3 and for the ``id3`` chunk of WAV.

    TBPM is the number of the first tempo, because the frame holds one number; the ladder is
    in its own TXXX frame with harp, position and stem.
    """
    frames = [
        _text_frame(b"TIT2", tags.title),
        _text_frame(b"TALB", _ALBUM),
        _text_frame(b"TKEY", tags.key),
        _text_frame(b"TBPM", tags.tempo.partition("-")[0]),
        _text_frame(b"TXXX", f"HARP\0{tags.harp}"),
        _text_frame(b"TXXX", f"POSITION\0{tags.position}"),
        _text_frame(b"TXXX", f"TEMPO\0{tags.tempo}"),
        _text_frame(b"TXXX", f"STEM\0{tags.stem}"),
    ]
    body = b"".join(frames)
    return b"ID3\x04\x00\x00" + _synchsafe(len(body)) + body


def vorbis_in_album(track: InAlbum) -> dict[str, str]:
    """Return its fields as Vorbis comments, for FLAC and OGG.

    ``TRACKNUMBER`` is a field of "Ogg Vorbis I format specification: comment field and header
    specification" (Xiph.Org, from memory); ``TRACKTOTAL`` is common practice.
    """
    return {
        "ALBUM": track.album, "TRACKNUMBER": str(track.number), "TRACKTOTAL": str(track.total),
    }  # fmt: skip


def id3_in_album(track: InAlbum) -> dict[str, str]:
    """Return the text of each ID3 frame of a track; in TRCK a slash precedes the total.

    >>> id3_in_album(InAlbum("Two evenings", 3, 9))
    {'TALB': 'Two evenings', 'TRCK': '3/9'}
    """
    return {"TALB": track.album, "TRCK": f"{track.number}/{track.total}"}


def _text_frame(name: bytes, text: str) -> bytes:
    content = _UTF_8 + text.encode()
    return name + _synchsafe(len(content)) + b"\x00\x00" + content


def _synchsafe(number: int) -> bytes:
    """Return four bytes of seven bits each."""
    return bytes((number >> shift) & 0x7F for shift in (21, 14, 7, 0))
