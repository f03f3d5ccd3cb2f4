"""MIDI time: the tick at which each pass of a recording begins, and its tempo.

A file made from the same plan as the sound lies on the sound: count-ins, echoes, repeats and
tempo ladders come at the same second, and every bar line of the music on a bar line of the file.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from reedmill.formats.midi_file import TimedMessage, tempo_event, ticks
from reedmill.practice.practice import Pass, RecordingPlan
from reedmill.score.score import Note


@dataclass(frozen=True, slots=True)
class PassTicks:
    """One pass through a score, and the MIDI tick at which its first bar begins."""

    heard: Pass
    start: Fraction  # ticks

    def notated(self, beats: Fraction) -> Fraction:
        """Return the exact tick at which the notated place *beats* is played."""
        return self.sounding(self.heard.score.performed(beats))

    def sounding(self, beats: Fraction) -> Fraction:
        """Return the exact tick of a place in beats that swing has already moved."""
        return self.start + ticks(beats - self.heard.first, self.heard.score.meter)

    def silent_tick(self, note: Note) -> int:
        """Return the tick at which *note* falls silent, rounded once."""
        return round(self.sounding(self.heard.score.silent_from(note)))

    def notated_tick(self, beats: Fraction) -> int:
        """Return ``notated``, rounded once."""
        return round(self.notated(beats))


@dataclass(frozen=True, slots=True)
class Clock:
    """A whole recording in ticks."""

    stretches: tuple[PassTicks, ...]
    tempi: tuple[TimedMessage, ...]
    end: int  # tick of the last bar's end

    @classmethod
    def of(cls, plan: RecordingPlan) -> Clock:
        """Return the ticks of *plan*.

        The seconds before the first count-in, in which a drone is heard alone, become one bar
        at a tempo of its own, so that bars stay bars.
        """
        first = plan.passes[0]
        meter = first.score.meter
        bar = ticks(Fraction(meter.beats), meter)
        lead_s = first.start_s - first.score.seconds(Fraction(first.count_in_bars * meter.beats))
        tempi: list[tuple[Fraction, Fraction]] = []  # the tick, and the seconds of a quarter
        now = Fraction(0)
        if lead_s:
            tempi.append((now, lead_s * meter.unit / (4 * meter.beats)))
            now += bar
        stretches = []
        for heard in plan.passes:
            quarter_s = heard.score.seconds(Fraction(meter.unit, 4))
            if not tempi or tempi[-1][1] != quarter_s:
                tempi.append((now, quarter_s))
            now += heard.count_in_bars * bar
            stretches.append(PassTicks(heard, now))
            now += ticks(heard.last - heard.first, meter)
        events = tuple((round(tick), tempo_event(quarter_s)) for tick, quarter_s in tempi)
        return cls(tuple(stretches), events, round(now))
