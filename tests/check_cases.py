"""Files that are right in one place and wrong in another, and where each is to be mended.

One row is a file with what lies beside it, how it is asked for, and the place of the first
mistake as ``line`` of the file or ``name:line`` of one beside it; ``""`` for none.  The facts of
Richter harps are those of OEIS A291810: draw 1 bends 1, 2 draw 2, 3 draw 3, 4 draw 1, 5 and 7
nothing, 6 draw 1.  On a country harp draw 5 is a semitone higher and bends.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from reedmill.base.source import Span

DRILL = 'drill "A"\n'
COURSE = 'title = "T"\nharps = ["C"]\n\n[[lessons]]\ntitle = "One"\n'
EXERCISE = "\n[[lessons.exercises]]\n"
MINE = COURSE + EXERCISE + 'file = "mine.drill"\n'
LIBRARY = COURSE + EXERCISE + 'drill = "Home from every rung"\n'
ADA = '\n[[students]]\nname = "Ada"\n'
BO = '\n[[students]]\nname = "Bo"\n'
SHORT = DRILL + "  meter 6/8\n  play -2:1/8..\n"  # ends in a 256th
SHORTER = DRILL + "  meter 6/8\n  play -3:1/3 -2:1/8..\n"  # in a triplet: in a 512th
MOVED = DRILL + "  play {}\n" + 'drill "B"\n  from "A"\n  move {}\n'


@dataclass(frozen=True)
class Case:
    """A file, and where it is wrong."""

    what: str
    name: str
    text: str
    wrong: str = ""  # "3" or "mine.drill:3"; empty where it is right
    harp: str = "C"
    position: str = ""
    tuning: str = "richter"
    beside: dict[str, str] = field(default_factory=dict)
    links: dict[str, str] = field(default_factory=dict)  # name to where it leads

    def place(self) -> tuple[str, int] | None:
        """The file and line of the mistake."""
        file, _, line = self.wrong.rpartition(":")
        return (file or self.name, int(line)) if line else None


def _drill(what: str, text: str, wrong: str = "", **asked: str) -> Case:
    return Case(what, "mine.drill", text, wrong, **asked)  # type: ignore[arg-type]


def _band(what: str, name: str, text: str, wrong: str = "") -> Case:
    return Case(what, name, text, wrong)


def _course(what: str, text: str, wrong: str = "", drill: str = "", **beside: str) -> Case:
    files = {name.replace("_", "."): each for name, each in beside.items()}
    return Case(
        what, "mine.toml", text, wrong, beside=files | ({"mine.drill": drill} if drill else {})
    )


DRILLS = (
    _drill("an overblow of Richter", DRILL + "  play 6^\n"),
    _drill("none on hole 3", DRILL + "  play 3^\n", "2"),
    _drill("none on hole 5 of country", DRILL + "  play 5^\n", "2", tuning="country"),
    _drill("draw 5 on Richter", DRILL + "  play -5'\n", "2"),
    _drill("draw 5 on country", DRILL + "  play -5'\n", tuning="country"),
    _drill("draw 3 deep on Richter", DRILL + "  play -3'''\n"),
    _drill("draw 3 deep on minor", DRILL + "  play -3'''\n", "2", tuning="natural-minor"),
    _drill("blow 3 does not bend", DRILL + "  rungs bends of 3\n  phrase rung\n", "2"),
    _drill("the major third of minor", DRILL + "  tune 1 3\n", "2", tuning="natural-minor"),
    _drill("b3 in 1st", DRILL + "  tune 1 b3\n", "2", position="1"),
    _drill("b3 in 2nd", DRILL + "  tune 1 b3\n", position="2"),
    _drill("b3 in both", DRILL + "  tune 1 b3\n", "2", position="2,1"),
    _drill("b3 on two harps", DRILL + "  tune 1 b3\n", "2", position="2,1", harp="C,low F"),
    _drill("b3 with overbends", DRILL + "  allow overbends\n  tune 1 b3\n", position="1"),
    _drill("the root of 7th", DRILL + "  anchor root\n  rungs -3\n  phrase anchor rung\n",
           position="7"),
    _drill("no slide from there", DRILL + "  anchor root\n  rungs -3\n  phrase anchor~rung\n", "4",
           position="7"),
    _drill("a slide to itself", DRILL + "  anchor -3\n  rungs -3\n  phrase anchor~rung\n"),
    _drill("no slide to b3", DRILL + "  tune 4~b3\n", "2", position="2"),
    _drill("moved onto draw 3", MOVED.format("-4'", "down 1")),
    _drill("moved onto draw 5", MOVED.format("-4'", "up 1"), "5"),
    _drill("moved on country", MOVED.format("-4'", "up 1"), tuning="country"),
    _drill("moved off the harp", MOVED.format("-9", "up 2"), "5"),
    _drill("the library moved", DRILL + '  from "Home from every rung"\n  move up 4\n', "3"),
    _drill("a whole bar of pick-up", DRILL + "  pickup 4\n  play -2\n", "1"),
    _drill("a pick-up in a shorter bar", DRILL + "  pickup 3\n  play -2 -2 -2 | -2:4\n"
           'drill "B"\n  from "A"\n  meter 3/4\n', "4"),
    _drill("bars taken into 3/4", DRILL + '  play -2:4 | -2:4\ndrill "B"\n  from "A"\n'
           "  meter 3/4\n", "4"),
    _drill("a short note", SHORT, "3"),
    _drill("a short note in 4/4", SHORT.replace("6/8", "4/4")),
    _drill("a short note taken into 2/8", DRILL + '  play -2:1/8..\ndrill "B"\n  from "A"\n'
           "  meter 2/8\n", "4"),
    _drill("a short rest", DRILL + "  meter 6/8\n  play r:1/8.. -2\n", "3"),
    _drill("a short note in a triplet", SHORTER, "3"),
    _drill("thirds of thirds", DRILL + "  play triplet(-2:1/3 -3:1/3 -2:1/3)\n", "2"),
    _drill("too many notes", DRILL + "  play ((-2 -3)x50)x50\n", "2"),
    _drill("too many bars", DRILL + "  echo\n  play (-2:64)x100\n", "3"),
    _drill("three hours", DRILL + "  tempo 20\n  play (-2:40)x92\n", "1"),
    _drill("too many notes in all", DRILL + "  play ((-2 -3)x10)x100\n", "0",
           position="1,2,3,4,5,6,7,8,9,10,11,12", harp="C,G,D,A,E"),
    _drill("letters no font has", 'drill "\U0001f3b5"\n  play -2\n'),
    _drill("a second section", DRILL + '  section "X"\n  play -2\n  section "Y"\n  play -5^\n',
           "5"),
    _drill("an empty section", DRILL + '  section "X"\n', "2"),
    _drill("a plan for each", DRILL + "  embouchure lips or tongue left\n  play -2 -5'\n", "3"),
    _drill("another position", DRILL + "  positions 2\n  play -2\n", position="3,4"),
)  # fmt: skip

BANDS = (
    _band("a form", "mine.form", 'form "F"\n  bars I7 x4\n'),
    _band("the longest form", "mine.form", 'form "F"\n  bars I7 x64\n'),
    _band("a form too long", "mine.form", 'form "F"\n  bars I7 x33 | I7 x33\n', "2"),
    _band("a form that ends away", "mine.form", 'form "F"\n  bars I7 x4 | V7\n', "2"),
    _band("five parts of a bar", "mine.form", 'form "F"\n  bars I7 IV7 I7 V7 I7\n', "2"),
    _band("a long turnaround", "mine.form", 'form "F"\n  bars I7\n  turnaround I7 | V7\n', "3"),
    _band("a feel in 5/4", "mine.feel", 'feel "G"\n  meter 5/4\n  bass root on 1\n'),
    _band("a feel for nobody", "mine.feel", 'feel "G"\n  tempo 60\n', "1"),
    _band("a beat too many", "mine.feel", 'feel "G"\n  bass root on 5\n', "2"),
)

_OVER = MINE + 'backing = {{ form = "{}", feel = "{}"{} }}\n'
COURSES = (
    _course("the library", LIBRARY),
    _course("a drill", MINE, drill=DRILL + "  play -2\n"),
    _course("no such drill", MINE, "8"),
    _course("a move", MINE, "mine.drill:5", drill=MOVED.format("-4'", "up 1")),
    _course("a move that is not named", MINE + 'drill = "A"\n',
            drill=MOVED.format("-4'", "up 1")),
    _course("a move off, not named", MINE + 'drill = "A"\n', "mine.drill:5",
            drill=MOVED.format("-9", "up 2")),
    _course("a drill taken over", MINE, "mine.drill:4",
            drill=DRILL + '  play -2:4 | -3:4\ndrill "B"\n  from "A"\n  meter 3/4\n'),
    _course("a position", MINE + "positions = [2, 1]\n", "mine.drill:2",
            drill=DRILL + "  tune 1 b3\n"),
    _course("a student's reeds", MINE + ADA + 'tuning = "natural-minor"\n', "mine.drill:2",
            drill=DRILL + "  play -3'''\n"),
    _course("left out by that student", MINE + ADA + 'tuning = "natural-minor"\nwithout = "A"\n',
            drill=DRILL + "  play -3'''\n"),
    _course("and not by another", MINE + ADA + 'tuning = "natural-minor"\nwithout = "A"\n' + BO
            + 'tuning = "natural-minor"\n', "mine.drill:2", drill=DRILL + "  play -3'''\n"),
    _course("left out, and not there", LIBRARY + ADA + 'without = "9.9"\n', "12"),
    _course("a chart of a student's reeds", LIBRARY + '\n[[lessons.charts]]\nreeds = "-3\'\'\'"\n'
            + ADA + 'tuning = "natural-minor"\n', "11"),
    _course("a harp one student lacks", LIBRARY + 'harps = "G"\n' + ADA + 'harps = ["G"]\n' + BO
            + 'harps = ["C"]\n', "8"),
    _course("a register nobody has", LIBRARY + 'rotation = "low"\n', "8"),
    _course("a tempo", LIBRARY + "tempo = 400\n", "9"),
    _course("hours of repeats", MINE + "tempo = 20\nrepeat = 100\n", "8",
            drill=DRILL + "  play (-2:16)x30\n"),
    _course("hours at a slow pace", MINE + "tempo = 40\nrepeat = 100\n" + ADA + BO + "pace = 50\n",
            "8", drill=DRILL + "  play (-2:6)x10\n"),
    _course("the same at full pace", MINE + "tempo = 40\nrepeat = 100\n" + ADA,
            drill=DRILL + "  play (-2:6)x10\n"),
    _course("an embouchure", LIBRARY + 'embouchure = "nose"\n', "9"),
    _course("a short note on a sheet", MINE, "mine.drill:3", drill=SHORT),
    _course("a short note as tab", MINE + 'hand_out = "tab"\n', drill=SHORT),
    _course("a short note as sound", MINE + 'hand_out = "audio"\n', drill=SHORT),
    _course("a short note in MusicXML", MINE + 'hand_out = "musicxml"\n', drill=SHORT),
    _course("a shorter one in MusicXML", MINE + 'hand_out = "musicxml"\n', "mine.drill:3",
            drill=SHORTER),
    _course("a band in another meter", _OVER.format("Twelve bars", "Medium shuffle", ""), "8",
            drill=DRILL + "  meter 3/4\n  play -2\n"),
    _course("a band under a pick-up", _OVER.format("Twelve bars", "Medium shuffle", ""), "8",
            drill=DRILL + "  pickup 1\n  play -2 | -2:4\n"),
    _course("quarters over twelve-eight", _OVER.format("Twelve bars", "Slow twelve-eight", ""),
            "8", drill=DRILL + "  play -2:1/4 -3:1/4\n"),
    _course("laid on the chords", _OVER.format("Twelve bars", "Slow twelve-eight",
            ', lay = "chords"'), drill=DRILL + "  play -2 -3'\n"),
    _course("too many choruses", _OVER.format("Twelve bars", "Medium shuffle", ", choruses = 60"),
            "9", drill=DRILL + "  play -2\n"),
    _course("a form beside it", _OVER.format("mine.form", "Medium shuffle", ""), "mine.form:2",
            drill=DRILL + "  play -2\n", mine_form='form "F"\n  bars H7\n'),
    _course("another title in it", _OVER.format("mine.form:Nope", "Medium shuffle", ""), "9",
            drill=DRILL + "  play -2\n", mine_form='form "F"\n  bars I7\n'),
    _course("a feel beside it", _OVER.format("Twelve bars", "mine.feel", ""),
            drill=DRILL + "  play -2\n", mine_feel='feel "G"\n  bass root on 1\n'),
    _course("no text", COURSE + 'text_file = "none.md"\n', "6"),
    _course("two texts", COURSE + 'text = "a"\ntext_file = "none.md"\n', "7"),
    _course("text too deep", COURSE + 'text = "> > > > > > > > x"\n', "6"),
    _course("text in letters no font has", COURSE + 'text = "\U0001f3b5 \u2603"\n'),
    Case("a link within the folder", "mine.toml", MINE.replace("mine.drill", "link.drill"),
         beside={"other.drill": DRILL + "  play -2\n"}, links={"link.drill": "other.drill"}),
    Case("a mistake past a link", "mine.toml", MINE.replace("mine.drill", "link.drill"),
         "link.drill:2", beside={"other.drill": DRILL + "  play -5'\n"},
         links={"link.drill": "other.drill"}),
    Case("a link out of it", "mine.toml", MINE.replace("mine.drill", "link.drill"), "8",
         links={"link.drill": "/etc/hostname"}),
    Case("a link to nothing", "mine.toml", MINE.replace("mine.drill", "link.drill"), "8",
         links={"link.drill": "none.drill"}),
    Case("a text past a link out", "mine.toml", COURSE + 'text_file = "link.md"\n', "6",
         links={"link.md": "/etc/hostname"}),
)  # fmt: skip

CASES = (*DRILLS, *BANDS, *COURSES)


def near(span: Span) -> tuple[str, int]:
    """The file and line of *span*, without the folder it is in."""
    return span.file.rpartition("/")[2], span.line
