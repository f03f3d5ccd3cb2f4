"""Mistakes in curriculum files: the place, the fact and the way out, whole."""

from __future__ import annotations

import re
import time
from pathlib import Path

import pytest

from reedmill.band.shelf import shipped_forms
from reedmill.base.errors import PatternError
from reedmill.base.toml_grammar import TomlMistake
from reedmill.base.toml_text import _MEANINGS, toml_data
from reedmill.formats.table import PACK_FORMATS
from reedmill.harp import LAYOUTS
from reedmill.pack.course import limits
from reedmill.pack.course.course_reading import parse_course

COURSE = """\
title = "Monday group"
harps = ["C", "A"]

[defaults]
count_in = 1

[[lessons]]
title = "Home"

[[lessons.exercises]]
drill = "Home from every rung"
"""

FORMS = "; ".join(form.title for form in shipped_forms())

# What is taken out of the course above, what is put there, and all that is then said.
MISTAKES: dict[str, tuple[str, str, str]] = {
    "a misspelt key": (
        "count_in = 1",
        "count-in = 1",
        """\
monday.toml:5:1: there is no key "count-in" in the defaults
    5 | count-in = 1
      | ^^^^^^^^
  Did you mean "count_in"? The defaults may have: harps, key, rotation, turn, positions, tempo, \
embouchure, hand_out, drone, click, count_in, repeat, echo, fade_out, ladder, apart, stems, wide, \
loop, pure, audio, backing.""",
    ),
    "a key of another table": (
        "count_in = 1",
        "text_file = 'x.md'",
        """\
monday.toml:5:1: there is no key "text_file" in the defaults
    5 | text_file = 'x.md'
      | ^^^^^^^^^
  "text_file" is a key of a lesson. A key belongs to the heading above it: move the line up, or \
write the heading it belongs to over it.""",
    ),
    "a practice key at the top": (
        'title = "Monday group"',
        'drone = "root"\ntitle = "Monday group"',
        """\
monday.toml:1:1: there is no key "drone" in the course
    1 | drone = "root"
      | ^^^^^
  "drone" is a key of the defaults. Write it under the heading of one, such as [defaults] or \
[[lessons]].""",
    ),
    "a misspelt key and what is missing without it": (
        'title = "Home"',
        'titel = "Home"',
        """\
monday.toml:8:1: there is no key "titel" in this lesson
    8 | titel = "Home"
      | ^^^^^
  Did you mean "title"? This lesson may have: title, goal, text, text_file, next, minutes, \
exercises, charts, harps, key, rotation, turn, positions, tempo, embouchure, hand_out, drone, \
click, count_in, repeat, echo, fade_out, ladder, apart, stems, wide, loop, pure, audio, backing.
  1 more mistake follows in this file.""",
    ),
    "no title": (
        'title = "Home"',
        "",
        """\
monday.toml:7:1: this lesson has no title
    7 | [[lessons]]
      | ^^^^^^^^^^^
  Write for example: title = "Home\"""",
    ),
    "a title that is not text": (
        '"Home"',
        "7",
        """\
monday.toml:8:9: title takes a title in quotes, at most 120 characters; this is 7
    8 | title = 7
      |         ^
  Write for example: title = "Home\"""",
    ),
    "an empty title": (
        '"Monday group"',
        '"  "',
        """\
monday.toml:1:9: title takes a title in quotes, at most 120 characters; this is empty
    1 | title = "  "
      |         ^^^^
  Write for example: title = "Clean bends\"""",
    ),
    "a title too long": (
        "Monday group",
        "a" * 121,
        f"""\
monday.toml:1:9: title takes a title in quotes, at most 120 characters; this is longer than 120
    1 | title = "{"a" * 91}
      |         {"^" * 92}
  Write for example: title = "Clean bends\"""",
    ),
    "a number out of range": (
        "count_in = 1",
        "count_in = 17",
        """\
monday.toml:5:12: count_in takes the bars clicked before the music, 0 to 16; this is 17
    5 | count_in = 17
      |            ^^
  Write for example: count_in = 1""",
    ),
    "a text for a number": (
        "count_in = 1",
        'count_in = "one"',
        """\
monday.toml:5:12: count_in takes the bars clicked before the music, 0 to 16; this is "one"
    5 | count_in = "one"
      |            ^^^^^
  Write for example: count_in = 1""",
    ),
    "a yes for a number": (
        "count_in = 1",
        "repeat = true",
        """\
monday.toml:5:10: repeat takes how often a drill is played, 1 to 100; this is true
    5 | repeat = true
      |          ^^^^
  Write for example: repeat = 4""",
    ),
    "a number with a point": (
        "count_in = 1",
        "tempo = 60.5",
        """\
monday.toml:5:9: tempo takes whole beats a minute, 20 to 300; this is 60.5
    5 | tempo = 60.5
      |         ^^^^
  Write for example: tempo = 60""",
    ),
    "a date": (
        '"Home from every rung"',
        "2026-05-01",
        """\
monday.toml:11:9: drill takes the title of a drill in quotes, or a list of them, at most 200; \
this is a date or time, 2026-05-01
   11 | drill = 2026-05-01
      |         ^^^^^^^^^^
  Write for example: drill = "Home from every rung\"""",
    ),
    "a number longer than Python writes": (
        "count_in = 1",
        "tempo = 0x" + "F" * 9000,
        f"""\
monday.toml:5:9: tempo takes whole beats a minute, 20 to 300; this is a very long number
    5 | tempo = 0x{"F" * 90}
      |         {"^" * 92}
  Write for example: tempo = 60""",
    ),
    "a number of too many digits": (
        "count_in = 1",
        "tempo = " + "9" * 9000,
        f"""\
monday.toml:5:9: this number has too many digits
    5 | tempo = {"9" * 92}
      |         {"^" * 92}
  The longest a key takes has four.""",
    ),
    "one table where there should be several": (
        '[[lessons]]\ntitle = "Home"\n\n[[lessons.exercises]]\ndrill = "Home from every rung"',
        '[lessons]\ntitle = "Home"',
        """\
monday.toml:7:1: lessons takes tables with [[lessons]] over each, 1 to 100; this is a table
    7 | [lessons]
      | ^^^^^^^^^
  Write for example: [[lessons]], then title = "Home\"""",
    ),
    "no lessons": (
        '[[lessons]]\ntitle = "Home"\n\n[[lessons.exercises]]\ndrill = "Home from every rung"',
        "",
        """\
monday.toml:1:1: the course has no lessons
    1 | title = "Monday group"
      | ^
  Write for example: [[lessons]], then title = "Home\"""",
    ),
    "no such harp": (
        '"A"]',
        '"X"]',
        """\
monday.toml:2:15: there is no harp "X"
    2 | harps = ["C", "X"]
      |               ^^^
  Harps are G, Ab, A, Bb, B, C, Db, D, Eb, E, F, F#; put low or high before one for an octave \
under or over.""",
    ),
    "a harp nearly right": (
        '"A"]',
        '"lwo F"]',
        """\
monday.toml:2:15: there is no harp "lwo F"
    2 | harps = ["C", "lwo F"]
      |               ^^^^^^^
  Did you mean "low F"? Harps are G, Ab, A, Bb, B, C, Db, D, Eb, E, F, F#; put low or high before \
one for an octave under or over.""",
    ),
    "no harps in the list": (
        '["C", "A"]',
        "[]",
        """\
monday.toml:2:9: harps takes the harps a player is expected to have, 1 to 30 names; this is empty
    2 | harps = []
      |         ^^
  Write for example: harps = ["F", "C", "A"]""",
    ),
    "rotate among harps": (
        "count_in = 1",
        'harps = ["C", "rotate"]',
        """\
monday.toml:5:9: "rotate" is written alone, and here it is in a list with harps
    5 | harps = ["C", "rotate"]
      |         ^^^^^^^^^^^^^^^
  Write harps = "rotate", or name the harps.""",
    ),
    "named harps that take turns": (
        "count_in = 1",
        'harps = "C"\nturn = "lesson"',
        """\
monday.toml:6:8: turn is about harps that take turns, and here the harps are named
    6 | turn = "lesson"
      |        ^^^^^^^^
  Write harps = "rotate", or leave one of the two out.""",
    ),
    "a key beside harps": (
        "count_in = 1",
        'harps = "rotate"\nkey = ["E", "A"]',
        """\
monday.toml:6:7: key says which harp to take, and harps says so too
    6 | key = ["E", "A"]
      |       ^^^^^^^^^^
  Leave out one of them: with key alone the harp follows from the position.""",
    ),
    "turns beside a key": (
        "count_in = 1",
        'rotation = "low"\nkey = "E"',
        """\
monday.toml:5:12: rotation is about harps that take turns, and here the key says which harp to take
    5 | rotation = "low"
      |            ^^^^^
  Leave out key or rotation.""",
    ),
    "no such key of a song": (
        "count_in = 1",
        'key = ["E", "low A"]',
        """\
monday.toml:5:13: "low A" is a harp, not the key of a song
    5 | key = ["E", "low A"]
      |             ^^^^^^^
  For a song in A write A.""",
    ),
    "no such register": (
        "count_in = 1",
        'rotation = ["high", "mid"]',
        """\
monday.toml:5:21: there is no register "mid"
    5 | rotation = ["high", "mid"]
      |                     ^^^^^
  Did you mean "middle"? Choose from: high, middle, low.""",
    ),
    "no such turn": (
        "count_in = 1",
        'turn = "drill"',
        """\
monday.toml:5:8: there is no turn "drill"
    5 | turn = "drill"
      |        ^^^^^^^
  Choose from: exercise, lesson.""",
    ),
    "no such kind of file": (
        "count_in = 1",
        'hand_out = ["sheet", "wav"]',
        f"""\
monday.toml:5:22: there is no kind of file "wav"
    5 | hand_out = ["sheet", "wav"]
      |                      ^^^^^
  Choose from: {", ".join(PACK_FORMATS)}.""",
    ),
    "no such type of sound file": (
        "count_in = 1",
        'audio = "m4a"',
        """\
monday.toml:5:9: there is no type of sound file "m4a"
    5 | audio = "m4a"
      |         ^^^^^
  Choose from: wav, flac, ogg, mp3.""",
    ),
    "no such drone": (
        "count_in = 1",
        'drone = "root+third"',
        """\
monday.toml:5:9: a drone has no "third"
    5 | drone = "root+third"
      |         ^^^^^^^^^^^^
  Write root, root+fifth, root+octave or root+fifth+octave.""",
    ),
    "no ladder": (
        "count_in = 1",
        'ladder = "60-90"',
        """\
monday.toml:5:10: "60-90" is not a tempo ladder
    5 | ladder = "60-90"
      |          ^^^^^^^
  Write for example: 60 to 90 by 5""",
    ),
    "no such embouchure": (
        "count_in = 1",
        'embouchure = ["lips", "toungue left"]',
        """\
monday.toml:5:23: there is no embouchure "toungue left"
    5 | embouchure = ["lips", "toungue left"]
      |                       ^^^^^^^^^^^^^^
  Did you mean "tongue left"? Write lips, tongue left or tongue right, or one for each: anchors \
tongue left, rungs lips""",
    ),
    "no such position": (
        "count_in = 1",
        "positions = [2, 13]",
        """\
monday.toml:5:17: positions takes positions from 1 to 12, as numbers or in words; this is 13
    5 | positions = [2, 13]
      |                 ^^
  Write for example: positions = [2, 3]""",
    ),
    "a position that has no such name": (
        "count_in = 1",
        'positions = ["2nd", "corss"]',
        """\
monday.toml:5:21: there is no position "corss"
    5 | positions = ["2nd", "corss"]
      |                     ^^^^^^^
  Did you mean "cross"? Positions go from 1 to 12; 2 is cross harp.""",
    ),
    "no such tuning": (
        "\n[defaults]",
        'tuning = "richtr"\n[defaults]',
        """\
monday.toml:3:10: there is no tuning "richtr"
    3 | tuning = "richtr"
      |          ^^^^^^^^
  Did you mean "richter"? Choose from: """
        f"{', '.join(LAYOUTS)}.",
    ),
    "no such paper": (
        "\n[defaults]",
        'page.paper = "a5"\n[defaults]',
        """\
monday.toml:3:14: there is no paper "a5"
    3 | page.paper = "a5"
      |              ^^^^
  Choose from: a4, letter.""",
    ),
    "no such drill": (
        "every rung",
        "evry rung",
        """\
monday.toml:11:9: there is no drill "Home from evry rung"
   11 | drill = "Home from evry rung"
      |         ^^^^^^^^^^^^^^^^^^^^^
  Did you mean "Home from every rung"? reedmill drills lists the library; for a drill of your own, \
name its file too: file = "mine.drill\"""",
    ),
    "one drill of several that is none": (
        '"Home from every rung"',
        '["Home from every rung",\n  "Home"]',
        """\
monday.toml:12:3: there is no drill "Home"
   12 |   "Home"]
      |   ^^^^^^
  reedmill drills lists the library; for a drill of your own, name its file too: file = \
"mine.drill\"""",
    ),
    "no such topic": (
        'drill = "Home from every rung"',
        'topic = "third"',
        """\
monday.toml:11:9: there is no topic "third"
   11 | topic = "third"
      |         ^^^^^^^
  Did you mean "thirds"? Choose from: approach, blues, breath, chords, echo, embouchure, \
first-position, high-end, home, leaps, melodies, overbends, phrases, placement, rhythm, riffs, \
scales, several-holes, style, third-position, thirds, tones.""",
    ),
    "no drill of that topic and level": (
        'drill = "Home from every rung"',
        'topic = "thirds"\nlevel = 5',
        """\
monday.toml:11:9: there is no drill of level 5 about "thirds"
   11 | topic = "thirds"
      |         ^^^^^^^^
  reedmill drills --topic thirds lists what there is.""",
    ),
    "a drill and a level": (
        'rung"',
        'rung"\nlevel = 1',
        """\
monday.toml:12:9: topic and level choose from the library, and this exercise names its drills too
   12 | level = 1
      |         ^
  Make two exercises of it.""",
    ),
    "no drill at all": (
        'drill = "Home from every rung"',
        'note = "Slowly."',
        """\
monday.toml:10:1: this exercise names no drill
   10 | [[lessons.exercises]]
      | ^^^^^^^^^^^^^^^^^^^^^
  Write for example: drill = "Home from every rung\"""",
    ),
    "a file that is not there": (
        'drill = "Home from every rung"',
        'file = "mine.drill"',
        f"""\
monday.toml:11:8: there is no file "mine.drill" in the folder of the course
   11 | file = "mine.drill"
      |        ^^^^^^^^^^^^
  Put it into the folder {Path.cwd() / "nowhere"}, or write its name as it is spelled there.""",
    ),
    "a file somewhere else": (
        'drill = "Home from every rung"',
        'file = "../mine.drill"',
        """\
monday.toml:11:8: "../mine.drill" leads out of the folder of the course
   11 | file = "../mine.drill"
      |        ^^^^^^^^^^^^^^^
  Write the name of a file in the folder of the course, such as week-1.drill or \
texts/week-1.drill""",
    ),
    "two texts": (
        'title = "Home"',
        'title = "Home"\ntext = "Play."\ntext_file = "week-1.md"',
        """\
monday.toml:10:13: this lesson has both text and text_file
   10 | text_file = "week-1.md"
      |             ^^^^^^^^^^^
  Leave one of the two out.""",
    ),
    "fading without repeats": (
        'rung"',
        'rung"\nfade_out = true',
        """\
monday.toml:12:12: the tones can only fade out over repeats, and there are none here
   12 | fade_out = true
      |            ^^^^
  Write for example: repeat = 4""",
    ),
    "a repeat that takes away what fading needs": (
        'rung"',
        'rung"\nrepeat = 1\n[[lessons]]\ntitle = "x"\nrepeat = 4\nfade_out = true\n'
        '[[lessons.exercises]]\ndrill = "Home from every rung"\nrepeat = 1',
        """\
monday.toml:19:10: the tones can only fade out over repeats, and there are none here
   19 | repeat = 1
      |          ^
  Write for example: repeat = 4""",
    ),
    "apart without a ladder": (
        'rung"',
        'rung"\napart = true',
        """\
monday.toml:12:9: apart gives each tempo of a ladder its own file, and there is no ladder here
   12 | apart = true
      |         ^^^^
  Write for example: ladder = "60 to 90 by 5\"""",
    ),
    "a loop without a drone": (
        'rung"',
        'rung"\nloop = true',
        """\
monday.toml:12:8: loop makes a drone that can be looped, and there is no drone here
   12 | loop = true
      |        ^^^^
  Write for example: drone = "root\"""",
    ),
    "stems of nothing": (
        'rung"',
        'rung"\nstems = true\ncount_in = 0',
        """\
monday.toml:12:9: stems need something beside the tones, and there is no drone, click or band here
   12 | stems = true
      |         ^^^^
  Write for example: drone = "root\"""",
    ),
    "sound that is not handed out": (
        'rung"',
        'rung"\nhand_out = "sheet"\nladder = "60 to 90 by 5"',
        """\
monday.toml:13:10: ladder is about sound files, and none are handed out here
   13 | ladder = "60 to 90 by 5"
      |          ^^^^^^^^^^^^^^^
  Add audio: hand_out = ["sheet", "audio"]""",
    ),
    "no such form": (
        'rung"',
        'rung"\nbacking = { form = "Twelv bars", feel = "Rumba" }',
        f"""\
monday.toml:12:20: there is no form "Twelv bars"
   12 | backing = {{ form = "Twelv bars", feel = "Rumba" }}
      |                    ^^^^^^^^^^^^
  Did you mean "Twelve bars"? The forms are: {FORMS}. For one of your own, name its file: \
form = "mine.form\"""",
    ),
    "no feel": (
        'rung"',
        'rung"\nbacking = { form = "Twelve bars" }',
        """\
monday.toml:12:11: this backing has no feel
   12 | backing = { form = "Twelve bars" }
      |           ^^^^^^^^^^^^^^^^^^^^^^^^
  Write for example: feel = "Medium shuffle\"""",
    ),
    "a reed that is none": (
        'rung"',
        'rung"\n[[lessons.charts]]\nreeds = "-3 draw4"',
        """\
monday.toml:13:9: "draw4" is not a reed
   13 | reeds = "-3 draw4"
      |         ^^^^^^^^^^
  Write -3 for draw 3, 3 for blow 3, a tick ' for each semitone of bend.""",
    ),
    "a reed that does not bend": (
        'rung"',
        'rung"\n[[lessons.charts]]\nreeds = "-5\'"',
        """\
monday.toml:13:9: hole 5 draw does not bend a semitone on a Richter harp
   13 | reeds = "-5'"
      |         ^^^^^
  There is no note between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp).
  Write -5 for draw 5 (F5 on a C harp).""",
    ),
    "more reeds than a page has room for": (
        'rung"',
        'rung"\n[[lessons.charts]]\nreeds = "' + "1 " * 17 + '"',
        """\
monday.toml:13:9: a chart has room for 1 to 16 reeds; these are 17
   13 | reeds = "1 1 1 1 1 1 1 1 1 1 1 1 1 1 1 1 1 "
      |         ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^
  Make two charts of them.""",
    ),
    "two students of one name": (
        'rung"',
        'rung"\n[[students]]\nname = "Ada"\n[[students]]\nname = "Ada"',
        """\
monday.toml:15:8: two students are called "Ada"
   15 | name = "Ada"
      |        ^^^^^
  Tell them apart: name = "Ada B.\"""",
    ),
    "a register without a harp": (
        'rung"',
        'rung"\n[[students]]\nname = "Ada"\nregisters = "high"',
        """\
monday.toml:14:13: Ada plays high harps, and has none: C (middle), A (low)
   14 | registers = "high"
      |             ^^^^^^
  Add a harp of that register, or leave registers out to play them all.""",
    ),
    "a pace nobody can follow": (
        'rung"',
        'rung"\n[[students]]\nname = "Ada"\npace = 300',
        """\
monday.toml:14:8: pace takes per cent of every tempo, 25 to 200; this is 300
   14 | pace = 300
      |        ^^^
  Write for example: pace = 80""",
    ),
    "a terminal's escapes in a name": (
        '"Home from every rung"',
        '"\\u001b[31mHome"',
        """\
monday.toml:11:9: there is no drill "[U+001B][31mHome"
   11 | drill = "\\u001b[31mHome"
      |         ^^^^^^^^^^^^^^^^
  reedmill drills lists the library; for a drill of your own, name its file too: file = \
"mine.drill\"""",
    ),
}


