"""Arrange a form and a feel in a key: every stroke the band plays."""

from __future__ import annotations

from dataclasses import dataclass

from reedmill.band.backing_keywords import CHORUSES, LONGEST_S, MAX_NOTES, SEEDS
from reedmill.band.bass import bass_line
from reedmill.band.comping import comp
from reedmill.band.drumming import drum_hits
from reedmill.band.feel import BandFeel
from reedmill.band.form import Form
from reedmill.band.harmony import INTRO, broken_bars, changes, set_bars, stopped_bars
from reedmill.band.performing import LOOSENESS, USUAL_LOOSENESS, Performance, performed
from reedmill.band.set_plan import ChorusKind, plan_text, usual_plan
from reedmill.band.way_in_and_out import ENDING_WORDS, INTRO_WORDS, Ending, Intro
from reedmill.base.errors import InputError
from reedmill.base.ranges import TEMPI_BPM
from reedmill.score.arrangement import Arrangement
from reedmill.theory.positions import Key

_VOICES, _CRUSHED = 4, 1  # notes of one stroke of the comp; those that fall into one in a bar
_ALL_STRIKE = _VOICES + 3  # notes that the comp, the bass and two drums strike together
_OPENING, _ANSWER = 2, 1  # strokes of the drums that open a chorus, and beside a pattern


@dataclass(frozen=True, slots=True)
class BandSet:
    """A set that is asked for: choruses and plan, tempo, looseness, intro and ending."""

    choruses: int
    tempo_bpm: int | None = None  # pulses a minute; None: the middle of the feel's range
    seed: int = 0  # what the band draws its choices by
    looseness: int = USUAL_LOOSENESS  # 0 to 3
    plan: tuple[ChorusKind, ...] = ()  # what it does in each chorus; the last goes on
    intro: Intro = Intro.NONE
    ending: Ending = Ending.WRITTEN

    def kinds(self) -> tuple[ChorusKind, ...]:
        """Return what it does in each of its choruses."""
        if not self.plan:
            return usual_plan(self.choruses)
        missing = self.choruses - len(self.plan)
        return self.plan + self.plan[-1:] * missing

    def words(self) -> tuple[str, ...]:
        """Return what is unusual about it in words for a file name, without choruses and seed."""
        said = {
            f"plan {plan_text(self.plan)}": bool(self.plan),
            f"intro {self.intro.value}": self.intro is not Intro.NONE,
            f"ending {self.ending.value}": self.ending is not Ending.WRITTEN,
            f"loose {self.looseness}": self.looseness != USUAL_LOOSENESS,
        }
        return tuple(words for words, unusual in said.items() if unusual)


def road_of(form: Form, asked: BandSet) -> str:
    """Return in a sentence or two what happens in a set besides its chords; nothing as usual."""
    kinds = asked.kinds()
    spans = {word: span for word, span in (("Stops", form.stops), ("Breaks", form.breaks)) if span}
    if ChorusKind.STOPS in kinds and not form.stops:
        spans["Stops"] = stopped_bars(form)
    if ChorusKind.BREAKS in kinds and not form.breaks:
        spans["Breaks"] = broken_bars(form)
    said = [
        f"Intro: {INTRO_WORDS[asked.intro]}" if asked.intro is not Intro.NONE else "",
        f"Choruses: {plan_text(kinds)}" if asked.plan else "",
        *(f"{word} in {_bar_numbers(span)}" for word, span in spans.items()),
        f"Ending: {ENDING_WORDS[asked.ending]}" if asked.ending is not Ending.WRITTEN else "",
    ]
    return " ".join(f"{each}." for each in said if each)


def _bar_numbers(bars: range) -> str:
    first, last = bars[0] + 1, bars[-1] + 1
    return f"bar {first}" if first == last else f"bars {first} to {last}"


def arrange(
    form: Form,
    feel: BandFeel,
    key: Key,
    *,
    choruses: int,
    tempo_bpm: int | None = None,
    seed: int = 0,
    looseness: int = USUAL_LOOSENESS,
) -> Arrangement:
    """Arrange *choruses* of *form*, played with *feel* in *key*.

    *tempo_bpm* counts pulses a minute, the middle of the feel's range when it is not
    given.  *seed* draws what the players choose, always in the same way; *looseness* is how far
    they lean and drift from the beat, 0 to 3, and 0 not at all.  Raises ``InputError`` for a
    number out of range, or more music than can be made.
    """
    return arrange_set(form, feel, key, BandSet(choruses, tempo_bpm, seed, looseness))


