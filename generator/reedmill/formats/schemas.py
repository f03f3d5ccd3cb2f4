"""JSON Schemas of every document Reedmill prints or writes, field by field.

One row is one field: its name, what it may hold, and what it means.  The rows are JSON Schemas
(draft 2020-12, https://json-schema.org); ``docs/schemas`` and ``docs/REFERENCE.md`` are written
from them, and the tests hold every command's output against its schema.  A field that is added
to an output needs its row here, and no schema lets in a field it does not name.
"""

from __future__ import annotations

from reedmill.base.json_schema import (
    DIALECT,
    Schema,
    array_of,
    flag,
    integer_from,
    maybe,
    number,
    object_with,
    one_of,
    text,
)
from reedmill.ear.take_json import HARP_TEST_SCHEMA, TAKE_SCHEMA
from reedmill.formats.table import BAND_FORMATS, DRILL_KINDS, ROWS, Maker, slowest_first
from reedmill.harp.harp_places import SongFit
from reedmill.harp.reeds import Breath, ReedKind
from reedmill.practice.practice import DRONE_TONES, Click
from reedmill.score.score import AirWay, Feel, LipShape, Role
from reedmill.score.style import COUNTS, Mark

# --- what a field may hold ---------------------------------------------------------------


def beats(about: str) -> Schema:
    """Return the schema of a time in beats as an exact fraction, 0 or more: ``3/2``."""
    return text(about, pattern=r"^\d+(/[1-9]\d*)?$")


def _within(whole: Schema) -> Schema:
    """Return a schema as part of another, without a dialect of its own."""
    return {name: each for name, each in whole.items() if name != "$schema"}


# --- fields that several documents share -------------------------------------------------

_HARP = text("the harp: `C`, `low F`, and its layout where that is not Richter")
_POSITION = integer_from("the position, 1 to 12", 1, 12)
_TEMPO = integer_from("beats a minute", 1)
_KEY = {
    "key": text("the key that is played: `G`, `Bb`"),
    "mode": one_of("the key signature", ("major", "minor")),
}
_ON = {"harp": _HARP, "tuning": text("the layout of the reeds: `richter`, or your file's name")}
_TAB = text("the reed as tab: `-3'`")
_HOLES = text("the reed as tab, or all holes of its breath: `-2&3`")
_REED = {
    "tab": _TAB,
    "hole": integer_from("the hole", 1, 10),
    "breath": one_of("the breath", Breath),
    "bend": integer_from("semitones bent down from the natural note; 0 for the others"),
}
_PITCH = {
    "midi": integer_from("the MIDI key, 60 for C4", 0, 127),
    "name": text("the note with its octave: `Bb4`"),
    "hz": number("the frequency that is meant, in Hz", exclusiveMinimum=0),
    "degree": text("the degree of the key: `b3`"),
}
_STEM = {
    "stem": one_of(
        "what a sound file holds: the `tones`, the `mix` of all you hear, or one part of it",
        ("tones", "mix", "backing", "drone", "click"),
    )
}
_PLACE = {
    "line": integer_from("line of the file, from 1", 1),
    "column": integer_from("column of the line, from 1", 1),
}
_SHA256 = text("the SHA-256 of its content, hexadecimal", pattern="^[0-9a-f]{64}$")
_FAILED = array_of(
    "what was not made",
    object_with("one thing", {"what": text("what it is"), "reason": text("why, as a sentence")}),
)


# --- keys --------------------------------------------------------------------------------

_THIRD = maybe(one_of("the third that its natural notes give, if any", ("major", "minor", "both")))
_FIT = one_of("what it is ready for: most songs, some `with care`, or hardly any", SongFit)
_TABS = text("a reed as tab: `-2`")
_HARP_PLACE = object_with(
    "one harp in one position",
    _ON
    | {
        "position": _POSITION,
        "key": text("its root by the name it has on that harp: `G`, `Bb`"),
        "scales": array_of(
            "the scales that natural notes give: `mixolydian`; none where home is a bend",
            text("a scale by its name"),
        ),
        "degrees": array_of(
            "the degrees that natural notes give, rising", text("the degree of the key: `b3`")
        ),
        "home": array_of("the natural notes that are home, low to high", _TABS),
        "bent_home": array_of("the bends that are home, or the overbends where none is", _TABS),
        "third": _THIRD,
        "bent_thirds": array_of("the bends that are the flat third, low to high", _TABS),
        "fit": _FIT,
        "good_for": text("what it is good for, in words (common practice)"),
    },
)
_KEYS = object_with(
    "`reedmill keys --key E --json`: which harps to take for a song",
    {
        "key": text("the key of the song: `E`, `F# minor`"),
        "root": text("its root alone: `F#`"),
        "choices": array_of("the harps to take, the usual one first", _HARP_PLACE),
    },
)
_HARP_KEYS = object_with(
    "`reedmill keys --harp C --json`: what a harp gives in its positions",
    _ON | {"positions": array_of("the positions, all twelve or those you named", _HARP_PLACE)},
)
_CASE_ROOTS = {
    third: array_of(f"of songs in {third}", text("the root of a key: `Db`"))
    for third in ("major", "minor")
}
_CASE = object_with(
    '`reedmill keys --case "C, A" --json`: which keys a case of harps plays',
    {
        "harps": array_of("the harps, in your order", _HARP),
        "keys": array_of(
            "the twelve keys, from C up",
            object_with(
                "one key",
                {
                    "key": text("its root: `Db`"),
                    "names": array_of("all names of it", text("a name of the root: `C#`")),
                    "places": array_of(
                        "what each harp is in it, in the order of the harps",
                        object_with(
                            "one harp",
                            {"harp": _HARP, "position": _POSITION, "third": _THIRD, "fit": _FIT},
                        ),
                    ),
                },
            ),
            minItems=12,
            maxItems=12,
        ),
        "with_care": object_with("the keys for which no harp fits well", _CASE_ROOTS),
        "not_there": object_with("the keys for which no harp fits at all", _CASE_ROOTS),
    },
    {
        "files": array_of("the chart, with `--to sheet`", text("where it is")),
        "replaced": flag("with `--to sheet`: true when it stands where another file was"),
    },
)


