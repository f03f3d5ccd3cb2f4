"""The forecast of a build: what it would make, at what cost and why, without making it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path

from reedmill.formats.table import PACK_FORMATS
from reedmill.pack.build.build_report import failure_row
from reedmill.pack.build.result import Failure
from reedmill.pack.course.course import Course
from reedmill.pack.keep.ledger import BuildScope, Origin, ledger_name, read_origins
from reedmill.pack.keep.store import ledgers_of, read_records
from reedmill.pack.pages.contents import ContentsLine, contents_pages
from reedmill.pack.pages.facing import first_pages
from reedmill.pack.plan.explain import Reasons
from reedmill.pack.plan.pieces import EditionPlan, PackPlan, PlannedItem, plan_pack
from reedmill.pack.plan.volumes import Bound, books
from reedmill.pack.run.rates import Rates, forms_of, rates
from reedmill.pack.site.app_files import ICONS
from reedmill.pack.steps import work
from reedmill.pack.steps.records import Record
from reedmill.pack.steps.steps import Step
from reedmill.practice.practice import Recording

_START_S = 2.5  # of one processor: programs and packages are read, and the pack is written down
_TEXT_BYTES = 2_000.0  # of an exercise on the page and in the manifest


@dataclass(frozen=True, slots=True)
class ForecastRow:
    """One kind of step; of sound, one for each choice of file types."""

    kind: str
    forms: tuple[str, ...] = ()  # of sound: its types of file
    number: int = 0  # to be made
    ready: int = 0  # made before
    seconds: float = 0.0  # of one processor
    size: float = 0.0  # bytes, of what is to be made
    pages: float = 0.0  # of all its PDFs, ready ones too
    files: float = 0.0  # in the pack, ready ones too
    measured: bool = False  # in this folder; else as usual

    @property
    def name(self) -> str:
        """The kind of step in words: ``audio, FLAC and MP3``."""
        return ", ".join(
            filter(None, (self.kind, " and ".join(each.upper() for each in self.forms)))
        )


@dataclass(frozen=True, slots=True)
class Forecast:
    """The plan of a build in numbers."""

    rows: tuple[ForecastRow, ...]
    reasons: list[tuple[str, str]]  # place and why, for what would be made
    failed: list[Failure]
    exact: bool  # the pages are counted, not guessed

    @property
    def seconds(self) -> float:
        """The processor time of the whole build in seconds."""
        work_s = sum(row.seconds for row in self.rows)
        return work_s + _START_S if work_s else 0.0

    def passing_s(self, workers: int) -> float:
        """Return the elapsed seconds with *workers*; books come after all their pages."""
        books_s = sum(row.seconds for row in self.rows if row.kind == "book")
        whole = max((row.seconds / max(row.number, 1) for row in self.rows), default=0.0)
        rest = self.seconds - books_s
        start = min(_START_S, rest)
        return start + max((rest - start) / workers, whole) + books_s / min(workers, 2)

    @property
    def size(self) -> float:
        """The bytes of the whole build."""
        return sum(row.size for row in self.rows)

    @property
    def files(self) -> int:
        """The number of files in the pack, those already made included."""
        return round(sum(row.files for row in self.rows))

    def data(self, workers: int) -> dict[str, object]:
        """Return the plan for ``--json``."""
        kinds = [
            {
                "kind": row.kind, "types": list(row.forms), "make": row.number, "ready": row.ready,
                "seconds": round(row.seconds, 1), "bytes": round(row.size),
                "pages": round(row.pages), "files": round(row.files), "measured": row.measured,
            }
            for row in self.rows
        ]  # fmt: skip
        return {
            "plan": kinds,
            "seconds": round(self.passing_s(workers), 1),
            "work_seconds": round(self.seconds, 1),
            "bytes": round(self.size),
            "files": self.files,
            "make": [{"path": place, "why": why} for place, why in self.reasons],
            "failed": [failure_row(each) for each in self.failed],
        }


def forecast(course: Course, curriculum: Path, out: Path, share: BuildScope) -> Forecast:
    """Return what a build of *share* of *course* in *out* would make and cost."""
    records = read_records(out)
    found = plan_pack(course, share, records.__contains__)
    origins: dict[str, Origin] = {}
    with suppress(OSError), ledgers_of(out) as packs:
        origins = read_origins(packs, ledger_name(curriculum))
    reasons = Reasons(origins, found.pieces, share)
    made = [piece for piece in found.pieces if piece.step in found.steps]
    failed = [
        Failure(f"{row.name} in lesson {row.lesson} for {edition.slug}", row.reason)
        for edition, row in found.failed
    ]
    told = [(f"{piece.place} ({piece.kind})", reasons.why(piece)) for piece in made]
    counted = _Counted(found, share, records, rates(records.values()))
    return Forecast(tuple(counted.rows()), told, failed, counted.exact)


class _Counted:
    """Adds up the cost of a plan, from the store's records and usual rates."""

    def __init__(
        self, found: PackPlan, share: BuildScope, records: Mapping[str, Record], cost: Rates
    ) -> None:
        self._found, self._share, self._records, self._cost = found, share, records, cost
        self._sums: dict[tuple[str, tuple[str, ...]], ForecastRow] = {}
        self._pages: dict[str, float] = {}  # of each PDF, by its hash or the step it is to come of
        self.exact = True

    def rows(self) -> Iterable[ForecastRow]:
        """Yield a row for every kind of step, for the books, and for the texts of a pack."""
        seen: set[str] = set()
        for piece in self._found.pieces:
            self._count(piece, self._found.steps.get(piece.step), again=piece.step in seen)
            seen.add(piece.step)
        whole = self._share.lesson is None
        for of in self._found.editions:
            for bound in books(of, self._pdfs, whole=whole):
                self._count_book(of, bound, again=bound.step.id in seen)
                seen.add(bound.step.id)
        if whole:
            self._count_texts()
        return self._sums.values()

    # --- pieces -------------------------------------------------------------------------

    def _count(self, piece: PlannedItem, step: Step | None, *, again: bool) -> None:
        record = self._records.get(piece.step)
        forms = step.forms if step else forms_of(record) if record else ()
        pages = self._pages_of(piece, record)
        files = _files_ready(piece, record) if record else _files(piece, step, pages)
        self._add(piece.kind, forms, step, again=again, pages=pages, files=files)

    def _pages_of(self, piece: PlannedItem, record: Record | None) -> float:
        """Return the pages in the PDF of *piece*, and note that PDF for the books."""
        if piece.kind not in _ON_PAPER:
            return 0.0
        told = next((part.pages for part in record.parts if part.pages), 0) if record else 0
        self.exact = self.exact and bool(told)
        pages = told or self._cost.pages_of(piece.kind)
        self._pages[_pdf(piece, record)] = pages
        return pages

    def _add(
        self, kind: str, forms: tuple[str, ...], step: Step | None, *, again: bool, pages: float,
        files: float,
    ) -> None:  # fmt: skip
        row = self._sums.setdefault((kind, forms), ForecastRow(kind, forms))
        row = replace(row, pages=row.pages + pages, files=row.files + files)
        if step is None or again:
            row = row if again else replace(row, ready=row.ready + 1)
        else:
            rate = self._cost.of(step)
            row = replace(
                row, number=row.number + 1, seconds=row.seconds + rate.seconds * step.amount,
                size=row.size + rate.size * step.amount, measured=rate.measured,
            )  # fmt: skip
        self._sums[kind, forms] = row

    # --- books --------------------------------------------------------------------------

    def _pdfs(self, piece: PlannedItem) -> Iterator[tuple[str, str]]:
        yield "", _pdf(piece, self._records.get(piece.step))

    def _count_book(self, of: EditionPlan, bound: Bound, *, again: bool) -> None:
        record = self._records.get(bound.step.id)
        contents = 0
        if bound.contents:
            lines = [
                ContentsLine(each.title, 0, deep=each.deep, mouth=each.mouth)
                for each in bound.leaves
            ]
            contents = contents_pages(lines[1:], of.edition.look)  # the cover is not listed
        parts = [(each.deep, round(self._pages[each.sha256])) for each in bound.leaves]
        pages = first_pages(parts, contents, after=1)[-1] - 1
        step = None if record else bound.step
        self._add("book", (), step, again=again, pages=pages, files=1)

    # --- the texts ----------------------------------------------------------------------

    def _count_texts(self) -> None:
        """Count the opening pages, app, manifests and playlists, which take no time."""
        files = exercises = 0
        for of in self._found.editions:
            heard = {each.lesson for each in of.pieces if each.kind == "audio"}
            files += 4 + len(ICONS) + (1 + len(heard) if heard else 0)
            exercises += sum(1 for each in of.pieces if each.exercise)
        files += any(of.edition.student for of in self._found.editions)
        archives = len(self._found.editions) * self._share.archive
        size = exercises * _TEXT_BYTES
        self._sums["text", ()] = ForecastRow("text", size=size, files=files, ready=files)
        if archives:
            inside = sum(row.size for row in self._sums.values())
            self._sums["archive", ()] = ForecastRow(
                "archive", number=archives, files=archives, size=inside
            )


_ON_PAPER = ("sheet", "page", "roles")


def _pdf(piece: PlannedItem, record: Record | None) -> str:
    """Return what names the PDF of *piece*: its content hash, or the step that will make it."""
    parts = record.parts if record else ()
    return next((part.sha256 for part in parts if part.ending == ".pdf"), piece.step)


def _files_ready(piece: PlannedItem, record: Record) -> float:
    return float(sum(part.kind in piece.kinds for part in record.parts))


def _files(piece: PlannedItem, step: Step | None, pages: float) -> float:
    """Return how many files *piece* gets from a step that is still to be done."""
    match work.unpack_work(step.packed) if step else None:
        case work.SoundWork(_, recording):
            return float(recording.file_count)
        case work.ScoreFile(_, form, recording):
            followed = recording or Recording()
            return float(
                len(followed.one_by_one() if work.WRITTEN[form].each_tempo else [followed])
            )
        case _:
            return sum(pages or 1.0 if kind in _PICTURES else 1.0 for kind in piece.kinds)


_PICTURES = {row.kind for row in PACK_FORMATS.values() if row.page_each}
