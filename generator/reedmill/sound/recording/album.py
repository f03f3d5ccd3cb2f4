"""Album tags for a finished sound file, whose sound stays as it is."""

from __future__ import annotations

from typing import IO, Any

from reedmill.base.errors import RenderError, reason_of
from reedmill.sound.signal.tags import InAlbum, id3_in_album, vorbis_in_album


def put_in_album(file: IO[bytes], kind: str, track: InAlbum) -> None:
    """Write *track* into the tags of *file*, a whole sound file of type *kind*, in place.

    All its other tags stay, and so does its sound.  ``RenderError`` when it is not of its type.
    """
    writers = {"wav": _in_wav, "flac": _in_flac, "ogg": _in_ogg, "mp3": _in_mp3}
    file.seek(0)
    try:
        writers[kind](file, track)
    except OSError:  # of the disk, which whoever opened the file can name
        raise
    except Exception as error:  # what is in a store may come from a stranger
        raise RenderError(
            f"the track number cannot be written into the sound file ({reason_of(error)}). Remove "
            "the folder .reedmill of the pack and build it again."
        ) from None


def _no_padding(_: object) -> int:
    """Return 0, no padding for later changes: equal sounds with equal tags are equal files."""
    return 0


def _in_flac(file: IO[bytes], track: InAlbum) -> None:
    from mutagen.flac import FLAC

    _comment(FLAC(file), file, track)


def _in_ogg(file: IO[bytes], track: InAlbum) -> None:
    from mutagen.oggvorbis import OggVorbis

    _comment(OggVorbis(file), file, track)


def _comment(tagged: Any, file: IO[bytes], track: InAlbum) -> None:
    tagged.update(vorbis_in_album(track))
    file.seek(0)
    tagged.save(file, padding=_no_padding)


def _in_wav(file: IO[bytes], track: InAlbum) -> None:
    from mutagen.wave import WAVE

    tagged = WAVE(file)
    if tagged.tags is None:
        tagged.add_tags()
    _frame(tagged.tags, file, track)


def _in_mp3(file: IO[bytes], track: InAlbum) -> None:
    from mutagen.id3 import ID3

    _frame(ID3(file), file, track)


def _frame(tags: Any, file: IO[bytes], track: InAlbum) -> None:
    from mutagen.id3 import Frames

    for name, text in id3_in_album(track).items():
        tags.setall(name, [Frames[name](encoding=3, text=[text])])  # 3: UTF-8
    file.seek(0)
    tags.save(file, v2_version=4, padding=_no_padding)
