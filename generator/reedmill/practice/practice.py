"""Ways to practise one drill, as a plan: what sounds when, before there is any sound.

A plan is a list of passes over the same score.  Everything in it is exact (fractions of a
second), so that stems cut from one plan lie on one another sample by sample.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import Enum
from fractions import Fraction

from reedmill.base.articles import with_article
from reedmill.base.errors import InputError, close_match
from reedmill.base.ranges import LEAD_IN_S, MOST_LEAD_IN_S, TEMPI_BPM
from reedmill.base.remedies import Remedy
from reedmill.score.score import Meter, Note, Score, by_attack

LEAD_S = Fraction(2)
"""Seconds in which the drone is heard alone before a count-in, to take the root in."""

LONGEST_S = 3 * 60 * 60
"""The longest recording in seconds: what a WAV file can hold, and a day's practice."""

MOST_REPEATS, MOST_BARS, MOST_RUNGS = 100, 16, 60

DRONE_TONES = ("root", "fifth", "octave")

PLAIN_BAND = "plain"
"""The band that is built in, where another is named by its SoundFont."""


class Click(Enum):
    """The places where a click sounds besides a count-in."""

    COUNT_IN = "count-in"
    BEATS = "beats"
    OFFBEATS = "offbeats"  # the beats and what lies between them, late in a shuffle


class ClickLevel(Enum):
    """The loudness of the click beside the music it is heard with."""

    QUIET = "quiet"  # behind the music
    EVEN = "even"  # as loud as its beat
    LOUD = "loud"  # over it


@dataclass(frozen=True, slots=True)
class Practice:
    """A way to practise a drill: count-in, repeats, echo, fade-out and tempo ladder."""

    count_in_bars: int = 0  # clicked at the beginning and at each new tempo
    repeats: int = 1  # times through, at each tempo
    echo_bars: int | None = None  # how many bars are played, then left open; 0: the whole drill
    fade_out: bool = False  # the guide grows softer from time to time and is silent in the last
    tempi_bpm: tuple[int, ...] = ()  # the tempo ladder; empty: the score's own tempo alone

    def __post_init__(self) -> None:
        _check("count-in", "bars", self.count_in_bars, range(MOST_BARS + 1))
        _check("repeat", "times", self.repeats, range(1, MOST_REPEATS + 1))
        _check("echo", "bars", self.echo_bars or 0, range(MOST_BARS + 1))
        for tempo in self.tempi_bpm:
            _check("tempo", "beats a minute", tempo, TEMPI_BPM)
        if self.fade_out and self.repeats == 1:
            raise InputError(
                "the tones can only fade out over repeats, and there are none.",
                way_out=Remedy.REPEAT_TO_FADE,
            )


def _check(what: str, unit: str, value: int, allowed: range) -> None:
    if value not in allowed:
        raise InputError(
            f"{with_article(what)} of {value} {unit} cannot be played; "
            f"write {allowed[0]} to {allowed[-1]}."
        )


@dataclass(frozen=True, slots=True)
class Pass:
    """One time through the bars from *first* to *last*, with the tones audible or silent."""

    score: Score  # at the tempo of this pass
    start_s: Fraction  # seconds from the start of the recording to *first*
    first: Fraction  # beats of the score, on a bar line
    last: Fraction  # beats of the score, on a bar line
    guide: float = 1.0  # amplitude of the guide: 1 as it is, 0 silent
    count_in_bars: int = 0  # clicked before it, ending at start_s

    def at_s(self, beats: Fraction) -> Fraction:
        """Return the seconds from the start of the recording to the notated place *beats*."""
        return self.start_s + self.score.performed_s(beats) - self.score.seconds(self.first)

    def silent_s(self, note: Note) -> Fraction:
        """Return the seconds from the start of the recording to when *note* falls silent."""
        beats = self.score.silent_from(note) - self.first
        return self.start_s + self.score.seconds(beats)

    @property
    def end_s(self) -> Fraction:
        """Seconds from the start of the recording to *last*."""
        return self.at_s(self.last)

    @property
    def notes(self) -> tuple[Note, ...]:
        """The notes that begin in the pass."""
        return self.score.between(self.first, self.last)

    def attacks(self) -> list[tuple[Note, ...]]:
        """Return the pass's notes by attack; a slide is always in the pass of its attack."""
        return by_attack(self.notes)


