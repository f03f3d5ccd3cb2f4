"""A recorded take: the samples of any sound file a phone, browser or recorder makes.

PyAV carries FFmpeg's decoders, which are fed with bytes of strangers: the file is opened by
``base/reading`` alone, only the formats in ``_FORMATS`` are tried, and no format may open a
second file or an address.  What is kept is one channel at ``RATE``, as 16-bit steps, so that an
hour takes 115 MB.
"""

from __future__ import annotations

import errno
import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from io import BufferedReader
from pathlib import Path
from shlex import quote
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from reedmill.base import stopping
from reedmill.base.errors import InputError
from reedmill.base.kinds import DRILL, HEAD_BYTES, kind_in_words, other_kind, our_kind
from reedmill.base.reading import open_plain, shown_name, unreadable
from reedmill.base.remedies import Remedy

if TYPE_CHECKING:
    from av.audio.frame import AudioFrame
    from av.audio.resampler import AudioResampler
    from av.audio.stream import AudioStream
    from av.container import InputContainer

RATE = 16_000
"""Samples a second of every take: the highest reed in use, near 5600 Hz, is still below half."""

LONGEST_S = 60 * 60  # a whole lesson; longer ones are refused
SHORTEST_S = 1.0  # a note or two
MOST_BYTES = 2_000_000_000  # an hour of 24-bit stereo at 96 kHz; a film of an hour is less
MOST_STREAMS = 32  # of a film with its languages; a file that names more is damaged

Steps = NDArray[np.int16]
Floats = NDArray[np.float32]

_FORMATS = (
    "wav,w64,rf64,aiff,flac,mp3,ogg,aac,adts,mov,mp4,m4a,3gp,3g2,mj2,matroska,webm,caf,avi,au"
)
_HEARD_KINDS = ("a sound file", "a film")  # of base/kinds; everything else there is no take
_SILENT_DB = -60.0  # a take whose loudest tenth of a second is softer than this holds nothing
_CLIPPED_AT = 0.985  # of full scale; codecs soften the corners of clipped tops
_MOST_CLIPPED = 0.05  # share of the samples of a tone that are squared off by overload
_CHOSEN_AFTER_S = 60  # of sound it is known which side of it holds the player
_MOST_GAP_S = 5.0  # that a pause of the recorder may leave in the times of a file
# Silence and full scale of samples that are whole numbers.
_SCALES = {"uint8": (128.0, 127.0), "int16": (0.0, 32767.0), "int32": (0.0, 2147483647.0)}
_NOT_SAID = 0xFFFF_FFF0  # a length in a WAV file that its recorder has left open
_MOST_TAGS = 100
_SAVE_AGAIN = "Copy it from the recorder again, or record the take again."


@dataclass(frozen=True, slots=True)
class Take:
    """One recording, mixed to one channel."""

    steps: Steps = field(repr=False, compare=False)  # at RATE, 32767 is full scale
    name: str = ""  # of its file, printable only through ``shown_name`` and an error
    clipped_share: float = 0.0  # of all samples that are at full scale, before mixing
    tags: tuple[tuple[str, str], ...] = ()  # foreign text: title, comment... as the file has them

    @property
    def seconds(self) -> float:
        """The length of the take in seconds."""
        return len(self.steps) / RATE

    def part(self, first: int, last: int) -> Floats:
        """Return samples *first* to *last*, -1 to 1, with silence beyond either end."""
        inside = self.steps[max(0, first) : max(0, last)].astype(np.float32) / np.float32(32768)
        before = max(0, min(-first, last - first))
        return np.pad(inside, (before, last - first - before - len(inside)))

    @classmethod
    def of(cls, samples: NDArray[Any], name: str = "") -> Take:
        """Make a take of *samples* (-1 to 1 at ``RATE``), for sound not read from a file."""
        clipped = float(np.mean(np.abs(samples) >= _CLIPPED_AT)) if len(samples) else 0.0
        return cls(np.rint(np.clip(samples, -1, 1) * 32767).astype(np.int16), name, clipped)


