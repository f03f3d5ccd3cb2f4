"""Models of the course file: every key, its type and its bounds.

A key that may be left out is ``None`` then; ``model_fields_set`` tells a key that was
written from one that was not, because "none" takes back what was said further up.  A
custom error carries the fact and the remedy for ``reading_mistakes``; all others are put
into words there.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Annotated, Any, TypeVar

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainValidator,
    StringConstraints,
)
from pydantic_core import PydanticCustomError

from reedmill.base.choosing import chosen_word, known_word
from reedmill.base.errors import InputError
from reedmill.base.ranges import EVENING_MINUTES, REFERENCES_HZ, TEMPI_BPM
from reedmill.base.text import printable
from reedmill.expand.over import WAYS
from reedmill.harp import LAYOUTS, Harp
from reedmill.harp.harp_registers import REGISTERS
from reedmill.language.mouth_plans import parse_plan
from reedmill.language.words import MAX_PLANS
from reedmill.pack.course.course import FORMATS
from reedmill.pack.course.course_keys import NONE
from reedmill.pack.course.course_remedies import in_course
from reedmill.pack.course.limits import (
    MAX_CHARTS,
    MAX_CHORUSES,
    MAX_DRILLS,
    MAX_EXERCISES,
    MAX_HARPS,
    MAX_LESSONS,
    MAX_LINE,
    MAX_PATH,
    MAX_STUDENTS,
    MAX_TEXT,
    MAX_TITLE,
    PACES,
)
from reedmill.pack.course.registers import TURNS
from reedmill.practice.practice import (
    MOST_BARS,
    MOST_REPEATS,
    TYPES,
    parse_drone,
    parse_ladder,
)
from reedmill.score.score import Embouchure
from reedmill.theory.intonation import INTONATIONS
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey

T = TypeVar("T")
TOLD = "told"  # the type of an error that says itself what is wrong
_ALL = "all"


def course_error(message: str) -> PydanticCustomError:
    """Return an error made from one of our own messages: its first sentence is the fact."""
    fact, _, remedy = message.partition(". ")
    return PydanticCustomError(TOLD, "told", {"fact": fact, "remedy": remedy})


def _read(read: Callable[[str], str]) -> AfterValidator:
    """Make a validator that reads a text with *read*, whose own refusal is reported."""

    def validate(text: str) -> str:
        try:
            return read(text)
        except InputError as error:
            raise course_error(in_course(error)) from None

    return AfterValidator(validate)


def _checked(check: Callable[[str], object]) -> AfterValidator:
    """Make a validator that keeps the text as it is, when *check* accepts it."""
    return _read(lambda text: (check(text), text)[1])


def _parsed(parse: Callable[[str], object]) -> PlainValidator:
    """Make a validator that turns a text into what *parse* makes of it."""

    def validate(value: object) -> object:
        if not isinstance(value, str) or len(value) > MAX_TITLE:
            raise PydanticCustomError("string_type", "no short text")
        try:
            return parse(value)
        except InputError as error:
            raise course_error(in_course(error)) from None

    return PlainValidator(validate)


def _one_of(what: str, known: Sequence[str]) -> AfterValidator:
    """Make a validator for one of *known*, in any case."""
    return _read(lambda text: chosen_word(what, text, known))


def _listed(value: object) -> object:
    """Return one value as a list of one."""
    return [value] if isinstance(value, str | int) and not isinstance(value, bool) else value


def _taken_back(value: object) -> object:
    return None if _is(NONE, value) else value


def _is(word: str, value: object) -> bool:
    return isinstance(value, str) and value.strip().casefold() == word


def _harp_word(text: str) -> str:
    """Return ``rotate`` or ``all`` in lower case, else a harp's name as it was written."""
    special = known_word(text, ("rotate", _ALL))
    if special is None:
        Harp.parse(text)
    return special or text


def _position_number(value: object) -> object:
    """Return a position in words as its number, as on the command line."""
    if not isinstance(value, str):
        return value
    try:
        return Position.parse(value).number
    except InputError as error:
        raise course_error(in_course(error)) from None


