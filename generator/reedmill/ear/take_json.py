"""A heard take as plain data for JSON, and the schema of that data."""

from __future__ import annotations

from reedmill.base.json_schema import DIALECT, Schema, array_of, object_with
from reedmill.ear.heard_take import Extra, HeardNote, HeardPass, HeardTake, Rung, SoundFacts
from reedmill.ear.measured_harp import HarpTested
from reedmill.score.score import Role, Score
from reedmill.score.verdicts import Verdict

VERSION = 1
"""Of the form of a take; a reader refuses one that is higher."""


def take_data(heard: HeardTake, *, recorded: str | None = None, source_sha256: str = "") -> Schema:
    """Return *heard* as plain data, the record of a take.

    *recorded* is when, in ISO 8601 (``2027-01-31T18:05:00Z``); *source_sha256* tells the drill's
    text from another with the same title.
    """
    head = head_data(heard.score)
    return {
        **head,
        "recorded": recorded,
        "drill": {**head["drill"], "source_sha256": source_sha256 or None},
        "tempo_heard": _rounded(heard.tempo_heard, 1),
        "harp_cents": _rounded(heard.harp_cents, 1) if heard.harp_measured else None,
        "tolerance": {"on": heard.tolerance.on_cents, "near": heard.tolerance.near_cents},
        "sound": _sound(heard.sound),
        "passes": [_pass(each) for each in heard.passes],
        "extra": [_extra(each) for each in heard.extra],
        "by_rung": [rung_data(each) for each in heard.by_rung],
        "advice": list(heard.advice),
    }


def head_data(score: Score) -> Schema:
    """Return the part that all takes of *score* share: what is played, and on which harp."""
    return {
        "reedmill_take": VERSION,
        "recorded": None,
        "drill": {"title": score.title, "source_sha256": None},
        "harp": score.harp.name,
        "position": score.position.number,
        "tuning": score.harp.layout.name,
        "intonation": score.intonation.name,
        "reference_hz": score.reference_hz,
        "tempo": score.tempo_bpm,
    }


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)


def _sound(sound: SoundFacts) -> Schema:
    return {
        "seconds": round(sound.seconds, 2),
        "level_dbfs": round(sound.level_dbfs, 1),
        "noise_dbfs": round(sound.noise_dbfs, 1),
        "clipped_share": round(sound.clipped_share, 5),
    }


def _pass(each: HeardPass) -> Schema:
    return {
        "start_s": round(each.start_s, 3),
        "end_s": round(each.end_s, 3),
        "notes": [note_data(note) for note in each.notes],
    }


def note_data(note: HeardNote) -> Schema:
    """Return one note of a take as plain data."""
    found: Schema = {
        "index": note.index,
        "tab": note.tab,
        "role": note.role.value,
        "from": note.before and note.before.tab,
        "wanted_hz": round(note.wanted_hz, 3),
        "start_s": _rounded(note.start_s, 3),
        "end_s": _rounded(note.end_s, 3),
        "hz": _rounded(note.hz, 3),
        "cents": _rounded(note.cents, 1),
        "cents_from_anchor": _rounded(note.cents_from_anchor, 1),
        "steadiness_cents": _rounded(note.steadiness_cents, 1),
        "found_after_s": _rounded(note.found_after_s, 3),
        "early_ms": _rounded(note.early_ms, 0),
        "verdict": note.verdict.value,
    }
    if note.verdict is Verdict.ANOTHER_NOTE:
        found["heard_as"] = note.heard_as and note.heard_as.tab
    if note.slide_s is not None:
        found["slide_s"] = round(note.slide_s, 3)
    return found


def _extra(each: Extra) -> Schema:
    return {
        "start_s": round(each.start_s, 3),
        "end_s": round(each.end_s, 3),
        "hz": round(each.hz, 3),
        "nearest_tab": each.nearest and each.nearest.tab,
    }


def rung_data(each: Rung) -> Schema:
    """Return all tries of a rung in a take as plain data."""
    return {
        "tab": each.reed.tab,
        "from": each.before and each.before.tab,
        "count": each.count,
        "median_cents": round(each.median_cents, 1),
        "spread_cents": round(each.spread_cents, 1),
        "on": each.on,
    }


def tested_data(tested: HarpTested) -> Schema:
    """Return a harp test as plain data.

    The schema ``HARP_TEST_SCHEMA`` here says what each field means.
    """
    return {
        "harp": tested.harp.name,
        "tuning": tested.harp.layout.name,
        "reference_hz": round(tested.reference_hz, 2),
        "reeds": [
            {
                "tab": each.reed.tab,
                "wanted_hz": round(each.wanted_hz, 3),
                "hz": _rounded(each.hz, 3),
                "cents": _rounded(each.cents, 1),
                "stands_out": each.stands_out,
            }
            for each in tested.reeds
        ],
    }


# --- the schema (JSON Schema, draft 2020-12) ----------------------------------------------


def _of(kind: str, about: str, *, null: bool = False, **more: object) -> Schema:
    return {"type": [kind, "null"] if null else kind, "description": about, **more}


