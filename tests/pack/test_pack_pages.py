"""Lesson texts on screen and paper, and the pages of a book besides its sheets.

What a text says is judged by markdown-it's own renderer and lxml; what stands on paper by
pypdf, which reads it back out of the PDF.
"""

from __future__ import annotations

import io
import re
import unicodedata
from functools import cache
from itertools import pairwise
from pathlib import Path

import pypdf
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import html
from markdown_it import MarkdownIt

from reedmill.base.errors import InputError
from reedmill.pack.course.markdown import MOST_LETTERS, is_address, read_markdown
from reedmill.pack.pages.chapter import Chapter, Exercise, Front
from reedmill.pack.pages.contents import ContentsLine, contents_body, contents_pages, contents_runs
from reedmill.pack.pages.cover import cover_body
from reedmill.pack.pages.lesson_pages import cautions_body, engraved, lesson_body
from reedmill.pack.pages.practice_log import log_body
from reedmill.pack.pages.prose import prose
from reedmill.pack.site.hypertext import blocks_html
from reedmill.sheet.look import Look
from reedmill.sheet.markup import lilypond_string

LOOK = Look()

LESSON = """\
# Hear it first

Sing the **anchor**, then the *rung*: **bold *and both*ness**, `-3'` and `a <b> & "c"`.
The same paragraph goes on.\\
After a break it goes on, too.

## How it sits

3. Play draw 2 & draw 3.
   - softly first
   - then <i>loud</i>

     with a word on it
4. Come home.

> Slow is smooth.
>
> Smooth is fast &mdash; and <script>alert("x")</script>.

```
-2 -3' -2 |
   "x" #(system "touch pwned")
```

***

Last of all ![a picture of a harp](https://example.org/harp.png), [a page](https://example.org/a?b=1&c=2)
and <teacher@example.org>.
"""


def shown(text: str) -> html.HtmlElement:
    return html.fragment_fromstring(
        blocks_html(read_markdown(text), prefix="lesson-1", level=3), create_parent="div"
    )


def by_markdown_it(text: str) -> html.HtmlElement:
    """*text* by the renderer of markdown-it, with pictures as their descriptions."""
    rendered = MarkdownIt("commonmark", {"html": False}).render(text)
    element = html.fragment_fromstring(rendered, create_parent="div")
    for image in element.iter("img"):
        image.tail = image.get("alt") + (image.tail or "")
    return element


def words(element: html.HtmlElement) -> list[str]:
    return str(element.text_content()).split()


# --- on the screen ----------------------------------------------------------------------


def test_a_text_says_on_the_screen_what_markdown_says() -> None:
    assert words(shown(LESSON)) == words(by_markdown_it(LESSON))


@pytest.mark.parametrize(
    "tag", ["strong", "em", "code", "li", "ol", "ul", "pre", "blockquote", "hr", "br"]
)
def test_a_text_has_the_parts_on_the_screen_that_markdown_gives_it(tag: str) -> None:
    def texts(element: html.HtmlElement) -> set[str]:
        # neighbours in one style may be several elements, so what they say together is compared
        return set(glue.join(each.text_content() for each in element.iter(tag)).split())

    glue = "" if tag in {"strong", "em"} else " "
    ours, theirs = shown(LESSON), by_markdown_it(LESSON)
    assert texts(ours) == texts(theirs)
    assert ours.find(f".//{tag}") is not None


def test_headings_follow_on_the_page_around_them() -> None:
    levels = [
        (each.tag, each.get("id")) for each in shown("### A\n# B\n### C\n## B").iter("h3", "h4")
    ]
    assert levels == [
        ("h3", "lesson-1-a"), ("h3", "lesson-1-b"), ("h4", "lesson-1-c"), ("h4", "lesson-1-b--2"),
    ]  # fmt: skip


def test_a_heading_in_a_list_is_bold_text_and_no_heading_of_the_page() -> None:
    element = shown("- # Inside\n\n> ## Quoted")
    assert [each.text_content() for each in element.iter("strong")] == ["Inside", "Quoted"]
    assert element.xpath(".//h1 | .//h2 | .//h3 | .//h4") == []