def _words_between_commas(value: object) -> object:
    """Return a text of several with commas between, or one value, as a list."""
    return value.split(",") if isinstance(value, str) else _listed(value)


OrNone = BeforeValidator(_taken_back)
OneOrMore = BeforeValidator(_listed)
WithCommas = BeforeValidator(_words_between_commas)

Short = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=MAX_TITLE)]
Title = Annotated[
    str,
    StringConstraints(strict=True, strip_whitespace=True, min_length=1, max_length=MAX_TITLE),
    AfterValidator(printable),
]
TextLine = Annotated[
    str, StringConstraints(strict=True, max_length=MAX_LINE), AfterValidator(printable)
]
FileText = Annotated[str, StringConstraints(strict=True, min_length=1, max_length=MAX_PATH)]
HarpText = Annotated[Short, _checked(Harp.parse)]
KeyText = Annotated[Short, _checked(SongKey.parse)]
HarpWord = Annotated[Short, _read(_harp_word)]
Register = Annotated[Short, _one_of("register", REGISTERS)]
PlanText = Annotated[Embouchure, _parsed(parse_plan)]
Tempo = Annotated[int, Field(ge=TEMPI_BPM[0], le=TEMPI_BPM[-1])]
Bars = Annotated[int, Field(ge=0, le=MOST_BARS)]
PositionNumber = Annotated[int, Field(ge=1, le=12), BeforeValidator(_position_number)]

Tuning = Annotated[Short, _one_of("tuning", tuple(LAYOUTS))]
TuningOfDegrees = Annotated[Short, _one_of("intonation", tuple(INTONATIONS))]
Reference = Annotated[float, Field(ge=REFERENCES_HZ[0], le=REFERENCES_HZ[1], allow_inf_nan=False)]
Harps = Annotated[list[HarpWord], OneOrMore, Field(min_length=1, max_length=MAX_HARPS)]
Keys = Annotated[list[KeyText], WithCommas, Field(min_length=1, max_length=MAX_HARPS)]
Registers = Annotated[list[Register], OneOrMore, Field(min_length=1, max_length=12)]


