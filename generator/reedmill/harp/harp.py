"""One harp: a layout at a pitch, its notes, and what it cannot play."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from reedmill.base.articles import with_article
from reedmill.base.errors import InputError
from reedmill.harp import names
from reedmill.harp.habits import tab_suggestion
from reedmill.harp.layouts import HOLES, LAYOUTS, RICHTER, Layout
from reedmill.harp.names import HARP_KEYS as HARP_KEYS
from reedmill.harp.own_reeds import OwnHarp, OwnReeds
from reedmill.harp.reeds import (
    Reed,
    bend_depth,
    bending_breath,
    overbend,
    plain_reeds,
    room_below,
    sounded_semitones,
)
from reedmill.theory.degrees import Degree
from reedmill.theory.pitch import QUARTER_CENTS, Pitch, equal_hz, quarter_lower
from reedmill.theory.positions import Key, Position, spelled

# Hole 1 blow of the twelve common harps, G the lowest and F# the highest, and each
# key's place on the line of fifths.  Common practice; that the C harp starts at C4 and
# that G to B lie below it and Db to F# above is in encyclopaedia articles on the harp.
_COMMON = {
    "G": (55, 1), "Ab": (56, -4), "A": (57, 3), "Bb": (58, -2), "B": (59, 5), "C": (60, 0),
    "Db": (61, -5), "D": (62, 2), "Eb": (63, -3), "E": (64, 4), "F": (65, -1), "F#": (66, 6),
}  # fmt: skip
_REGISTERS = {"low": -12, "": 0, "high": 12}


@dataclass(frozen=True, slots=True)
class Harp:
    """A ten-hole diatonic harp: its key, layout, register and perhaps its own tuning.

    >>> harp = Harp.parse("low F")
    >>> harp.name, harp.midi(Reed.parse("1"))
    ('low F', 53)
    """

    key: str  # "C", "Bb", "F#": one of HARP_KEYS
    register: str = ""  # "", "low" (an octave under) or "high" (an octave over)
    layout: Layout = RICHTER
    own: OwnReeds | None = None  # how one player's harp is out; None: all reeds in their place

    @property
    def name(self) -> str:
        """The key with its register: ``C``, ``low F``."""
        return f"{self.register} {self.key}".strip()

    @property
    def label(self) -> str:
        """The harp in words: ``low F harp``, ``C natural minor harp``.

        Another layout than Richter is always named, because the same hole is another note.
        """
        return f"{self.full_name} harp"

    @property
    def spoken(self) -> str:
        """The harp with its article, as it is said: ``an E flat harp``, ``a low F harp``."""
        key = self.key.replace("b", " flat")
        return with_article(self.label.replace(self.key, key, 1))

    @property
    def full_name(self) -> str:
        """The name with any layout but Richter: ``low F``, ``C natural minor``."""
        words = "" if self.layout == RICHTER else f" {self.layout.words}"
        return self.name + words

    def key_in(self, position: Position) -> Key:
        """Return the key of the music in *position* on this harp, from its natural notes.

        >>> Harp("C").key_in(Position(2)).label
        'G'
        """
        return position.key(self.fifths, self.layout.naturals)

    def key_words(self, position: Position) -> str:
        """Return the key of the music in *position* as players say it.

        >>> [Harp("C").key_words(Position(number)) for number in (1, 2, 3)]
        ['C major', 'G', 'D dorian']
        """
        return f"{self.key_in(position).name} {position.mode(self.layout.naturals)}".rstrip()

    @property
    def fifths(self) -> int:
        """The key's place on the line of fifths, C at 0."""
        return _COMMON[self.key][1]

    def midi(self, reed: Reed) -> int:
        """Return the MIDI key number *reed* sounds (equal temperament, nearest key)."""
        lowest = _COMMON[self.key][0] + _REGISTERS[self.register]
        return lowest + sounded_semitones(self.layout, reed)

    def height(self, reed: Reed) -> float:
        """Return the key number of *reed*, half a semitone lower for a quarter tone.

        >>> Harp("C").height(Reed.parse("-3q"))
        70.5
        """
        return self.midi(reed) - reed.quarter / 2

    def kept(self, own: OwnHarp) -> Harp:
        """Return the same harp with the measured reeds of its player's *own*.

        ``PatternError`` when that is another harp or has another layout.
        """
        own.check_same(self.name, self.layout)
        return replace(self, own=own.reeds)

    def tuned(self, reed: Reed, hz: float) -> float:
        """Return the Hz that *reed* of this very harp gives where *hz* would be in tune."""
        return hz if self.own is None else hz * 2 ** (self.own.cents(reed) / 1200)

    def own_name(self, reed: Reed) -> Pitch:
        """Return the pitch of *reed*, spelled in the harp's own key."""
        straight = Position(1)
        key = self.key_in(straight)
        midi = self.midi(reed)
        return spelled(midi, replace(straight.degree(midi, key), quarter=reed.quarter), key)

    def reeds(self, *, overbends: bool = True) -> list[Reed]:
        """Return every way to sound a note, hole by hole: blow, draw, bends, overbend."""
        found: list[Reed] = []
        for hole in HOLES:
            found += plain_reeds(self.layout, hole)
            over = overbend(self.layout, hole) if overbends else None
            found += [over] if over else []
        return found

    def reeds_named(self, tab: str) -> list[Reed]:
        """Parse the reeds written in *tab*, words with spaces or commas between.

        Raises ``InputError`` for a word that is not tab or that this harp cannot play.
        """
        reeds = []
        for word in re.split(r"[\s,]+", tab.strip()):
            try:
                reed = Reed.parse(word)
            except ValueError:
                ours = tab_suggestion(word) or (
                    "Write -3 for draw 3, 3 for blow 3, a tick ' for each semitone of bend."
                )
                raise InputError(f'"{word:.40}" is not a reed. {ours}') from None
            refusal = self.refusal(reed)
            if refusal is not None:
                fact, remedy = refusal
                raise InputError(fact, *f"  {remedy}".split("\n"))
            reeds.append(reed)
        return reeds

    def refusal(self, reed: Reed) -> tuple[str, str] | None:
        """Return (fact, remedy) when this harp cannot play *reed*; ``None`` when it can."""
        if reed.hole not in HOLES:
            return f"there is no hole {reed.hole}", "A harp has holes 1 to 10."
        if reed.over:
            return self._no_overbend(reed)
        return self._no_bend(reed) if reed.bend or reed.quarter else None

    def _no_overbend(self, reed: Reed) -> tuple[str, str] | None:
        if reed == overbend(self.layout, reed.hole):
            return None
        holes = [each.tab for each in self.reeds() if each.over]
        return (
            f"{reed.tab} cannot be played: hole {reed.hole} has no {reed.kind.value} "
            f"on {self._of_its_kind}",
            f"Overbends that give a note of their own are: {' '.join(holes)}.",
        )

    def _no_bend(self, reed: Reed) -> tuple[str, str] | None:
        bending, depth = bending_breath(self.layout, reed.hole), bend_depth(self.layout, reed.hole)
        # a quarter tone more has to end above the next rung
        above = Reed(reed.hole, reed.breath, reed.bend)
        if reed.quarter:
            if reed.bend <= depth and room_below(self.layout, above) >= QUARTER_CENTS:
                return None
        elif reed.breath is bending and reed.bend <= depth:
            return None
        higher, lower = Reed(reed.hole, bending), Reed(reed.hole, bending.other)
        two = f"{self._said(higher)} and {self._said(lower)}"
        shades = room_below(self.layout, higher) > 0
        if depth == 0 and not (reed.quarter and shades):
            fact = (
                f"hole {reed.hole} {reed.breath.value} does not bend a semitone "
                f"on {self._of_its_kind}"
            )
            why = f"There is no note between {two}."
            instead = reed.natural
        elif reed.breath is not bending:
            fact = f"hole {reed.hole} {reed.breath.value} does not bend on {self._of_its_kind}"
            why = (
                "Only the higher reed of a hole bends down: "
                f"here {self._said(higher)}, not {self._said(lower)}."
            )
            quarter = reed.quarter and (depth == 0 or reed.bend < depth)
            instead = Reed(reed.hole, bending, min(reed.bend, depth), quarter=quarter)
        else:
            most = _semitones(depth) if depth else "a quarter tone"
            fact = f"{reed.tab} bends too far: {reed.natural.words} bends at most {most}"
            why = f"A bend stops a semitone above the hole's other reed: here {two}."
            instead = Reed(reed.hole, reed.breath, depth, quarter=depth == 0)
        return fact, f"{why}\n  Write {instead.tab} for {self._said(instead)}."

    @property
    def _of_its_kind(self) -> str:
        return with_article(f"{self.layout.words} harp")

    def _said(self, reed: Reed) -> str:
        return f"{reed.words} ({self.own_name(reed).name} on {with_article(self.label)})"

    @classmethod
    def parse(cls, text: str, layout: Layout = RICHTER) -> Harp:
        """Parse a harp's name in any case: ``C``, ``B flat``, ``low F``, ``LF``, ``Fis``.

        The name of a shipped layout may stand after the key (``C natural minor``) and goes
        before *layout*.  Raises ``InputError`` with the nearest name for anything else.
        """
        read = names.read_harp_name(text)
        if read is None:
            raise InputError(names.refusal(text))
        named = LAYOUTS.get(read.layout, layout)
        return cls(read.key, read.register, named)

    @classmethod
    def parse_list(cls, *texts: str, layout: Layout = RICHTER) -> tuple[Harp, ...]:
        """Parse harps with commas or ``and`` between; each once, in order.

        >>> [harp.name for harp in Harp.parse_list("A, low F and B flat", "A")]
        ['A', 'low F', 'Bb']
        """
        named = (name for text in texts for name in names.several(text))
        return tuple(dict.fromkeys(cls.parse(name, layout) for name in named))


def _semitones(count: int) -> str:
    return "1 semitone" if count == 1 else f"{count} semitones"


@dataclass(frozen=True, slots=True)
class HarpNote:
    """One note of a harp in one position: its reed, spelled pitch and degree."""

    reed: Reed
    pitch: Pitch
    degree: Degree

    @property
    def midi(self) -> int:
        """The MIDI key number."""
        return self.pitch.midi

    def hz(self, reference_hz: float = 440.0) -> float:
        """Return the equal-tempered frequency in Hz, A4 at *reference_hz*."""
        hz = equal_hz(self.midi, reference_hz)
        return quarter_lower(hz) if self.reed.quarter else hz


def note_on_harp(harp: Harp, position: Position, reed: Reed) -> HarpNote:
    """Return *reed* on *harp* in *position*, with its spelled pitch and its degree."""
    key: Key = harp.key_in(position)
    midi = harp.midi(reed)
    degree = replace(position.degree(midi, key), quarter=reed.quarter)
    return HarpNote(reed, spelled(midi, degree, key), degree)