def test_links_lead_to_the_web_to_mailboxes_and_to_headings_alone() -> None:
    element = shown(
        "# Go on\n[a](https://example.org/?a=1&b=2 'title') <x@example.org> [b](#go-on)"
    )
    assert [each.get("href") for each in element.iter("a")] == [
        "https://example.org/?a=1&b=2", "mailto:x@example.org", "#lesson-1-go-on",
    ]  # fmt: skip
    assert [each.get("rel") for each in element.iter("a")][:2] == ["noopener noreferrer"] * 2
    assert element.find(".//h3").get("id") == "lesson-1-go-on"


@pytest.mark.parametrize(
    "address",
    [
        "javascript:alert(1)", "JaVaScRiPt:alert(1)", "java&#115;cript:alert(1)", "vbscript:x",
        "data:text/html,x", "file:///etc/passwd", "//example.org/x", "../x.html", "x.html", "/x",
        "https:", "http:///x", "mailto:", "ftp://example.org/x", "&#x01;javascript:alert(1)",
        "javascript&colon;alert(1)", "about:blank", "blob:https://example.org/x",
    ],
)  # fmt: skip
def test_any_other_address_is_refused_by_name(address: str) -> None:
    with pytest.raises(
        InputError, match=r"leads to \"\S+\"\. Write an address that begins with https"
    ):
        read_markdown(f"[x]({address})")


def test_a_link_to_a_heading_that_is_not_there_is_refused() -> None:
    with pytest.raises(InputError, match='"#here", and the text has no such heading'):
        read_markdown("# There\n[x](#here)")


def test_an_address_that_nobody_can_read_is_no_address() -> None:
    assert not is_address("https://[")
    assert not is_address("https://example.org/\u202ex")


@pytest.mark.parametrize(
    "text", ["> " * 7 + "x", "1. " * 7 + "x", "1. > " * 60 + "x", "> " * 500 + "x"]
)
def test_deep_nesting_is_refused_and_nothing_of_it_dropped(text: str) -> None:
    with pytest.raises(InputError, match="stand more than 6 deep inside one another"):
        read_markdown(text)


def test_six_lists_in_one_another_are_allowed() -> None:
    assert len(shown("1. " * 6 + "deep").findall(".//ol")) == 6


def test_a_text_that_is_too_long_is_refused() -> None:
    read_markdown("x" * MOST_LETTERS)
    with pytest.raises(InputError, match="a text of 20001 characters is too long for one lesson"):
        read_markdown("x" * (MOST_LETTERS + 1))


# Signs and words that mean something to Markdown, to HTML or to LilyPond.
PIECES = st.sampled_from(
    [
        "<script>", "</script>", "<img src=x onerror=a>", "<!--", "&lt;", "&#60;", "&", '"', "'",
        "`", "**", "*", "_", "# ", "\n", "\n\n", "> ", "- ", "1. ", "```\n", "    ", "\\", "[", "]",
        "(", ")", "](", "![", "https://example.org", "#(ly:error)", "$x", "#x", "{", "}", "%", "%{",
        "\\include", '\\"', "\t", "~", "\u202e", "\x00", "é", "a", "bend", "\\\n", "  \n", "---\n",
    ]
)  # fmt: skip
HOSTILE = st.lists(PIECES, max_size=30).map("".join)
TAGS = {
    "p", "h3", "h4", "h5", "h6", "ul", "ol", "li", "blockquote", "pre", "code", "hr", "br", "a",
    "strong", "em",
}  # fmt: skip
ATTRIBUTES = {"id", "dir", "href", "rel", "start", "tabindex"}


def read_or_refused(text: str) -> str | None:
    try:
        return blocks_html(read_markdown(text), prefix="p", level=3)
    except InputError:
        return None


@given(HOSTILE)
def test_nothing_in_a_text_becomes_a_tag_or_attribute_of_its_own(text: str) -> None:
    shown = read_or_refused(text)
    if not shown:
        return
    for element in html.fragment_fromstring(shown, create_parent="div").iterdescendants():
        assert element.tag in TAGS
        assert set(element.attrib) <= ATTRIBUTES
        assert element.get("href", "#").startswith(("#", "https://example.org", "http://"))