def read_take(path: Path) -> Take:
    """Read the take in the file at *path*: sound, or the sound of a film.

    ``InputError`` with the reason when it is not a plain file, holds no sound, is damaged, or
    is shorter than ``SHORTEST_S`` or longer than ``LONGEST_S`` seconds; and where PyAV, which
    reads it, is not installed.
    """
    name = shown_name(path)
    _check_decoders()
    try:
        with open_plain(path) as file:
            _check_head(file, name)
            with _container(file, name) as container:
                return _read(container, name)
    except OSError as error:
        raise unreadable(path, error) from None


def _check_decoders() -> None:
    try:
        import av  # noqa: F401  an extra brings it
    except ImportError:
        raise InputError(
            "recordings are read by the package av, which is not installed.",
            way_out=Remedy.HEAR_INSTALLED,
        ) from None


def _check_head(file: BufferedReader, name: str) -> None:
    head = file.read(HEAD_BYTES)
    size = file.seek(0, 2)
    file.seek(0)
    if not head:
        raise InputError(f"{name}: this file is empty. {_SAVE_AGAIN}")
    said = int.from_bytes(head[4:8], "little") if head.startswith(b"RIFF") else 0
    if size < said < _NOT_SAID:
        raise InputError(
            f"{name}: this recording breaks off: {size} of its {said} bytes are there. "
            f"{_SAVE_AGAIN}"
        )
    kind = other_kind(head)
    if kind is not None and kind.name not in _HEARD_KINDS:
        raise InputError(
            f"{name}: this is {kind.name}, not a recording. Give the sound or film of your take."
        )
    _check_not_text(head, name)
    if size > MOST_BYTES:
        raise InputError(
            f"{name}: this file is larger than {MOST_BYTES // 10**9} GB. Cut out the take you want "
            "heard."
        )


def _check_not_text(head: bytes, name: str) -> None:
    """Raise ``InputError`` for a text, and say of one of ours what it is."""
    ours = our_kind(head)
    if ours == DRILL:
        raise InputError(
            f"{name}: this is a drill, not a recording.", way_out=Remedy.DRILL_OF_TAKE,
            file=quote(name),
        )  # fmt: skip
    if ours or _is_text(head):
        what = kind_in_words(head, "a recording") if ours else "is a text, not a recording"
        raise InputError(f"{name}: this {what}. Give the sound or film of your take.")


def _is_text(head: bytes) -> bool:
    words = head.decode("utf-8", "replace").rstrip("\N{REPLACEMENT CHARACTER}")  # one may be cut
    return all(c.isprintable() or c in "\t\n\r" for c in words) and "\ufffd" not in words


class _Source:
    """An open file with the interface FFmpeg expects.

    A damaged one sends it to places that are not there; what a file raises then PyAV prints on
    the terminal, so an error's number is given back instead.
    """

    def __init__(self, file: BufferedReader) -> None:
        self._file = file

    def read(self, count: int) -> bytes:
        return self._file.read(max(0, count))

    def seek(self, offset: int, whence: int = 0) -> int:
        try:
            return self._file.seek(offset, whence)
        except (OSError, ValueError, OverflowError):
            return -errno.EINVAL

    def tell(self) -> int:
        return self._file.tell()


@contextmanager
def _container(file: BufferedReader, name: str) -> Iterator[InputContainer]:
    import av

    av.logging.set_level(av.logging.PANIC)  # FFmpeg would write to the terminal itself
    options = {"format_whitelist": _FORMATS, "protocol_whitelist": "none"}
    try:
        with stopping.held():  # FFmpeg asks us for bytes, and loses what we raise meanwhile
            container = av.open(_Source(file), "r", options=options, container_options=options)
    except (av.FFmpegError, ValueError, UnicodeError):
        raise InputError(
            f"{name}: no sound can be read from this file: it is damaged, cut off, or not a "
            f"recording at all. {_SAVE_AGAIN}"
        ) from None
    with container:
        yield container