@dataclass(frozen=True, slots=True)
class RecordingPlan:
    """A recording before it sounds: passes in time order, with no gaps except count-ins."""

    passes: tuple[Pass, ...]
    lead_in_s: Fraction = Fraction(0)  # of silence before it in a sound file

    @property
    def length_s(self) -> Fraction:
        """Seconds to the end of the last bar."""
        return self.passes[-1].end_s

    @property
    def score(self) -> Score:
        """The score as the first pass plays it."""
        return self.passes[0].score


AS_WRITTEN = Practice()


def off_beats(meter: Meter) -> tuple[Fraction, ...]:
    """Return where off-beats are within one pulse, in beats: in its middle, or on its thirds."""
    return (Fraction(1), Fraction(2)) if meter.pulse == 3 else (meter.pulse / 2,)


def plan_recording(
    score: Score, practice: Practice = AS_WRITTEN, *, lead_s: Fraction = Fraction(0)
) -> RecordingPlan:
    """Plan *score* practised as *practice* says, beginning after *lead_s* seconds.

    At each tempo of the ladder comes the count-in, then every repeat; with an echo each
    stretch is played and then left open.  ``InputError`` when it would last too long.
    """
    _check_length(score, lead_s + played_s(score, practice))
    passes: list[Pass] = []
    stretches = _stretches(score, practice.echo_bars)
    now = lead_s
    for tempo in practice.tempi_bpm or (score.tempo_bpm,):
        paced = replace(score, tempo_bpm=tempo)
        count_in = practice.count_in_bars
        for first, last, guide in _turns(stretches, practice):
            now += paced.seconds(Fraction(count_in * score.meter.beats))
            passes.append(Pass(paced, now, first, last, guide, count_in))
            now, count_in = passes[-1].end_s, 0
    return RecordingPlan(tuple(passes))


def played_s(score: Score, practice: Practice) -> Fraction:
    """Return the seconds *score* lasts when practised as *practice* says, without planning it.

    Every repeat lasts the whole score, with an echo twice that.
    """
    beats = practice.repeats * score.length * (1 if practice.echo_bars is None else 2)
    beats += practice.count_in_bars * score.meter.beats
    minutes = sum(
        (Fraction(1, bpm) for bpm in practice.tempi_bpm or (score.tempo_bpm,)), Fraction()
    )
    return beats * 60 * minutes / score.meter.pulse


def _check_length(score: Score, seconds: Fraction) -> None:
    if seconds > LONGEST_S:
        raise InputError(
            f'the recording of "{score.title}" would last more than {LONGEST_S // 3600} hours. '
            "Write fewer repeats, a shorter ladder or a faster tempo."
        )


def _turns(
    stretches: list[tuple[Fraction, Fraction]], practice: Practice
) -> Iterator[tuple[Fraction, Fraction, float]]:
    """Yield first and last beat, and the level of the tones, of every pass at one tempo."""
    for number in range(practice.repeats):
        guide = 1 - number / (practice.repeats - 1) if practice.fade_out else 1.0
        for first, last in stretches:
            yield first, last, guide
            if practice.echo_bars is not None:
                yield first, last, 0.0


def _stretches(score: Score, bars: int | None) -> list[tuple[Fraction, Fraction]]:
    """Cut *score* every *bars* bars, later where a note or a slide crosses the bar line."""
    if not bars:
        return [(Fraction(0), score.length)]
    cuts, since = [Fraction(0)], 0
    attacks = score.attacks()
    begins = [attack[0].start for attack in attacks]
    for bar in range(1, score.bars):
        since += 1
        line = Fraction(bar * score.meter.beats)
        before = bisect_left(begins, line) - 1  # the last attack that begins before the line
        if since >= bars and not (before >= 0 and attacks[before][-1].end > line):
            cuts.append(line)
            since = 0
    return list(zip(cuts, [*cuts[1:], score.length], strict=True))


# --- what is recorded -------------------------------------------------------------------

TYPES = ("wav", "flac", "ogg", "mp3")
BITS = (16, 24)


