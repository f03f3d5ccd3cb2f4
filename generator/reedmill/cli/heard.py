"""The report on a take as text for a terminal: a table by rung, what is missing, advice.

Nothing is told by colour or by a sign alone: a figure and a word say which way a note is off.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from reedmill.cli.asked import counted
from reedmill.cli.folding import folded
from reedmill.cli.picture import text_columns
from reedmill.ear import (
    SAME_HARP_CENTS,
    WORN_CENTS,
    HeardNote,
    HeardPass,
    HeardTake,
    Rung,
    Tolerance,
    Verdict,
)
from reedmill.ear.measured_harp import HarpTested, ReedHeard
from reedmill.harp import Harp, Reed

WIDE = 80
"""Columns from which on there is a table; under it each rung has lines of its own."""

_SCALE = 21  # columns, the middle one for the target
_EDGE_CENTS = 50.0  # at either end
_MOST_NAMED = 6  # of a kind
_CLIPPED, _LOUD_NOISE_DB = 0.005, 15.0


@dataclass(frozen=True, slots=True)
class Signs:
    """The characters that a scale of cents is drawn with."""

    line: str
    place: str  # of the target
    near: str  # where a note is still in tune
    one: str  # one try
    middle: str  # of all tries
    below: str  # beyond the left end
    above: str


DRAWN = Signs("─", "┼", "═", "○", "●", "◄", "►")
TYPED = Signs("-", "+", "=", "o", "O", "<", ">")


def scale(
    tries: Iterable[float], middle: float, on_cents: float, signs: Signs, width: int = _SCALE
) -> str:
    """Draw where *tries* came to rest, from flat on the left to sharp on the right, in cents.

    >>> scale([28.0, 41.0], 34.0, 10.0, TYPED)
    '--------==+==---oOo--'
    """
    half = width // 2
    cells = [signs.line] * (2 * half + 1)
    reach = round(on_cents / _EDGE_CENTS * half)
    for at in range(half - min(reach, half), half + min(reach, half) + 1):
        cells[at] = signs.near
    cells[half] = signs.place
    for each, sign in [*((each, signs.one) for each in tries), (middle, signs.middle)]:
        at = half + round(each / _EDGE_CENTS * half)
        beyond = signs.below if at < 0 else signs.above if at > 2 * half else ""
        at = min(max(at, 0), 2 * half)
        if beyond or cells[at] not in (signs.below, signs.above):
            cells[at] = beyond or sign
    return "".join(cells)


def typed_cents(cents: float) -> str:
    """Format whole cents with their sign: ``+34``, ``-3``, ``0``."""
    return f"{round(cents):+d}" if round(cents) else "0"


def verdict_words(cents: float, tolerance: Tolerance) -> str:
    """Name the verdict on *cents*: ``in tune``, ``a little flat``, ``sharp``.

    >>> verdict_words(-14.0, Tolerance()), verdict_words(31.0, Tolerance())
    ('a little flat', 'sharp')
    """
    if abs(cents) <= tolerance.on_cents:
        return "in tune"
    side = "sharp" if cents > 0 else "flat"
    return f"a little {side}" if abs(cents) <= tolerance.near_cents else side


def rung_words(rung: Rung, tolerance: Tolerance) -> str:
    """Return ``verdict_words`` of a rung's median; ``uneven`` where few of its tries were there."""
    nearly, on = abs(rung.median_cents) <= tolerance.near_cents, tolerance.on_cents
    both_ways = min(rung.tries_cents) < -on and max(rung.tries_cents) > on
    uneven = nearly and both_ways and 2 * rung.on <= rung.count
    return "uneven" if uneven else verdict_words(rung.median_cents, tolerance)


# --- one take ----------------------------------------------------------------------------


def heading(heard: HeardTake) -> str:
    """Return the heading of a report: the drill, its harp and position."""
    score = heard.score
    where = f"{score.harp.label}, {score.position.label}, key of {score.key.label}"
    own = f", tuned as {score.harp.own.name}" if score.harp.own else ""
    return f"{score.title}: {where}{own}"


