"""The public interface for other programs; every other module is internal.

>>> from reedmill import api
>>> [drill] = api.find_drills("Home from every rung")
>>> score = api.expand(drill, api.Harp.parse("C"), api.Position(2))
>>> [note.pitch.name for note in score.notes[:4]]
['G4', 'B4', 'G4', 'Bb4']

``api.expand(drill, harp, position, embouchure=plan)`` takes one of the plans for the mouth that
``api.parse_plans("lips or tongue left")`` reads.
``api.make([score], Path("output"))`` then writes the sheet, tones, MIDI file and tab.

Which harp for the song:

>>> song = api.SongKey.parse("E minor")
>>> [(each.harp.name, each.position.number) for each in api.choices_for(song)]
[('D', 3), ('G', 4), ('A', 2), ('C', 5)]

A band under it:

>>> over = api.accompanied(score, api.Accompaniment("Twelve bars"))
>>> over.bars, [chord.symbol(over.key) for _, chord in over.band.chords[:3]]
(12, ['G7', 'C7', 'G7'])

What is answered by ear, a page to write down the drill and a recording that asks for its rungs::

    api.make_dictations([score], Path("output"), asking=api.Asking(questions=20, seed=5))

Or whole choruses from phrases, two bars for each chord:

>>> phrases = [each.drill for each in api.search(api.Wanted(topic="phrases"))]
>>> filled = api.phrased(phrases, api.Harp("A"), api.Position(2), api.ChorusPlan("Eight bars"))
>>> [each.slot.place.name for each in filled.picked[:4]]
['I7', 'IV7', 'I7', 'turnaround']

What a student played, and what was heard of it (``pip install 'reedmill[hear]'``)::

    heard = api.hear(api.read_take(Path("take.m4a")), score)
    print(heard.advice, [(note.reed.tab, note.verdict, note.cents) for note in heard.notes])

``docs/RECORDING.md`` has more of it.  What was heard is kept in a record book, each take once::

    with api.open_book(Path("class.book"), new=True) as book:
        for found in api.read_take_data(Path("takes.json")):  # of hear --json, or of a page
            book.add(found.student or "Ada", found.takes, datetime.now(UTC))
        book.add("Ada", [api.KeptTake(api.take_data(heard))], datetime.now(UTC))
        print([(row.name, row.takes) for row in book.students()])
        for place in api.book_overview(book, datetime.now(UTC)).stuck:
            print(place.place, place.students)

Where a player stands, by takes of the ten tasks, and what to play from there::

    placement = api.place_player(takes)
    for step in api.learning_path(
        placement.level, placement.harps[0], [api.Position(2)], placement.fallen
    ):
        print(step.title, step.why)

An error says what is wrong; ``api.explained(error)`` says too what to write instead.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from reedmill.band.accompany import Accompaniment, accompanied
from reedmill.band.arranger import BandSet, arrange, arrange_set
from reedmill.band.phrased import ChorusPlan, PhrasedChorus, phrased
from reedmill.band.set_plan import ChorusKind, plan_named
from reedmill.band.shelf import find_feel, find_form, shipped_feels, shipped_forms
from reedmill.band.way_in_and_out import Ending, Intro
from reedmill.base.errors import InputError, PatternError, ReedmillError, RenderError
from reedmill.base.remedies import Remedy, Words
from reedmill.expand import expand
from reedmill.formats.data import chord_roles_data, notes_data, roles_data, score_data
from reedmill.formats.keys_data import case_data, positions_data, song_data
from reedmill.formats.musicxml_reader import ReadMusic, read_musicxml
from reedmill.harp import Harp, OwnHarp, Reed, layout_named
from reedmill.harp.harp_choices import choices_for, choices_in, harp_for
from reedmill.harp.harp_places import HarpPlace
from reedmill.harp.own_harp import read_own_harp
from reedmill.harp.temperaments import tempered
from reedmill.language import Drill, parse, parse_file
from reedmill.language.mouth_plans import parse_plans
from reedmill.library import Wanted, drills_data, find_drills, search
from reedmill.make.backing import MadeBacking, make_backing
from reedmill.make.dictation_files import MadeDictation, make_dictations
from reedmill.make.material import Made, make
from reedmill.practice.answering import answered
from reedmill.practice.practice import Click, ClickLevel, Practice, Recording
from reedmill.score.arrangement import Arrangement, Part
from reedmill.score.rung_questions import Asking, RungQuestions, rung_questions
from reedmill.score.score import Embouchure, Note, Score
from reedmill.theory.chords import Chord
from reedmill.theory.intonation import BLUE_NOTES, EQUAL, JUST_5, JUST_7
from reedmill.theory.positions import Position
from reedmill.theory.song_keys import SongKey

if TYPE_CHECKING:
    from reedmill.coaching.class_overview import (
        ClassOverview,
        CourseOutline,
        OutlineExercise,
        OutlineLesson,
        OutlineStudent,
        StudentOverview,
        book_overview,
    )
    from reedmill.coaching.evening import Evening, evening
    from reedmill.coaching.learning_path import PathStep, learning_path
    from reedmill.coaching.placement import Placement, newest_takes, place_player
    from reedmill.coaching.practice_history import PracticeHistory
    from reedmill.ear import (
        HarpTested,
        HeardNote,
        HeardPass,
        HeardTake,
        Rung,
        ScoreFit,
        Take,
        Tolerance,
        Verdict,
        fits,
        hear,
        hear_harp,
        read_take,
        take_data,
    )
    from reedmill.listening import TaskTold, task_told
    from reedmill.record import (
        KeptTake,
        RecordBook,
        StudentTakes,
        open_book,
        read_take_data,
    )

__all__ = [
    "BLUE_NOTES",
    "EQUAL",
    "JUST_5",
    "JUST_7",
    "Accompaniment",
    "Arrangement",
    "Asking",
    "BandSet",
    "Chord",
    "ChorusKind",
    "ChorusPlan",
    "ClassOverview",
    "Click",
    "ClickLevel",
    "CourseOutline",
    "Drill",
    "Embouchure",
    "Ending",
    "Evening",
    "Harp",
    "HarpPlace",
    "HarpTested",
    "HeardNote",
    "HeardPass",
    "HeardTake",
    "InputError",
    "Intro",
    "KeptTake",
    "Made",
    "MadeBacking",
    "MadeDictation",
    "Note",
    "OutlineExercise",
    "OutlineLesson",
    "OutlineStudent",
    "OwnHarp",
    "Part",
    "PathStep",
    "PatternError",
    "PhrasedChorus",
    "Placement",
    "Position",
    "Practice",
    "PracticeHistory",
    "ReadMusic",
    "RecordBook",
    "Recording",
    "Reed",
    "ReedmillError",
    "RenderError",
    "Rung",
    "RungQuestions",
    "Score",
    "ScoreFit",
    "SongKey",
    "StudentOverview",
    "StudentTakes",
    "Take",
    "TaskTold",
    "Tolerance",
    "Verdict",
    "Wanted",
    "accompanied",
    "answered",
    "arrange",
    "arrange_set",
    "book_overview",
    "case_data",
    "choices_for",
    "choices_in",
    "chord_roles_data",
    "drills_data",
    "evening",
    "expand",
    "explained",
    "find_drills",
    "find_feel",
    "find_form",
    "fits",
    "harp_for",
    "hear",
    "hear_harp",
    "layout_named",
    "learning_path",
    "make",
    "make_backing",
    "make_dictations",
    "newest_takes",
    "notes_data",
    "open_book",
    "parse",
    "parse_file",
    "parse_plans",
    "phrased",
    "place_player",
    "plan_named",
    "positions_data",
    "read_musicxml",
    "read_own_harp",
    "read_take",
    "read_take_data",
    "roles_data",
    "rung_questions",
    "score_data",
    "search",
    "shipped_feels",
    "shipped_forms",
    "song_data",
    "take_data",
    "task_told",
    "tempered",
]

_OF_THE_EAR = frozenset({
    "HarpTested", "HeardNote", "HeardPass", "HeardTake", "Rung", "ScoreFit", "Take", "Tolerance",
    "Verdict", "fits", "hear", "hear_harp", "read_take", "take_data",
})  # fmt: skip
_OF_THE_RECORD = frozenset({
    "KeptTake", "RecordBook", "StudentTakes", "open_book", "read_take_data",
})  # fmt: skip


_OF_THE_CLASS = frozenset({
    "ClassOverview", "CourseOutline", "OutlineExercise", "OutlineLesson", "OutlineStudent",
    "StudentOverview", "book_overview",
})  # fmt: skip


_OF_EVENINGS = frozenset({"Evening", "evening"})
_OF_PLACING = frozenset({"Placement", "newest_takes", "place_player"})
_OF_PATHS = frozenset({"PathStep", "learning_path"})
_OF_COACHING = _OF_THE_CLASS | _OF_EVENINGS | _OF_PLACING | _OF_PATHS | {"PracticeHistory"}
_OF_TASKS = frozenset({"TaskTold", "task_told"})


def __getattr__(name: str) -> object:
    """Import what hears and keeps takes on first use: making needs neither NumPy nor SQLite."""
    if name in _OF_THE_EAR:
        from reedmill import ear  # reads NumPy

        return getattr(ear, name)
    if name in _OF_THE_RECORD:
        from reedmill import record  # reads NumPy by the ear, and SQLite

        return getattr(record, name)
    if name in _OF_TASKS:
        from reedmill import listening  # only takes need it

        return getattr(listening, name)
    if name in _OF_COACHING:
        return _of_coaching(name)
    raise AttributeError(f"reedmill.api has no {name}")


def _of_coaching(name: str) -> object:
    if name in _OF_THE_CLASS:
        from reedmill.coaching import class_overview  # reads NumPy and SQLite

        return getattr(class_overview, name)
    if name in _OF_EVENINGS:
        from reedmill.coaching import evening  # as above

        return getattr(evening, name)
    if name in _OF_PLACING:
        from reedmill.coaching import placement  # as above

        return getattr(placement, name)
    if name in _OF_PATHS:
        from reedmill.coaching import learning_path  # as above

        return getattr(learning_path, name)
    from reedmill.coaching import practice_history  # as above

    return getattr(practice_history, name)


IN_PYTHON: Words = {
    Remedy.REPEAT_TO_FADE: "{fact} Write for example Practice(repeats=4, fade_out=True).",
    Remedy.LADDER_TO_PART: "{fact} Give Practice its tempi_bpm.",
    Remedy.DRONE_TO_LOOP: '{fact} Add drone=("root",).',
    Remedy.TONES_TO_VERIFY: "{fact} Leave it out.",
    Remedy.SOMETHING_TO_HEAR: '{fact} Add drone=("root",) or click=Click.BEATS.',
    Remedy.SOMETHING_BESIDE: '{fact} Add drone=("root",) or click=Click.BEATS.',
    Remedy.TYPE_WITH_BITS: '{fact} Add one of them: types=("wav",)',
    Remedy.TYPES_NAMED: '{fact} Write for example: types=("wav", "mp3")',
    Remedy.REPEAT_RECORDING: (
        "{fact} To practise for long, repeat the recording: Practice(repeats=20)"
    ),
    Remedy.LOOPED_OVER_FORM: '{stem}, so this is what lay="loop" gives',
    Remedy.TEMPO_OF_FEEL: "{fact} Give a tempo_bpm in that range, or another feel.",
    Remedy.KIND_OF_SOUND: '{fact} Write "wav", and Recording(types=("{kind}",))',
    Remedy.FORMAT_OF_ENDING: '{fact} Write "{format}"',
    Remedy.HARP_HEARD: '{fact} Name that one: Harp.parse("{harp}")',
    Remedy.OTHER_ENCODER: (
        "{fact} Choose other types, or install the package soundfile from PyPI, which brings one "
        "that does."
    ),
    Remedy.ANOTHER_VOICE: "{fact} Choose another harp, another font or the reed voice.",
    Remedy.RUNGS_TO_ASK: (
        '{fact} Write to=("sheet", "tones") for its dictation alone, or take a drill that has '
        "rungs."
    ),
    Remedy.CHORDS_NAMED: "{fact} Write for example: I7 IV7 V7",
    Remedy.NOTES_OF_HARP: "{stem}; notes_data gives them all.",
    Remedy.FIND_DRILL: (
        "{fact} search(Wanted()) gives all drills. A file of your own ends in .drill."
    ),
    Remedy.FIND_ON_TOPIC: '{fact} search(Wanted(topic="{topic}")) gives what there is.',
    Remedy.USE_DRILL: "{fact} Read it with find_drills.",
    Remedy.USE_FORM: "{fact} Read it with find_form.",
    Remedy.USE_FEEL: "{fact} Read it with find_feel.",
    Remedy.USE_COURSE: "{fact} Only the command line builds courses.",
    Remedy.USE_TUNING: "{fact} Read it with layout_named.",
    Remedy.USE_OWN_HARP: "{fact} Read it with read_own_harp.",
    Remedy.USE_SOUNDFONT: "{fact} Give it to Recording: voice for the tones, band for the band.",
    Remedy.USE_TAKE: "{fact} Read a take with read_take.",
    Remedy.FORM_INSTEAD: "{stem}: read it with find_form.",
    Remedy.FEEL_INSTEAD: "{stem}: read it with find_feel.",
    Remedy.FILE_IN_THE_WAY: "{fact}\nGive replace=True, or another folder.",
    Remedy.FOLDER_OF_PACK: "{fact} Name the folder a course was built in.",
    Remedy.LINK_IN_THE_WAY: "{fact} Remove the link, or choose another folder.",
    Remedy.OTHER_PACK_THERE: "{fact} Choose another folder, so that both keep their files.",
    Remedy.STRANGE_FILE_THERE: "{fact} Move it away, or choose another folder.",
    Remedy.HEAR_INSTALLED: "{fact} Install it with: pip install 'reedmill[hear]'",
    Remedy.NAME_DRILL: "{fact} Expand another drill, and hear the take of that.",
    Remedy.DRILL_OF_TAKE: "{fact} Read the drill with find_drills, and the recording with this.",
    Remedy.ZIP_OR_LESSON: "{fact} Leave out one of them.",
    Remedy.ONE_JOB: "{fact} Try one worker.",
    Remedy.ONE_DRAWN_ALONE: (
        "{fact} Make the sheet of one drill. If it hangs there too, install LilyPond again."
    ),
    Remedy.DASK_INSTALLED: "{fact} Install it with: pip install 'reedmill[dask]'",
    Remedy.DASK_STARTED: "{fact} Start one with dask scheduler, and workers with dask worker.",
}


def explained(error: ReedmillError) -> str:
    """Return the message of *error*, with what to write in Python instead.

    >>> try:
    ...     Recording(loop=True)
    ... except InputError as error:
    ...     print(explained(error))
    loop makes a drone that can be looped. Add drone=("root",).
    """
    return str(error.worded(IN_PYTHON))