def mistake_of(text: str) -> PatternError:
    with pytest.raises(PatternError) as caught:
        parse_course(text, "monday.toml", Path("nowhere"))
    return caught.value


@pytest.mark.parametrize(("old", "new", "said"), MISTAKES.values(), ids=MISTAKES)
def test_what_is_said_of_a_mistake(old: str, new: str, said: str) -> None:
    assert COURSE.count(old) == 1 or old == '"Home"'
    error = mistake_of(COURSE.replace(old, new, 1))
    assert str(error) == said
    assert error.exit_code == 2


def test_the_course_without_a_mistake_reads() -> None:
    assert len(parse_course(COURSE, "monday.toml", Path("nowhere")).lessons) == 1


# --- not TOML -----------------------------------------------------------------------------

# Each kind of thing tomllib refuses: a text, where it is wrong, and how what is said begins.
NO_TOML: dict[str, tuple[str, str, str]] = {
    "no equals sign": ("title Home\n", "1:7", "there is a word here without an equals sign"),
    "no quotes": ("title = Home\n", "1:9", "no value can be read here"),
    "a text not closed": ('title = "Home\n', "1:9", "a text begins here and its closing quote"),
    "a text not closed at the end": ('title = "Home', "1:9", "a text begins here and its"),
    "a long text not closed": ('text = """\nHome\n', "1:8", "a text begins here and its"),
    "a plain text not closed": ("title = 'Home", "1:9", "a text begins here and its"),
    "a plain text over a line": (
        "title = 'Home\nabout = 'x'\n",
        "1:9",
        "a text begins here and its closing quote is missing",
    ),
    "a list not closed": ('harps = ["C"\nx = 1\n', "2:1", "a list is not closed"),
    "no comma": ('harps = ["C" "A"]\n', "1:14", "a list is not closed, or a comma is missing"),
    "no curly bracket": ("page = { large = true\n", "1:22", "curly brackets are not closed"),
    "two values": ("tempo = 60 70\n", "1:12", "something follows where the line should end"),
    "a table twice": ("[page]\n[page]\n", "2:1", "this table was already written further up"),
    "a key twice": ("tempo = 60\ntempo = 70\n", "2:1", "this key was already written"),
    "a key twice in brackets": ("page = {a=1,a=2}\n", "1:13", "this key is written twice"),
    "brackets added to": ("page = {}\npage.a = 1\n", "2:1", "a table in brackets cannot be added"),
    "plain dots in a text": (
        'title = "a.b"\nabout = """' + "a." * 30 + '"""\nx\n',
        "3:2",
        "there is a word here",
    ),
    "a dotted table again": ("[a.b]\nc=1\n[a]\nb.d=2\n", "4:1", "this table was already written"),
    "a heading not closed": ("[page\n", "1:6", "a heading in square brackets is not closed"),
    "one bracket of two": ("[[lessons]\n", "1:10", "a heading in square brackets is not closed"),
    "a heading without a name": ("[]\n", "1:2", "a name cannot begin like this"),
    "an odd line": ("!title = 1\n", "1:1", "a line cannot begin like this"),
    "an odd escape": ('title = "\\q"\n', "1:10", "a backslash in a text means"),
    "half an escape": ('title = "\\u12"\n', "1:10", "a backslash with u needs four"),
    "an escape of no sign": ('title = "\\uD800"\n', "1:10", "a backslash with u names a sign"),
    "a day that is none": ("title = 2026-02-30\n", "1:9", "this date does not exist"),
    "a bell in a text": ('title = "Ho\x07me"\n', "1:12", "a sign stands here that cannot be seen"),
    "a bell in a comment": ("# Ho\x07me\n", "1:5", "a sign stands here that cannot be seen"),
    "a number of many digits": ("tempo = " + "9" * 5000, "1:9", "this number has too many digits"),
    "a list not closed at the end": ("harps = [", "1:10", "a list is not closed"),
    "a table not closed at once": ("page = {\n", "1:9", "curly brackets are not closed"),
    "what is wrong first": ("a = 1\na = 2\nb = \n", "2:1", "this key was already written"),
    "a line end of Windows": ("a = 1\r\nb = c\r\n", "2:5", "no value can be read here"),
    "many dots": ("a." * 17 + "a = 1\n", "1:34", "a name here has more than 16 dots"),
    "many dots in brackets": ("x = [{" + "a." * 17 + "a = 1}]\n", "1:40", "a name here has more"),
    "many dots in a heading": ("[" + "a." * 17 + "a]\n", "1:35", "a name here has more than 16"),
    "many quoted dots": ('"a b" . ' * 17 + "a = 1\n", "1:135", "a name here has more than 16 dots"),
    "many brackets": ("a = " + "[" * 20_000 + "\n", "1:69", "brackets stand inside brackets"),
}


