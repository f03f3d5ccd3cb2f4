"""The table of every mistake a pattern can make.

A row holds what is said of the mistake, a pattern that makes it, and what to write
instead.  The messages, their tests and the page of common mistakes are made from it.
Templates are filled by ``str.format``; what fills them may be a stranger's text and is
never read as a template itself.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from reedmill.base.errors import PatternError
from reedmill.base.reading import NOT_UTF8
from reedmill.base.remedies import Remedy
from reedmill.base.source import Span
from reedmill.base.text import printable
from reedmill.harp import RICHTER, Layout
from reedmill.language.words import (
    MAX_DRILLS,
    MAX_LENGTH_BEATS,
    MAX_NESTING,
    MAX_PLANS,
    MAX_REPEATS,
    MAX_RUNGS,
    MAX_TITLE,
    ROLES,
    STYLES,
    TOPICS,
)


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake of a pattern: its message, and an example."""

    key: str
    label: str  # in players' words; a line of a list
    fact: str  # what is wrong, with the value received
    remedy: str  # why, and what to write instead
    broken: str  # a pattern that makes this mistake and no other before it
    cure: tuple[str, str]  # what to replace in it, and by what
    encoding: str = "utf-8"  # in which the pattern was saved
    layout: Layout = RICHTER  # of the harp that shows the mistake
    way_out: Remedy | None = None  # which no pattern can say

    @property
    def mended(self) -> str:
        """The example pattern corrected."""
        return self.broken.replace(*self.cure, 1)


def _play(music: str) -> str:
    return f'drill "Home"\n  play {music}\n'


def _tune(music: str) -> str:
    return f'drill "Home"\n  tune {music}\n'


def _ladder(**changed: str) -> str:
    """Return a drill with rungs and *changed* lines; an empty one is left out."""
    lines = {"anchor": "-2", "rungs": "-3 -3'", "phrase": "anchor rung"} | changed
    return 'drill "Home"\n' + "".join(f"  {word} {rest}\n" for word, rest in lines.items() if rest)


def _every_word() -> str:
    """Return the words lines start with, a topic to a line."""
    widest = max(map(len, TOPICS))
    return "\n".join(
        f"    {topic:{widest}}  {' '.join(word.name for word in words)}"
        for topic, words in TOPICS.items()
    )


_TAKES = "The {word} line takes {takes}: {example}"
_START = 'Start with a line such as: drill "Home from every rung"'
_AS_THE_HARP_SAYS = ("{fact}", "{remedy}")
# Two notes a whole tone apart in every hole, octaves from hole to hole: few keys have a root.
_NARROW = Layout(
    printable("narrow"),
    blow=(0, 0, 12, 12, 12, 24, 24, 24, 36, 36),
    draw=(2, 2, 14, 14, 14, 26, 26, 26, 38, 38),
)

