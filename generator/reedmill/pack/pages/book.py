"""A book bound from many PDFs: contents, bookmarks, running heads and page numbers.

The pages stay as they are.  Over each but the cover a head is laid, in the margin that the
sheets leave free, so that nothing of a sheet's own foot is touched; its number is the
number of the page in the file, which contents, bookmarks and page labels say too.

It is a book for both sides of the paper: odd pages lie on the right, even ones on the left, each
a little off the binding, with its number at the outer edge.  An exercise of two pages opens on
the left, so that nobody turns a page while playing; where it would not, a page for notes comes
before it.
Equal books give equal bytes: all dates are fixed, and the file's id follows from its content.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, cast

from reedmill.pack.pages.contents import ROW_LINK, ContentsLine, contents_body, contents_pages
from reedmill.pack.pages.facing import first_pages
from reedmill.pack.pages.lesson_pages import NO_FOOT, book_body, engraved, one_line
from reedmill.sheet.blocks import note_lines
from reedmill.sheet.frame import block
from reedmill.sheet.look import Look
from reedmill.sheet.markup import FAINT, INK, at, coloured, lilypond_string, overlay, resized

if TYPE_CHECKING:
    from pypdf import PageObject, PdfReader, PdfWriter
    from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject

_DATE = "D:20200101000000Z"
_HEAD_TOP_MM = 7  # of the paper: above what a sheet prints, below what printers leave white
_HEAD = "/ReedmillHead"
_BINDING_MM = 4.0  # of the 16 at each side: 20 remain at the binding
_NOTES_HEAD, _NOTES_STEP = 12.0, 6.2  # staff spaces of a page for notes: its heading, each line


@dataclass(frozen=True, slots=True)
class BookSection:
    """Pages that belong together, with a bookmark of their own."""

    title: str  # printable
    pdf: bytes
    label: str = ""  # printable: the number of a lesson or an exercise
    detail: str = ""  # printable: which harp and position
    deep: bool = False  # belongs to the last section that is not
    listed: bool = True  # stands in the contents; a cover never does
    mouth: str = ""  # printable: the plan for the mouth, which tells versions apart


@dataclass(frozen=True, slots=True)
class Book:
    """The parts of a book; all texts are printable."""

    title: str
    sections: tuple[BookSection, ...]
    look: Look = Look()  # noqa: RUF009  frozen
    author: str = ""
    subject: str = ""
    running: str = ""  # before the name of the lesson in the head of each page
    cover: bool = False  # the first section is one, and bears no head
    contents: bool = False  # after the cover


def join(book: Book) -> bytes:
    """Bind the book as one PDF.

    ``RenderError`` when its contents or heads cannot be drawn.
    """
    from pypdf import PdfWriter

    book = _without_cover_in_contents(book)
    readers = _readers(book)
    placed = _placed(book, readers)
    bodies = [heads_body(_heads(book, placed), book.look), notes_body(book.look)]
    if book.contents:
        bodies.append(contents_body(_lines(placed), book.look))
    heads, notes, *contents = map(_reader, engraved(bodies, book.look))
    writer = PdfWriter()
    for n, (reader, each) in enumerate(zip(readers, placed, strict=True)):
        if contents and n == int(book.cover):
            _add(writer, contents[0])
        if each.first > len(writer.pages) + 1:
            _add(writer, notes)
        _add(writer, reader)
    if contents and len(readers) == int(book.cover):
        _add(writer, contents[0])
    _lay_heads(writer, heads, int(book.cover))
    if contents:
        _link(writer, placed, int(book.cover), len(contents[0].pages))
    _bookmark(writer, book, placed)
    return _finished(writer, book)


def _add(writer: PdfWriter, reader: PdfReader) -> None:
    for page in reader.pages:
        writer.add_page(page)


# --- what stands where ------------------------------------------------------------------


def _without_cover_in_contents(book: Book) -> Book:
    if not book.cover:
        return book
    first, *others = book.sections
    return replace(book, sections=(replace(first, listed=False), *others))


@dataclass(frozen=True, slots=True)
class _Placed:
    section: BookSection
    first: int  # page, from 1
    pages: int


def _reader(pdf: bytes) -> PdfReader:
    from pypdf import PdfReader

    return PdfReader(io.BytesIO(pdf), strict=True)


def _readers(book: Book) -> list[PdfReader]:
    """Return a reader for each section; sections with equal bytes share one."""
    known = {section.pdf: None for section in book.sections}
    readers = {pdf: _reader(pdf) for pdf in known}
    return [readers[section.pdf] for section in book.sections]


def _placed(book: Book, readers: Sequence[PdfReader]) -> list[_Placed]:
    """Return where each section begins, with a page for notes where it must open facing."""
    counts = [len(reader.pages) for reader in readers]
    listed = [
        ContentsLine("", 0, deep=each.deep, mouth=each.mouth)
        for each in book.sections
        if each.listed
    ]
    contents = contents_pages(listed, book.look) if book.contents else 0
    parts = [(each.deep, pages) for each, pages in zip(book.sections, counts, strict=True)]
    starts = first_pages(parts, contents, int(book.cover))[:-1]
    rows = zip(book.sections, starts, counts, strict=True)
    return [_Placed(section, first, pages) for section, first, pages in rows]


def _lines(placed: Sequence[_Placed]) -> list[ContentsLine]:
    listed = ((each.section, each.first) for each in placed if each.section.listed)
    return [
        ContentsLine(it.title, page, it.label, it.detail, it.deep, it.mouth) for it, page in listed
    ]


# --- heads ------------------------------------------------------------------------------


def _heads(book: Book, placed: Sequence[_Placed]) -> list[tuple[str, int]]:
    """Return text and number over each page, from the first with a running head."""
    running = book.running or book.title
    words: dict[int, str] = {}
    lesson = ""
    for each in placed:
        lesson = lesson if each.section.deep else each.section.title
        text = running if lesson == running else f"{running} · {lesson}"
        text += f" · {each.section.label}" if each.section.deep and each.section.label else ""
        words |= dict.fromkeys(range(each.first, each.first + each.pages), text)
    last = placed[-1].first + placed[-1].pages
    # pages of no section hold the contents, or room for notes
    return [(words.get(page, running), page) for page in range(1 + book.cover, last)]


def heads_body(heads: Sequence[tuple[str, int]], look: Look) -> str:
    """Return a LilyPond book whose pages hold only the text and number of each head."""
    pages = "\n\\pageBreak\n".join(f"\\markup {_head(*each, look)}" for each in heads)
    margin = (
        f"oddFooterMarkup = ##f top-margin = {_HEAD_TOP_MM}\\mm "
        "top-markup-spacing = #'((basic-distance . 0) (padding . 0))"
    )
    return book_body("", margin, pages)


def _head(text: str, number: int, look: Look) -> str:
    words = coloured(FAINT, f"\\sans {resized(-4, one_line(text, look.width * 0.85))}")
    folio = coloured(INK, f"\\sans \\bold {resized(-2, lilypond_string(str(number)))}")
    if _on_the_left(number):
        return overlay(folio, at(look.width, 0, f"\\right-align {words}"))
    return overlay(words, at(look.width, 0, f"\\right-align {folio}"))


def _on_the_left(number: int) -> bool:
    """Tell whether a page is on the left of the open book."""
    return number % 2 == 0


def binding_shift(number: int) -> float:
    """Return the points by which page *number* is moved right, off the binding."""
    shift = _BINDING_MM * 72 / 25.4
    return -shift if _on_the_left(number) else shift


def notes_body(look: Look) -> str:
    """Return a page to write on, as the body of a LilyPond book."""
    lines = note_lines(int((look.height - _NOTES_HEAD) / _NOTES_STEP), look.width)
    return book_body("", NO_FOOT, block(2, *lines))


def _lay_heads(writer: PdfWriter, heads: PdfReader, skipped: int) -> None:
    """Move each page off the binding, and lay its head over it as a form.

    The page's own content stays untouched.
    """
    sides = {left: _side(writer, binding_shift(2 if left else 1)) for left in (True, False)}
    pages = zip(writer.pages[skipped:], heads.pages, strict=True)
    for number, (page, head) in enumerate(pages, start=1 + skipped):
        _lay_head(page, _form(writer, head), *sides[_on_the_left(number)])


def _side(writer: PdfWriter, shift: float) -> tuple[IndirectObject, IndirectObject]:
    """Return what comes before and after the content of a page on one side of the open book."""
    moved = f"q 1 0 0 1 {shift:.2f} 0 cm"
    opening = _stream(writer, f"{moved}\n".encode())
    return opening, _stream(writer, f"Q\n{moved} {_HEAD} Do Q\n".encode())


def _stream(writer: PdfWriter, content: bytes) -> IndirectObject:
    from pypdf.generic import StreamObject

    stream = StreamObject()
    stream.set_data(content)
    return writer._add_object(stream)


def _form(writer: PdfWriter, head: Any) -> IndirectObject:
    """Return the page *head* as a form; its fonts are cloned once for all heads."""
    from pypdf.generic import NameObject

    form: Any = head["/Contents"].get_object().clone(writer)
    form[NameObject("/Type")] = NameObject("/XObject")
    form[NameObject("/Subtype")] = NameObject("/Form")
    form[NameObject("/BBox")] = head.mediabox.clone(writer)
    form[NameObject("/Resources")] = head["/Resources"].clone(writer)
    return cast("IndirectObject", form.indirect_reference)


def _lay_head(
    page: Any, form: IndirectObject, opening: IndirectObject, closing: IndirectObject
) -> None:
    from pypdf.generic import ArrayObject, DictionaryObject, NameObject

    own = page.raw_get("/Contents")
    inside = own.get_object()
    content = inside if isinstance(inside, ArrayObject) else [own]
    page[NameObject("/Contents")] = ArrayObject([opening, *content, closing])
    # of its own, because pages may share one
    resources = DictionaryObject(page["/Resources"].get_object())
    forms = DictionaryObject(resources.get("/XObject", DictionaryObject()).get_object())
    forms[NameObject(_HEAD)] = form
    resources[NameObject("/XObject")] = forms
    page[NameObject("/Resources")] = resources


# --- links, bookmarks, facts ------------------------------------------------------------


def _link(writer: PdfWriter, placed: Sequence[_Placed], first: int, count: int) -> None:
    """Link each line of the contents, on *count* pages from index *first*, to its page."""
    targets = [each.first for each in placed if each.section.listed]
    for index in range(first, first + count):
        annotations: Any = writer.pages[index]["/Annots"]
        for link in (each.get_object() for each in annotations):
            number = int(link["/A"]["/URI"].removeprefix(ROW_LINK))
            _move(link, binding_shift(index + 1))
            _lead(link, writer.pages[targets[number] - 1])


def _move(link: DictionaryObject, shift: float) -> None:
    from pypdf.generic import ArrayObject, FloatObject, NameObject

    left, low, right, high = map(float, cast("ArrayObject", link["/Rect"]))
    moved = (left + shift, low, right + shift, high)
    link[NameObject("/Rect")] = ArrayObject([FloatObject(round(each, 3)) for each in moved])


def _lead(link: DictionaryObject, target: PageObject) -> None:
    from pypdf.generic import ArrayObject, NameObject, NullObject

    for key in ("/A", "/StructParent"):
        link.pop(key, None)
    where = [target.indirect_reference, NameObject("/XYZ"), *[NullObject()] * 3]
    link[NameObject("/Dest")] = ArrayObject(where)


def _bookmark(writer: PdfWriter, book: Book, placed: Sequence[_Placed]) -> None:
    """Add a bookmark for each section, and for the contents where there are any."""
    if book.contents and not book.cover:
        _mark(writer, "Contents", 1)
    parent = None
    for n, each in enumerate(placed):
        name = _bookmark_name(each.section)
        if each.section.deep:
            _mark(writer, name, each.first, parent)
        else:
            parent = _mark(writer, name, each.first)
        if book.contents and book.cover and n == 0:
            _mark(writer, "Contents", each.pages + 1)


def _mark(
    writer: PdfWriter, title: str, page: int, parent: IndirectObject | None = None
) -> IndirectObject:
    from pypdf.generic import Fit

    return writer.add_outline_item(title=title, page_number=page - 1, parent=parent, fit=Fit.xyz())


def _bookmark_name(section: BookSection) -> str:
    name = " ".join(part for part in (section.label, section.title) if part)
    return ", ".join(filter(None, (name, section.detail, section.mouth)))


def _finished(writer: PdfWriter, book: Book) -> bytes:
    for page in writer.pages:
        page.pop("/StructParents", None)
    facts = {"/Title": book.title, "/Author": book.author, "/Subject": book.subject}
    writer.metadata = None
    writer.add_metadata(
        {name: text for name, text in facts.items() if text}
        | {"/Creator": "Reedmill", "/CreationDate": _DATE, "/ModDate": _DATE}
    )
    _label_pages(writer, book)
    _tell_readers(writer)
    _share(writer)
    writer._ID = _identity(book)  # pypdf's own would be drawn by lot
    file = io.BytesIO()
    writer.write(file)
    return file.getvalue()


def _share(writer: PdfWriter) -> None:
    """Merge equal objects: first those that refer to nothing, then those that refer to them."""
    count = 0
    while count != (count := sum(each is not None for each in writer._objects)):
        writer.compress_identical_objects()


def _tell_readers(writer: PdfWriter) -> None:
    """Set the language for screen readers; show bookmarks and the title."""
    from pypdf.generic import BooleanObject, DictionaryObject, NameObject, TextStringObject

    root = writer.root_object
    root[NameObject("/Lang")] = TextStringObject("en")
    root[NameObject("/PageMode")] = NameObject("/UseOutlines")
    root[NameObject("/ViewerPreferences")] = DictionaryObject(
        {NameObject("/DisplayDocTitle"): BooleanObject(True)}
    )


def _identity(book: Book) -> ArrayObject:
    """Return the file's id: a digest of everything in it."""
    from pypdf.generic import ArrayObject, ByteStringObject

    told = hashlib.sha256(repr(replace(book, sections=())).encode())
    for each in book.sections:
        told.update(repr(replace(each, pdf=b"")).encode())
        told.update(each.pdf)
    digest = ByteStringObject(told.digest()[:16])
    return ArrayObject([digest, digest])


def _label_pages(writer: PdfWriter, book: Book) -> None:
    """Give each page the label that is printed on it."""
    from pypdf.constants import PageLabelStyle

    first, last = int(book.cover), len(writer.pages) - 1
    if book.cover:
        writer.set_page_label(0, 0, prefix="Cover")
    if last >= first:
        writer.set_page_label(first, last, style=PageLabelStyle.DECIMAL, start=first + 1)