def take_lines(
    heard: HeardTake, width: int, signs: Signs, *, asked_times: int = 1, key: bool = True
) -> list[str]:
    """Return the report on a take below its heading; with the *key* to its table if asked for."""
    lines: list[str] = []
    for sentence in [*facts(heard), *_fewer(heard, asked_times), *cautions(heard)]:
        lines += folded(sentence, width, "  ")  # a name that is folded begins no line
    lines += ["", *rung_lines(heard.by_rung, heard.notes, heard.tolerance, width, signs, key=key)]
    lines.append("")
    for sentence in others(heard):
        lines += folded(sentence, width, "  ")
    if lines[-1]:
        lines.append("")
    return lines + _points(heard.advice, width)


def _points(sentences: Iterable[str], width: int) -> list[str]:
    return [line for each in sentences for line in folded(each, width, "  ", "* ")]


def facts(heard: HeardTake) -> list[str]:
    """Return the take's length, the drill's passes and tempo in it, and the harp's tuning."""
    score = heard.score
    tempo = ""
    if heard.tempo_heard is not None:
        tempo = f", at tempo {heard.tempo_heard:.0f} (the drill: {score.tempo_bpm})"
    return [
        f"{heard.name}: {heard.sound.seconds:.0f} s, {times_through(heard)}{tempo}.",
        harp_sentence(heard),
    ]


def times_through(heard: HeardTake) -> str:
    """Say how often the drill was played: ``once through``, ``3 times through``..."""
    whole = sum(_is_whole(each, len(heard.score.notes)) for each in heard.passes)
    parts = len(heard.passes) - whole
    some = "a part of it" if parts == 1 else f"{parts} parts of it"
    if not whole:
        return some
    often = {1: "once", 2: "twice"}.get(whole, f"{whole} times")
    return f"{often} through" + (f", and {some}" if parts else "")


def _is_whole(one: HeardPass, notes: int) -> bool:
    return len(one.notes) == notes


def harp_sentence(heard: HeardTake) -> str:
    """Say how the harp itself is tuned, as far as the take tells."""
    reference = heard.score.reference_hz
    if not heard.harp_measured:
        return f"No natural note tells how your harp is tuned; A = {reference:g} Hz is assumed."
    hz = reference * 2 ** (heard.harp_cents / 1200)
    off = round(abs(heard.harp_cents))
    if off < SAME_HARP_CENTS:
        return f"Your harp is tuned to A = {reference:g} Hz."
    side = "higher" if heard.harp_cents > 0 else "lower"
    return (
        f"Your harp as a whole is {counted(off, 'cent')} {side} than A = {reference:g} Hz "
        f"(A = {hz:.1f} Hz); every note is compared with that."
    )


def _fewer(heard: HeardTake, asked_times: int) -> list[str]:
    if len(heard.passes) >= asked_times:
        return []
    return [f"You meant to play it {asked_times} times; {len(heard.passes)} of them "
            f"{'was' if len(heard.passes) == 1 else 'were'} heard."]  # fmt: skip


def cautions(heard: HeardTake) -> list[str]:
    """Return what about the recording makes the verdicts less sure."""
    said = []
    if heard.sound.clipped_share > _CLIPPED:
        said.append("The recording is overdriven in places: move the microphone further away.")
    at_rest = heard.sound.rest_dbfs
    if at_rest is not None and heard.sound.level_dbfs - at_rest < _LOUD_NOISE_DB:
        said.append(
            "Something else is nearly as loud as your harp: come nearer to the microphone, and use "
            "headphones for a drone or band."
        )
    return said


# --- by rung ------------------------------------------------------------------------------


def rung_lines(
    rungs: Sequence[Rung], notes: Sequence[HeardNote], tolerance: Tolerance, width: int,
    signs: Signs, *, key: bool = True,
) -> list[str]:  # fmt: skip
    """Return every rung by the note it was reached from, the worst first."""
    if not rungs:
        return ["No note is clear enough to be measured."]
    rungs = sorted(rungs, key=lambda each: (each.on / each.count, -abs(each.median_cents)))
    told = ["", *folded(_key(tolerance, signs), width)] if key else []
    if width < WIDE:
        return [*_cards(rungs, notes, tolerance, width, signs), *told]
    heads = ("note", "from", "right", "cents", "", "anchor", "spread", _scale_head(_SCALE))
    rows = [
        (
            each.reed.tab, each.before.tab if each.before else "", f"{each.on} of {each.count}",
            f"{typed_cents(each.median_cents):>4}", rung_words(each, tolerance),
            _signed_or_none(_from_anchor(each, notes)),
            f"{each.spread_cents:6.0f}" if each.count > 1 else "",
            scale(each.tries_cents, each.median_cents, tolerance.on_cents, signs),
        )
        for each in rungs
    ]  # fmt: skip
    return [*text_columns(heads, rows).split("\n"), *told]


