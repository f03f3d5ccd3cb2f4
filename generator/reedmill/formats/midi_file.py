"""The parts of a Standard MIDI File that every writer here shares (RP-001, format 1)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from io import BytesIO

from reedmill.formats.quick_mido import Message, MetaMessage, MidiFile, MidiTrack
from reedmill.theory.meter import Meter
from reedmill.theory.positions import Key

TICKS_PER_QUARTER = 960
"""Divides by 64, 3 and 5, so eighths of a beat and their triplets are exact, and a tick is
about a millisecond at 60 quarters a minute, the time one bend message takes on a cable."""

PERCUSSION = 9
"""The percussion channel of General MIDI, from 0."""

TimedMessage = tuple[int, Message | MetaMessage]
"""Absolute tick and message."""


@dataclass(frozen=True, slots=True)
class MidiVoice:
    """One sounding track: its name, MIDI channel and General MIDI program, both from 0."""

    name: str
    channel: int
    program: int | None
    velocity: int


# What comes first when events share a tick: a note ends before the next one is tuned,
# and it is tuned and named before it sounds.
_RANK = {
    "note_off": 1, "program_change": 2, "control_change": 2, "pitchwheel": 3, "lyrics": 4,
    "note_on": 5,
}  # fmt: skip


def file_bytes(tracks: Iterable[Iterable[TimedMessage]], end: int) -> bytes:
    """Return a file of *tracks*, each closed at tick *end* or after its last event, in UTF-8."""
    file = MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    for events in tracks:
        file.tracks.append(_track(events, end))
    memory = BytesIO()  # a failed save to a path would leave half a file there
    file.save(file=memory)
    return memory.getvalue()


def _track(events: Iterable[TimedMessage], end: int) -> MidiTrack:
    """Return the events in time order with delta times, closed at *end*."""
    ordered = sorted(events, key=lambda event: (event[0], _RANK.get(event[1].type, 0)))
    last = max([end, *(tick for tick, _ in ordered)])
    track, now = MidiTrack(), 0
    for tick, message in [*ordered, (last, MetaMessage("end_of_track"))]:
        track.append(message.copy(time=tick - now))
        now = tick
    return track


def ticks(beats: Fraction, meter: Meter) -> Fraction:
    """Return the ticks that *beats* of *meter* last, not yet rounded."""
    return beats * 4 * TICKS_PER_QUARTER / meter.unit


def conductor(
    title: str, tempi: Iterable[TimedMessage], meter: Meter, key: Key
) -> Iterator[TimedMessage]:
    """Yield title, tempi and signatures.

    MIDI counts the tempo in quarters whatever the meter, and knows major and minor
    only: dorian to locrian positions are written as minor, the others as major.
    """
    yield 0, MetaMessage("track_name", name=title)
    yield from tempi
    yield 0, _time_signature(meter)
    yield 0, MetaMessage("key_signature", key=key.name + ("m" if key.minor else ""))


def tempo_event(quarter_s: Fraction) -> MetaMessage:
    """Return the tempo at which a quarter lasts *quarter_s* seconds, in whole microseconds."""
    return MetaMessage("set_tempo", tempo=round(quarter_s * 1_000_000))


def _time_signature(meter: Meter) -> MetaMessage:
    return MetaMessage(
        "time_signature",
        numerator=meter.beats,
        denominator=meter.unit,
        clocks_per_click=int(meter.pulse * 96 / meter.unit),  # 24 MIDI clocks to a quarter
        notated_32nd_notes_per_beat=8,
    )


def opening(voice: MidiVoice) -> Iterator[TimedMessage]:
    """Yield the name of the track and its instrument."""
    yield 0, MetaMessage("track_name", name=voice.name)
    if voice.program is not None:
        yield 0, Message("program_change", channel=voice.channel, program=voice.program)


def held(
    voice: MidiVoice, key: int, start: int, end: int, *, velocity: int | None = None
) -> Iterator[TimedMessage]:
    """Yield one key held from tick *start* to *end*, at least a tick long so that it does end."""
    loud = voice.velocity if velocity is None else velocity
    yield start, Message("note_on", channel=voice.channel, note=key, velocity=loud)
    off = max(end, start + 1)
    yield off, Message("note_off", channel=voice.channel, note=key, velocity=0)