# --- on paper ---------------------------------------------------------------------------

STRING = re.compile(r'"(?:[^"\\]|\\.)*"')
# Everything our markup is made of besides strings and numbers.
VOCABULARY = {
    "\\markuplist", "\\override-lines", "\\override", "\\tied", "\\headed", "\\hung", "\\led",
    "\\fitted", "\\wordwrap-lines", "\\wordwrap", "\\column-lines", "\\concat", "\\with-color",
    "\\bold", "\\italic", "\\typewriter", "\\sans", "\\fontsize", "\\vspace", "\\draw-line",
    "\\print", "\\null", "\\overlay", "\\strut",
    "inkColour", "faintColour", "hairlineColour", "line-width", "baseline-skip",
    "font-size",
}  # fmt: skip


@given(HOSTILE)
def test_every_letter_of_a_text_stands_inside_a_string_on_paper(text: str) -> None:
    """LilyPond runs Scheme it finds anywhere else."""
    if read_or_refused(text) is None:
        return
    left = STRING.sub("", prose(read_markdown(text), 90))
    assert '"' not in left
    assert set(re.findall(r"\\?[a-zA-Z][\w-]*", left)) <= VOCABULARY
    assert re.fullmatch(r"[\w\s\\{}#'().-]*", left)


def test_strings_are_read_by_lilypond_as_they_were_meant() -> None:
    """The rule above ends a string where LilyPond does: at a quote without a backslash."""
    for text in ('a"b', "a\\", '\\"', '"\\'):
        assert STRING.fullmatch(lilypond_string(text))


def pages_of(body: str) -> list[str]:
    [pdf] = engraved([body], LOOK)
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages]


def letters(text: str) -> str:
    """Without spaces and ligatures, which a PDF sets as it likes, and with plain quotes."""
    return re.sub(r"\s", "", unicodedata.normalize("NFKC", text)).replace("\u2019", "'")


EXERCISES = (
    Exercise("a", "Home from every rung", "low Bb", 2, "F major", 56, 84, "Keep the jaw loose."),
    Exercise("b", "Step from the rung before", "C", 3, "D minor", 60, tempi_bpm=(60, 66, 72)),
)
CHAPTER = Chapter(3, "Lean on the note before", "Hear it, then play it.", LESSON, EXERCISES)


@cache
def opening() -> str:
    return "\n".join(pages_of(lesson_body("Bends as places", CHAPTER, LOOK)))


def test_a_lesson_on_paper_says_what_markdown_says() -> None:
    on_paper = letters(opening())
    for paragraph in by_markdown_it(LESSON).iter("h1", "h2", "p", "code"):
        said = letters(str(paragraph.text_content()))
        if "https" not in said and "page" not in said:
            assert said in on_paper
    assert "3.Playdraw2&draw3." in on_paper
    assert "4.Comehome." in on_paper


def test_addresses_are_printed_because_paper_cannot_be_clicked() -> None:
    assert "apage(https://example.org/a?b=1&c=2)andteacher@example.org." in letters(opening())


def test_a_lesson_opens_with_its_number_goal_and_exercises() -> None:
    text = opening()
    for part in ("Lesson 3 · Bends as places", "Lean on the note before", "Hear it, then play it."):
        assert part in text
    rows = [line for line in text.splitlines() if "2nd" in line or "3rd" in line]
    assert [re.sub(r"[^\w ]", "", row).split() for row in rows] == [
        ["Home", "from", "every", "rung", "low", "B", "2nd", "56", "to", "84"],
        ["Step", "from", "the", "rung", "before", "C", "3rd", "60", "66", "72"],
    ]
    assert "Keep the jaw loose." in text