# --- notes, roles, drills ----------------------------------------------------------------

_NOTES = object_with(
    "`reedmill notes --json`: every note of a harp",
    _ON | {"position": _POSITION} | _KEY
    | {
        "reference_hz": number("the frequency of A4", exclusiveMinimum=0),
        "notes": array_of(
            "the notes, hole by hole",
            object_with(
                "one note",
                _REED | {"kind": one_of("how it comes out of its hole", ReedKind)} | _PITCH,
            ),
        ),
    },
)  # fmt: skip

_REPLACED = flag("true when it stands where another file was")
_CHART_FILES = {
    "files": array_of("the role chart, with `--to sheet`", text("where it is")),
    "replaced": flag("with `--to sheet`: true when it stands where another file was"),
}

_ROLES = object_with(
    "`reedmill roles --json`: what reeds are in each position",
    _ON
    | {
        "reeds": array_of(
            "the reeds you named, in your order",
            object_with(
                "one reed",
                {
                    "tab": _TAB,
                    "roles": array_of(
                        "what it is in each of the twelve positions",
                        object_with(
                            "one position",
                            {
                                "position": _POSITION,
                                "key": _KEY["key"],
                                "degree": _PITCH["degree"],
                                "name": _PITCH["name"],
                            },
                        ),
                        minItems=12,
                        maxItems=12,
                    ),
                },
            ),
        )
    },
    _CHART_FILES,
)

_CHORD_ROLES = object_with(
    "`reedmill roles --chords --json`: what reeds are in chords",
    _ON | {"position": _POSITION} | _KEY
    | {
        "reeds": array_of(
            "the reeds you named, in your order",
            object_with(
                "one reed",
                {
                    "tab": _TAB,
                    "chords": array_of(
                        "what it is in each chord, in your order",
                        object_with(
                            "one chord",
                            {
                                "chord": text("the chord as a degree of the key: `IV7`"),
                                "symbol": text("its name in this key: `C7`"),
                                "tone": maybe(text("which tone of the chord it is: `b7`; or null")),
                                "from_root": text("its degree from the root of the chord: `2`"),
                                "role": text(
                                    "`root`, `third`, `fifth`, the number of another chord tone, "
                                    "`tension` (a semitone from a chord tone) or `passing`"
                                ),
                            },
                        ),
                    ),
                },
            ),
        )
    },
    _CHART_FILES,
)  # fmt: skip

_DRILLS = object_with(
    "`reedmill drills --json`: the library, or what you looked for in it",
    {
        "drills": array_of(
            "the drills, easiest first",
            object_with(
                "one drill",
                {
                    "title": text("its title"),
                    "file": text("its file in the folder `patterns`"),
                    "level": maybe(
                        integer_from("1, the easiest, to 5; null when it names none", 1, 5)
                    ),
                    "about": text("its sentence for the student"),
                    "holes": array_of(
                        "the holes it uses on a C harp", integer_from("a hole", 1, 10)
                    ),
                    "techniques": array_of("what a player must be able to do", text("a technique")),
                    "topic": text("the topic it belongs to"),
                    "over": array_of(
                        "of a phrase: the chords of a form, turnaround or ending it is meant for; "
                        "empty for other drills",
                        text("its name"),
                    ),
                    "positions": array_of(
                        "the positions it is meant for; empty for all", _POSITION
                    ),
                    "practised": array_of(
                        "the reeds it is there to practise, lowest hole first", _TAB
                    ),
                    "practised_holes": array_of(
                        "the holes of these and of its rungs", integer_from("a hole", 1, 10)
                    ),
                    "approaches": array_of(
                        "how it comes to each of these",
                        object_with("one way", {"from": _TAB, "to": _TAB}),
                    ),
                },
            ),
        )
    },
)


def _counted(name: str, about: str) -> Schema:
    return object_with(
        f"`reedmill drills --{name}s --json`: {about}",
        {
            f"{name}s": array_of(
                "each with how many drills have it",
                object_with("one", {name: text("its name"), "drills": integer_from("how many", 1)}),
            )
        },
    )


_TOPICS = _counted("topic", "the topics of the library")
_TECHNIQUES = _counted("technique", "what there is to learn")

_COVERAGE = object_with(
    "`reedmill drills --coverage --json`: the drills that practise each rung in each way",
    {
        "coverage": array_of(
            "each note that bends with its bends, hole by hole, then the overbends",
            object_with(
                "one rung",
                {
                    "rung": _TAB,
                    "ways": array_of(
                        "each way to practise it",
                        object_with(
                            "one way",
                            {
                                "way": text("its name"),
                                "drills": array_of(
                                    "the drills that do so, in any of their embouchures",
                                    text("a title"),
                                ),
                            },
                        ),
                    ),
                },
            ),
        ),
        "ways": array_of(
            "what each way means",
            object_with("one way", {"way": text("its name"), "meaning": text("in words")}),
        ),
        "unplayed": array_of(
            "what nobody plays",
            object_with(
                "rungs and ways",
                {
                    "rungs": array_of("the rungs", _TAB),
                    "ways": array_of("the ways", text("a name")),
                    "reason": text("why not, in words"),
                },
            ),
        ),
    },
)


# --- expand, and the json format ---------------------------------------------------------

_QUARTER = number("how far it is meant from `midi`: a quarter tone lower, in cents", const=-50)
_BESIDE = {name: each for name, each in (_REED | _PITCH).items() if name != "breath"}
_NOTE = object_with(
    "one note",
    {
        "start": beats("when it starts as written, in beats from the first bar: `3/2`"),
        "length": beats("how long it is as written, in beats"),
        "sounding_start": beats("when it is heard: a shuffle moves it"),
        "sounding_length": beats("how long it is heard: shorter before a breath"),
    }
    | _REED
    | _PITCH
    | {
        "role": one_of("what it does in its drill", Role),
        "joined": flag("true when it has no attack of its own: a slide leads into it, or a lift"),
        "embouchure": maybe(one_of("how the mouth picks out the hole, or null", LipShape)),
    }
    | _PLACE,
    {
        "beside": array_of(
            "where several holes sound at once: the others, the lowest first",
            object_with("one hole", _BESIDE, {"cents": _QUARTER}),
            minItems=1,
        ),
        "cents": _QUARTER,
        "style": array_of("how it is shaped", one_of("one mark of style", Mark), minItems=1),
        "a_beat": integer_from(
            "how often a vibrato or a shake goes to and fro in a beat", COUNTS[0], COUNTS[-1]
        ),
        "held": array_of(
            "the holes that sound on from the note before while others join or leave: a lift",
            integer_from("a hole", 1, 10),
            minItems=1,
        ),
        "slide": beats("how long its slide takes as written, in beats, where that is written"),
        "sounding_slide": beats("how long that slide is heard"),
        "in_chord": maybe(text("over a band: which tone of the chord it is, or null")),
        "target": flag("over a band: true for a note to aim at"),
    },
)