CHAPTERS = {
    "Quotes and brackets": (
        Mistake(
            "unclosed-quote",
            "a quote that is never closed",
            "this quote is never closed",
            'Put a " at the end of the text, on this line.',
            _play("-2").replace('Home"', "Home"),
            ("Home", 'Home"'),
        ),
        Mistake(
            "curly-quote",
            "curly quotes",
            "this is a curly quote: {quote}",
            'Write straight quotes, such as drill "Home from every rung".',
            _play("-2").replace('"Home"', "\u201cHome\u201d"),
            ("\u201cHome\u201d", '"Home"'),
        ),
        Mistake(
            "unclosed-bracket",
            "a bracket that is never closed",
            "this bracket is never closed",
            "Put a ) after the notes that belong together.",
            _play("(-2 -3"),
            ("-3", "-3)"),
        ),
        Mistake(
            "unopened-bracket",
            "a bracket that was never opened",
            "this bracket was never opened",
            "Put a ( before the notes that belong together.",
            _play("-2 -3)x2"),
            ("-2", "(-2"),
        ),
        Mistake(
            "brackets-too-deep",
            "brackets inside brackets inside brackets",
            "brackets stand inside brackets more than {most} deep here",
            "Write the music out, or take a pair of brackets away.",
            _play("(" * (MAX_NESTING + 3) + "-2" + ")" * (MAX_NESTING + 3)),
            ("(" * (MAX_NESTING + 3) + "-2" + ")" * (MAX_NESTING + 3), "(-2)"),
        ),
    ),
    "Lines": (
        Mistake(
            "mistyped-line",
            "a line that starts with a mistyped word",
            'no line of a drill starts with "{word:.40}". Did you mean "{near}"?',
            "Write for example: {example}",
            _ladder().replace("phrase", "phrse"),
            ("phrse", "phrase"),
        ),
        Mistake(
            "unknown-line",
            "a line that starts with a word of no meaning",
            'no line of a drill starts with "{word:.40}".',
            "A line starts with one of these words, or with # for a comment:\n" + _every_word(),
            _ladder() + "  jump -3\n",
            ("  jump -3", "  # and now jump to -3"),
        ),
        Mistake(
            "line-too-short",
            "a line that stops too early",
            "this {word} line stops too early",
            _TAKES,
            _play("-2").replace(' "Home"', ""),
            ("drill", 'drill "Home"'),
        ),
        Mistake(
            "does-not-fit",
            "a word or sign where it has no meaning",
            '"{found:.40}" does not fit here',
            _TAKES,
            _play("-2").replace("  play", "  tempo fast\n  play"),
            ("fast", "132"),
        ),
        Mistake(
            "invisible-character",
            "a character that cannot be seen",
            "the invisible character U+{code:04X} does not belong here",
            _TAKES,
            _play("-2 \0 -3"),
            (" \0", ""),
        ),
        Mistake(
            "line-before-drill",
            "a line before any drill",
            "this {word} line stands before any drill",
            _START,
            "tempo 60\n" + _play("-2"),
            ('tempo 60\ndrill "Home"', 'drill "Home"\n  tempo 60'),
        ),
        Mistake(
            "second-line",
            "the same line twice",
            "this {where} has a second {word} line",
            "Keep one of them. (Only play and tune may go on over several lines.)",
            _play("-2").replace("  play", "  tempo 60\n  tempo 70\n  play"),
            ("  tempo 60\n", ""),
        ),
        Mistake(
            "line-inside-section",
            "a line for the whole drill below a section line",
            "this {word} line stands inside a section",
            "Put it above the first section line: {word} holds for the whole drill.",
            'drill "Home"\n  section "Low"\n  tempo 60\n  play -2\n',
            ('  section "Low"\n  tempo 60\n', '  tempo 60\n  section "Low"\n'),
        ),
        Mistake(
            "unknown-choice",
            "a word the line does not know",
            '"{word:.40}" is not {what}.{hint}',
            "Write {choices}.",
            _play("-2").replace("  play", "  feel shufle\n  play"),
            ("shufle", "shuffle"),
        ),
        Mistake(
            "number-out-of-range",
            "a number that is too high or too low",
            "{word} {number:.12} is out of range",
            "Write a whole number from {least} to {most}.",
            _play("-2").replace("  play", "  tempo 900\n  play"),
            ("900", "90"),
        ),
        Mistake(
            "no-such-position",
            "a position nobody plays in",
            'there is no position "{word:.40}".{hint}',
            "Write numbers from 1 to 12, or words for them: positions 1st, cross, 3",
            _play("-2").replace("  play", "  positions corss\n  play"),
            ("corss", "cross"),
        ),
        Mistake(
            "no-such-place",
            "a place that no form has",
            '"{word:.40}" is not a chord of a form.{hint}',
            "Write a Roman numeral, lower case for a minor chord, or turnaround or ending: "
            "over I, IV",
            _play("-2:4 | -2:4").replace("  play", "  over I, C7\n  play"),
            ("C7", "IV"),
        ),
        Mistake(
            "not-two-bars",
            "a phrase over a chord that is not two bars long",
            '"{title}" {is_what}, and a phrase over a form has two whole bars',
            "Write two bars, or leave out the over line.",
            _play("-2:4 | -1:4 | -2:4").replace("  play", "  over I\n  play"),
            ("-2:4 | -1:4 | -2:4", "-1:4 | -2:4"),
        ),
        Mistake(
            "text-too-long",
            "a title of ten thousand characters",
            "this {what} has {count:,} characters; the most is {most}",
            "Shorten it. Longer thoughts fit in a comment, after a # sign.",
            _play("-2").replace("Home", "x" * 10_000),
            ("x" * (10_000 - MAX_TITLE), ""),
        ),
        Mistake(
            "empty-title",
            "a title without a letter in it",
            "this title is empty",
            'Give the drill a name, such as: drill "Home from every rung"',
            _play("-2").replace("Home", " "),
            ('" "', '"Home"'),
        ),
        Mistake(
            "empty-section",
            "a section without a letter in its name",
            "this section has no name",
            'Name it, such as: section "Long tones"',
            'drill "Home"\n  section ""\n  play -2\n',
            ('""', '"Long tones"'),
        ),
    ),
    "Reeds and notes": (
        Mistake(
            "no-such-hole",
            "a hole the harp does not have",
            "there is no hole {hole}",
            "A harp has holes 1 to 10: -3 is draw 3, 3 is blow 3, "
            "and -2&3 is draw 2 and 3 at once.",
            _play("-2 -11"),
            ("-11", "-1"),
        ),
        Mistake(
            "bend-too-deep",
            "a bend deeper than the reeds allow",
            *_AS_THE_HARP_SAYS,
            _ladder(rungs="-3 -3''''"),
            ("-3''''", "-3'''"),
        ),
        Mistake(
            "no-note-to-bend-to",
            "a bend where the reeds are neighbours",
            *_AS_THE_HARP_SAYS,
            _ladder(rungs="-4 -4' -5'"),
            ("-5'", "-5"),
        ),
        Mistake(
            "bend-of-the-other-reed",
            "a bend of the reed that does not bend",
            *_AS_THE_HARP_SAYS,
            _play("3'"),
            ("3'", "-3'"),
        ),
        Mistake(
            "no-overbend",
            "an overblow nobody plays",
            *_AS_THE_HARP_SAYS,
            _play("2^"),
            ("2^", "-3'"),
        ),
        Mistake(
            "unknown-note",
            "a word that is not a note",
            '"{word:.40}" is not a note.{hint}',
            f"Write a reed such as -3', r for a rest, or one of {', '.join(ROLES)}. "
            f"Before them may stand {', '.join(STYLES)}.",
            _ladder(phrase="anchor rnug"),
            ("rnug", "rung"),
        ),
        Mistake(
            "tab-of-another-kind",
            "tab in another way of writing",
            '"{word:.20}" is another way of writing tab',
            "{ours}\n  A hole alone is a blow, - before it a draw, each ' after it bends a "
            "semitone and ^ is an overbend.",
            _play("-3bb"),
            ("-3bb", "-3''"),
        ),
        Mistake(
            "hole-in-brackets",
            "a hole alone in brackets",
            "brackets do not say draw or blow here",
            "Write -{hole} for draw {hole}, {hole} for blow {hole}. Brackets hold what is "
            "repeated: (-2 -3)x4",
            _play("4 (4)"),
            ("(4)", "-4"),
        ),
        Mistake(
            "breath-in-words",
            "draw or blow written out",
            '"{word}" is said with a sign here: -3 is draw 3, 3 is blow 3',
            "Write the hole alone, with a minus sign for a draw.",
            _play("3 draw"),
            ("3 draw", "-3"),
        ),
        Mistake(
            "rest-in-words",
            "a rest written out",
            '"{word}" is written r here',
            "Write r for one usual length of silence, r:2 for two beats.",
            _play("-3 rest -2"),
            ("rest", "r"),
        ),
        Mistake(
            "note-name",
            "the name of a note",
            '"{word:.20}" is the name of a note, and drills are written in holes',
            "The same drill then fits every harp. On a C harp C is blow 1, written 1, and D is "
            "draw 1, written -1.",
            _play("C G"),
            ("C G", "1 3"),
            way_out=Remedy.NOTES_OF_HARP,
        ),
        Mistake(
            "comma-between-notes",
            "commas between notes",
            "notes need no commas",
            "Put spaces between them: play -2 -3' -2:2",
            _play("-2, -3"),
            (",", ""),
        ),
        Mistake(
            "section-of-printed-tab",
            "the name of a section in printed tab",
            '"{name:.40}" names a section of printed tab, and music has no names in it',
            'Leave the name out, or give the section a line: section "{name:.40}" and play below '
            "it.",
            'drill "Home"\n  play\n    Low: -2 -3 |\n',
            ("Low: ", ""),
        ),
        Mistake(
            "nothing-to-hold",
            "a note that goes on before there is one",
            "there is no note before this _ to go on with",
            "In tab as it is printed _ holds the note before it. Write . for a rest.",
            _play("_ -2"),
            ("_", "."),
        ),
        Mistake(
            "slide-between-reeds",
            "a slide from one hole to another",
            "no slide leads from {here} to {there}",
            "A slide stays in one hole and one breath, such as -3~-3'. "
            "Leave the ~ out for a new attack.",
            _play("-2~-3'"),
            ("~", " "),
        ),
        Mistake(
            "slide-into-rest",
            "a slide into a rest",
            "a rest cannot be slid into",
            "Put ~ between two notes of one reed, such as -3~-3'.",
            _play("-3~r"),
            ("~r", " r"),
        ),
        Mistake(
            "accent-on-rest",
            "an accent on a rest",
            "a rest cannot be accented",
            "Put ! after a note, such as -3!.",
            _play("-3 r!"),
            ("r!", "r"),
        ),
        Mistake(
            "accent-on-slide",
            "an accent on a note after a ~",
            "an accent needs a new attack, and a note after ~ has none",
            "Accent the note before the ~, such as -3!~-3', or leave the ~ out.",
            _play("-3~-3'!"),
            ("-3~-3'!", "-3!~-3'"),
        ),
        Mistake(
            "accent-after-length",
            "an accent after the length of a note",
            "this ! comes after the length",
            "The accent comes first, then the length: -3!:1/2",
            _play("-3:1/2! -2"),
            (":1/2!", "!:1/2"),
        ),
        Mistake(
            "bar-inside-slide",
            "a bar line inside a slide",
            "this | stands between a ~ and the note it slides to",
            "Put the ~ straight before that note: -3:4 | ~:1 -3':4",
            _play("-3:4~:1 | -3':4"),
            ("~:1 | -3'", " | ~:1 -3'"),
        ),
        Mistake(
            "slide-from-nowhere",
            "a slide with no note before it",
            "there is no note to slide from here",
            "Put ~ straight between two notes of one reed, such as -3~-3'.",
            _play("-3 r ~-3'"),
            ("r ~-3'", "~-3' r"),
        ),
    ),
    "Several holes at once": (
        Mistake(
            "holes-run-together",
            "reeds without a space between",
            "there is no space between the reeds of {word:.40}",
            "Write {ways}.",
            _play("-2-3 -2"),
            ("-2-3", "-2&3"),
        ),
        Mistake(
            "and-without-holes",
            "an & without a hole on both sides",
            "this & does not stand between two holes",
            "Write the holes of one breath with & between, and no words: -2&3. "
            "On a tune line write degrees: 1&5",
            _play("-2& r"),
            ("& r", "&3 r"),
        ),
        Mistake(
            "several-in-a-run",
            "a run of several holes",
            '"all of" and "bends of" go down one hole, not several',
            "Write several holes out, rung by rung: rungs -2&3 -2'&3'",
            _ladder(rungs="all of -2&3"),
            ("all of -2&3", "-2&3 -2'&3'"),
        ),
        Mistake(
            "two-breaths",
            "blow and draw at once",
            "{tab} cannot be played at once: one breath blows or draws",
            "Write holes of one breath. The sign of the first is for all of them: "
            "-2&3 is draw 2 and 3, 2&3 is blow 2 and 3.",
            _play("-2&+3"),
            ("-2&+3", "-2&3"),
        ),
        Mistake(
            "hole-twice",
            "one hole twice at once",
            "hole {hole} is written twice here",
            "One hole gives one note at a time. Write each hole once: -2&3",
            _play("-2&2'"),
            ("&2'", "&3"),
        ),
        Mistake(
            "holes-too-far-apart",
            "holes that one mouth does not cover",
            "holes {low} and {high} are too far apart for one mouth",
            "A mouth covers {most} holes at the most, such as -1&5.",
            _play("-1&6"),
            ("&6", "&5"),
        ),
        Mistake(
            "two-gaps",
            "two gaps for one tongue",
            "{tab} leaves out holes in two places, and the tongue covers only one",
            "Leave out holes that lie side by side, such as -1&4 or -1&2&5.",
            _play("-1&3&5"),
            ("&3", "&2"),
        ),
        Mistake(
            "bend-among-holes",
            "a bend in a chord or a split",
            "{tab} cannot be bent",
            "Only two holes side by side bend together. Write natural notes, such as -2&3&4.",
            _play("-2'&3&4"),
            ("2'", "2"),
        ),
        Mistake(
            "two-bent-too-far",
            "two holes that are bent too far together",
            "{tab} bends too far: two holes together bend a semitone at the most",
            "Write at most one tick for each hole: -2'&3'",
            _play("-2''&3'"),
            ("2''", "2'"),
        ),
        Mistake(
            "overbend-among-holes",
            "an overbend with another hole",
            "{tab} cannot be played: an overbend needs one hole alone",
            "Write it alone, or natural notes at once, such as 5&6.",
            _play("5&6^"),
            ("6^", "6"),
        ),
        Mistake(
            "degree-twice",
            "one note twice at once",
            "{degrees:.40} has the same note twice",
            "Write each degree once. A + after a degree is an octave up: 1&1+",
            _tune("1 1&1"),
            ("&1", "&1+"),
        ),
        Mistake(
            "no-breath-for-degrees",
            "degrees that no one breath gives at once",
            "no one breath gives {degrees} at once in {where}",
            "Write degrees that one breath gives within five neighbouring holes, "
            "with any gap between them in one place.",
            _tune("1 1&2"),
            ("1&2", "1&3"),
        ),
        Mistake(
            "nothing-held",
            "a ~ between holes of which none goes on",
            "no hole goes on from {here} to {there}",
            "A ~ to other holes needs one that sounds on, in the same breath: -4~-1&2&3&4. "
            "Leave the ~ out for a new attack.",
            _play("-2~-3&4"),
            ("~", " "),
        ),
        Mistake(
            "lift-moves-hole",
            "a ~ to other holes that bends one of both",
            "hole {hole} cannot go on from {here} to {there}: its bend changes",
            "A hole that sounds on while others join it or leave it stays as it is: "
            "-3~-3'~-2&3'. Leave the ~ out for a new attack.",
            _play("-3~-2&3'"),
            ("-3~", "-3~-3'~"),
        ),
        Mistake(
            "length-on-lift",
            "a ~ with a length to other holes",
            "this ~ has a length, and nothing slides on the way to {there}",
            "Others join the hole that sounds on, or leave it, all at once. "
            "Write ~ alone: -4~-1&2&3&4",
            _play("-4~:1 -1&2&3&4"),
            ("~:1 ", "~"),
        ),
        Mistake(
            "nothing-held-in-tune",
            "a ~ between degrees of which none goes on",
            "no hole goes on between these degrees",
            "Leave the ~ out for a new attack, or keep one degree, such as 5~1&5 in cross harp.",
            _tune("1~5&b7"),
            ("~", " "),
        ),
    ),
    "Marks of style": (
        Mistake(
            "mark-without-note",
            "a mark of style without a note after it",
            "{mark} stands before no note here",
            "The word comes before its note, and length and accent after the note: {mark} -4!:2",
            _play("-4 slap"),
            ("-4 slap", "slap -4"),
        ),
        Mistake(
            "mark-on-rest",
            "a mark of style on a rest",
            "a rest has no {mark}",
            "Put the word before a note, such as {mark} -4:2.",
            _play("-3 vibrato r"),
            ("vibrato r", "r"),
        ),
        Mistake(
            "mark-twice",
            "a mark of style twice",
            "{mark} is written twice for one note",
            "Write it once.",
            _play("slap slap -2"),
            ("slap slap", "slap"),
        ),
        Mistake(
            "mark-on-slide",
            "a slap or a scoop on a note after a ~",
            "{mark} needs a new attack, and a note after ~ has none",
            "Put it before the first note of that breath, or leave the ~ out.",
            _play("-3~slap -3'"),
            ("-3~slap", "slap -3~"),
        ),
        Mistake(
            "shake-after-lift",
            "a shake that another hole goes on into",
            "a shake begins with one of its holes alone, so that none goes on into it",
            "Leave the ~ out for a new attack, or the word shake.",
            _play("-4~shake -4&5"),
            ("~", " "),
        ),
        Mistake(
            "slide-after-end",
            "a ~ after a note that ends some other way",
            "{mark} shapes the end of this note, so that no ~ can follow it",
            "Leave the ~ after it out, or put {mark} on the last note of that breath.",
            _play("fall -3~-3'"),
            ("fall -3~-3'", "-3~fall -3'"),
        ),
        Mistake(
            "slide-outlasts-note",
            "a slide that is longer than its note",
            "this slide takes {slide}, and the note it comes to lasts only {length}",
            "The time of a slide is part of that note: -3~:1 -3'':2 slides for a beat and "
            "stays for another.",
            _play("-3~:2 -3'':1"),
            ("'':1", "'':3"),
        ),
        Mistake(
            "count-out-of-range",
            "a vibrato or a shake with a count nobody can play",
            "{word:.20} cannot be played",
            "After {mark} comes how often it goes to and fro in a beat, 1 to {most}: {mark}4",
            _play("vibrato99 -4:2"),
            ("vibrato99", "vibrato4"),
        ),
        Mistake(
            "vibrato-and-shake",
            "a vibrato and a shake at once",
            "one note has a vibrato or a shake, not both",
            "Leave one of the two words out.",
            _play("vibrato shake -4&5:2"),
            ("vibrato shake", "shake"),
        ),
        Mistake(
            "shake-of-two-holes",
            "a shake without two neighbouring holes",
            "{tab} cannot be shaken: a shake goes to and fro between two neighbouring holes",
            "Write both of them: shake -4&5",
            _play("shake -4:2"),
            ("-4", "-4&5"),
        ),
        Mistake(
            "nothing-below",
            "a scoop or a fall without a bend",
            "{reed} has no bend below it for a {mark}",
            "Write {mark} before a note that can be bent further, such as {mark} -4.",
            _play("scoop 4 -4"),
            ("scoop 4", "scoop -4"),
        ),
        Mistake(
            "scoop-of-overbend",
            "a scoop or a fall of an overbend",
            "{tab} takes no {mark}: an overbend goes up, and nothing lies below it",
            "Leave {mark} out, or write it before a draw bend such as {mark} -4'.",
            _play("-4 scoop 6^ -6"),
            ("scoop 6^", "6^"),
        ),
        Mistake(
            "scoop-of-several",
            "a scoop or a fall of several holes",
            "{tab} takes no {mark}: it is done with the bend of one hole",
            "Write {mark} before a single note, such as {mark} -4.",
            _play("fall -4&5"),
            ("-4&5", "-4"),
        ),
        Mistake(
            "slap-of-chord",
            "a slap or a pull of a chord",
            "{tab} takes no {mark}: the tongue has nothing to cover",
            "Write it before one hole or a split, such as {mark} -4 or {mark} -1&4.",
            _play("slap -1&2&3"),
            ("-1&2&3", "-3"),
        ),
    ),
    "Lengths, bars and repeats": (
        Mistake(
            "missing-length",
            "a colon with no length after it",
            "there is no length after this :",
            "Write beats: -3:2 for two, -3:1/2 for half of one.",
            _play("-2:x"),
            (":x", ":2"),
        ),
        Mistake(
            "number-too-long",
            "a number with too many digits",
            "this number has {digits:,} digits; at most {most} are read",
            "Write it without zeros in front. No number of a drill needs more than three digits.",
            _play("-2x000000000004"),
            ("x000000000004", "x4"),
        ),
        Mistake(
            "unplayable-length",
            "a note that lasts no time, or far too long",
            "a length of {length:.20} beats cannot be played",
            f"A note lasts more than 0 and at most {MAX_LENGTH_BEATS} beats.",
            _play("-2:0"),
            (":0", ":1/2"),
        ),
        Mistake(
            "uncountable-length",
            "a length nobody can count",
            "a length of {length:.20} cannot be counted",
            "Lengths are beats and halves, thirds, quarters, sixths or eighths of a beat: "
            ":2, :1/2, :3/2.",
            _play("-2:1/5"),
            (":1/5", ":1/4"),
        ),
        Mistake(
            "triplet-not-of-threes",
            "a triplet of two or four notes",
            "a triplet plays three notes in the time of two; these are {count}",
            "Write three of them: triplet(-2 -3 -4). Or make one twice as long: triplet(-2:2 -3).",
            _play("triplet(-2 -3) -2 -2"),
            ("-2 -3", "-2 -3 -2"),
        ),
        Mistake(
            "too-many-dots",
            "a length with three dots",
            "a length of {length:.20} has too many dots",
            "One dot adds half, two add three quarters: :1. is :3/2, :1.. is :7/4.",
            _play("-2:1..."),
            ("...", ".."),
        ),
        Mistake(
            "no-such-meter",
            "a meter that does not exist",
            "there is no meter {meter:.20}",
            "The first number is 1 to 16, the second 2, 4 or 8: meter 4/4, meter 12/8.",
            _play("-2").replace("  play", "  meter 4/5\n  play"),
            ("4/5", "5/4"),
        ),
        Mistake(
            "decimal-length",
            "a length with a decimal point",
            "a length of {length:.20} is a decimal",
            "Lengths are whole beats and fractions: :1/2 for 0.5, :3/2 for 1.5.",
            _play("-2:0.5"),
            ("0.5", "1/2"),
        ),
        Mistake(
            "bar-does-not-add-up",
            "a bar that does not add up",
            "this bar has {beats}, but {meter} has {full}",
            "Lengthen or shorten a note before this |, or move the sign. Printed tab has no "
            "lengths to count: put it below the word play, on lines of its own.",
            _play("-2 -2 -2 | -2"),
            ("-2 |", "-2:2 |"),
        ),
        Mistake(
            "pickup-does-not-add-up",
            "a pick-up that does not add up",
            "the pick-up before this bar line has {beats}, but the pickup line says {said}",
            "Change one of the two, so that the first whole bar starts after this |.",
            'drill "Home"\n  pickup 1\n  play -2 -2 | -3:4 |\n',
            ("pickup 1", "pickup 2"),
        ),
        Mistake(
            "pickup-too-long",
            "a pick-up of a whole bar",
            "a pick-up of {beats} beats is a whole bar of {meter} or more",
            "A pick-up is shorter than a bar: less than {full}.",
            _play("-2").replace("  play", "  pickup 4\n  play"),
            ("pickup 4", "pickup 1"),
        ),
        Mistake(
            "repeats-out-of-range",
            "no repeats at all, or far too many",
            "{times:.12} asks for too many or too few repeats",
            f"Repeat between 1 and {MAX_REPEATS} times, such as (-2 -3)x4.",
            _play("(-2)x0"),
            ("x0", "x2"),
        ),
        Mistake(
            "ending-out-of-order",
            "endings in another order than they are played",
            "the {ordinal} ending stands in place {place}",
            "Endings come in order: (-2 -3) 1st (-4) 2nd (-2).",
            _play("(-2 -3) 2nd (-4) 1st (-2)"),
            ("2nd (-4) 1st (-2)", "1st (-2) 2nd (-4)"),
        ),
        Mistake(
            "too-many-notes",
            "a million notes",
            "this drill would have {count:,} notes; the most is {most:,}",
            "Repeat less often: a page holds some two hundred notes.",
            _play("((-2 -3)x100 (-2 -3)x100)x100 (((-2)x100)x100)x100"),
            ("((-2 -3)x100 (-2 -3)x100)x100 (((-2)x100)x100)x100", "(-2 -3)x100"),
        ),
        Mistake(
            "too-many-bars",
            "hours of music in one drill",
            "with this note or rest the drill has more than {most:,} bars",
            "Repeat less often, or write shorter rests and notes.",
            _play("(-2:64)x100"),
            ("x100", "x2"),
            way_out=Remedy.REPEAT_RECORDING,
        ),
        Mistake(
            "too-many-notes-in-a-file",
            "a small file with a huge number of notes",
            "with this drill the file would have more than {most:,} notes",
            "Repeat less often, or split the file: a page holds some two hundred notes.",
            "".join(f'drill "Home {n}"\n  play ((-2)x100)x18\n' for n in range(1, 7)),
            ("x18", "x2"),
        ),
    ),
    "Anchor, rungs and phrase": (
        Mistake(
            "nothing-to-play",
            "a drill with nothing to play",
            '"{title}"{section} has nothing to play',
            "Add a line of music, such as: play -2 -3' -2:2",
            'drill "Home"\n',
            ('"Home"\n', '"Home"\n  play -2 -3\n'),
        ),
        Mistake(
            "rungs-without-phrase",
            "rungs without a phrase",
            '"{title}"{section} has rungs but no phrase',
            "Add a line such as: phrase anchor rung",
            _ladder(phrase=""),
            ("-3 -3'\n", "-3 -3'\n  phrase anchor rung\n"),
        ),
        Mistake(
            "phrase-without-rungs",
            "a phrase without rungs",
            '"{title}" has a phrase but no rungs to play it for',
            "Add a line such as: rungs -3 -3' -3'' (music without rungs starts with play).",
            _ladder(rungs=""),
            ("  phrase", "  rungs -3 -3'\n  phrase"),
        ),
        Mistake(
            "two-kinds-of-music",
            "a phrase and music at once",
            '"{title}" has both a {one} and a {other} line',
            "Keep one of them, or put a section line between.",
            _ladder(play="-2"),
            ("  play", '  section "Riff"\n  play'),
        ),
        Mistake(
            "anchor-not-named",
            "an anchor that is never named",
            '"{title}" uses its anchor but does not say which reed it is',
            "Add a line such as: anchor -2",
            _ladder(anchor=""),
            ("  phrase", "  anchor -2\n  phrase"),
        ),
        Mistake(
            "too-many-rungs",
            "hundreds of rungs",
            "this line names {count:,} rungs; the most is {most}",
            "A harp has about forty notes: name those the drill is about, and play them more than "
            "once with order down, up.",
            _ladder(rungs="-3 -3' " * (MAX_RUNGS // 2 + 1)),
            ("-3 -3' " * (MAX_RUNGS // 2 + 1), "-3 -3'"),
        ),
        Mistake(
            "too-many-plans",
            "more plans for the mouth than there are",
            "this line has {count:,} plans for the mouth; the most is {most}",
            "Each plan makes a version of the drill, and there are {most} different ones: write "
            "each once.",
            _play("-2").replace("  play", f"  embouchure lips{' or lips' * MAX_PLANS}\n  play"),
            (" or lips" * MAX_PLANS, ""),
        ),
        Mistake(
            "unknown-anchor",
            "an anchor that is not a reed",
            '"{word:.40}" is not an anchor.{hint}',
            "Write a reed such as -2, or root for the root of the position.",
            _ladder(anchor="home"),
            ("home", "root"),
        ),
        Mistake(
            "no-root",
            "a root the harp does not have",
            "this harp has no root in {position} without an overbend",
            "Name a reed instead, such as: anchor -2",
            _ladder(anchor="root", rungs="-2 -2'"),
            ("root", "-1"),
            layout=_NARROW,
        ),
        Mistake(
            "unknown-order",
            "an order that does not exist",
            '"{word:.40}" is not an order of rungs.{hint}',
            "Write one or more of {choices}: order down, up.",
            _ladder(order="sideways"),
            ("sideways", "down, up"),
        ),
        Mistake(
            "rung-outside-phrase",
            "a rung outside the phrase",
            '"{word}" has a meaning only in the phrase, where each rung has its turn',
            "Write first or last for the ends of the rungs line, or the reed itself.",
            _ladder(ending="rung"),
            ("ending rung", "ending last"),
        ),
        Mistake(
            "rung-without-rungs",
            "a rung where there are none",
            '"{word}" is a rung, but "{title}" has no rungs line',
            "Write the reed itself, such as -3', or add a line such as: rungs -3 -3' -3''",
            _play("first"),
            ("first", "-3'"),
        ),
        Mistake(
            "run-from-a-bend",
            "a run that starts from a bent note",
            '"{how} of" starts from a natural note, and {reed} is not one',
            "Write {how} of {natural}.",
            _ladder(rungs="all of -3'"),
            ("-3'", "-3"),
        ),
        Mistake(
            "run-into-another-hole",
            "a run that ends in another hole",
            "{floor} is not on the way down from {reed}",
            "A run stays in one hole: {how} of {reed} down to {reed}''.",
            _ladder(rungs="all of -3 down to -4'"),
            ("-4'", "-3''"),
        ),
        Mistake(
            "no-bends",
            "the bends of a hole without any",
            "{reed} has no bends on this harp",
            "Write {natural} for the natural note, or choose another hole.",
            _ladder(rungs="bends of -5"),
            ("-5", "-4"),
        ),
        Mistake(
            "bends-above-themselves",
            "the bends of a reed down to the reed itself",
            "{reed} has no bends above itself",
            "Write {natural} for the natural note, or bends of {natural}.",
            _ladder(rungs="bends of -3 down to -3"),
            (" down to -3", " down to -3'"),
        ),
    ),
    "Tunes": (
        Mistake(
            "no-such-degree",
            "a degree that does not exist",
            '"{degree:.20}" is not a degree',
            "Degrees are 1 to 7 with b or # before them, + after them for an octave up, "
            "- for one down: b3, 5-, 1+.",
            _tune("1 3 5 15"),
            ("15", "1+"),
        ),
        Mistake(
            "degree-among-reeds",
            "a degree where reeds belong",
            "this b belongs to a degree, and the line is written in reeds",
            "Degrees belong on a tune line: tune 1 b3 4 5 b7 1+",
            _play("1 b3 4"),
            ("play", "tune"),
        ),
        Mistake(
            "unknown-degree",
            "a word that is not a degree",
            '"{word:.40}" is not a degree',
            "A tune is written in degrees with the flat or sharp before them: 1 b3 4 #4 5, "
            "and r for a rest. A remark after # needs a space: # like this.",
            _tune("1 3b 4"),
            ("3b", "b3"),
        ),
        Mistake(
            "reed-among-degrees",
            "a reed where degrees belong",
            "{reed:.20} is a reed, and a tune is written in degrees",
            "Reeds belong on a play line. On a tune line a - comes after a degree "
            "for an octave down: 5-",
            _tune("-2 -3"),
            ("tune", "play"),
        ),
        Mistake(
            "no-reed-for-degree",
            "a degree that no reed gives",
            "no reed gives {degree} here in {where}",
            "{elsewhere}",
            _tune("1 3- 1"),
            ("3-", "5-"),
        ),
        Mistake(
            "degree-needs-overbend",
            "a degree that only an overbend gives",
            "no reed gives {degree} here in {where}",
            "{elsewhere} Only an overbend gives it: the line allow overbends permits that.",
            _tune("1 b3+ 1"),
            ("  tune", "  allow overbends\n  tune"),
        ),
        Mistake(
            "octave-without-tune",
            "an octave line where there is no tune",
            'the octave line says where a tune lies, and "{title}" has no tune',
            "Leave the line out: reeds are where they are. Or write the music as degrees, on a "
            "tune line.",
            'drill "Home"\n  octave low\n  play -2\n',
            ("  octave low\n", ""),
        ),
        Mistake(
            "no-slide-between-degrees",
            "a slide between degrees of two holes",
            "no reed can slide between these degrees",
            "Leave the ~ out for a new attack, or slide within a bend, such as b3~3 in cross harp.",
            _tune("1~2"),
            ("~", " "),
        ),
    ),
    "Drills made from drills": (
        Mistake(
            "unknown-parent",
            "a drill made from one that is not there",
            'there is no drill called "{title}".{hint}',
            "Name a drill of this file or of the library, exactly as its title is written.",
            _play("-2") + 'drill "Home again"\n  from "Hume"\n',
            ("Hume", "Home"),
        ),
        Mistake(
            "circle",
            "drills made from each other",
            '"{title}" is made from itself, in a circle',
            "One drill of the circle must stand on its own, without a from line.",
            'drill "A"\n  from "B"\ndrill "B"\n  from "A"\n',
            ('from "B"', "play -2"),
        ),
        Mistake(
            "one-title-twice",
            "one title for two drills",
            'there are two drills called "{title}" in this file',
            "Give one of them another title.",
            _play("-2") + _play("-3"),
            ("Home", "Home on two"),
        ),
        Mistake(
            "nothing-to-move",
            "a move without a drill to move",
            "there is nothing to move: this drill has no from line",
            'Add one, such as: from "Home from every rung"; its reeds are then moved.',
            _play("-2").replace("  play", "  move up 1\n  play"),
            ("  move up 1\n", ""),
        ),
        Mistake(
            "moved-off-the-harp",
            "a move past the end of the harp",
            "moving {reed} by {holes} leaves the harp: there is no hole {hole}",
            "Move fewer holes, or write the lines of this drill out.",
            _play("-9") + 'drill "Home higher up"\n  from "Home"\n  move up 2\n',
            ("up 2", "up 1"),
        ),
        Mistake(
            "moved-to-no-note",
            "a move to a note the harp does not have",
            "moving {reed:.40} by {holes:+d} leads to a note that is not there: {fact}",
            "{reed:.40} stands in line {line} of {file}.\n  {remedy}\n"
            "  Move by other holes, or write the lines of this drill out.",
            _play("-4'") + 'drill "Home higher up"\n  from "Home"\n  move up 1\n',
            ("up 1", "up 2"),
        ),
        Mistake(
            "does-not-go-with-from",
            "a line that does not go with what from takes over",
            "what this drill takes over does not go with its own lines: {fact}",
            "That is in line {line} of {file}.\n  {remedy}",
            _play("-2 -3 -2 -3 | -2:4") + 'drill "Home in three"\n  from "Home"\n  meter 3/4\n',
            ("meter 3/4", "meter 4/4"),
        ),
    ),
    "Files": (
        Mistake(
            "no-drill",
            "a file without a drill",
            "there is no drill in this file",
            'Start one with a line such as: drill "Home from every rung"',
            "",
            ("", _play("-2")),
        ),
        Mistake(
            "too-many-drills",
            "more drills than a file may hold",
            "there are {count} drills in this file; the most is {most}",
            "Split it into several files.",
            "".join(
                _play("-2").replace("Home", f"Home {count}") for count in range(1, MAX_DRILLS + 2)
            ),
            (_play("-2").replace("Home", "Home 1"), ""),
        ),
        Mistake(
            "not-utf-8",
            "a file saved in an old encoding",
            *NOT_UTF8,
            _play("-2").replace("Home", "H\u00e9"),
            ("\u00e9", "ome"),
            encoding="latin-1",
        ),
    ),
}
"""The rows in the order of the page, a chapter for each kind of trouble."""

MISTAKES = {row.key: row for rows in CHAPTERS.values() for row in rows}


def drill_mistake(key: str, span: Span, /, **values: object) -> PatternError:
    """Return the error for the row *key* of the table, its templates filled with *values*.

    >>> str(drill_mistake("no-such-hole", Span("mine.drill", 2, 8), hole=11)).splitlines()[0]
    'mine.drill:2:8: there is no hole 11'
    """
    row = MISTAKES[key]
    fact, remedy = row.fact.format(**values), row.remedy.format(**values)
    return PatternError(fact, remedy, span, key=key, way_out=row.way_out)


# --- the page -------------------------------------------------------------------------

_INTRO = """\
# Common mistakes, and what to write instead

Each entry shows a pattern with one slip in it, what `reedmill check` says, and the pattern put
right. [README.md](README.md) explains the words themselves.

<!-- Made by scripts/language_pages from generator/reedmill/language/mistakes.py. -->
"""
_WIDEST, _LONGEST = 130, 8  # characters of a line and lines of a pattern that are shown


def page(said: Callable[[Mistake], str]) -> str:
    """Return the page of all mistakes in Markdown; *said* gives the message for a row's pattern."""
    parts = [_INTRO]
    for chapter, rows in CHAPTERS.items():
        parts.append(f"## {chapter}\n")
        parts += [_entry(row, said(row)) for row in rows]
    return "\n".join(parts)


def _entry(row: Mistake, message: str) -> str:
    label = row.label[0].upper() + row.label[1:]
    return (
        f"### {label}\n\n{_fenced(row.broken or '(nothing at all)', 'drill')}\n"
        f"{_fenced(message)}\nInstead:\n\n{_fenced(row.mended, 'drill')}"
    )


def _fenced(text: str, language: str = "text") -> str:
    lines = [_cut(line) for line in text.rstrip("\n").split("\n")]
    if len(lines) > _LONGEST:
        lines = [*lines[: _LONGEST - 2], "..."]
    return f"```{language}\n" + "\n".join(lines) + "\n```\n"


def _cut(line: str) -> str:
    shown = "".join(c if c.isprintable() else "\N{MIDDLE DOT}" for c in line)
    return shown if len(shown) <= _WIDEST else shown[: _WIDEST - 3] + "..."
