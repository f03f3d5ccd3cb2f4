"""Takes of known truth, heard, and how far what was heard lies from the truth."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import mir_eval
import numpy as np
from numpy.typing import NDArray

from hearing.conditions import in_condition
from hearing.playing import Habits, Played, cents, play
from hearing.sounding import RATE, drawn_tone, sound
from reedmill.ear.hear import hear
from reedmill.ear.take import Take, read_take
from reedmill.ear.heard_take import HeardNote, HeardTake
from reedmill.expand import expand
from reedmill.harp import Harp
from reedmill.library import find_drills
from reedmill.score.score import Score
from reedmill.theory.positions import Position

DRILLS = (
    "Home from every rung",
    "Home from every rung, hole 2",
    "Straight onto each rung",
    "Lean on the rung before",
    "Stairs in one breath",
    "Skip a rung, four rungs",
    "Octave steps",
    "In and out on each hole",
    "Home from every rung, hole 10 blow",
    "Breathe the rhythm",
)
HARPS = ("low F", "G", "C", "F")


@dataclass
class Outcome:
    """What one or many takes came to."""

    takes: int = 0
    cents_off: list[float] = field(default_factory=list)  # of steady notes that were measured
    octaves: int = 0
    onsets_ms: list[float] = field(default_factory=list)
    right: int = 0
    judged: int = 0
    confused: Counter[tuple[str, str]] = field(default_factory=Counter)
    f1: list[float] = field(default_factory=list)
    refused: list[str] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)  # for whoever looks into it

    def add(self, other: Outcome) -> None:
        """Count the *other* in."""
        self.takes += other.takes
        self.cents_off += other.cents_off
        self.octaves += other.octaves
        self.onsets_ms += other.onsets_ms
        self.right += other.right
        self.judged += other.judged
        self.confused += other.confused
        self.f1 += other.f1
        self.refused += other.refused
        self.wrong += other.wrong

    @property
    def right_share(self) -> float:
        """Of all verdicts, how many are what the truth demands."""
        return self.right / max(1, self.judged)

    def row(self) -> str:
        """The figures under ``HEAD``."""
        off, late = np.abs(self.cents_off or [np.nan]), np.abs(self.onsets_ms or [np.nan])
        return (
            f"{self.takes:5d} {np.median(off):7.2f} {np.percentile(off, 95):7.2f} "
            f"{100 * self.right_share:7.2f} {self.octaves:5d} {np.percentile(late, 95):7.1f} "
            f"{np.mean(self.f1 or [np.nan]):7.3f} {len(self.refused):5d}"
        )


HEAD = "takes  median     p95  right%  oct.  onset      F1  refused"


def score_of(drill: str, harp: str, position: int = 2) -> Score:
    [found] = find_drills(drill)
    return expand(found, Harp.parse(harp), Position(position))


def recorded(score: Score, condition: str, seed: int) -> tuple[list[Played], Take, Habits]:
    """A student's take of *score* in one condition, read from the file it was recorded into."""
    rng = np.random.default_rng(seed)
    habits = Habits(harp_cents=rng.uniform(-12, 12), pace=rng.uniform(0.87, 1.15))
    played = play(score, habits, rng)
    tones = sound(played, drawn_tone(rng), played[-1].end_s + 0.8, rng)
    content, ending = in_condition(condition, tones, score, played, rng)
    return played, taken(content, ending), habits


def taken(content: bytes, ending: str) -> Take:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, f"take{ending}")
        path.write_bytes(content)
        return read_take(path)


def evaluate(drill: str, harp: str, condition: str, seed: int) -> Outcome:
    """One take against its truth."""
    score = score_of(drill, harp)
    played, take, _ = recorded(score, condition, seed)
    outcome = Outcome(1)
    where = f"{drill} / {harp} / {condition} / {seed}"
    try:
        heard = hear(take, score)
    except Exception as error:  # a refusal is what is counted here
        outcome.refused.append(f"{where}: {error}")
        outcome.judged += len(score.notes)
        outcome.f1.append(0.0)
        return outcome
    lead_s = _lead_s(played, heard)
    _compare(played, heard, lead_s, outcome, where)
    return outcome