def _key(tolerance: Tolerance, signs: Signs) -> str:
    return (
        f"{signs.middle} the middle of your tries, {signs.one} one of them, {signs.near} in tune "
        f"(within {tolerance.on_cents:g} cents). Right: within {tolerance.near_cents:g} cents. "
        "Anchor: compared with the anchor played just before. Spread: half of the tries are no "
        "further than this from the middle."
    )


def _scale_head(width: int) -> str:
    return "flat" + " " * (width - 9) + "sharp"


def _signed_or_none(cents: float | None) -> str:
    return "" if cents is None else f"{typed_cents(cents):>6}"


def _from_anchor(rung: Rung, notes: Sequence[HeardNote]) -> float | None:
    """Return the median excess of the interval from the anchor just played, in cents."""
    each = [
        note.cents_from_anchor
        for note in notes
        if (note.reed, note.before) == (rung.reed, rung.before)
        and note.cents_from_anchor is not None
    ]
    return median(each) if each else None


def _cards(
    rungs: Sequence[Rung], notes: Sequence[HeardNote], tolerance: Tolerance, width: int,
    signs: Signs,
) -> list[str]:  # fmt: skip
    lines: list[str] = []
    wide = min(_SCALE, width - 4) // 2 * 2 + 1
    for each in rungs:
        start = f"{each.reed.tab} from {each.before.tab}" if each.before else each.reed.tab
        anchor = _from_anchor(each, notes)
        told = [f"{each.on} of {each.count} right"]
        told += [f"spread {each.spread_cents:.0f}"] if each.count > 1 else []
        told += [f"anchor {typed_cents(anchor)}"] if anchor is not None else []
        lines += folded(
            f"{start}: {typed_cents(each.median_cents)} cents, "
            f"{rung_words(each, tolerance)}",
            width, "  ",
        )  # fmt: skip
        lines += folded(", ".join(told), width, "  ", "  ")
        lines.append("  " + scale(each.tries_cents, each.median_cents, tolerance.on_cents, signs,
                                  wide))  # fmt: skip
    return lines


# --- the notes that have no cents ------------------------------------------------------------


def others(heard: HeardTake) -> list[str]:
    """Return the missed notes, wrong notes, unclear notes and extra tones of a take."""
    return [
        *_told("Not heard", heard, Verdict.MISSED),
        *_as_others(heard),
        *_told("Unclear, so not judged", heard, Verdict.UNCLEAR),
        *_not_judged(heard),
        *_slow_slides(heard),
        *_extras(heard),
    ]


def _told(start: str, heard: HeardTake, verdict: Verdict) -> list[str]:
    found = Counter(note.tab for note in heard.notes if note.verdict is verdict)
    return _listed(start, [f"{tab} {_often(tab, number, heard)}" for tab, number in
                           found.most_common()])  # fmt: skip


def _not_judged(heard: HeardTake) -> list[str]:
    found = Counter(note.tab for note in heard.notes if note.verdict is Verdict.NOT_JUDGED)
    times = [f"{tab} {counted(number, 'time')}" for tab, number in found.most_common()]
    return _listed("Several holes at once, which are not judged", times)


def _slow_slides(heard: HeardTake) -> list[str]:
    """Return how long slow slides took, each beside what is written at the player's own tempo."""
    slid = [note for note in heard.notes if note.slide_s is not None]
    return _listed(
        "Slow slides",
        [
            f"{note.before.tab if note.before else ''}~{note.tab} {note.found_after_s:.1f} s "
            f"for {note.slide_s:.1f} s"
            for note in slid
            if note.found_after_s is not None
        ],
    )


def _often(tab: str, number: int, heard: HeardTake) -> str:
    of = sum(note.tab == tab for note in heard.notes)
    return f"{number} of {counted(of, 'time')}"


def _as_others(heard: HeardTake) -> list[str]:
    found = Counter(
        (note.reed, note.heard_as) for note in heard.notes if note.verdict is Verdict.ANOTHER_NOTE
    )
    return _listed(
        "Another note",
        [
            f"{reed.tab} {_often(reed.tab, number, heard)} {_pitch_of(heard.score.harp, other)}"
            for (reed, other), number in found.most_common()
        ],
    )