@pytest.mark.parametrize(("text", "place", "said"), NO_TOML.values(), ids=NO_TOML)
def test_what_is_said_of_a_text_that_is_not_toml(text: str, place: str, said: str) -> None:
    shown = str(mistake_of(text))
    assert re.match(rf"monday\.toml:{place}: {re.escape(said)}", shown), shown
    assert "\n  " in shown  # a way out


def test_every_way_not_to_be_toml_is_put_into_words() -> None:
    heard = {mistake_of(text).fact for text, _, _ in NO_TOML.values()}
    assert set(_MEANINGS) == set(TomlMistake)
    assert {fact for fact, _ in _MEANINGS.values()} <= heard
    assert "this file is not TOML" not in heard


# --- too much -----------------------------------------------------------------------------

EXERCISE = '[[lessons.exercises]]\ndrill = "Home from every rung"\n'
HEAD = 'title = "x"\nharps = "C"\n'
ALL_HARPS = "[" + ", ".join(f'"{place}{key}"' for place in ("", "low ") for key in "GABCDEF") + "]"

TOO_MUCH = {
    "lessons": (
        HEAD + '[[lessons]]\ntitle = "y"\n' * (limits.MAX_LESSONS + 1),
        "lessons takes tables with [[lessons]] over each, 1 to 100; this is longer than 100",
    ),
    "exercises": (
        HEAD + '[[lessons]]\ntitle = "y"\n' + EXERCISE * (limits.MAX_EXERCISES + 1),
        "exercises takes tables with [[lessons.exercises]] over each, at most 100; this is longer "
        "than 100",
    ),
    "charts": (
        HEAD + '[[lessons]]\ntitle = "y"\n' + '[[lessons.charts]]\nreeds = "1"\n' * 21,
        "charts takes tables with [[lessons.charts]] over each, at most 20; this is longer than 20",
    ),
    "students": (
        HEAD + '[[lessons]]\ntitle = "y"\n' + '[[students]]\nname = "z"\n' * 201,
        "students takes tables with [[students]] over each, at most 200; this is longer than 200",
    ),
    "drills": (
        HEAD + '[[lessons]]\ntitle = "y"\n[[lessons.exercises]]\ndrill = [' + '"z",' * 201 + "]\n",
        "drill takes the title of a drill in quotes, or a list of them, at most 200; this is "
        "longer than 200",
    ),
    "text": (
        HEAD + '[[lessons]]\ntitle = "y"\ntext = "' + "a" * (limits.MAX_TEXT + 1) + '"\n',
        "text takes Markdown, at most 20000 characters; this is longer than 20000",
    ),
    "drills of levels": (
        HEAD + ('[[lessons]]\ntitle = "y"\n' + "[[lessons.exercises]]\nlevel = 3\n" * 100) * 5,
        "with this lesson the course has more than 10,000 drills",
    ),
    "unknown keys": (
        HEAD + "".join(f"k{n} = 1\n" for n in range(30_000)),
        'there is no key "k0" in the course',
    ),
    "pieces": (
        'title = "x"\nharps = ' + ALL_HARPS + '\n[defaults]\nharps = "all"\n'
        'positions = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12]\n[[lessons]]\ntitle = "y"\n'
        + EXERCISE * 60,
        "this course comes to more than 10,000 pieces, counted over all students",
    ),
}  # fmt: skip