@dataclass(frozen=True, slots=True)
class Recording:
    """The choices for a recording: what sounds, how it is practised, and its files."""

    voice: str = ""  # of the tones: a SoundFont as "font.sf2" or "font.sf2:23"; empty: the reed
    pure: bool = False  # a reed that keeps still, without colour and breath, to tune by
    guided: bool = True  # False: the tones are not heard, the rest is
    backing: bool = False  # the band of the score plays along
    band: str = ""  # who plays it: a SoundFont, PLAIN_BAND, or empty: the best there is here
    drone: tuple[str, ...] = ()  # of DRONE_TONES; empty: no drone
    click: Click | None = None
    click_level: ClickLevel = ClickLevel.EVEN
    practice: Practice = AS_WRITTEN
    lead_in_s: Fraction = Fraction(str(LEAD_IN_S))  # of silence in a file, before all sound
    stems: bool = False  # tones, backing, drone and click each in a file of its own too
    wide: bool = False  # stereo: guide left, drone right, click and band in the middle
    apart: bool = False  # every tempo of the ladder in a file of its own
    loop: bool = False  # also a drone that can be looped
    types: tuple[str, ...] = ("wav",)
    bits: int = 16  # of WAV and FLAC
    verify: bool = False  # measure every note of the finished tones

    def __post_init__(self) -> None:
        _check_types(self.types, self.bits)
        _check_lead_in(self.lead_in_s)
        if self.apart and not self.practice.tempi_bpm:
            raise InputError(
                "apart gives each tempo of a ladder its own file.", way_out=Remedy.LADDER_TO_PART
            )
        if self.pure and (self.voice or not self.guided):
            raise InputError(
                "pure is for tones in the reed voice, and here there are none.",
                way_out=Remedy.TONES_TO_VERIFY,
            )
        if self.loop and not self.drone:
            raise InputError("loop makes a drone that can be looped.", way_out=Remedy.DRONE_TO_LOOP)
        if self.loop and "mp3" in self.types:
            # measured: by its decoder a click of -35 dB where end and beginning meet
            raise InputError(
                "an MP3 ticks where its end meets its beginning, so a loop in one is not made. "
                "Choose wav, flac or ogg."
            )
        if self.verify and not self.guided:
            raise InputError(
                "verify measures the tones, and here there are none.",
                way_out=Remedy.TONES_TO_VERIFY,
            )
        if not self.mixed:
            raise InputError(
                "without the tones something else must sound.", way_out=Remedy.SOMETHING_TO_HEAR
            )
        if (self.stems or self.wide) and len(self.mixed) == 1:
            raise InputError(
                "stems and wide need something beside the tones.", way_out=Remedy.SOMETHING_BESIDE
            )

    @property
    def clicking(self) -> Click | None:
        """The places where the click sounds; a count-in is always clicked."""
        return self.click or (Click.COUNT_IN if self.practice.count_in_bars else None)

    @property
    def mixed(self) -> tuple[str, ...]:
        """The stems of the mix; the tones alone when there is nothing to mix them with."""
        there = {
            "tones": self.guided,
            "backing": self.backing,
            "drone": bool(self.drone),
            "click": self.clicking is not None,
        }
        return tuple(name for name, wanted in there.items() if wanted)

    def plan(self, score: Score) -> RecordingPlan:
        """Return the plan of *score*; the drone leads in where there is a count-in."""
        planned = plan_recording(score, self.practice, lead_s=self._lead_s)
        return replace(planned, lead_in_s=self.lead_in_s)

    def check_length(self, score: Score) -> None:
        """Raise ``InputError`` when a recording of *score* would last too long."""
        _check_length(score, self._lead_s + played_s(score, self.practice))

    def sound_s(self, score: Score) -> Fraction:
        """Return the seconds of *score* in all files together, without a loop."""
        alone = len(self.mixed) == 1
        files = 1 if alone else (1 + len(self.mixed) if self.stems else 2)
        lengths = (each._lead_s + played_s(score, each.practice) for _, each in self.one_by_one())
        return sum(lengths, Fraction()) * files * len(self.types)

    @property
    def file_count(self) -> int:
        """The number of sound files, a loop included."""
        alone = len(self.mixed) == 1
        stems = 1 if alone else (1 + len(self.mixed) if self.stems else 2)
        return (stems * len(self.one_by_one()) + self.loop) * len(self.types)

    @property
    def _lead_s(self) -> Fraction:
        return LEAD_S if self.drone and self.practice.count_in_bars else Fraction(0)

    def one_by_one(self) -> list[tuple[int | None, Recording]]:
        """Return the recordings to make with the tempo each is named by: one, or one a tempo."""
        if not self.apart:
            return [(None, self)]
        tempi = self.practice.tempi_bpm
        alone = [replace(self.practice, tempi_bpm=(tempo,)) for tempo in tempi]
        return [
            (tempo, replace(self, practice=each, apart=False))
            for tempo, each in zip(tempi, alone, strict=True)
        ]