_START = {
    "start_s": _of("number", "where it begins, in seconds of the take", minimum=0),
    "end_s": _of("number", "where it ends, in seconds of the take", minimum=0),
}
_MEASURED = {
    "start_s": _of("number", "where it begins, in seconds of the take", null=True, minimum=0),
    "end_s": _of("number", "where it ends, in seconds of the take", null=True, minimum=0),
    "hz": _of("number", "the pitch of its steady part", null=True, exclusiveMinimum=0),
    "cents": _of("number", "how far it is over its target, or under it", null=True),
    "cents_from_anchor": _of(
        "number", "how much wider its interval from the anchor just played is", null=True
    ),
    "steadiness_cents": _of("number", "how far its pitch moves about", null=True, minimum=0),
    "found_after_s": _of(
        "number", "seconds until it keeps its pitch; of a slide, how long it takes",
        null=True, minimum=0,
    ),
    "early_ms": _of("number", "how early it is at the player's own pace; late is negative",
                    null=True),
}  # fmt: skip
_FROM = _of(
    "string", "the reed of the note before; null at a start and after several holes at once",
    null=True,
)  # fmt: skip
_NOTE = object_with(
    "one note of the drill",
    {
        "index": _of("integer", "its number in the drill, from 0", minimum=0),
        "tab": _of("string", "its reed as tab, or all its holes: `-2&3`"),
        "role": _of("string", "what it does in the drill", enum=[each.value for each in Role]),
        "from": _FROM,
        "wanted_hz": _of("number", "its target, moved by `harp_cents`", exclusiveMinimum=0),
        **_MEASURED,
        "verdict": _of(
            "string",
            "the verdict; several holes at once are `not-judged`",
            enum=[each.value for each in Verdict],
        ),
    },
    {
        "heard_as": _of("string", "with `another-note`: the reed that has this pitch", null=True),
        "slide_s": _of(
            "number",
            "of a slow slide: how long it would take at the player's own tempo, in seconds",
            exclusiveMinimum=0,
        ),
    },
)

TAKE_SCHEMA: Schema = {
    "$schema": DIALECT,
    **object_with(
        "a take: what was heard, note by note",
        {
            "reedmill_take": _of("integer", "the version of this form", const=VERSION),
            "recorded": _of("string", "when, ISO 8601", null=True),
            "drill": object_with(
                "what was played",
                {
                    "title": _of("string", "the title of the drill"),
                    "source_sha256": _of("string", "SHA-256 of its text", null=True,
                                         pattern="^[0-9a-f]{64}$"),
                },
            ),
            "harp": _of("string", "the harp: `C`, `low F`"),
            "position": _of("integer", "the position", minimum=1, maximum=12),
            "tuning": _of("string", "the layout of the reeds"),
            "intonation": _of("string", "how the targets are tuned"),
            "reference_hz": _of("number", "the frequency of A4", exclusiveMinimum=0),
            "tempo": _of("integer", "pulses a minute of the drill", minimum=1),
            "tempo_heard": _of("number", "pulses a minute of the player", null=True,
                               exclusiveMinimum=0),
            "harp_cents": _of("number", "how far the harp itself is over its nominal pitch; "
                              "null where nothing tells", null=True),
            "tolerance": object_with(
                "cents from the target up to which a note is called so",
                {"on": _of("number", "on"), "near": _of("number", "near")},
            ),
            "sound": object_with(
                "what kind of recording it is",
                {
                    "seconds": _of("number", "how long it is", minimum=0),
                    "level_dbfs": _of("number", "the level of the loud notes"),
                    "noise_dbfs": _of("number", "the level of the softest moments"),
                    "clipped_share": _of("number", "the share that is overdriven", minimum=0,
                                         maximum=1),
                },
            ),
            "passes": array_of(
                "each time through the drill, or a part of it",
                object_with("one pass", _START | {"notes": array_of("its notes in order", _NOTE)}),
            ),
            "extra": array_of(
                "tones that are not notes of the drill",
                object_with("one tone", _START | {
                    "hz": _of("number", "its pitch", exclusiveMinimum=0),
                    "nearest_tab": _of("string", "the reed nearest to it", null=True),
                }),
            ),
            "by_rung": array_of(
                "every reed by the one before it, the furthest out first",
                object_with("one", {
                    "tab": _of("string", "the reed as tab"),
                    "from": _FROM,
                    "count": _of("integer", "how often it was measured", minimum=1),
                    "median_cents": _of("number", "the middle of its tries"),
                    "spread_cents": _of("number", "half of the tries are no further from that",
                                        minimum=0),
                    "on": _of("integer", "how many were on or near", minimum=0),
                }),
            ),
            "advice": array_of("what to change, at most three", _of("string", "a sentence")),
        },
    ),
}  # fmt: skip

HARP_TEST_SCHEMA: Schema = object_with(
    "a harp test: how far each reed is from its place",
    {
        "harp": _of("string", "the harp: `C`, `low F`"),
        "tuning": _of("string", "the layout of the reeds"),
        "reference_hz": _of("number", "A4 of the harp as a whole", exclusiveMinimum=0),
        "reeds": array_of(
            "every natural note, blow and draw of hole 1 first",
            object_with("one reed", {
                "tab": _of("string", "the reed as tab"),
                "wanted_hz": _of("number", "its place in equal temperament, at the A4 asked for",
                                 exclusiveMinimum=0),
                "hz": _of("number", "its pitch; null where it was not heard clearly", null=True),
                "cents": _of("number", "how far it is from its place in the harp as a whole",
                             null=True),
                "stands_out": _of("boolean", "further out than its neighbours will hide"),
            }),
        ),
        "file": _of("string", "where the harp is kept; null where that was not asked for",
                    null=True),
    },
)  # fmt: skip