def arrange_set(form: Form, feel: BandFeel, key: Key, asked: BandSet) -> Arrangement:
    """Arrange *form* as the set that is *asked* for; as ``arrange``."""
    tempo = feel.usual_tempo_bpm if asked.tempo_bpm is None else asked.tempo_bpm
    _check("a seed", "", asked.seed, SEEDS)
    _check("a looseness", "", asked.looseness, LOOSENESS)
    check_amount(form, feel, asked.choruses, tempo)
    if len(asked.plan) > asked.choruses:
        often = "once" if asked.choruses == 1 else f"{asked.choruses} times"
        raise InputError(
            f"the plan has {len(asked.plan)} choruses, and the form is played {often}. "
            "Ask for as many choruses as the plan has, or write a shorter plan."
        )
    bars = set_bars(form, feel.meter, asked.kinds(), intro=asked.intro, ending=asked.ending)
    tonic = key.pitch_class
    others = [
        *bass_line(feel, bars, tonic, asked.seed, tempo),
        *comp(feel, bars, tonic, asked.seed),
    ]
    hits = [*others, *drum_hits(feel, bars, asked.seed, others)]
    by = Performance(feel, bars, tempo, asked.seed, asked.looseness)
    return Arrangement(
        form=form.title,
        feel=feel.title,
        key=key,
        meter=feel.meter,
        tempo_bpm=tempo,
        choruses=asked.choruses,
        seed=asked.seed,
        bars_a_chorus=len(form.bars),
        chords=changes(bars),
        notes=performed(hits, by),
        length=bars[-1].end,
        programs=feel.programs,
        swing=feel.swing_at(tempo),
        intro_bars=sum(bar.chorus == INTRO for bar in bars),
        looseness=asked.looseness,
        choices=asked.words(),
        stops=tuple(form.stops),
        breaks=tuple(form.breaks),
        road=road_of(form, asked),
        origins=(form.span.file, feel.span.file),
    )


def _check(what: str, unit: str, value: int, allowed: range) -> None:
    if value not in allowed:
        said = f"{value} {unit}".strip()
        raise InputError(f"{what} of {said} cannot be played; write {allowed[0]} to {allowed[-1]}.")


def check_amount(form: Form, feel: BandFeel, choruses: int, tempo_bpm: int) -> None:
    """Raise ``InputError`` for an amount that ``arrange`` refuses in any key."""
    _check("a tempo", "beats a minute", tempo_bpm, TEMPI_BPM)
    _check("a length", "choruses", choruses, CHORUSES)
    _check_size(form, feel, choruses, tempo_bpm)


def _check_size(form: Form, feel: BandFeel, choruses: int, tempo_bpm: int) -> None:
    """Refuse an arrangement that would be too long, before any of it is made."""
    bars = len(form.bars) * choruses
    seconds = bars * feel.meter.beats * 60 / (tempo_bpm * feel.meter.pulse)
    if seconds > LONGEST_S:
        raise InputError(
            f"{bars} bars at this tempo last {round(seconds / 60)} minutes; "
            f"a backing lasts at most {LONGEST_S // 60}. Play fewer choruses."
        )
    notes = bars * _most_notes_a_bar(form, feel)
    if notes > MAX_NOTES:
        raise InputError(
            f"{bars} bars of this feel have up to {notes} notes; a backing has at most "
            f"{MAX_NOTES}. Play fewer choruses, or write fewer strokes."
        )


def _most_notes_a_bar(form: Form, feel: BandFeel) -> int:
    """Return the most notes of a bar of *form*, each of whose chords may get strokes of its own."""
    chords = max(len(bar) for bar in (*form.bars, *form.turnaround, *form.ending))
    comp_strokes = max((len(bar) for way in feel.comp for bar in way), default=0) + chords
    bass_strokes = max((len(bar) for way in feel.bass for bar in way), default=0) + chords
    comp = _VOICES * comp_strokes + _CRUSHED if feel.comp else 0
    together = _ALL_STRIKE * max(len(feel.stops), len(feel.ending))
    return max(_most_drums_a_bar(feel) + comp + bass_strokes, together)


def _most_drums_a_bar(feel: BandFeel) -> int:
    """Return the most strokes of the drums in a bar, plain or up to a fill and with it."""
    ends = [(feel.meter.beats, 0), *((fill[0].at, len(fill)) for fill in feel.fills if fill)]
    beside = _OPENING + _ANSWER
    return beside + max(
        sum(
            max((sum(each.at < until for each in bar) for bar in pattern), default=0)
            for pattern in way
        )
        + filled
        for way in (*feel.drums, ())
        for until, filled in ends
    )