@pytest.mark.parametrize(("text", "said"), TOO_MUCH.values(), ids=TOO_MUCH)
def test_too_much_is_refused_at_once(text: str, said: str) -> None:
    start = time.process_time()
    assert mistake_of(text).fact == said
    assert time.process_time() - start < 8  # seconds; measured below 2


def test_a_file_of_nothing_but_values_is_read_and_placed_in_seconds() -> None:
    start = time.process_time()
    _, places = toml_data("x = [" + "1," * 249_000 + "]", "big.toml")
    assert places.value(("x", 248_999)).column == 498_004
    assert time.process_time() - start < 30  # measured 6


def test_a_long_course_is_placed_and_its_mistake_found_at_once() -> None:
    text = HEAD + ('[[lessons]]\ntitle = "y"\n' + EXERCISE) * 1500  # 120 kB
    start = time.process_time()
    _, places = toml_data(text, "big.toml")
    assert places.value(("lessons", 1499, "exercises", 0, "drill")).line == 6002
    assert "no value can be read here" in str(mistake_of(f"{text}tempo = x\n"))
    assert time.process_time() - start < 5  # measured 0.9


def test_a_link_that_leads_nowhere_is_shown_in_its_text() -> None:
    found = mistake_of(HEAD + '[[lessons]]\ntitle = "y"\ntext = "[Play](javascript:alert(1))"\n')
    assert found.fact == 'a link in a lesson\'s text leads to "javascript:alert(1)"'
    assert found.source_line.startswith("text")