def _read(container: InputContainer, name: str) -> Take:
    if len(container.streams) > MOST_STREAMS or not container.streams.audio:
        raise InputError(
            f"{name}: there is no sound in this file. Give a recording of your playing."
        )
    stream = container.streams.audio[0]
    said_s = _said_seconds(container, stream)
    if said_s > LONGEST_S + 1:
        raise _too_long(name, said_s)
    gathered = _Gathered(name, said_s)
    _decode(container, stream, gathered)
    tags = [*container.metadata.items(), *stream.metadata.items()]
    return gathered.take(tuple((str(name), str(value)) for name, value in tags[:_MOST_TAGS]))


def _said_seconds(container: InputContainer, stream: AudioStream) -> float:
    """Return the length the file claims, 0 where it claims none."""
    if stream.duration and stream.time_base:
        return float(stream.duration * stream.time_base)
    return container.duration / 1e6 if container.duration else 0.0


def _too_long(name: str, seconds: float) -> InputError:
    return InputError(
        f"{name}: this recording lasts {seconds / 60:.0f} minutes; the longest that is heard "
        f"lasts {LONGEST_S // 60}. Cut it into takes."
    )


def _decode(container: InputContainer, stream: AudioStream, gathered: _Gathered) -> None:
    """Feed every frame of *stream* to *gathered*, up to where the file becomes unreadable."""
    import av

    packets = iter(container.demux(stream))
    try:
        while True:
            stopping.check()
            with stopping.held():
                packet = next(packets, None)
                if packet is None:
                    break
                for frame in stream.decode(packet):
                    gathered.add(frame)
        with stopping.held():
            gathered.flush()
    except (av.FFmpegError, ValueError, UnicodeError):
        gathered.broken = True