_BREATH = object_with(
    "one breath",
    {
        "at": beats("where the note before it ends as written, in beats from the first bar"),
        "way": one_of("the way the air goes", AirWay),
        "seconds": number("how long it takes, up to the next note", minimum=0),
        "rest": beats("the written rest that was made for it, in beats; 0 for none"),
    },
)

_TIMELINE = (
    {"title": text("the title of the drill")} | _ON | {"position": _POSITION} | _KEY
    | {
        "tempo": _TEMPO,
        "meter": text("the meter: `12/8`"),
        "feel": one_of("how the halves of a beat are played", Feel),
        "swing": text("how long the first half of a beat is to the second: `2` in a shuffle",
                      pattern=r"^[1-9]\d*(/[1-9]\d*)?$"),
        "anchor": maybe(text("the anchor as tab, all its holes: `-1&4`; null without one")),
        "rungs": array_of("the rungs as the drill lists them", _HOLES),
        "notes": array_of("the notes in the order they come", _NOTE),
        "breaths": array_of("the breaths between the notes, in the order they come", _BREATH),
    }
)  # fmt: skip

_OVER = {
    "over": object_with(
        "the band under the drill, with `--over`",
        {
            "form": text("the title of the form"),
            "feel": text("the title of the feel"),
            "choruses": integer_from("how many times the form is played", 1),
        },
    ),
    "chords": array_of(
        "the chords of the band, with `--over`",
        object_with(
            "one chord",
            {
                "start": beats("when it starts, in beats from the first bar"),
                "chord": text("the chord as a degree of the key: `IV7`"),
                "symbol": text("its name in this key: `C7`"),
            },
        ),
    ),
}

_RECORDING = {
    "recording": object_with(
        "how the sound is practised, when you asked for more than the tones alone",
        {
            "drone": array_of("the tones of the drone; empty for none", one_of("one", DRONE_TONES)),
            "click": maybe(one_of("where the click is, or null for none", Click)),
            "count_in_bars": integer_from("bars clicked at the beginning"),
            "repeats": integer_from("times through", 1),
            "echo_bars": maybe(
                integer_from(
                    "bars played and then left open, 0 for the whole drill; or null for no echo"
                )
            ),
            "fade_out": flag("true when the tones grow softer with each repeat"),
            "tempi": array_of("the tempi of a tempo ladder, in order", _TEMPO),
            "apart": flag("true when each tempo has a file of its own"),
            "passes": array_of(
                "what is heard, pass by pass",
                object_with(
                    "once through some bars",
                    {
                        "start_s": number("when it starts in the sound file, in seconds"),
                        "end_s": number("when it ends, in seconds"),
                        "first": beats("its first beat as written"),
                        "last": beats("the beat it ends before"),
                        "tempo": _TEMPO,
                        "count_in_bars": integer_from("bars clicked before it"),
                        "tones": number(
                            "how loud the tones are: 1 as usual, 0 where you play alone",
                            minimum=0, maximum=1,
                        ),
                    },
                ),
            ),
        },
    )
}  # fmt: skip


def _timelines(about: str, sometimes: Schema, beside: Schema | None = None) -> Schema:
    return object_with(
        about, {"drills": array_of("one for each drill and harp", object_with(
            "one drill", _TIMELINE, sometimes
        ))}, beside,
    )  # fmt: skip


_EFFORT = {
    "holes": integer_from("holes the mouth moves", 0),
    "breaths": integer_from("turns of the breath", 0),
    "bend_semitones": integer_from("semitones of bend", 0),
    "quarter_tones": integer_from("quarter tones of bend", 0),
    "quick_bends": integer_from("bends on notes shorter than 0.3 s", 0),
    "overbends": integer_from("overblows and overdraws", 0),
    "cost": integer_from("their weighted sum", 0),
}
_WHY = {
    "why": array_of(
        "with `--why`: for each drill on each harp, where its tunes had a choice of reeds",
        object_with("one drill", {
            "title": text("its title"),
            "harp": _HARP,
            "position": _POSITION,
            "tunes": array_of("its tunes in order", object_with("one tune", {
                "root": text("the note that its degree 1 is: `G4`"),
                "cost": integer_from("its cost, by the table in patterns/README.md", 0),
                "choices": array_of(
                    "stretches that could be played on other reeds",
                    object_with("one stretch", {
                        "starts": array_of(
                            "of the notes that would differ, as they are written",
                            beats("the beat at which one starts, from 0"),
                        ),
                        "degrees": array_of("their degrees", text("of one of them: `1`, `1&5`")),
                        "played": array_of("the reeds they are played on", _HOLES),
                        "instead": array_of("the reeds of the best other way", _HOLES),
                        "because": one_of(
                            "`easier`, `home` (a phrase ends on its home reed), `slide` (the "
                            "other way cannot slide) or `equal` (it is as easy)",
                            ("easier", "home", "slide", "equal"),
                        ),
                        "effort": object_with("of the stretch and the moves around it", _EFFORT),
                        "instead_effort": object_with("of the other way", _EFFORT),
                    }),
                ),
            })),
        }),
    )
}  # fmt: skip


_PICKED = {
    "phrases": array_of(
        "with `--phrases`: for each harp, which phrases fill the form",
        object_with("one harp", {
            "title": text("the title of the whole"),
            "harp": _HARP,
            "position": _POSITION,
            "picked": array_of("the phrases in order", object_with("one phrase", {
                "chorus": integer_from("the chorus, from 1", 1),
                "bar": integer_from("its first bar in the chorus, from 1", 1),
                "over": text("the chord there, or `turnaround` or `ending`"),
                "phrase": text("the title of the phrase"),
                "level": maybe(integer_from("its level; null when it names none", 1, 5)),
                "because": text("why it stands there, as a sentence"),
            })),
        }),
    )
}  # fmt: skip


