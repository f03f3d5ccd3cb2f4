"""Sound files: WAV by our own writer, FLAC, OGG and MP3 through libsndfile, with tags.

Every file is written as a stream, a second at a time: an hour needs no more memory than a
minute, and libsndfile crashes on a long OGG that is written in one piece.  Equal input gives
equal bytes: an OGG's serial number, which libsndfile draws by lot, is set to 1.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

import numpy as np

from reedmill.base.errors import RenderError, reason_of
from reedmill.base.remedies import Remedy
from reedmill.base.stopping import check, held
from reedmill.base.writing import settle
from reedmill.sound.recording.mix import StemSet
from reedmill.sound.signal.loudness import Samples
from reedmill.sound.signal.tags import Tags, id3, tags_of, vorbis_comments
from reedmill.sound.signal.wav import checked, integers, wav_stream

# libsndfile's names of container and coding; WAV needs none.
_ENCODERS = {
    "flac": ("FLAC", "PCM_{bits}"),
    "ogg": ("OGG", "VORBIS"),
    "mp3": ("MP3", "MPEG_LAYER_III"),
}
_OGG_SERIAL = 1


@dataclass(frozen=True, slots=True)
class AudioFormat:
    """The encoding of a sound file: its type and bits."""

    kind: str  # wav, flac, ogg or mp3
    bits: int = 16  # of wav and flac


def save_sound(
    path: Path, taken: StemSet, stems: Sequence[str], factor: float, form: AudioFormat
) -> None:
    """Write the sum of *stems*, times *factor*, to *path*, which must not exist.

    ``RenderError`` when the encoder is not there, ``OSError`` when the file cannot be written.
    """
    blocks = taken.file_blocks(stems, factor)
    tags = tags_of(taken.plan, stems)
    if form.kind != "wav":
        _encode(path, blocks, taken, tags, form)
        return
    shape = {"rate": taken.rate, "channels": taken.channels, "bits": form.bits}
    with path.open("xb") as file:
        for piece in wav_stream(blocks, taken.file_count, tags=tags, **shape):
            check()
            file.write(piece)
        settle(file)


def _encode(
    path: Path, blocks: Iterator[Samples], taken: StemSet, tags: Tags, form: AudioFormat
) -> None:
    soundfile, mutagen = _libraries()
    container, coding = _ENCODERS[form.kind]
    if container not in soundfile.available_formats():
        raise RenderError(
            f"this system's libsndfile writes no {container}.", way_out=Remedy.OTHER_ENCODER
        )
    shape = {
        "samplerate": taken.rate, "channels": taken.channels, "format": container,
        "subtype": coding.format(bits=form.bits),
    }  # fmt: skip
    with path.open("x+b") as file:
        sink = _Sink(file, id3(tags) if form.kind == "mp3" else b"")
        with sink.told(soundfile.SoundFileError), ExitStack() as stack:
            with held():
                out = soundfile.SoundFile(sink, "w", **shape)
                stack.callback(_closed, out)
            for block in blocks:
                steps = _steps(block, form)
                with held():  # a stop inside a call from C would get lost there
                    out.write(steps)
                sink.check()
        settle(file)
        if form.kind != "mp3":
            with _told(mutagen.MutagenError):
                _comment(file, tags, form)
            settle(file)


def _closed(out: Any) -> None:
    with held():
        out.close()


def _steps(block: Samples, form: AudioFormat) -> Any:
    """Return *block* as libsndfile expects it: integers where the format stores them."""
    if form.kind != "flac":
        return checked(block)
    steps = integers(block, form.bits)
    return steps.astype(np.int16) if form.bits == 16 else steps << 8


@contextmanager
def _told(unwanted: type[Exception]) -> Iterator[None]:
    try:
        yield
    except unwanted as error:
        raise RenderError(f"the sound could not be encoded ({reason_of(error)}).") from None


def _libraries() -> tuple[Any, Any]:
    """Return the modules soundfile and mutagen; ``RenderError`` when one is missing."""
    try:
        import mutagen
        import soundfile
    except (ImportError, OSError) as error:  # soundfile raises OSError without libsndfile
        raise RenderError(
            "FLAC, OGG and MP3 need the packages soundfile and mutagen, of which one cannot be "
            f"loaded ({reason_of(error)}). Install them with: pip install soundfile mutagen. "
            "WAV needs nothing."
        ) from None
    return soundfile, mutagen


class _Sink:
    """A file for libsndfile, which cannot pass errors on: they are kept and raised later."""

    def __init__(self, file: IO[bytes], before: bytes) -> None:
        self._file, self._start = file, len(before)
        self._error: BaseException | None = None
        self.write(before)

    @contextmanager
    def told(self, unwanted: type[Exception]) -> Iterator[None]:
        """Raise the error of the file rather than what libsndfile makes of it."""
        with _told(unwanted):
            try:
                yield
            finally:
                self.check()

    def check(self) -> None:
        """Raise any error since the file was opened, or that we were stopped."""
        check()
        if self._error:
            raise self._error

    def write(self, data: bytes) -> int:
        try:
            self._file.write(data)
        except BaseException as error:
            self._error = self._error or error
        return len(data)

    def read(self, count: int = -1) -> bytes:
        return self._file.read(count)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        try:
            self._file.seek(offset + (self._start if whence == os.SEEK_SET else 0), whence)
        except BaseException as error:  # what was still to be written goes first, and may not fit
            self._error = self._error or error
        return self.tell()

    def tell(self) -> int:
        return self._file.tell() - self._start


def _comment(file: IO[bytes], tags: Tags, form: AudioFormat) -> None:
    """Write the Vorbis comments, and the serial number of an OGG."""
    from mutagen.flac import FLAC
    from mutagen.oggvorbis import OggVorbis

    file.seek(0)
    tagged = FLAC(file) if form.kind == "flac" else OggVorbis(file)
    tagged.update(vorbis_comments(tags))
    file.seek(0)
    tagged.save(file)
    if form.kind == "ogg":
        _renumber(file)


def _renumber(file: IO[bytes]) -> None:
    """Give every page of an OGG the same serial number, and a new checksum."""
    from mutagen.ogg import OggPage

    end = file.seek(0, os.SEEK_END)
    file.seek(0)
    while file.tell() < end:
        page = OggPage(file)
        page.serial = _OGG_SERIAL
        file.seek(page.offset)
        file.write(page.write())