def test_code_in_a_text_is_printed_and_never_run(tmp_path: Path) -> None:
    sign = tmp_path / "pwned"
    bad = f'x" #(system "touch {sign}") "'
    text = f"# {bad}\n\n{bad} **{bad}** `{bad}`\n\n- {bad}\n\n> {bad}\n\n```\n{bad}\n```\n"
    chapter = Chapter(1, bad, bad, text, (Exercise(bad, bad, bad, 2, bad, 60, 61, bad),))
    front = Front(bad, bad, bad, bad, (bad,), 1)
    lines = [ContentsLine(bad, 1, bad, bad), ContentsLine(bad, 2, bad, bad, deep=True)]
    bodies = [
        lesson_body(bad, chapter, LOOK), log_body(chapter, LOOK), cover_body(front, LOOK),
        contents_body(lines, LOOK),
    ]  # fmt: skip
    for pdf in engraved(bodies, LOOK):
        pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
        assert "#(system" in letters("".join(page.extract_text() for page in pages))
    assert not sign.exists()


def test_texts_with_nothing_in_their_parts_are_drawn_without_complaint() -> None:
    """A complaint of LilyPond fails; each of these once was one, or nearly."""
    texts = (
        "", "# ", "#\n\nx", "# a\n\n###### ", "x\n\n##", "# \u00a0", "![](x)", "- \n- x\n-", ">",
        "> \n> -", "```\n```", "    \n", "# a\n# b", "# a\n\n---", "---\n---", "- - - x", "1. #\n",
        "\\\nx  \n", "[](https://example.org)", "# `x`\n> # y\n>\n> - z", "``` ```",
        "# " + "x " * 99, "x\n\n# ***", "***a", "# " + "W" * 60,
    )  # fmt: skip
    bodies = [lesson_body("x", Chapter(1, "x", "", text), LOOK) for text in texts]
    assert len(engraved(bodies, LOOK)) == len(texts)


@pytest.mark.parametrize("title", ["***", "_", "\u00a0", ".", "gj", "W" * 120, "m " * 60])
def test_titles_of_odd_letters_are_drawn_without_complaint(title: str) -> None:
    exercise = Exercise("a", title, "C", 2, "G major", 60, 70, title)
    chapter = Chapter(1, title, title, "", (exercise,) * 3)
    front = Front(title, title, title, title, ("C",), 3)
    lines = [ContentsLine(title, 1, "1", title), ContentsLine(title, 2, "", title, deep=True)]
    bodies = [
        lesson_body(title, chapter, LOOK), log_body(chapter, LOOK), cover_body(front, LOOK),
        contents_body(lines, LOOK),
    ]  # fmt: skip
    assert len(engraved(bodies, LOOK)) == 4


def test_a_long_text_flows_over_pages_without_a_word_lost() -> None:
    said = [f"w{n}x{k}" for n in range(12) for k in range(90)]
    parts = (f"## Part {n}\n\n" + " ".join(said[n * 90 : n * 90 + 90]) for n in range(12))
    text = "\n\n".join(parts)
    pages = pages_of(lesson_body("x", Chapter(1, "Long", "", text), LOOK))
    found = re.findall(r"w\d+x\d+", " ".join(pages))
    assert found == said
    assert len(pages) > 2
    for page in pages:
        assert not re.search(r"Part \d+\s*(Rest lips.*)?$", page, re.DOTALL)  # a heading is tied


def test_the_log_has_a_row_for_each_exercise_and_a_place_for_each_day() -> None:
    [page] = pages_of(log_body(CHAPTER, LOOK))
    assert page.count("date") == 6
    assert "Home from every rung" in page
    assert re.search(r"low B.? harp, 2nd position, tempo 56 to 84", page)
    many = Chapter(1, "Many", "", "", EXERCISES * 20)
    pages = pages_of(log_body(many, LOOK))
    assert sum(each.count("Step from the rung before") for each in pages) == 20


def test_the_cautions_name_hearing_breath_and_strain_and_send_to_teacher_and_doctor() -> None:
    text = " ".join(pages_of(cautions_body(LOOK)))
    for word in (
        "moderate level",
        "headphones",
        "dizzy",
        "jaw",
        "teacher",
        "doctor",
        "not medical",
    ):
        assert word in text