# --- check -------------------------------------------------------------------------------

_MISTAKE_ROW = {
    "file": text("the file it is in"),
    "line": maybe(integer_from("its line, from 1; null for the whole file", 1)),
    "column": maybe(integer_from("its column, from 1; null for the whole file", 1)),
    "key": text("the name of the mistake in the tables of the language; may be empty"),
    "fact": text("what is wrong"),
    "remedy": text("why, and what to write instead"),
}
_PLAYED_ON = {
    "played_on": array_of(
        "of drills: the harps and positions it is for; empty where it is of the file itself",
        object_with(
            "one of them",
            {"harp": _HARP, "position": maybe(_POSITION | {"description": "null for any"})},
        ),
    )
}
_MISTAKE = object_with(
    "one mistake",
    _MISTAKE_ROW
    | {
        "led_to": maybe(
            object_with("what a line that moves or takes over a drill led to", _MISTAKE_ROW)
        )
    }
    | _PLAYED_ON,
)

_WARNING = object_with(
    "one warning",
    _MISTAKE_ROW | {"led_to": {"type": "null", "description": "always null"}} | _PLAYED_ON,
)

_CHECK = object_with(
    "`reedmill check --json`: the files that are right, and the mistakes of the others",
    {
        "files": array_of(
            "one for each file that is right",
            object_with(
                "one file",
                {"file": text("the file as you named it")},
                {
                    "drills": array_of(
                        "of a file of drills: what is in it",
                        object_with(
                            "one drill, or one version of it, on one harp in one position",
                            {
                                "title": text("its title"),
                                "harp": _HARP,
                                "position": _POSITION,
                                "embouchure": maybe(
                                    text("the plan for the mouth in words, or null")
                                ),
                                "bars": integer_from("how many bars it has", 1),
                                "notes": integer_from("how many notes it has"),
                                "rules": array_of(
                                    "what makes a drill hard to play",
                                    object_with(
                                        "one rule",
                                        {
                                            "rule": text("the rule in words"),
                                            "total": integer_from("how many notes it was asked of"),
                                            "violators": array_of(
                                                "the notes that break it",
                                                object_with("where one stands", _PLACE),
                                            ),
                                        },
                                    ),
                                ),
                            },
                        ),
                    ),
                    "holds": array_of(
                        "of any other file: what is in it", text("a title, and what it is")
                    ),
                },
            ),
        ),
        "mistakes": array_of("of files that are wrong, by their place", _MISTAKE),
        "warnings": array_of("what is made, but not as it was meant", _WARNING),
    },
)


# --- make, backing, soundfont ------------------------------------------------------------

_HEARD = array_of(
    "with `--verify`: every note as it is in the file",
    object_with(
        "one note",
        {
            "at": number("when its attack is, in seconds of the file", minimum=0),
            "tab": _TAB,
            "name": _PITCH["name"],
            "target_hz": number("the frequency that is meant, in Hz"),
            "heard_hz": maybe(number("the frequency measured, or null where there was none")),
            "cents": maybe(number("measured minus meant, in cents; or null")),
            "late_ms": maybe(
                number(
                    "how late its attack is heard, or null where none is heard apart from others"
                )
            ),
            "right": flag("false when it is out of tune, missing, or early or late"),
        },
    ),
)

_DRILL_NUMBER = integer_from("stands for the drill on its pages, of five digits", 10_000, 99_999)

_MAKE = object_with(
    "`reedmill make --json`: the files that were made",
    {
        "files": array_of(
            "the files in the order they were made",
            object_with(
                "one file",
                {
                    "path": text("where it is"),
                    "kind": one_of("what it is", DRILL_KINDS),
                    "drill": text("the title of the drill"),
                    "harp": _HARP,
                    "position": _POSITION,
                    "tempo": _TEMPO,
                    "replaced": _REPLACED,
                },
                _STEM | {"heard": _HEARD},
            ),
        )
    },
)

_BACKING = object_with(
    "`reedmill backing --form FORM --json`: the files of a backing",
    {
        "files": array_of(
            "the files in the order they were made",
            object_with(
                "one file",
                {
                    "path": text("where it is"),
                    "kind": one_of("what it is", tuple(row.kind for row in BAND_FORMATS.values())),
                    "form": text("the title of the form"),
                    "feel": text("the title of the feel"),
                    "key": _KEY["key"],
                    "meter": text("the meter of the feel: `12/8`"),
                    "tempo": _TEMPO,
                    "choruses": integer_from("how many times the form is played", 1),
                    "bars": integer_from("how many bars that is", 1),
                    "seed": integer_from("what the band draws its choices by"),
                    "replaced": _REPLACED,
                },
                _STEM,
            ),
        )
    },
)

_DICTATE = object_with(
    "`reedmill dictate --json`: what is answered by ear",
    {
        "files": array_of(
            "the files in the order they were made",
            object_with(
                "one file",
                {
                    "path": text("where it is"),
                    "kind": one_of(
                        "what it is; with `--apart` the answers have a file of their own",
                        ("dictation-pdf", "questions-pdf", "answers-pdf", "audio"),
                    ),
                    "number": _DRILL_NUMBER,
                    "drill": text("the title of the drill"),
                    "harp": _HARP,
                    "position": _POSITION,
                    "replaced": _REPLACED,
                },
            ),
        ),
        "recordings": array_of(
            "what each recording asks for",
            object_with(
                "one recording",
                {
                    "number": _DRILL_NUMBER,
                    "drill": text("the title of the drill"),
                    "harp": _HARP,
                    "position": _POSITION,
                    "seed": integer_from("what its questions are drawn by"),
                    "pause_s": integer_from("the seconds to answer in", 2, 30),
                    "given": text("what is heard first in each question, as tab"),
                    "questions": array_of(
                        "the questions, in their order",
                        object_with(
                            "one question",
                            {
                                "question": integer_from("its number", 1),
                                "start_s": integer_from("when its clicks begin, in seconds"),
                                "rungs": array_of(
                                    "the rungs that are right: several where they sound alike; "
                                    "what follows is of the highest hole of the first",
                                    _TAB,
                                ),
                                **_PITCH,
                                "cents_from_natural": number(
                                    "how far it is from the natural note, below 0 for a bend"
                                ),
                            },
                        ),
                    ),
                },
            ),
        ),
    },
)