def _lead_s(played: Sequence[Played], heard: HeardTake) -> float:
    """What a codec put before the sound: the middle of all differences, if it is plain."""
    truth = {each.index: each.start_s for each in played if not each.slid}
    late = [note.start_s - truth[note.index] for note in heard.notes
            if note.start_s is not None and note.index in truth]  # fmt: skip
    middle = float(np.median(late)) if late else 0.0
    return middle if abs(middle) > 0.015 else 0.0


def _compare(
    played: Sequence[Played], heard: HeardTake, lead_s: float, outcome: Outcome, where: str
) -> None:
    truth = {each.index: each for each in played if each.index is not None}
    notes: dict[int, HeardNote] = {}
    for note in heard.notes:
        if note.index not in notes or notes[note.index].start_s is None:
            notes[note.index] = note
    for index in range(len(heard.score.notes)):
        said = notes[index].verdict.value if index in notes else "not there"
        true = truth[index].verdict if index in truth else "missed"
        outcome.judged += 1
        outcome.right += said == true
        if said != true:
            outcome.confused[true, said] += 1
            outcome.wrong.append(f"{where}: note {index}: {true} was said to be {said}")
        if index in truth and index in notes:
            _measure(truth[index], notes[index], lead_s, outcome, where)
    if len(heard.passes) != 1:
        outcome.wrong.append(f"{where}: {len(heard.passes)} passes")
    outcome.f1.append(_f1(played, heard, lead_s))


def _measure(truth: Played, note: HeardNote, lead_s: float, outcome: Outcome, where: str) -> None:
    if note.hz is None or note.start_s is None:
        return
    off = cents(note.hz, truth.hz)
    # Another event than this note's own is a wrong verdict, which is counted already.
    own = abs(note.start_s - lead_s - truth.start_s) < 0.25
    if abs(off) > 600 and own:
        outcome.octaves += abs(abs(off) % 1200 - 600) > 520
        outcome.wrong.append(f"{where}: note {truth.index}: octave? {truth.hz:.1f} {note.hz:.1f}")
    elif own:
        outcome.cents_off.append(off)
        if abs(off) > 6:
            outcome.wrong.append(f"{where}: note {truth.index}: {off:+.1f} cents {truth.shape}")
    start = truth.start_s + (truth.moving_s / 2 if truth.slid else 0.0)
    if own:
        outcome.onsets_ms.append(1000 * (note.start_s - lead_s - start))
        if abs(outcome.onsets_ms[-1]) > 25:
            outcome.wrong.append(f"{where}: note {truth.index}: onset {outcome.onsets_ms[-1]:+.0f} "
                                 f"ms slid={truth.slid}")  # fmt: skip


def _f1(played: Sequence[Played], heard: HeardTake, lead_s: float) -> float:
    """The note F1 of mir_eval: onsets within 50 ms, pitches within 25 cents."""
    true = [(each.start_s + (each.moving_s / 2 if each.slid else 0), each.end_s, each.hz)
            for each in played]  # fmt: skip
    said = [(note.start_s - lead_s, (note.end_s or 0) - lead_s, note.hz)
            for note in heard.notes
            if note.start_s is not None and note.hz is not None]  # fmt: skip
    said += [(each.start_s - lead_s, each.end_s - lead_s, each.hz) for each in heard.extra]
    _, _, f1, _ = mir_eval.transcription.precision_recall_f1_overlap(
        *_intervals(true), *_intervals(said),
        onset_tolerance=0.05, pitch_tolerance=25.0, offset_ratio=None,
    )  # fmt: skip
    return float(f1)


def _intervals(
    notes: Iterable[tuple[float, float, float]],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    rows = sorted(notes)
    spans = np.array([[max(0.0, start), max(end, start + 0.02, 0.02)] for start, end, _ in rows])
    return spans.reshape(-1, 2), np.array([hz for _, _, hz in rows])


__all__ = [
    "DRILLS",
    "HARPS",
    "HEAD",
    "RATE",
    "Outcome",
    "evaluate",
    "recorded",
    "score_of",
    "taken",
]