def _pitch_of(harp: Harp, reed: Reed | None) -> str:
    """Name the pitch of *reed* by every way to play it, which a recording cannot tell apart."""
    if reed is None:
        return "as a note this harp does not have"
    return f"at the pitch of {' or '.join(each.tab for each in same_pitch(harp, reed))}"


def same_pitch(harp: Harp, reed: Reed) -> list[Reed]:
    """Return *reed* and the natural notes and bends that sound the same pitch.

    >>> [each.tab for each in same_pitch(Harp("C"), Reed.parse("-2"))]
    ['-2', '3']
    """
    alike = [each for each in harp.reeds(overbends=False) if harp.midi(each) == harp.midi(reed)]
    return [reed, *(each for each in alike if each != reed)]


def _extras(heard: HeardTake) -> list[str]:
    harp = heard.score.harp
    return _listed(
        "Not in the drill",
        [
            f"{_nearest(harp, each.nearest, each.hz)} at {each.start_s:.1f} s"
            for each in heard.extra
        ],
    )


def _nearest(harp: Harp, reed: Reed | None, hz: float) -> str:
    if reed is None:
        return f"a note of {hz:.0f} Hz"
    return " or ".join(each.tab for each in same_pitch(harp, reed))


def _listed(start: str, parts: Sequence[str]) -> list[str]:
    if not parts:
        return []
    more = len(parts) - _MOST_NAMED
    rest = f", and {more} more" if more > 0 else ""
    return [f"{start}: {', '.join(parts[:_MOST_NAMED])}{rest}."]


# --- a harp ---------------------------------------------------------------------------------


def harp_lines(tested: HarpTested, width: int, signs: Signs) -> list[str]:
    """Return every reed of a harp test with its deviation, and the reeds that stand out."""
    lines = folded(
        f"{tested.heard.name}: your harp as a whole is tuned to A = {tested.reference_hz:.1f} Hz.",
        width,
        "  ",
    )
    lines.append("")
    lines += _reed_rows(tested, width, signs)
    lines.append("")
    return lines + _points(_of_reeds(tested), width)


def _reed_rows(tested: HarpTested, width: int, signs: Signs) -> list[str]:
    draw: Callable[[ReedHeard], str] = lambda each: (  # noqa: E731
        "" if each.cents is None else scale([], each.cents, WORN_CENTS, signs)
    )
    if width < WIDE:
        lines = []
        for each in tested.reeds:
            lines.append(f"{each.reed.tab}: {_reed_words(each)}")
            lines += [f"  {draw(each)}"] if each.cents is not None else []
        return lines
    rows = [
        (
            each.reed.tab, tested.harp.own_name(each.reed).name, f"{each.wanted_hz:8.2f}",
            "" if each.hz is None else f"{each.hz:8.2f}", _reed_words(each), draw(each),
        )
        for each in tested.reeds
    ]  # fmt: skip
    heads = ("reed", "note", "wanted Hz", "heard Hz", "cents", _scale_head(_SCALE))
    return text_columns(heads, rows).split("\n")


def _reed_words(each: ReedHeard) -> str:
    if each.cents is None:
        return "not heard clearly"
    side = "sharp" if each.cents > 0 else "flat"
    return f"{typed_cents(each.cents)} {side if each.stands_out else 'in its place'}"


def _of_reeds(tested: HarpTested) -> list[str]:
    out = [each for each in tested.reeds if each.stands_out]
    said = []
    if out:
        them = "it" if len(out) == 1 else "them"
        named = ", ".join(f"{each.reed.tab} ({typed_cents(each.cents or 0)})" for each in out)
        said.append(
            f"{counted(len(out), 'reed')} {'stands' if len(out) == 1 else 'stand'} out against the "
            f"rest of the harp: {named}. Play {them} once more, softly: what stays out "
            "is the reed. Some makers tune the thirds of the blow chord and draw 5 lower, on "
            "purpose."
        )
    if tested.missing:
        tabs = ", ".join(each.reed.tab for each in tested.reeds if each.reed in tested.missing)
        said.append(f"Not heard clearly: {tabs}. Play those again, each for two seconds.")
    return said or ["No reed stands out: this harp is in tune with itself."]