_SHELF = object_with(
    "`reedmill backing --list --json`: the forms and feels there are",
    {
        "forms": array_of(
            "the forms",
            object_with(
                "one form",
                {
                    "title": text("its title"),
                    "file": text("its file in the folder `patterns`"),
                    "about": text("its sentence for the student"),
                    "bars": integer_from("how many bars a chorus has", 1),
                    "positions": array_of(
                        "the positions it is meant for, the best first; empty for all", _POSITION
                    ),
                    "chords": text("the chords of a chorus"),
                    "turnaround": text("what leads round again; empty for nothing"),
                    "ending": text("what takes the place of the last bars; empty for nothing"),
                    "stops": text("the bars in which the band strikes its stops alone: `1 to 4`"),
                    "breaks": text("the bars in which it is silent after one beat: `3 to 4`"),
                },
            ),
        ),
        "feels": array_of(
            "the feels",
            object_with(
                "one feel",
                {
                    "title": text("its title"),
                    "file": text("its file in the folder `patterns`"),
                    "about": text("its sentence for the student"),
                    "meter": text("its meter: `12/8`"),
                    "tempo": _TEMPO,
                    "tempo_goal": maybe(integer_from("the upper end of its tempi, or null", 1)),
                    "swing": text("how long the first half of a beat is to the second: `3/2`"),
                },
            ),
        ),
    },
)  # fmt: skip

_SOUNDFONT = object_with(
    "`reedmill soundfont --json`: how far an instrument of a SoundFont is out of tune",
    {
        "font": text("the file"),
        "program": integer_from("its number in the General MIDI list, from 1", 1, 128),
        "bank": integer_from("its bank"),
        "name": text("its name in the font"),
        "trusted": flag("true when every key can be trusted after correction"),
        "keys": array_of(
            "one for each key",
            object_with(
                "one key",
                {
                    "key": integer_from("the MIDI key", 0, 127),
                    "note": text("its name: `Ab4`"),
                    "before_cents": maybe(number("how far it is off as the font has it; or null")),
                    "after_cents": maybe(number("how far it is off after correction; or null")),
                    "wavers_cents": maybe(number("the furthest it strays from itself; or null")),
                    "settles_s": maybe(number("when it is steady, in seconds; or null")),
                    "trusted": flag("true when it can be trusted after correction"),
                    "reason": text("why it cannot; empty when it can"),
                },
            ),
        ),
    },
)


# --- packs -------------------------------------------------------------------------------

_HANDED_OUT = tuple(row.kind for row in ROWS if row.pack)
PACK_KINDS = (*_HANDED_OUT, "archive", "page")
MANIFEST_KINDS = (
    *_HANDED_OUT, "role-chart", "book", "page", "playlist", "app-manifest", "icon", "worker",
)  # fmt: skip
STEP_KINDS = (
    *slowest_first(Maker.LILYPOND), "page", "roles", "book",
    *slowest_first(Maker.SOUND), *slowest_first(Maker.WRITER), "text",
)  # fmt: skip
_LESSON = integer_from("the number of its lesson", 1)

_PACK = object_with(
    "`reedmill pack --json`: every file of the pack, and what was done with it",
    {
        "files": array_of(
            "the files of the pack",
            object_with(
                "one file",
                {
                    "path": text("where it is"),
                    "sha256": _SHA256,
                    "step": text("the work that made it, named by all that decides its bytes"),
                    "status": one_of("what was done with it", ("made", "restored", "reused")),
                    "kind": one_of("what it is", PACK_KINDS),
                    "drill": text("the title of its drill; empty for pages"),
                    "harp": text("its harp; empty for pages"),
                    "position": maybe(_POSITION),
                    "tempo": maybe(_TEMPO),
                    "lesson": maybe(_LESSON),
                },
                {"why": text("why it was made, as a sentence")} | _STEM,
            ),
        ),
        "failed": _FAILED,
    },
)

_PLAN = object_with(
    "`reedmill pack --plan --json`: what would be made",
    {
        "plan": array_of(
            "one for each kind of work",
            object_with(
                "one kind",
                {
                    "kind": one_of("the kind of work", STEP_KINDS),
                    "make": integer_from("how many are to be made"),
                    "ready": integer_from("how many were made before"),
                    "seconds": number("how long one processor takes for them", minimum=0),
                    "bytes": integer_from("how large they will be"),
                    "types": array_of("of sound: the types of file", text("mp3, flac, ...")),
                    "pages": integer_from("how many pages they have in all"),
                    "files": integer_from("how many files of the pack they are"),
                    "measured": flag("true when earlier builds here were measured"),
                },
            ),
        ),
        "seconds": number("how long all of it takes on this computer", minimum=0),
        "work_seconds": number("how long one processor takes for all of it", minimum=0),
        "bytes": integer_from("how large all of it will be"),
        "files": integer_from("how many files the pack will have"),
        "make": array_of(
            "each thing that would be made",
            object_with("one thing", {"path": text("its place in the pack"), "why": text("why")}),
        ),
        "failed": _FAILED,
    },
)

_CLEAN = object_with(
    "`reedmill clean --json`: what was removed from a pack",
    {
        "removed": array_of("the files that went", text("a path in the pack")),
        "kept": array_of("no longer needed, but changed since they were made", text("a path")),
        "bytes": integer_from("how much room that gave"),
    },
)