class _Gathered:
    """The decoded sound of a file, resampled: both channels until one is chosen."""

    def __init__(self, name: str, said_s: float) -> None:
        self.name, self.said_s, self.broken = name, said_s, False
        self._resampler: AudioResampler | None = None
        self._sides = [bytearray(), bytearray()]
        self._chosen: str | None = None
        self._count = self._over = self._all = 0
        self._powers = np.zeros(3)  # left, right, left times right
        self._next_s = 0.0

    def add(self, frame: AudioFrame) -> None:
        """Add one decoded frame."""
        self._fill_gap(frame)
        self._count_clipped(frame)
        if self._resampler is None:
            self._resampler = _resampler_for(frame)
        for part in self._resampler.resample(frame):
            self._keep(part)
        if self._count > (LONGEST_S + 1) * RATE:
            raise _too_long(self.name, self._count / RATE)

    def flush(self) -> None:
        """Add the last samples, which the resampler still holds."""
        if self._count and self._resampler is not None:
            for part in self._resampler.resample(None):
                self._keep(part)

    def _fill_gap(self, frame: AudioFrame) -> None:
        """Insert silence where the frame's time shows that the recorder paused."""
        rate = frame.sample_rate or RATE
        at_s = frame.time if frame.time is not None else self._next_s
        gap_s = at_s - self._next_s
        if self._count and 0.05 < gap_s <= _MOST_GAP_S:
            silence = np.zeros(round(gap_s * RATE), np.int16)
            self._append(silence, silence)
        self._next_s = at_s + frame.samples / rate
        frame.pts = None

    def _count_clipped(self, frame: AudioFrame) -> None:
        values = frame.to_ndarray()
        middle, full = _SCALES.get(values.dtype.name, (0.0, 1.0))
        away = np.abs(values.astype(np.float32) - middle)
        self._over += int(np.count_nonzero(away >= full * _CLIPPED_AT))
        self._all += values.size

    def _keep(self, frame: AudioFrame) -> None:
        sides = np.asarray(frame.to_ndarray(), np.int16)
        self._append(sides[0], sides[-1])

    def _append(self, left: Steps, right: Steps) -> None:
        self._count += len(left)
        if self._chosen is not None:
            self._sides[0] += _mixed(left, right, self._chosen).tobytes()
            return
        a, b = left.astype(np.float32), right.astype(np.float32)
        self._powers += (float(a @ a), float(b @ b), float(a @ b))
        self._sides[0] += left.tobytes()
        self._sides[1] += right.tobytes()
        if self._count >= _CHOSEN_AFTER_S * RATE:
            self._choose()

    def _choose(self) -> None:
        """Settle which channel is kept, or both: an hour of both takes twice the memory."""
        left, right, both = self._powers
        alike = both / math.sqrt(left * right) if left and right else 0.0
        self._chosen = "both"
        # 10 dB apart, or hardly alike: one side is a dead microphone or another sound
        if min(left, right) < 0.1 * max(left, right) or alike < 0.3:
            self._chosen = "left" if left >= right else "right"
        sides = [np.frombuffer(bytes(each), np.int16) for each in self._sides]
        self._sides = [bytearray(_mixed(sides[0], sides[1], self._chosen).tobytes()), bytearray()]

    def take(self, tags: tuple[tuple[str, str], ...]) -> Take:
        """Return the finished take; ``InputError`` if broken off, too short or too long."""
        seconds = self._count / RATE
        # containers round their length: a second, or a fiftieth, is not a break
        missing = self.said_s - seconds > max(1.0, 0.02 * self.said_s)
        if self.broken or missing:
            after = f"after {seconds:.1f} s" if seconds else "at once"
            raise InputError(f"{self.name}: this recording breaks off {after}. {_SAVE_AGAIN}")
        if seconds < SHORTEST_S:
            raise InputError(
                f"{self.name}: this recording lasts {seconds:.1f} s, which is too short to hear "
                "anything in. Record the whole drill."
            )
        if self._chosen is None:
            self._choose()
        steps = np.frombuffer(self._sides[0], np.int16)
        return Take(steps, self.name, self._over / max(1, self._all), tags)


def _resampler_for(frame: AudioFrame) -> AudioResampler:
    """Return a resampler that brings sound like that of *frame* to ``RATE``.

    One channel stays one: FFmpeg would make two of it that are each 3 dB softer.
    """
    from av.audio.resampler import AudioResampler

    return AudioResampler("s16p", "mono" if frame.layout.nb_channels == 1 else "stereo", RATE)


def _mixed(left: Steps, right: Steps, chosen: str) -> Steps:
    """Return both channels mixed, or the *chosen* one where the other is nearly empty."""
    if chosen == "both":
        return ((left.astype(np.int32) + right) // 2).astype(np.int16)
    return left if chosen == "left" else right


def check_audible(take: Take) -> None:
    """Raise ``InputError`` for a take that is silent or overdriven throughout."""
    loudest = max(
        (_level_db(take.part(at, at + RATE // 10)) for at in range(0, len(take.steps), RATE // 10)),
        default=-120.0,
    )
    if loudest < _SILENT_DB:
        raise InputError(
            f"{take.name}: there is only silence in this recording (its loudest moment is "
            f"{loudest:.0f} dB). Check that the microphone is on and that the harp is near it."
        )
    if take.clipped_share > _MOST_CLIPPED:
        raise InputError(
            f"{take.name}: this recording is overdriven: {100 * take.clipped_share:.0f}% of it is "
            "at full scale. Move the microphone away, or turn its level down, and record again."
        )


def _level_db(sound: Floats) -> float:
    """Return the mean square in decibels below full scale, -120 for silence."""
    power = float(np.mean(sound.astype(np.float64) ** 2)) if len(sound) else 0.0
    return 10 * math.log10(max(power, 1e-12))
