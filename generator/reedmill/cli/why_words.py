"""The reasons for the reeds of a tune, as text for a terminal."""

from __future__ import annotations

from collections.abc import Sequence

from reedmill.cli.picture import mixed, text_columns
from reedmill.expand.reed_choices import Decided, ReedChoice, WhyReeds
from reedmill.harp.together import holes_tab
from reedmill.theory.meter import Meter

_MOST_PLACES = 4  # named in one row
_LESS = ("less", "more")


def why_these_reeds(tune: str, why: WhyReeds, meter: Meter) -> str:
    """Return where a *tune*, named with its harp, could be played otherwise, and why it is not.

    Stretches with the same two ways and the same reason share a row.
    """
    count = sum(len(each.choice.at) for each in why.choices)
    one_reed = "each note has one reed" if not why.choices else "every other note has one reed"
    head = f"{tune}: 1 is {why.root.name}; cost {why.cost}; {one_reed}"
    if not count:
        return head
    rows: dict[tuple[str, ...], list[str]] = {}
    for each in why.choices:
        choice = each.choice
        reeds = (" ".join(map(holes_tab, way)) for way in (choice.played, choice.instead))
        degrees = " ".join(each.degrees)
        bar, beat = divmod(each.starts[0], meter.beats)
        place = f"{bar + 1}:{mixed(beat + 1)}"
        rows.setdefault((degrees, *reeds, reason_words(choice)), []).append(place)
    heads = ("bar:beat", "degree", "played", "not", "because")
    return f"{head}\n" + text_columns(heads, [(_few(places), *row) for row, places in rows.items()])


def _few(places: Sequence[str]) -> str:
    more = f" and {len(places) - _MOST_PLACES} more" if len(places) > _MOST_PLACES else ""
    return ", ".join(places[:_MOST_PLACES]) + more


def reason_words(choice: ReedChoice) -> str:
    """Return why the reeds of *choice* are played, in a player's words."""
    played, other = choice.effort, choice.instead_effort
    if choice.decided is Decided.SLIDE:
        return "the slide stays in one hole"
    if choice.decided is Decided.HOME:
        return f"a phrase ends at home, though the other way costs {played.cost - other.cost} less"
    if choice.decided is Decided.EQUAL:
        return "both are as easy"
    differences = (
        (other.holes - played.holes, "hole", "holes", "nearer", "further"),
        (other.breaths - played.breaths, "turn of the breath", "turns of the breath", *_LESS),
        (other.bend_semitones - played.bend_semitones, "semitone of bend", "semitones of bend",
         *_LESS),
        (other.quarter_tones - played.quarter_tones, "quarter tone", "quarter tones", *_LESS),
        (other.quick_bends - played.quick_bends, "quick bend", "quick bends", *_LESS),
        (other.overbends - played.overbends, "overbend", "overbends", *_LESS),
    )  # fmt: skip
    spared, spent = [], []
    for count, one, many, less, more in differences:
        amount = f"{abs(count)} {one if abs(count) == 1 else many}"
        spared += [f"{amount} {less}"] if count > 0 else []
        spent += [f"{amount} {more}"] if count < 0 else []
    return " and ".join(spared) + (f", though {' and '.join(spent)}" if spent else "")