_MANIFEST = object_with(
    "`manifest.json` in the folder of each student: every file of their pack",
    {
        "course": text("the title of the course"),
        "edition": text("the name of the student's folder"),
        "files": array_of(
            "the files, sorted by path",
            object_with(
                "one file",
                {
                    "path": text("its place in the folder, with / between names"),
                    "kind": one_of("what it is", MANIFEST_KINDS),
                    "size": integer_from("its bytes"),
                    "sha256": _SHA256,
                },
                {
                    "lesson": _LESSON,
                    "exercise": text("the name of its exercise, which all its files share"),
                    "drill": text("the title of its drill"),
                    "harp": _HARP,
                    "position": _POSITION,
                    "tempo": _TEMPO,
                }
                | _STEM
                | {
                    "seconds": number("how long a sound lasts", minimum=0),
                    "width": integer_from("width of a picture, in pixels", 1),
                    "height": integer_from("height of a picture, in pixels", 1),
                },
            ),
        ),
    },
)

_HEAR = object_with(
    "`reedmill hear --json`: what was heard in every take",
    {"takes": array_of("the takes, as they were named", _within(TAKE_SCHEMA))},
    {
        "files": array_of(
            "with `--to`: the files that were made, the pages of a picture one by one",
            object_with("one file", {
                "take": text("the take it shows"),
                "kind": text("`sheet` or `picture`", enum=["sheet", "picture"]),
                "file": text("where it is"),
            }),
        ),
    },
)  # fmt: skip
_HARP_TEST = HARP_TEST_SCHEMA | {
    "description": "`reedmill hear --harp-test --json`: how far each reed of a harp is out"
}