class Strict(BaseModel):
    """A table with no key but those named, and no value turned into another type."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class BackingTable(Strict):
    """The table ``backing = { ... }``."""

    form: FileText  # or a title, or both
    feel: FileText
    choruses: Annotated[int, Field(ge=1, le=MAX_CHORUSES)] | None = None
    lay: Annotated[Short, _one_of("lay", WAYS)] = "loop"


class PracticeKeys(Strict):
    """The keys that defaults, a lesson and an exercise share; the nearest one counts."""

    harps: Annotated[Harps | None, OrNone] = None
    key: Annotated[Keys | None, OrNone] = None
    rotation: Annotated[Registers | None, OrNone] = None
    turn: Annotated[Annotated[Short, _one_of("turn", TURNS)] | None, OrNone] = None
    positions: Annotated[
        Annotated[list[PositionNumber], WithCommas, Field(min_length=1, max_length=12)] | None,
        OrNone,
    ] = None
    tempo: Annotated[Tempo | None, OrNone] = None
    embouchure: Annotated[
        Annotated[list[PlanText], OneOrMore, Field(min_length=1, max_length=MAX_PLANS)] | None,
        OrNone,
    ] = None
    hand_out: Annotated[
        Annotated[
            list[Annotated[Short, _one_of("kind of file", FORMATS)]],
            OneOrMore,
            Field(min_length=1, max_length=len(FORMATS)),
        ]
        | None,
        OrNone,
    ] = None
    drone: Annotated[Annotated[tuple[str, ...], _parsed(parse_drone)] | None, OrNone] = None
    click: Annotated[Annotated[Short, _one_of("click", ("beats", "offbeats"))] | None, OrNone] = (
        None
    )
    count_in: Annotated[Bars | None, OrNone] = None
    repeat: Annotated[Annotated[int, Field(ge=1, le=MOST_REPEATS)] | None, OrNone] = None
    echo: Annotated[
        Annotated[Bars, BeforeValidator(lambda value: 0 if _is(_ALL, value) else value)] | None,
        OrNone,
    ] = None
    fade_out: Annotated[bool | None, OrNone] = None
    ladder: Annotated[Annotated[tuple[int, ...], _parsed(parse_ladder)] | None, OrNone] = None
    apart: Annotated[bool | None, OrNone] = None
    stems: Annotated[bool | None, OrNone] = None
    wide: Annotated[bool | None, OrNone] = None
    loop: Annotated[bool | None, OrNone] = None
    pure: Annotated[bool | None, OrNone] = None
    audio: Annotated[
        Annotated[
            list[Annotated[Short, _one_of("type of sound file", TYPES)]],
            OneOrMore,
            Field(min_length=1, max_length=len(TYPES)),
        ]
        | None,
        OrNone,
    ] = None
    backing: Annotated[BackingTable | None, OrNone] = None


class ChartTable(Strict):
    """The table ``[[lessons.charts]]``."""

    reeds: Short
    harps: Harps | None = None
    key: Keys | None = None


class ExerciseTable(PracticeKeys):
    """The table ``[[lessons.exercises]]``."""

    drill: Annotated[list[Title] | None, OneOrMore, Field(min_length=1, max_length=MAX_DRILLS)] = (
        None
    )
    file: FileText | None = None
    topic: Short | None = None
    level: Annotated[int, Field(ge=1, le=5)] | None = None
    note: TextLine = ""


class LessonTable(PracticeKeys):
    """The table ``[[lessons]]``."""

    title: Title
    goal: TextLine = ""
    text: Annotated[str, StringConstraints(strict=True, max_length=MAX_TEXT)] = ""
    text_file: FileText | None = None
    next: bool = False
    minutes: Annotated[int, Field(ge=EVENING_MINUTES[0], le=EVENING_MINUTES[-1])] = 15
    exercises: Annotated[list[ExerciseTable], Field(max_length=MAX_EXERCISES)] = []
    charts: Annotated[list[ChartTable], Field(max_length=MAX_CHARTS)] = []


class StudentTable(Strict):
    """The table ``[[students]]``."""

    name: Title
    harps: Annotated[
        list[HarpText] | None, OneOrMore, Field(min_length=1, max_length=MAX_HARPS)
    ] = None
    registers: Registers | None = None
    pace: Annotated[int, Field(ge=PACES[0], le=PACES[-1])] = 100
    tuning: Tuning | None = None
    intonation: TuningOfDegrees | None = None
    reference: Reference | None = None
    paper: Short | None = None
    show: Short | None = None
    large: bool | None = None
    black: bool | None = None
    without: Annotated[list[Title], OneOrMore, Field(min_length=1, max_length=MAX_EXERCISES)] = []


class PageTable(Strict):
    """The table ``[page]``."""

    paper: Short = "a4"
    show: Short = "both"
    large: bool = False
    black: bool = False


class CourseTable(Strict):
    """The whole course file."""

    title: Title
    author: Annotated[TextLine, Field(max_length=MAX_TITLE)] = ""
    about: TextLine = ""
    harps: Annotated[list[HarpText], OneOrMore, Field(min_length=1, max_length=MAX_HARPS)]
    tuning: Tuning = "richter"
    intonation: TuningOfDegrees = "equal"
    reference: Reference = 440.0
    book: FileText | None = None
    cautions: bool = True
    page: PageTable = PageTable()
    defaults: PracticeKeys = PracticeKeys()
    lessons: Annotated[list[LessonTable], Field(min_length=1, max_length=MAX_LESSONS)]
    students: Annotated[list[StudentTable], Field(max_length=MAX_STUDENTS)] = []


TABLE_MODELS: dict[str, type[BaseModel]] = {
    "the course": CourseTable,
    "the page table": PageTable,
    "the defaults": PracticeKeys,
    "a lesson": LessonTable,
    "an exercise": ExerciseTable,
    "a chart": ChartTable,
    "a backing": BackingTable,
    "a student": StudentTable,
}


def validated(data: dict[str, Any]) -> CourseTable:
    """Validate *data*, as tomllib read it, as a course; raises pydantic's ``ValidationError``."""
    return CourseTable.model_validate(data)