def _check_lead_in(seconds: Fraction) -> None:
    if not 0 <= seconds <= MOST_LEAD_IN_S:
        raise _no_lead_in(float(seconds))


def _no_lead_in(seconds: float) -> InputError:
    return InputError(
        f"a lead-in of {seconds:.6g} seconds is not made; write 0 to {MOST_LEAD_IN_S}, such as 0.5."
    )


def parse_lead_in(seconds: float) -> Fraction:
    """Return *seconds* of silence as they are written, to the thousandth.

    ``InputError`` when they are no number from 0 to 5.

    >>> parse_lead_in(0.3)
    Fraction(3, 10)
    """
    if not 0 <= seconds <= MOST_LEAD_IN_S:  # what is not a number is not either
        raise _no_lead_in(seconds)
    return Fraction(round(seconds * 1000), 1000)


def _check_types(types: tuple[str, ...], bits: int) -> None:
    for kind in types:
        if kind not in TYPES:
            raise InputError(
                f'there is no sound file of type "{kind}".{close_match(kind, TYPES)} '
                f"Choose from: {', '.join(TYPES)}."
            )
    if bits not in BITS:
        raise InputError(f"samples of {bits} bits are not made; write 16 or 24.")
    if bits == 24 and not {"wav", "flac"} & set(types):
        raise InputError("24 bits are for WAV and FLAC.", way_out=Remedy.TYPE_WITH_BITS)


# --- from words -------------------------------------------------------------------------

_LADDER = re.compile(r"\s*(\d{1,4})\s+to\s+(\d{1,4})\s+by\s+(\d{1,4})\s*", re.ASCII | re.IGNORECASE)


def parse_ladder(text: str) -> tuple[int, ...]:
    """Parse the tempi of ``60 to 90 by 5``; the last is always the end, also when descending.

    ``InputError`` with an example for another text, or for tempi out of range.

    >>> parse_ladder("60 to 72 by 5"), parse_ladder("80 to 60 by 10")
    ((60, 65, 70, 72), (80, 70, 60))
    """
    found = _LADDER.fullmatch(text)
    if found is None:
        raise InputError(f'"{text:.40}" is not a tempo ladder. Write for example: 60 to 90 by 5')
    start, end, step = map(int, found.groups())
    for tempo in (start, end):
        _check("tempo", "beats a minute", tempo, TEMPI_BPM)
    if not step or abs(end - start) > step * (MOST_RUNGS - 1):
        raise InputError(
            f"a tempo ladder in steps of {step} has too many tempi; {MOST_RUNGS} is the most. "
            "Write a bigger step."
        )
    way = step if end > start else -step
    return (*range(start, end, way), end)


def parse_drone(text: str) -> tuple[str, ...]:
    """Parse the tones of ``root+fifth``, lowest first; the root always sounds.

    ``InputError`` for a tone that is none of them.

    >>> parse_drone("octave + fifth")
    ('root', 'fifth', 'octave')
    """
    words = {word.strip() for word in text.lower().split("+")}
    for word in sorted(words):
        if word not in DRONE_TONES:
            raise InputError(
                f'a drone has no "{word:.40}".{close_match(word, DRONE_TONES)} '
                "Write root, root+fifth, root+octave or root+fifth+octave."
            )
    return tuple(tone for tone in DRONE_TONES if tone in words | {"root"})


def parse_types(text: str) -> tuple[str, ...]:
    """Parse the file types of ``wav, flac``, each once, in that order.

    ``InputError`` where it names none.

    >>> parse_types("FLAC, wav,flac")
    ('flac', 'wav')
    """
    types = tuple(dict.fromkeys(word.strip().lower() for word in text.split(",") if word.strip()))
    if not types:
        raise InputError("no type of sound file is named.", way_out=Remedy.TYPES_NAMED)
    return types
