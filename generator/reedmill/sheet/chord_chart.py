"""The chord chart: a form that fills its page, and the notes of its chords on the harp.

What is drawn is placed here, page by page, in staff spaces from the top: lines of bars first,
as high as the page lets them be, then the notes of the chords, larger where there is room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from reedmill.harp import Harp
from reedmill.score.arrangement import Arrangement
from reedmill.sheet.blocks import (
    beat_sign,
    foot_of,
    harp_heading,
    harp_markup,
    on_harp,
    running_head_of,
    titled,
)
from reedmill.sheet.chart_grid import (
    WITHIN,
    ChartLine,
    chart_bars,
    chart_lines,
    largest_capital,
    least_line_height,
    line_markup,
)
from reedmill.sheet.chart_notes import HEADING, NoteRow, note_rows, row_markup
from reedmill.sheet.heads import (
    FACT_ROW,
    HeadFact,
    fact_rows,
    facts_markup,
    foot_height,
    titled_height,
)
from reedmill.sheet.look import Look
from reedmill.sheet.markup import accidental, at, lilypond_string, named, overlay, small
from reedmill.theory.pitch import with_signs
from reedmill.theory.positions import Position

THE_LAST_TIME = "the last time"

# Staff spaces, measured on finished pages and rounded up.
_RUNNING_HEAD = 5.6
_LABEL = 3.4  # of the ending's lines
_BETWEEN = 1.6  # bars and notes
_KEPT = 2  # lines of an ending that are not parted from its first
_STEP = 0.25  # in which lines grow
_GOOD_LINE_MM, _MOST_LINE_MM = 34.0, 52.0
_SCALES = (1.0, 1.1, 1.2, 1.3, 1.4, 1.5)  # of the notes
_FULL = 0.8  # of a page: what fills less is set two bars to a line

ChartBlock = ChartLine | NoteRow


@dataclass(frozen=True, slots=True)
class _Paging:
    """The blocks of a chart, divided into pages at a given line height."""

    look: Look
    lines: tuple[ChartLine, ...]
    first: float  # room on the first page, in staff spaces
    later: float  # and on the others
    notes: dict[float, list[NoteRow]]  # by how large they are drawn

    def pages(self, line: float, scale: float) -> list[list[ChartBlock]]:
        """Return the blocks of each page at line height *line*, headings kept with what follows."""
        pages: list[list[ChartBlock]] = [[]]
        room = self.first
        blocks: list[ChartBlock] = [*self.lines, *self.notes[scale]]
        for n, block in enumerate(blocks):
            head = _head_over(block, pages[-1])
            needs = _height(block, line, scale)
            if needs + head + _kept_with(blocks[n:], line) > room and pages[-1]:
                pages.append([])
                room, head = self.later, _head_over(block, [])
            room -= needs + head
            pages[-1].append(block)
        return pages

    def _scales(self) -> list[float]:
        """Return the scales at which the notes take no more lines than at the smallest."""
        heights = {scale: [row.height(1.0) for row in rows] for scale, rows in self.notes.items()}
        return [scale for scale in heights if heights[scale] == heights[min(heights)]]

    def left(self, line: float, scale: float) -> float:
        """Return the empty height of the last page, in staff spaces."""
        pages = self.pages(line, scale)
        room = self.first if len(pages) == 1 else self.later
        return room - page_height(pages[-1], line, scale)

    def chosen(self) -> tuple[float, float]:
        """Return the line height and note scale that fill the fewest pages best."""
        least = least_line_height(self.look)
        fewest = self._spread(least, 1.0)
        line, scale = least, 1.0
        for most in (_GOOD_LINE_MM, _MOST_LINE_MM):
            while line + _STEP <= most / self.look.space_mm and (
                self._spread(line + _STEP, scale) == fewest
            ):
                line += _STEP
            scale = max(each for each in self._scales() if self._spread(line, each) == fewest)
        return line, scale

    def _spread(self, line: float, scale: float) -> tuple[int, int]:
        """Return how many pages there are, and on how many of them there are bars.

        A page is not turned in the middle of a form for the sake of larger bars.
        """
        pages = self.pages(line, scale)
        barred = sum(any(isinstance(each, ChartLine) for each in page) for page in pages)
        return len(pages), barred


def _kept_with(blocks: Sequence[ChartBlock], line: float) -> float:
    """Return the height of what must follow the first of *blocks*: a short ending."""
    first, *others = blocks[: 1 + _KEPT]
    if isinstance(first, NoteRow) or not first.label:
        return 0.0
    return sum(line for each in others if isinstance(each, ChartLine))


def _height(block: ChartBlock, line: float, scale: float) -> float:
    if isinstance(block, NoteRow):
        return block.height(scale)
    return line + (_LABEL if block.label else 0.0)


def _head_over(block: ChartBlock, page: Sequence[ChartBlock]) -> float:
    """Return the height of the heading of the notes, where *block* begins them on *page*."""
    if not isinstance(block, NoteRow) or any(isinstance(each, NoteRow) for each in page):
        return 0.0
    return HEADING + (_BETWEEN if page else 0.0)


def page_height(page: Sequence[ChartBlock], line: float, scale: float) -> float:
    """Return how much of a page *page* takes, in staff spaces."""
    return sum(
        _height(block, line, scale) + _head_over(block, page[:n]) for n, block in enumerate(page)
    )


def chord_chart(band: Arrangement, harp: Harp, position: Position, look: Look) -> str:
    """Return LilyPond input for the chart of *band*, for *harp* in *position*, as ``sheet-0``."""
    from reedmill.sheet.frame import block, preamble

    subtitle = _subtitle(band)
    where = on_harp(harp, position)
    facts = _facts(band, harp, position)
    paging = _best(band, harp, position, look)
    line, scale = paging.chosen()
    largest = largest_capital(paging.lines, band.key, look)
    drawing = _Drawing(band, harp, look, line, scale, largest)
    drawn = [f"\\markup {drawing.page(page)}" for page in paging.pages(line, scale)]
    head = [
        *titled(band.form, subtitle, look.width),
        "\\vspace #0.3",
        facts_markup(facts, look.width),
    ]
    return preamble(look) + "\n".join(
        [
            WITHIN,
            '\\book { \\bookOutputName "sheet-0"',
            f"\\header {{ title = {named(band.form)} subject = {named(subtitle)} }}",
            "\\paper {",
            "  oddHeaderMarkup = \\markup " + running_head_of(f"{band.form} · {where}", look.width),
            "  evenHeaderMarkup = \\oddHeaderMarkup",
            "  oddFooterMarkup = \\markup " + foot_of(f"{band.form} · {where}", look.width),
            "  evenFooterMarkup = \\oddFooterMarkup",
            "}",
            block(3.4, *head),
            "\n\\pageBreak\n".join(drawn),
            "}",
        ]
    )


def _best(band: Arrangement, harp: Harp, position: Position, look: Look) -> _Paging:
    """Return a paging of four bars to a line, or two where the page would be mostly empty."""
    four, two = (_paging(band, harp, position, look, most) for most in (4, 2))
    line, scale = four.chosen()
    one = len(four.pages(line, scale)) == len(two.pages(least_line_height(look), 1.0)) == 1
    return two if one and four.left(line, scale) > (1 - _FULL) * four.first else four


def _paging(band: Arrangement, harp: Harp, position: Position, look: Look, most: int) -> _Paging:
    first, last = chart_bars(band, 0), chart_bars(band, band.choruses - 1)
    lines = [*chart_lines(first, band.key, look, most)]
    other = [bar for bar, before in zip(last, first, strict=False) if bar != before]
    other += last[len(first) :]
    if other:
        ending = [bar for bar in last if bar.number >= other[0].number]
        lines += chart_lines(ending, band.key, look, most, THE_LAST_TIME)
    chords = list(dict.fromkeys(chord for _, chord in band.chords))
    foot = foot_height(look)
    facts = len(fact_rows(_facts(band, harp, position), look.width)) * FACT_ROW
    head = titled_height(band.form, _subtitle(band), look) + facts
    return _Paging(
        look,
        tuple(lines),
        look.height - foot - head,
        look.height - foot - _RUNNING_HEAD,
        {scale: note_rows(chords, harp, position, look, scale) for scale in _SCALES},
    )


def _subtitle(band: Arrangement) -> str:
    many = "one chorus" if band.choruses == 1 else f"{band.choruses} choruses"
    road = f". {band.road}" if band.road else ""
    return f"{band.feel}, {many} of {band.bars_a_chorus} bars{road}"


def _facts(band: Arrangement, harp: Harp, position: Position) -> list[HeadFact]:
    swing = f", swing {band.swing.numerator} to {band.swing.denominator}" if band.swing > 1 else ""
    name, _, mode = band.key_words.partition(" ")
    place, meter = position.label.replace(" position", ""), band.meter.name + swing
    tempo = f" = {band.tempo_bpm}"
    key = f"\\concat {{ {accidental(name)} {lilypond_string(f' {mode}')} }}"
    return [
        HeadFact(harp_heading(harp), harp_markup(harp), len(harp.name)),
        HeadFact("position", lilypond_string(place), len(place)),
        HeadFact("key of the music", key, len(band.key_words)),
        HeadFact("meter", lilypond_string(meter), len(meter)),
        HeadFact(
            "tempo",
            f"\\concat {{ {beat_sign(band.meter)} {lilypond_string(tempo)} }}",
            len(tempo) + 2,
        ),
    ]


@dataclass(frozen=True, slots=True)
class _Drawing:
    """Draws the blocks of a chart as markup."""

    band: Arrangement
    harp: Harp
    look: Look
    line: float  # height of a line of bars, in staff spaces
    scale: float  # of the notes
    largest: float  # capital of a chord, in staff spaces

    def page(self, page: Sequence[ChartBlock]) -> str:
        """Return the blocks of *page* under one another, the first at 0."""
        return overlay(at(0, 0, "\\null"), *self._parts(page))

    def _parts(self, page: Sequence[ChartBlock]) -> Iterator[str]:
        y = 0.0
        for n, block in enumerate(page):
            head = _head_over(block, page[:n])
            if head:
                words = f"where their notes are on the {with_signs(self.harp.label)}"
                yield at(0, -y - head + 1.3, small(words))
            y += head
            yield from self._block(block, y)
            y += _height(block, self.line, self.scale)

    def _block(self, block: ChartBlock, y: float) -> Iterator[str]:
        if isinstance(block, NoteRow):
            row = row_markup(block, self.band.key, self.look, self.scale)
            yield at(0, -y, overlay(*row))
            return
        inner = _LABEL if block.label else 0.0
        if inner:
            yield at(0, -y - inner + 1.0, small(block.label))
        bars = line_markup(block, self.band.key, self.look, self.line, self.largest)
        yield at(0, -y - inner, overlay(*bars))
