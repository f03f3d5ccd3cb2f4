"""Broken patterns, each with the whole text of its error.

The texts were written for players and read aloud; a row is changed on purpose, never to
follow the code.
"""

from __future__ import annotations

# label, pattern text, error text
BROKEN: list[tuple[str, str, str]] = [
    (
        "a bend too deep",
        "drill \"Home\"\n  anchor -2\n  rungs -3 -3''''\n  phrase anchor rung\n",
        "mine.drill:3:12: -3'''' bends too deep: draw 3 bends at most 3 semitones\n"
        "    3 |   rungs -3 -3''''\n"
        "      |            ^^^^^^\n"
        "  A bend stops a semitone above the hole's other reed: here draw 3 (B4 on a C harp) and blow 3 (G4 on a C harp).\n"
        "  Write -3''' for draw 3 bent three semitones (Ab4 on a C harp).",
    ),
    (
        "a bend where the reeds are neighbours",
        "drill \"Home\"\n  anchor -2\n  rungs -4 -4' -5'\n  phrase anchor rung\n",
        "mine.drill:3:16: hole 5 draw does not bend a semitone on a Richter harp\n"
        "    3 |   rungs -4 -4' -5'\n"
        "      |                ^^^\n"
        "  Between draw 5 (F5 on a C harp) and blow 5 (E5 on a C harp) lies no note.\n"
        "  Write -5 for draw 5 (F5 on a C harp).",
    ),
    (
        "a bend of the reed that does not bend",
        'drill "Home"\n  play 3\'\n',
        "mine.drill:2:8: hole 3 blow does not bend on a Richter harp\n"
        "    2 |   play 3'\n"
        "      |        ^^\n"
        "  Only the higher reed of a hole bends down: here draw 3 (B4 on a C harp), not blow 3 (G4 on a C harp).\n"
        "  Write -3' for draw 3 bent a semitone (Bb4 on a C harp).",
    ),
    (
        "an overblow nobody plays",
        'drill "Home"\n  play 2^\n',
        "mine.drill:2:8: 2^ cannot be played: hole 2 has no overblow on a Richter harp\n"
        "    2 |   play 2^\n"
        "      |        ^^\n"
        "  Overbends that give a note of their own are: 1^ 4^ 5^ 6^ -7^ -9^ -10^.",
    ),
    (
        "an unknown role",
        'drill "Home"\n  anchor -2\n  rungs -3\n  phrase anchor rnug\n',
        'mine.drill:4:17: "rnug" is no note. Did you mean "rung"?\n'
        "    4 |   phrase anchor rnug\n"
        "      |                 ^^^^\n"
        "  Write a reed such as -3', r for a rest, or one of anchor, rung, previous, next, first, last.",
    ),
    (
        "a hole 11",
        'drill "Home"\n  play -2 -11\n',
        "mine.drill:2:11: there is no hole 11\n"
        "    2 |   play -2 -11\n"
        "      |           ^^^\n"
        "  A harp has holes 1 to 10: -3 is draw 3, 3 is blow 3.",
    ),
    (
        "an unclosed quote",
        "drill \"Home\n  anchor -2\n  rungs -3 -3'\n  phrase anchor rung\n",
        "mine.drill:1:7: this quote is never closed\n"
        '    1 | drill "Home\n'
        "      |       ^\n"
        '  Put a " at the end of the text, on this line.',
    ),
    (
        "a zero length",
        'drill "Home"\n  play -2:0\n',
        "mine.drill:2:10: a length of 0 beats cannot be played\n"
        "    2 |   play -2:0\n"
        "      |          ^^\n"
        "  A note lasts more than 0 and at most 64 beats.",
    ),
    (
        "a length nobody can count",
        'drill "Home"\n  play -2:1/5\n',
        "mine.drill:2:10: a length of 1/5 cannot be counted\n"
        "    2 |   play -2:1/5\n"
        "      |          ^^^^\n"
        "  Lengths are beats and halves, thirds, quarters, sixths or eighths of a beat: :2, :1/2, :3/2.",
    ),
    (
        "a length without a number",
        'drill "Home"\n  play -2:x\n',
        "mine.drill:2:10: there is no length after this :\n"
        "    2 |   play -2:x\n"
        "      |          ^\n"
        "  Write beats: -3:2 for two, -3:1/2 for half of one.",
    ),
    (
        "a bar that does not add up",
        'drill "Home"\n  play -2 -2 -2 | -2\n',
        "mine.drill:2:17: bar 1 does not add up: 3 beats before this bar line, but 4/4 has 4\n"
        "    2 |   play -2 -2 -2 | -2\n"
        "      |                 ^\n"
        "  Lengthen or shorten a note of this bar, or move the | sign.",
    ),
    (
        "an empty file",
        "",
        "mine.drill:1:1: there is no drill in this file\n"
        '  Start one with a line such as: drill "Home from every rung"',
    ),
    (
        "a title of 10,000 characters",
        'drill "' + "x" * 10_000 + '"\n  play -2\n',
        "mine.drill:1:7: this title has 10,000 characters; the most is 120\n"
        '    1 | drill "xxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxxx\n'
        "      |       ^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^\n"
        "  Shorten it. Longer thoughts fit in a comment, after a # sign.",
    ),
    (
        "a million notes",
        'drill "Home"\n  play ((-2 -3)x100 (-2 -3)x100)x100 (((-2)x100)x100)x100\n',
        "mine.drill:2:8: this drill would have 1,040,000 notes; the most is 2,000\n"
        "    2 |   play ((-2 -3)x100 (-2 -3)x100)x100 (((-2)x100)x100)x100\n"
        "      |        ^\n"
        "  Repeat less often: a page holds some two hundred notes.",
    ),
    (
        "a mistyped word",
        'drill "Home"\n  anchor -2\n  rungs -3\n  phrse anchor rung\n',
        'mine.drill:4:3: no line of a drill starts with "phrse". Did you mean "phrase"?\n'
        "    4 |   phrse anchor rung\n"
        "      |   ^^^^^\n"
        "  Lines start with drill, from, move, about, listen, level, positions, tempo, meter, feel, pickup, length, allow, embouchure, anchor, rungs, order, phrase, ending, play, tune, echo, section, or # for a comment.",
    ),
    (
        "a line before any drill",
        'tempo 60\ndrill "Home"\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        "mine.drill:1:1: this tempo line stands before any drill\n"
        "    1 | tempo 60\n"
        "      | ^^^^^\n"
        '  Start with a line such as: drill "Home from every rung"',
    ),
    (
        "a tempo in words",
        'drill "Home"\n  tempo fast\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        'mine.drill:2:9: "fast" does not fit here\n'
        "    2 |   tempo fast\n"
        "      |         ^^^^\n"
        "  After tempo comes beats a minute, 20 to 300, or a range of them: tempo 56 to 84",
    ),
    (
        "a tempo too fast",
        'drill "Home"\n  tempo 900\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        "mine.drill:2:9: tempo 900 is out of range\n"
        "    2 |   tempo 900\n"
        "      |         ^^^\n"
        "  A tempo is a whole number from 20 to 300.",
    ),
    (
        "a meter that does not exist",
        'drill "Home"\n  meter 4/5\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        "mine.drill:2:9: there is no meter 4/5\n"
        "    2 |   meter 4/5\n"
        "      |         ^^^\n"
        "  The first number is 1 to 16, the second 2, 4 or 8: meter 4/4, meter 12/8.",
    ),
    (
        "an anchor never named",
        'drill "Home"\n  rungs -3\n  phrase anchor rung\n',
        'mine.drill:3:10: "Home" uses its anchor but does not say which reed it is\n'
        "    3 |   phrase anchor rung\n"
        "      |          ^^^^^^\n"
        "  Add a line such as: anchor -2",
    ),
    (
        "a phrase without rungs",
        'drill "Home"\n  anchor -2\n  phrase anchor rung\n',
        'mine.drill:1:7: "Home" has a phrase but no rungs to play it for\n'
        '    1 | drill "Home"\n'
        "      |       ^^^^^^\n"
        "  Add a line such as: rungs -3 -3' -3'' (music without rungs starts with play).",
    ),
    (
        "rungs without a phrase",
        'drill "Home"\n  rungs -3\n',
        'mine.drill:1:7: "Home" has rungs but no phrase\n'
        '    1 | drill "Home"\n'
        "      |       ^^^^^^\n"
        "  Add a line such as: phrase anchor rung",
    ),
    (
        "nothing to play",
        'drill "Home"\n',
        'mine.drill:1:7: "Home" has nothing to play\n'
        '    1 | drill "Home"\n'
        "      |       ^^^^^^\n"
        "  Add a line such as: phrase anchor rung",
    ),
    (
        "a slide between two holes",
        'drill "Home"\n  play -2~-3\'\n',
        "mine.drill:2:11: no slide leads from -2 to -3'\n"
        "    2 |   play -2~-3'\n"
        "      |           ^^^\n"
        "  A slide stays in one hole and one breath, such as -3~-3'. Leave the ~ out for a new attack.",
    ),
    (
        "a slide into a rest",
        'drill "Home"\n  play -3~r\n',
        "mine.drill:2:10: a rest cannot be slid into\n"
        "    2 |   play -3~r\n"
        "      |          ^\n"
        "  Put ~ between two notes of one reed, such as -3~-3'.",
    ),
    (
        "a slide out of a rest",
        'drill "Home"\n  play -3 r ~-3\'\n',
        "mine.drill:2:14: there is no note to slide from here\n"
        "    2 |   play -3 r ~-3'\n"
        "      |              ^^^\n"
        "  Put ~ straight between two notes of one reed, such as -3~-3'.",
    ),
    (
        "curly quotes",
        "drill “Home”\n  anchor -2\n  rungs -3 -3'\n  phrase anchor rung\n",
        "mine.drill:1:7: this is a curly quote: “\n"
        "    1 | drill “Home”\n"
        "      |       ^\n"
        '  Write straight quotes, such as drill "Home from every rung".',
    ),
    (
        "an unclosed bracket",
        'drill "Home"\n  play (-2 -3\n',
        "mine.drill:2:8: this bracket is never closed\n"
        "    2 |   play (-2 -3\n"
        "      |        ^\n"
        "  Put a ) after the notes that belong together.",
    ),
    (
        "a bracket never opened",
        'drill "Home"\n  play -2 -3)\n',
        "mine.drill:2:13: this bracket was never opened\n"
        "    2 |   play -2 -3)\n"
        "      |             ^\n"
        "  Put a ( before the notes that belong together.",
    ),
    (
        "no repeats",
        'drill "Home"\n  play (-2)x0\n',
        "mine.drill:2:12: x0 asks for too many or too few repeats\n"
        "    2 |   play (-2)x0\n"
        "      |            ^^\n"
        "  Repeat between 1 and 100 times, such as (-2 -3)x4.",
    ),
    (
        "an unknown order",
        'drill "Home"\n  order sideways\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n',
        'mine.drill:2:9: "sideways" is no order of rungs.\n'
        "    2 |   order sideways\n"
        "      |         ^^^^^^^^\n"
        "  Write one or more of down, up, listed: order down, up.",
    ),
    (
        "a run from a bent note",
        'drill "Home"\n  anchor -2\n  rungs all of -3\'\n  phrase rung\n',
        'mine.drill:3:16: "all of" starts from a natural note, and -3\' is none\n'
        "    3 |   rungs all of -3'\n"
        "      |                ^^^\n"
        "  Write all of -3.",
    ),
    (
        "bends of a hole without any",
        'drill "Home"\n  anchor -2\n  rungs bends of -5\n  phrase rung\n',
        "mine.drill:3:9: draw 5 has no bends on this harp\n"
        "    3 |   rungs bends of -5\n"
        "      |         ^^^^^^^^^^^\n"
        "  Write -5 for the natural note, or choose another hole.",
    ),
    (
        "an unknown parent",
        'drill "Home"\n  from "Hime"\n',
        'mine.drill:2:8: there is no drill "Hime" to derive from.\n'
        '    2 |   from "Hime"\n'
        "      |        ^^^^^^\n"
        "  Name a drill of this file or of the library, exactly as its title is written.",
    ),
    (
        "drills that derive from each other",
        'drill "A"\n  from "B"\ndrill "B"\n  from "A"\n',
        'mine.drill:4:8: "B" derives from itself in a circle\n'
        '    4 |   from "A"\n'
        "      |        ^^^\n"
        "  One drill of the circle must stand on its own, without a from line.",
    ),
    (
        "one title twice",
        'drill "Home"\n'
        "  anchor -2\n"
        "  rungs -3 -3'\n"
        "  phrase anchor rung\n"
        'drill "Home"\n'
        "  anchor -2\n"
        "  rungs -3 -3'\n"
        "  phrase anchor rung\n",
        'mine.drill:5:7: there are two drills called "Home" in this file\n'
        '    5 | drill "Home"\n'
        "      |       ^^^^^^\n"
        "  Give one of them another title.",
    ),
    (
        "two tempos",
        'drill "Home"\n'
        "  tempo 60\n"
        "  tempo 70\n"
        "  anchor -2\n"
        "  rungs -3 -3'\n"
        "  phrase anchor rung\n",
        "mine.drill:3:3: this drill has a second tempo line\n"
        "    3 |   tempo 70\n"
        "      |   ^^^^^\n"
        "  Keep one of them. (Only play and tune may go on over several lines.)",
    ),
    (
        "a rung outside the phrase",
        'drill "Home"\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n  ending rung\n',
        'mine.drill:5:10: "rung" has a meaning only in the phrase, where each rung has its turn\n'
        "    5 |   ending rung\n"
        "      |          ^^^^\n"
        "  Write first or last for the ends of the rungs line, or the reed itself.",
    ),
    (
        "a sign of no meaning",
        'drill "Home"\n  play -2 * -3\n',
        'mine.drill:2:11: "*" does not fit here\n'
        "    2 |   play -2 * -3\n"
        "      |           ^\n"
        "  After play comes the music, as reeds: play -2 -3' -2:2",
    ),
    (
        "an invisible character",
        'drill "Home"\n  play -2 \x00 -3\n',
        "mine.drill:2:11: the invisible character U+0000 does not belong here\n"
        "    2 |   play -2 · -3\n"
        "      |           ^\n"
        "  After play comes the music, as reeds: play -2 -3' -2:2",
    ),
    (
        "a phrase and music at once",
        'drill "Home"\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n  play -2\n',
        'mine.drill:1:7: "Home" has both a phrase and a play line\n'
        '    1 | drill "Home"\n'
        "      |       ^^^^^^\n"
        "  Keep one of them, or put a section line between.",
    ),
    (
        "a drill without a title",
        "drill\n  anchor -2\n  rungs -3 -3'\n  phrase anchor rung\n",
        "mine.drill:1:6: this drill line stops too early\n"
        "    1 | drill\n"
        "      |      ^\n"
        '  After drill comes the title in quotes: drill "Home from every rung"',
    ),
    (
        "a run without of",
        'drill "Home"\n  anchor -2\n  rungs all -3\n  phrase rung\n',
        'mine.drill:3:13: "-3" does not fit here\n'
        "    3 |   rungs all -3\n"
        "      |             ^^\n"
        "  After rungs comes reeds, or all of / bends of a reed: rungs -3 -3' -3''",
    ),
    (
        "a run into another hole",
        'drill "Home"\n  anchor -2\n  rungs all of -3 down to -4\'\n  phrase rung\n',
        "mine.drill:3:27: -4' is not on the way down from -3\n"
        "    3 |   rungs all of -3 down to -4'\n"
        "      |                           ^^^\n"
        "  A run stays in one hole: all of -3 down to -3''.",
    ),
    (
        "commas between notes",
        'drill "Home"\n  play -2, -3\n',
        "mine.drill:2:10: notes need no commas\n"
        "    2 |   play -2, -3\n"
        "      |          ^\n"
        "  Put spaces between them: play -2 -3' -2:2",
    ),
    (
        "breath in words",
        'drill "Home"\n  play 3 draw\n',
        'mine.drill:2:10: "draw" is said with a sign here: -3 is draw 3, 3 is blow 3\n'
        "    2 |   play 3 draw\n"
        "      |          ^^^^\n"
        "  Write the hole alone, with a minus sign for a draw.",
    ),
    (
        "brackets too deep",
        'drill "Home"\n  play (((((((((-2)))))))))\n',
        "mine.drill:2:10: brackets stand inside brackets more than 6 deep here\n"
        "    2 |   play (((((((((-2)))))))))\n"
        "      |          ^\n"
        "  Write the music out, or take a pair of brackets away.",
    ),
    (
        "a rung where there are none",
        'drill "Home"\n  play first\n',
        'mine.drill:2:8: "first" is a rung, but "Home" has no rungs line\n'
        "    2 |   play first\n"
        "      |        ^^^^^\n"
        "  Write the reed itself, such as -3', or add a line such as: rungs -3 -3' -3''",
    ),
]