@pytest.mark.parametrize(
    "look", [Look(), Look("letter"), Look(large=True), Look("letter", large=True, black=True)]
)
def test_every_single_page_stays_one_page_on_every_paper(look: Look) -> None:
    """LilyPond complains of a page that is too full, and a complaint fails."""
    longest = Front("W" * 120, "m" * 300, "W" * 120, "W" * 120, ("low Bb",) * 30, 100)
    usual = Front("Bends as places", "From a bend to a phrase.", "Mara Holt", "Jon", ("C", "A"), 8)
    lines = [ContentsLine("W" * 120, 99, "99", "W" * 300, deep=n % 7 > 0) for n in range(150)]
    bodies = [
        cover_body(longest, look), cover_body(usual, look), cautions_body(look),
        log_body(CHAPTER, look), contents_body(lines, look),
    ]  # fmt: skip
    counts = [len(pypdf.PdfReader(io.BytesIO(pdf)).pages) for pdf in engraved(bodies, look)]
    assert counts == [1, 1, 1, 1, contents_pages(lines, look)]


def test_a_cover_says_for_whom_by_whom_and_on_which_harps() -> None:
    front = Front(
        "Bends as places", "From a bend to a phrase.", "Mara Holt", "Jon Weaver", ("C", "low F"), 8
    )
    [page] = pages_of(cover_body(front, LOOK))
    for part in (
        "Bends as places",
        "From a bend to a phrase.",
        "by Mara Holt",
        "for Jon Weaver",
        "harps C, low F",
        "lessons 8",
    ):
        assert letters(part) in letters(page)


@settings(max_examples=25)
@given(st.lists(st.booleans(), min_size=1, max_size=300))
def test_no_lesson_stands_last_on_a_page_of_the_contents(deep: list[bool]) -> None:
    lines = [ContentsLine(str(n), n, deep=each) for n, each in enumerate(deep)]
    runs = list(contents_runs(lines, LOOK))
    assert [line for run in runs for line in run] == lines
    for run, after in pairwise(runs):
        assert run[-1].deep or not after[0].deep


# --- texts from the right ---------------------------------------------------------------

FROM_RIGHT = """
# שלום

כתוב **מילה**, [שלום](#שלום).

- אבג
- דהו

> זחט

- plain
"""


def test_a_link_to_a_heading_in_another_script_is_followed() -> None:
    for heading in ("Домой", "Στο σπίτι", "回家", "घर की ओर", "ทางกลับบ้าน", "الطريق"):
        name = heading.lower().replace(" ", "-")
        element = shown(f"# {heading}\n[x](#{name})")
        assert element.find(".//a").get("href") == f"#lesson-1-{name}"
        assert element.find(".//h3").get("id") == f"lesson-1-{name}"
    with pytest.raises(InputError, match='"#дом", and the text has no such heading'):
        read_markdown("# Двор\n[x](#дом)")


def test_a_list_and_a_quote_from_the_right_have_their_signs_at_the_right() -> None:
    """HTML, 3.2.6.4: dir="auto" of a list would not see text in paragraphs with their own."""
    element = shown(FROM_RIGHT)
    ways = [(each.tag, each.get("dir")) for each in element.iter("ul", "blockquote")]
    assert ways == [("ul", "rtl"), ("blockquote", "rtl"), ("ul", None)]


def test_paper_has_the_dots_of_a_list_and_of_a_sentence_on_the_side_they_belong_to() -> None:
    [pdf] = engraved([lesson_body("x", Chapter(1, "x", "", FROM_RIGHT), LOOK)], LOOK)
    with pypdfium2.PdfDocument(pdf) as document:
        text = document[0].get_textpage()
        found = [
            (text.get_text_range(at, 1), *text.get_charbox(at)) for at in range(text.count_chars())
        ]

    def left(sign: str) -> list[float]:
        return [box[1] for box in found if box[0] == sign]

    def of(letters: str) -> list[float]:
        return [each for letter in letters for each in left(letter)]

    first, second, plain = left("•")
    assert first == second > max(of("אבגדה"))
    assert plain < min(left("p")) < min(of("אבג"))
    stop = max((box for box in found if box[0] == "."), key=lambda box: box[2])  # not of the foot
    line = [box[1] for box in found if "א" <= box[0] <= "ת" and abs(box[2] - stop[2]) < 4]
    assert len(line) == 4 + 4 + 4
    assert stop[1] < min(line)