_STUDENT = text("the student, as the book writes the name")
_TAKES_AND_NOTES = {
    "takes": integer_from("how many takes"),
    "notes": integer_from("how many notes were tried in them"),
}
_BOOK = text("the file of the record book")
_MOMENT = {"type": ["string", "null"], "pattern": r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$"}

_RECORD_ADD = object_with(
    "`reedmill record add --json`: what was kept of every file",
    {
        "book": _BOOK,
        "files": array_of(
            "the files that were added, one row for each student in them; what is wrong with "
            "others is said on standard error",
            object_with("one student of a file", {
                "file": text("the file"),
                "student": _STUDENT,
                "new": integer_from("takes that were not in the book"),
                "known": integer_from("takes that were there already"),
            }),
        ),
    },
)  # fmt: skip
_RECORD_LIST = object_with(
    "`reedmill record list --json`, and `record demo --json`: the students of a record book",
    {
        "book": _BOOK,
        "students": array_of(
            "in the order of their names",
            object_with("one student", {
                "name": _STUDENT,
                **_TAKES_AND_NOTES,
                "first": _MOMENT | {"description": "when the oldest take was recorded, ISO 8601"},
                "last": _MOMENT | {"description": "when the newest take was recorded, ISO 8601"},
            }),
        ),
    },
)  # fmt: skip
_NO_FIGURE = {"type": ["number", "null"]}


def _summaries(name: str, what: Schema, about: str) -> Schema:
    return array_of(about, object_with("one of them", {
        name: what,
        "count": integer_from("how many tries", 1),
        "on": integer_from("how many of them were on or near"),
        "out_cents": number("the middle of how far all of them were out", minimum=0, maximum=60),
        "days": integer_from("on how many days", 1),
    }))  # fmt: skip


_MADE_PAGE = {
    "files": array_of("what was made", object_with("one file", {
        "kind": text("what it is: page"), "file": text("where it is"),
    })),
}  # fmt: skip
_NEXT = object_with(
    "`reedmill next --json`: what a student should practise next, in its order",
    {
        "student": _STUDENT,
        "minutes": number("the time there is", minimum=0),
        "lasts_minutes": number("the time all of it takes, rests included", minimum=0),
        "practice": array_of(
            "what to practise",
            object_with(
                "one thing, and then a rest",
                {
                    "part": text(
                        "what it is in the evening",
                        enum=["warm-up", "survey", "rungs", "faster", "music"],
                    ),
                    "drill": text("the title of the drill"),
                    "harp": text("the harp: `C`, `low F`"),
                    "position": integer_from("the position", 1, 12),
                    "tempo": integer_from("beats a minute", 1),
                    "passes": integer_from("how many times it is played", 1),
                    "minutes": number("the time it takes, with its rest", minimum=0),
                    "rungs": array_of(
                        "the rungs it is for, the most urgent first",
                        object_with(
                            "one",
                            {
                                "tab": text("the reed as tab"),
                                "from": maybe(text("the reed of the note before; null at a start")),
                                "register": text(
                                    "the register of the harp", enum=["high", "middle", "low"]
                                ),
                                "out_cents": number("how far out it is likely to be"),
                                "sd_cents": number("the standard deviation of that", minimum=0),
                                "tries": integer_from(
                                    "how often it was heard; at 0 the rest is a guess"
                                ),
                                "due": flag("whether it is due again"),
                            },
                        ),
                    ),
                    "why": text("why it is chosen"),
                    "pattern": maybe(
                        text("the text of a drill that was written for it; else null")
                    ),
                },
            ),
        ),
    },
)

_LEVEL = integer_from("the level", 1, 5)
_TASK_NUMBER = integer_from("which of the ten tasks", 1, 10)
_TABS = text("a reed as tab")
_PLACE_TASKS = object_with(
    "`reedmill place --json`: the ten tasks that tell a level, and their files",
    {
        "harp": _HARP,
        "tasks": array_of("the ten, two for each level", object_with("one task", {
            "task": _TASK_NUMBER,
            "title": text("the title of the drill"),
            "about": text("what is to be played"),
            "level": _LEVEL,
            "asks": array_of("the notes that decide whether it is passed", _TABS),
            "seconds": number("how long it takes", minimum=0),
            "take": text("a name for its recording by which it is known"),
        })),
        "files": array_of("the files that were made; none without --out", object_with("one file", {
            "task": _TASK_NUMBER,
            "path": text("where it is"),
            "kind": one_of("what it is", DRILL_KINDS),
            "replaced": _REPLACED,
        })),
    },
)  # fmt: skip

_PLACE = object_with(
    "`reedmill place TAKE --json`: a player's level by the ten tasks, and the drills from there",
    {
        "student": maybe(text("the student of the record book; null without one")),
        "level": integer_from("the level: the likeliest, or the one that was given", 1, 5),
        "between": {
            "type": ["array", "null"], "items": _LEVEL, "minItems": 2, "maxItems": 2,
            "description": "the lowest and the highest level that is likely enough, the same where "
            "that is sure; null without takes",
        },
        "registers": array_of(
            "the level by the takes on high, middle or low harps alone, as far as they tell it; "
            "none without takes",
            object_with("one register", {
                "register": text("the register", enum=["high", "middle", "low"]),
                "level": _LEVEL,
                "between": {"type": "array", "items": _LEVEL, "minItems": 2, "maxItems": 2,
                            "description": "the lowest and the highest level likely enough"},
            }),
        ),
        "likely": {
            "type": ["array", "null"], "items": number("a part of 1", minimum=0, maximum=1),
            "minItems": 5, "maxItems": 5,
            "description": "how likely each level is, together 1; null without takes",
        },
        "tasks": array_of("all ten tasks; none without takes", object_with("one task", {
            "task": _TASK_NUMBER,
            "title": text("the title of the drill"),
            "level": _LEVEL,
            "outcome": text(
                "`not-told` with fewer than four clear notes",
                enum=["passed", "not-yet", "not-told"],
            ),
            "takes": integer_from("how many takes of it there are"),
            "tries": integer_from("its notes that could be told"),
            "in_place": integer_from("how many of these were within 25 cents"),
            "unclear": integer_from("its notes that could not be told"),
            "lowest_share": number("the share in place is likely to be at least this", minimum=0,
                                   maximum=1),
            "highest_share": number("and at most this", minimum=0, maximum=1),
            "notes": array_of("the notes that it asks for, as far as they were told",
                              object_with("one note", {
                "tab": _TABS,
                "tries": integer_from("how often it was told", 1),
                "in_place": integer_from("how often it was in place"),
                "fell_out": flag("fewer than seven of ten were in place, of two at least"),
            })),
        })),
        "by_sound": array_of("takes whose names did not tell the task", object_with("one take", {
            "take": text("its file"),
            "task": _TASK_NUMBER,
        })),
        "doubtful": array_of(
            "the tasks that do not go with the level: maybe a bad take", _TASK_NUMBER
        ),
        "harp": text("the harp of the path"),
        "register": text("its register", enum=["high", "middle", "low"]),
        "positions": array_of("the positions of the path", _POSITION),
        "drills": integer_from("how many drills the whole path has"),
        "path": array_of("the next drills in their order", object_with("one drill", {
            "drill": text("its title"),
            "topic": text("its topic in the library"),
            "level": _LEVEL,
            "harp": _HARP,
            "position": _POSITION,
            "tempo": integer_from("the tempo to begin with, beats a minute", 1),
            "new": array_of("bends that are met for the first time", _TABS),
            "fell_out": array_of("bends that fell out of a task", _TABS),
            "begins": array_of("techniques that begin here", text("a technique")),
            "why": text("why it comes here"),
        })),
    },
)  # fmt: skip

_PROGRESS = object_with(
    "`reedmill progress --json`: what all takes of a student come to",
    {
        "student": _STUDENT,
        "takes": integer_from("how many takes are kept"),
        "days": integer_from("on how many days they were recorded"),
        "first": _MOMENT | {"description": "when the oldest take was recorded, ISO 8601"},
        "last": _MOMENT | {"description": "when the newest take was recorded, ISO 8601"},
        "by_rung": array_of(
            "every rung by the note before it, harp and position; those furthest out first",
            object_with("one of them", {
                "tab": text("the reed as tab"),
                "from": maybe(text("the reed of the note before; null at a start")),
                "harp": text("the harp: `C`, `low F`"),
                "tuning": text("the layout of its reeds"),
                "register": text("its register", enum=["high", "middle", "low"]),
                "position": integer_from("the position", 1, 12),
                "count": integer_from("how often it was tried", 1),
                "on": integer_from("how many tries were on or near"),
                "out_cents": number(
                    "the middle of how far all tries were out, whichever way; one that was missed "
                    "or another note counts as 60", minimum=0, maximum=60,
                ),
                "median_cents": _NO_FIGURE | {
                    "description": "the middle of the tries with a pitch, over its place"
                },
                "spread_cents": _NO_FIGURE | {
                    "description": "half of those are no further from that", "minimum": 0
                },
                "days": integer_from("on how many days it was tried", 1),
                "last": _MOMENT | {"description": "when it was tried last, ISO 8601"},
                "weeks": array_of("the weeks in which it was tried", object_with("one week", {
                    "monday": text("its Monday, ISO 8601", pattern=r"^\d{4}-\d\d-\d\d$"),
                    "out_cents": number("the middle of how far tries were out", minimum=0),
                    "count": integer_from("how many tries", 1),
                    "on": integer_from("how many of them were on or near"),
                })),
                "trend_cents_a_week": _NO_FIGURE | {
                    "description": "how much further out it is each week, nearer is negative; "
                    "null where it was practised on fewer than four days"
                },
                "interval": {
                    "type": ["array", "null"], "items": {"type": "number"}, "minItems": 2,
                    "maxItems": 2, "description": "where that lies with a certainty of 90%",
                },
            }),
        ),
        "by_register": _summaries(
            "register", text("high, middle or low", enum=["high", "middle", "low"]),
            "all tries by the register of the harp",
        ),
        "by_position": _summaries(
            "position", integer_from("the position", 1, 12), "all tries by position"
        ),
        "by_from": _summaries(
            "from", maybe(text("the reed of the note before; null at a start")),
            "all tries by the note before; those furthest out first",
        ),
        "practised": array_of(
            "the days with takes, in order",
            object_with("one day", {
                "day": text("ISO 8601", pattern=r"^\d{4}-\d\d-\d\d$"),
                "takes": integer_from("how many takes", 1),
            }),
        ),
        "tempi": array_of(
            "drills of which 9 notes of 10, and 8 at least, were in place in one take",
            object_with("one drill", {
                "drill": text("its title"),
                "tempo": integer_from("the fastest such tempo, pulses a minute", 1),
            }),
        ),
    },
    _MADE_PAGE,
)  # fmt: skip
_REGISTER = text("its register", enum=["high", "middle", "low"])
_RUNG_OF_CLASS = {
    "tab": text("the reed as tab"),
    "from": text("the reed of the note before"),
    "register": text("the register of the harps", enum=["high", "middle", "low"]),
    "out_cents": number("how far out it is likely to be, whichever way", minimum=0),
}
_WEAK = object_with(
    "one place: a rung from another note on a register of harps",
    _RUNG_OF_CLASS | {
        "count": integer_from("how often it was tried", 1),
        "on": integer_from("how many tries were on or near"),
    },
)  # fmt: skip
_LESSON_MARK = object_with("a lesson", {
    "lesson": integer_from("its number, from 1", 1),
    "title": text("its title"),
    "in_place": integer_from("of its exercises, how many were played in place"),
    "exercises": integer_from("how many exercises it has for this student", 1),
})  # fmt: skip
_CLASS = object_with(
    "`reedmill class --json`: a class before its lesson",
    {
        "book": _BOOK,
        "course": maybe(text("the title of the course; null without one")),
        "day": text("the day of this, ISO 8601, in UTC", pattern=r"^\d{4}-\d\d-\d\d$"),
        "students": array_of(
            "in the order of the course; without one, or where it has no students, in the order "
            "of their names",
            object_with("one student", {
                "name": text("the student, as the course writes the name, or else the book"),
                "takes": integer_from("how many takes are kept"),
                "days": integer_from("on how many days they were recorded"),
                "last": maybe(text(
                    "the day of the newest, ISO 8601; null where there is none",
                    pattern=r"^\d{4}-\d\d-\d\d$",
                )),
                "days_ago": maybe(integer_from("how many days ago that was")),
                "reached": maybe(_LESSON_MARK | {
                    "description": "the furthest lesson of which more than half of the exercises "
                    "were played in place; null where there is none"
                }),
                "next": maybe(_LESSON_MARK | {
                    "description": "the lesson after that; null after the last"
                }),
                "lessons": integer_from(
                    "the number of his last lesson that has exercises; 0 without a course"
                ),
                "stuck": array_of("the places where he is stuck, the furthest out first", _WEAK),
                "weakest": maybe(_WEAK | {
                    "description": "the place that is furthest out, stuck or not; null where all "
                    "are in tune, or none was tried often enough"
                }),
                "registers": array_of(
                    "the registers of harps that he needs", object_with("one register", {
                        "register": _REGISTER,
                        "harp": maybe(text("a harp of it that he has; null if that is not known")),
                        "further_cents": maybe(number(
                            "how much further out its rungs are; null where it was hardly played"
                        )),
                        "than": maybe(text(
                            "the register where they are nearest; null where it was hardly played",
                            enum=["high", "middle", "low"],
                        )),
                    }),
                ),
                "print": maybe(object_with(
                    "the drill to print for his weakest place; null where there is none", {
                        "drill": text("its title"),
                        "harp": _HARP,
                        "position": _POSITION,
                        "times": integer_from("how often it comes to the rung", 1),
                        "from_that_note": flag("false when it comes there from other notes alone"),
                        "command": text("the command line that makes its sheet"),
                    },
                )),
            }),
        ),
        "stuck": array_of(
            "the places where most students are stuck, three at most",
            object_with("one place", _RUNG_OF_CLASS | {
                "students": array_of("who is stuck there", text("a name")),
                "tried": integer_from("how many students tried it often enough to tell", 1),
            }),
        ),
        "compared": array_of(
            "places that are out of tune for a student at least, those where most are stuck first, "
            "twelve at most",
            object_with("one place", _RUNG_OF_CLASS | {
                "out_cents": array_of(
                    "how far out it is likely to be for each student, in the order of `students`",
                    maybe(number("null where it was not tried often enough to tell", minimum=0)),
                ),
            }),
        ),
        "not_in_course": array_of(
            "students of the book whom the course does not know", object_with("one student", {
                "name": _STUDENT,
                "takes": integer_from("how many takes are kept"),
                "nearest": maybe(
                    text("a student of the course with nearly the same name, and without a take")
                ),
            }),
        ),
    },
    _MADE_PAGE,
)  # fmt: skip
_RECORD_FORGET = object_with(
    "`reedmill record forget --json`: what was removed for good",
    {"student": _STUDENT, **_TAKES_AND_NOTES},
)
_RECORD_EXPORT = object_with(
    "`reedmill record export`: a record book, every student with all takes",
    {
        "reedmill_record": integer_from("the version of this form", 1, 1),
        "students": array_of(
            "in the order of their names",
            object_with("one student", {
                "name": _STUDENT,
                "takes": array_of("the oldest first", _within(TAKE_SCHEMA)),
            }),
        ),
    },
)  # fmt: skip


DOCUMENTS: dict[str, Schema] = {
    "keys": _KEYS,
    "keys-harp": _HARP_KEYS,
    "keys-case": _CASE,
    "notes": _NOTES,
    "roles": _ROLES,
    "roles-chords": _CHORD_ROLES,
    "drills": _DRILLS,
    "drills-topics": _TOPICS,
    "drills-techniques": _TECHNIQUES,
    "drills-coverage": _COVERAGE,
    "expand": _timelines(
        "`reedmill expand --json`: when each note comes and what it is", _OVER, _WHY | _PICKED
    ),
    "json-format": _timelines(
        "`reedmill make --to json`: the file of a drill, for other programs", _OVER | _RECORDING
    ),
    "check": _CHECK,
    "make": _MAKE,
    "backing": _BACKING,
    "backing-list": _SHELF,
    "dictate": _DICTATE,
    "pack": _PACK,
    "pack-plan": _PLAN,
    "manifest": _MANIFEST,
    "clean": _CLEAN,
    "soundfont": _SOUNDFONT,
    "hear": _HEAR,
    "hear-harp-test": _HARP_TEST,
    "record-add": _RECORD_ADD,
    "next": _NEXT,
    "place-tasks": _PLACE_TASKS,
    "place": _PLACE,
    "progress": _PROGRESS,
    "class": _CLASS,
    "record-list": _RECORD_LIST,
    "record-export": _RECORD_EXPORT,
    "record-forget": _RECORD_FORGET,
}
"""Every document by its name: what it holds."""


def schema(name: str) -> Schema:
    """Return the complete JSON Schema of the document *name*.

    >>> schema("clean")["required"]
    ['removed', 'kept', 'bytes']
    """
    return {"$schema": DIALECT, "$id": f"{name}.schema.json", **DOCUMENTS[name]}
