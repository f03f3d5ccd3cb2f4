"""How well takes are heard: cents, verdicts, octaves and onsets against known truth.

Every condition gets the same number of takes, of ten drills on four harps, by turns with the
tests' own voice and with the recorded harmonica of a free font.  Beside it stands a plain chain
of general libraries, as whoever knows them writes it.  For cents and verdicts it is told when each
note sounds, which ours has to find: pYIN as librosa has it, the median over each note's true span,
and the nearest wanted note.  For onsets and F1 it finds the notes by itself: librosa's onset
detector, and a new note too where pYIN moves by half a semitone and stays.

Run it with ``PYTHONPATH=tests python tests/benchmarks/takes.py [TAKES] [--plain TAKES]``.  2000
takes take some half an hour on one processor; librosa is needed for ``--plain`` alone.  With
``--kept FILE`` what is done is kept there, and a run that was stopped picks up where it left off,
as long as nothing that listens or plays has changed.  ``takes.txt`` beside it is what was found.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import time
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from contextlib import nullcontext
from dataclasses import asdict
from functools import cache
from itertools import pairwise
from multiprocessing import Pool
from pathlib import Path

import mir_eval
import numpy as np
from numpy.typing import NDArray

import hearing
import reedmill.ear
from hearing.conditions import CONDITIONS
from hearing.evaluation import DRILLS, HARPS, HEAD, VOICES, Outcome, evaluate, recorded, score_of
from hearing.playing import Played, Shape, cents
from reedmill.ear.take import RATE

Job = tuple[str, str, str, int, str]
Tone = tuple[float, float, float]  # when it begins and ends in seconds, and its Hz
Floats = NDArray[np.float64]
_HOP = RATE // 100  # samples from one reading of pYIN to the next
_STAY = 6  # readings that make a note, or a new one
TARGETS = "targets       1.5     6.0   98.00     0    25.0   0.980     0"


def jobs(takes: int) -> list[Job]:
    """As many takes as are asked for, the same performances in every condition."""
    each = max(1, takes // len(CONDITIONS))
    return [
        (
            DRILLS[number % len(DRILLS)], HARPS[(number // 3) % len(HARPS)], condition, number,
            VOICES[(number // len(DRILLS)) % len(VOICES)],
        )
        for number in range(each)
        for condition in CONDITIONS
    ]  # fmt: skip


def ours(job: Job) -> tuple[Job, Outcome]:
    return job, evaluate(*job)


def plain_chain(job: Job) -> tuple[Job, Outcome]:
    """The same take through librosa: told where each note is, and then not."""
    import librosa
    from librosa.onset import onset_detect

    drill, harp, condition, seed, voice = job
    score = score_of(drill, harp)
    played, take, _ = recorded(score, condition, seed, voice)
    wanted = [note.hz for note in score.notes]
    sound = take.part(0, len(take.steps))
    hz, voiced, _ = librosa.pyin(
        sound, sr=RATE, fmin=0.7 * min(wanted), fmax=1.5 * max(wanted),
        frame_length=1024, hop_length=_HOP,
    )  # fmt: skip
    outcome = Outcome(1)
    for each in played:
        first, last = int((each.start_s + each.moving_s + 0.05) * 100), int(each.end_s * 100) - 4
        read = hz[first:last][voiced[first:last]]
        outcome.judged += 1
        if not len(read):
            continue
        off = cents(float(np.median(read)), each.hz)
        outcome.octaves += abs(abs(off) % 1200 - 600) > 520 and abs(off) > 600
        if each.shape is not Shape.VIBRATO and abs(off) < 600:
            outcome.cents_off.append(off)
        outcome.right += _says(float(np.median(read)), wanted, each.index) == each.verdict
    onsets = onset_detect(y=sound, sr=RATE, hop_length=_HOP, units="frames")
    _find(outcome, played, _tones(hz, voiced, onsets))
    return job, outcome


def _tones(hz: Floats, voiced: NDArray[np.bool_], onsets: NDArray[np.intp]) -> list[Tone]:
    """Notes from the readings of pYIN, cut at *onsets* and where the pitch moves and stays."""
    keys = 12 * np.log2(np.where(voiced, hz, 1.0))
    cuts = {0, len(hz), *map(int, onsets)}
    for at in range(_STAY, len(hz) - _STAY):
        before, after = slice(at - _STAY, at), slice(at, at + _STAY)
        if voiced[before].all() and voiced[after].all():
            away = float(np.median(keys[after]) - np.median(keys[before]))
            if abs(away) >= 0.5 and all(abs(at - cut) >= _STAY for cut in cuts):
                cuts.add(at)
    found: list[Tone] = []
    for first, last in pairwise(sorted(cuts)):
        there = np.flatnonzero(voiced[first:last]) + first
        if len(there) >= _STAY:
            tone = float(np.median(hz[there]))
            found.append((there[0] * _HOP / RATE, (there[-1] + 1) * _HOP / RATE, tone))
    return found


def _find(outcome: Outcome, played: Sequence[Played], found: Sequence[Tone]) -> None:
    """Onsets and F1 of the notes *found*, with what a codec put before them taken off, as ours."""
    true = [(each.start_s + (each.moving_s / 2 if each.slid else 0), each.end_s, each.hz)
            for each in played]  # fmt: skip
    starts = np.array([start for start, _, _ in found] or [np.inf])
    late_s = [float(starts[np.argmin(np.abs(starts - start))]) - start for start, _, _ in true]
    near_s = [late for late in late_s if abs(late) < 0.25]
    lead_s = float(np.median(near_s or [0.0]))
    lead_s = lead_s if abs(lead_s) > 0.015 else 0.0
    outcome.onsets_ms += [1000 * (late - lead_s) for late in near_s]
    moved = [(start - lead_s, end - lead_s, tone) for start, end, tone in found]
    _, _, f1, _ = mir_eval.transcription.precision_recall_f1_overlap(
        *_intervals(true), *_intervals(moved),
        onset_tolerance=0.05, pitch_tolerance=25.0, offset_ratio=None,
    )  # fmt: skip
    outcome.f1.append(float(f1))


def _intervals(tones: Sequence[Tone]) -> tuple[Floats, Floats]:
    spans = [[max(0.0, start), max(end, start + 0.02, 0.02)] for start, end, _ in sorted(tones)]
    return np.array(spans).reshape(-1, 2), np.array([tone for _, _, tone in sorted(tones)])


def _says(hz: float, wanted: list[float], index: int | None) -> str:
    """What the nearest wanted note makes of a pitch."""
    if index is None:
        return "extra"
    nearest = min(wanted, key=lambda each: abs(cents(hz, each)))
    if abs(nearest / wanted[index] - 1) > 0.01:
        return "another-note"
    off = cents(hz, wanted[index])
    return "on" if abs(off) <= 10 else "near" if abs(off) <= 25 else "sharp" if off > 0 else "flat"


# --- what is done already -------------------------------------------------------------------


@cache
def state_of_code() -> str:
    """A digest of all that listens and all that plays."""
    rooms = [Path(each.__file__ or "").parent for each in (reedmill.ear, hearing)]
    files = [path for room in rooms for path in sorted(room.glob("*.py"))]
    skipped = ("test_", "__init__", "data", "advice")  # which change nothing that is counted
    content = [path.read_bytes() for path in files if not path.name.startswith(skipped)]
    return hashlib.sha256(b"\0".join(content)).hexdigest()[:16]


def kept_in(file: Path | None, chain: str) -> dict[Job, Outcome]:
    """The outcomes that *file* has of this state of the code."""
    if file is None or not file.exists():
        return {}
    found: dict[Job, Outcome] = {}
    for line in file.read_text("utf-8").splitlines():
        row = json.loads(line)
        if row["code"] == state_of_code() and row["chain"] == chain:
            drill, harp, condition, seed, voice = row["job"]
            facts = row["outcome"]
            facts["confused"] = Counter({(true, said): n for true, said, n in facts["confused"]})
            found[drill, harp, condition, seed, voice] = Outcome(**facts)
    return found


def line_of(job: Job, outcome: Outcome, chain: str) -> str:
    facts = asdict(outcome)
    facts["confused"] = [[*pair, count] for pair, count in outcome.confused.items()]
    facts["octaves"], facts["right"] = int(outcome.octaves), int(outcome.right)
    return json.dumps({"code": state_of_code(), "chain": chain, "job": job, "outcome": facts})


def outcomes(
    way: Callable[[Job], tuple[Job, Outcome]], takes: int, processes: int, file: Path | None
) -> Iterator[tuple[Job, Outcome]]:
    """Every job with its outcome, from *file* or heard now and kept there."""
    known = kept_in(file, way.__name__)
    asked = jobs(takes)
    yield from ((job, known[job]) for job in asked if job in known)
    left = [job for job in asked if job not in known]
    with (
        Pool(processes) as pool,
        file.open("a", encoding="utf-8") if file else nullcontext() as keeper,
    ):
        for job, outcome in pool.imap_unordered(way, left, chunksize=len(CONDITIONS)):
            if keeper:
                print(line_of(job, outcome, way.__name__), file=keeper, flush=True)
            yield job, outcome


def table(takes: int, processes: int, file: Path | None, *, against: bool) -> None:
    """Run all and print a row for each condition."""
    begun = time.perf_counter()
    rows: dict[str, Outcome] = defaultdict(Outcome)
    for job, outcome in outcomes(plain_chain if against else ours, takes, processes, file):
        for group in (job[2], job[4], "all"):
            rows[group].add(outcome)
    print(f"\n{'librosa' if against else 'reedmill':16} {HEAD}")
    for group in (*CONDITIONS, *VOICES, "all"):
        print(f"{group:16} {rows[group].row()}")
    if not against:
        print(f"{'':16} {TARGETS}")
        for line in rows["all"].refused:
            print(line)
    print(f"{rows['all'].takes} takes; {time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("takes", nargs="?", type=int, default=2000)
    asked.add_argument("--plain", type=int, default=0, metavar="TAKES")
    asked.add_argument("--processes", type=int, default=2)
    asked.add_argument("--kept", type=Path, metavar="FILE")
    options = asked.parse_args()
    table(options.takes, options.processes, options.kept, against=False)
    if options.plain:
        table(options.plain, options.processes, options.kept, against=True)
