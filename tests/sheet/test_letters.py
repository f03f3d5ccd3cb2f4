"""Titles, texts and names in every script: drawn where a font has them, else left out."""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import lilypond
import mido
import pypdfium2
import pytest
from fontTools.ttLib import TTFont

from pack_builds import run
from reedmill.base.children import Child
from reedmill.base.text import from_right, printable
from reedmill.make.made_files import LIST
from reedmill.make.material import make
from reedmill.sheet import engrave, fonts, letters
from reedmill.sheet.engrave import Engraver
from reedmill.sheet.look import MARGIN_MM, Look
from reedmill.sheet.page import pages
from reedmill.sheet.wrapping import grouped, shortened, word_pieces, words
from tunes import score_from

# A greeting or a home in each script, as a name or title might have it, and the family of its font.
SCRIPTS = {
    "Hebrew": ("שיר הביתה", "Hebrew"),
    "Arabic": ("أغنية البيت", "Arabic"),
    "Thai": ("เพลงบ้าน", "Thai"),
    "Devanagari": ("क्षत्रिय गीत", "Devanagari"),
    "Japanese": ("おかえりの歌", "CJK|Droid"),
    "Chinese": ("回家", "CJK|Droid"),
    "Korean": ("집으로", "CJK|Droid|Nanum"),
    "Georgian": ("სახლი", "Georgian|DejaVu"),
}
OWN = {"Cyrillic": "Домой", "Greek": "Στο σπίτι", "Latin": "Übung für Łukasz, Đặng"}


def need(text: str) -> None:
    lost = letters.missing(text)
    assert not lost, (
        f"these tests need fonts for {lost}: install Debian's fonts-noto-core and "
        "fonts-droid-fallback and fonts-nanum (or fonts-noto-cjk)"
    )


@pytest.fixture
def without_fonts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A machine on which no font is installed."""
    for name in ("HOME", "XDG_DATA_HOME", "XDG_DATA_DIRS"):
        monkeypatch.setenv(name, str(tmp_path / "empty"))
    caches = (fonts._found, fonts._file_with, fonts._ranked, fonts._plain_faces)
    for each in caches:
        each.cache_clear()
    yield
    for each in caches:
        each.cache_clear()


def fonts_drawn(pdf: bytes) -> set[str]:
    return {name.decode() for name in re.findall(rb"/BaseFont /[A-Z]{6}\+([\w-]+)", pdf)}


def read_back(path: Path) -> str:
    """All letters of the first page, by PDFium."""
    with pypdfium2.PdfDocument(path) as document:
        return str(document[0].get_textpage().get_text_range())


# --- what LilyPond's own fonts have -----------------------------------------------------


def codes_in(path: Path) -> set[int]:
    with TTFont(path, lazy=True) as font:
        return set(font.getBestCmap())


def test_the_table_of_letters_is_what_the_fonts_of_lilypond_have() -> None:
    home = Path(lilypond.executable()).parents[1] / "share/lilypond"
    files = list(home.glob("*/fonts/otf/*.otf"))
    assert len(files) > 20
    has = set[int]().union(*map(codes_in, files))
    # private use is nobody's letter, and printable() names it
    has = {code for code in has if unicodedata.category(chr(code)) != "Co"}
    every = (chr(code) for code in range(32, 0x30000))
    odd = set(letters.odd("".join(c for c in every if unicodedata.category(c) != "Cs")))
    assert not {chr(code) for code in has} & odd
    unseen = re.compile(f"[{letters._UNSEEN}{letters._SPACES}]")
    own = {chr(code) for code in range(32, 0x30000)} - odd
    own = {c for c in own if unicodedata.category(c) != "Cs" and not unseen.match(c)}
    assert own == {chr(code) for code in has if not unseen.match(chr(code))}


@pytest.mark.parametrize("title", OWN.values(), ids=OWN)
def test_a_sheet_of_own_letters_needs_no_font_of_the_machine(title: str) -> None:
    assert letters.fonts_drawing(title) == ()
    assert letters.missing(title) == ""


def test_a_plain_sheet_is_drawn_by_the_first_lilypond_whatever_fonts_there_are(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    source = pages([score_from("-2 -3'", title="Домой, Übung")])
    assert letters.odd(source) == ""  # nor are the ends of its many lines letters
    started: list[object] = []

    def counted(*command: object, **settings: object) -> Child:
        started.append(command)
        return Child(*command, **settings)  # type: ignore[arg-type]

    monkeypatch.setattr(engrave, "Child", counted)
    with Engraver() as engraver:
        engraver.feed(source)
        engraver.sheets(1)
    assert len(started) == 1


# --- every script -----------------------------------------------------------------------


@pytest.mark.parametrize("script", SCRIPTS)
def test_a_title_in_any_script_is_drawn_with_a_font_that_has_it(
    script: str, tmp_path: Path
) -> None:
    title, family = SCRIPTS[script]
    need(title)
    [made] = make([score_from("-2 -3'", title=title)], tmp_path, ["sheet"])
    assert made.notice == ""
    assert any(re.search(family, name) for name in fonts_drawn(made.path.read_bytes()))
    found = unicodedata.normalize("NFKC", read_back(made.path))
    # every letter is there, whatever the order a reader gives to lines from the right
    assert set(title) - set(found) - {" "} == set()
    assert "\ufffd" not in found


def test_sheets_drawn_together_look_as_they_do_alone(tmp_path: Path) -> None:
    thai, plain = SCRIPTS["Thai"][0], "Home"
    need(thai)
    scores = [score_from("-2 -3'", title=each) for each in (plain, thai)]
    alone = make(scores[:1], tmp_path / "a", ["sheet"])
    both = make(scores, tmp_path / "b", ["sheet"])
    assert both[0].path.read_bytes() == alone[0].path.read_bytes()


# --- what is left out -------------------------------------------------------------------


def test_emoji_are_left_out_on_paper_and_said_in_one_line(tmp_path: Path) -> None:
    title = "Blues \N{MUSICAL NOTE} for you"
    made = make([score_from("-2 -3'", title=title)], tmp_path, ["sheet", "midi", "tab"])
    assert [each.kind for each in made] == ["sheet-pdf", "midi", "tab"]
    assert "Blues for you" in read_back(made[0].path)
    assert made[0].notice == (
        f'Left out on paper: \N{MUSICAL NOTE} (U+1F3B5), in "{title}". Emoji are not printed. '
        "All else is made."
    )
    names = [each.name for each in mido.MidiFile(made[1].path).tracks]
    assert any(title in name for name in names) or title in made[2].path.read_text("utf-8")


@pytest.mark.usefixtures("without_fonts")
def test_a_machine_without_fonts_makes_everything_and_says_one_line(tmp_path: Path) -> None:
    drill = tmp_path / "own.drill"
    title = "เพลง"
    drill.write_text(
        f'drill "Home {title}"\n  anchor -2\n  rungs -3 -3\'\n  phrase anchor rung\n', "utf-8"
    )
    out = tmp_path / "out"
    done = run("make", drill, "--out", out, "--to", "sheet,png,svg,midi,tab")
    assert done.exit_code == 0
    made = {path.suffix for path in out.iterdir() if path.name != LIST}
    assert made == {".pdf", ".png", ".svg", ".mid", ".txt"}
    said = [line for line in done.stderr.splitlines() if "Left out" in line]
    assert said == [
        "Left out on paper: เ (U+0E40), พ (U+0E1E), ล (U+0E25), ง (U+0E07), in "
        f'"Home {title}". No free font here has them: install fonts-noto-core (Debian, '
        "Ubuntu), elsewhere a font such as Noto Sans Thai. All else is made."
    ]


def test_a_letter_lilypond_cannot_draw_after_all_is_left_out_and_the_sheet_made(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A font that promises a letter and has none: LilyPond says so, and is asked once more."""
    monkeypatch.setattr(letters, "_UNDRAWN", set[str]())
    lying = replace(fonts.fonts_for("ბ")[0], letters="ბ\u16a0") if fonts.fonts_for("ბ") else None
    assert lying, "this test needs a font with Georgian letters: install Debian's fonts-noto-core"
    score = score_from("-2 -3'", title="Home \u16a0 ბ")
    monkeypatch.setattr(letters, "fonts_for", lambda wanted: (lying,) if wanted else ())
    with Engraver() as engraver:
        engraver.feed(pages([score]))
        [pdf] = engraver.sheets(1)
    assert pdf.startswith(b"%PDF")
    assert letters.missing("Home \u16a0") == "\u16a0"


# --- lines ------------------------------------------------------------------------------


def test_no_line_begins_with_a_closing_mark_or_ends_with_an_opening_one() -> None:
    # Unicode Annex 14: CL and NS do not begin a line, OP does not end one
    parts = word_pieces("彼は「歌」と、言った。")
    assert "".join(parts) == "彼は「歌」と、言った。"
    assert not [each for each in parts if each[0] in "」、。" or each[-1] == "「"]


def test_an_accent_is_never_parted_from_its_letter() -> None:
    word = "क्षि" * 40
    assert "".join(word_pieces(word)) == word
    assert not [each for each in word_pieces(word) if unicodedata.category(each[0])[0] == "M"]


def test_words_from_the_right_stay_together_in_a_line_from_the_left() -> None:
    assert words("Ada plays שלום עולם today") == ["Ada", "plays", "שלום עולם", "today"]
    assert words("שלום Ada Lee עולם") == ["שלום", "Ada Lee", "עולם"]
    assert grouped(["a", "", "b"], right_to_left=False) == ["a", "", "b"]
    assert from_right("12 שלום")


def test_a_long_title_without_spaces_is_cut_in_a_list_and_not_lost() -> None:
    assert shortened("日本語" * 20, 21) == "日本語日本語日本語日…"


def test_joiners_are_kept_in_words_that_need_them_and_nowhere_else() -> None:
    # Unicode Annex 31, 2.3: Persian "I go" needs a ZERO WIDTH NON-JOINER
    assert (
        printable("\u0645\u06cc\u200c\u0631\u0648\u0645") == "\u0645\u06cc\u200c\u0631\u0648\u0645"
    )
    assert printable("A\u200cda \u200d") == "A[U+200C]da [U+200D]"
    for control in "\u200e\u200f\u061c\u202a\u202b\u202d\u202e\u2066\u2067\u2068":
        assert printable(f"ש{control}ש") == f"ש[U+{ord(control):04X}]ש"


def test_installing_a_font_is_seen_without_opening_one(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    (tmp_path / "fonts").mkdir()
    before = fonts.font_folders()
    (tmp_path / "fonts" / "New.ttf").write_bytes(b"")
    os.utime(tmp_path / "fonts", ns=(1, 1))
    assert fonts.font_folders() != before


# --- the foot, and the plain tab --------------------------------------------------------


Box = tuple[str, float, float, float]
"""A letter, its left and right end, and how high it stands, in points."""


def boxes(path: Path) -> list[Box]:
    """Every letter of the first page that is drawn, by PDFium."""
    found = []
    with pypdfium2.PdfDocument(path) as document:
        text = document[0].get_textpage()
        for at, letter in enumerate(text.get_text_range(0, text.count_chars())):
            if letter.strip():
                left, low, right, _ = text.get_charbox(at)
                found.append((letter, left, right, low))
    return found


def foot_of(path: Path) -> list[Box]:
    """The letters under the caution on the first page: it ends at "doctor."."""
    everything = boxes(path)
    letters = "".join(letter for letter, *_ in everything)
    caution = everything[letters.rindex("doctor")][3]
    return [box for box in everything if box[3] < caution - 2]


def in_the_foot(path: Path) -> set[str]:
    return set(unicodedata.normalize("NFKC", "".join(letter for letter, *_ in foot_of(path))))


def test_the_foot_of_a_sheet_has_its_title_in_every_script(tmp_path: Path) -> None:
    titles = [title for title, _ in SCRIPTS.values()] + list(OWN.values())
    need("".join(titles))
    made = make([score_from("-2 -3'", title=title) for title in titles], tmp_path, ["sheet"])
    assert len(made) == len(titles)
    for title, each in zip(titles, made, strict=True):
        name = title.lower().replace(",", "").replace(" ", "-")
        assert each.path.name.startswith(name)
        found = in_the_foot(each.path)
        printed = unicodedata.normalize("NFKC", title.replace(" ", ""))
        assert set(printed) - found == set(), title
        assert not found & set("01456789")  # no numbers of letters: a 2nd position, no page


def test_a_name_from_the_right_stands_before_the_harp_as_any_other(tmp_path: Path) -> None:
    for script in ("Hebrew", "Arabic"):
        title, _ = SCRIPTS[script]
        need(title)
        [made] = make([score_from("-2", title=title)], tmp_path, ["sheet"])
        foot = foot_of(made.path)
        name = [box for box in foot if unicodedata.bidirectional(box[0]) in ("R", "AL")]
        [harp] = [box for box in foot if box[0] == "C"]
        assert len(name) >= 5
        assert max(right for _, _, right, _ in name) < harp[1]


LONG = {
    "Latin": "W" * 29 + " " + "M" * 30, "Chinese": SCRIPTS["Chinese"][0] * 30,
    "Hebrew": SCRIPTS["Hebrew"][0] * 6,
}  # fmt: skip


@pytest.mark.parametrize("title", LONG.values(), ids=LONG)
def test_the_longest_name_stays_inside_the_margins(title: str, tmp_path: Path) -> None:
    need(title)
    score = replace(score_from("-2", title=title), reference_hz=442.5)
    [made] = make([score], tmp_path, ["sheet"], look=Look(large=True))
    foot = foot_of(made.path)
    with pypdfium2.PdfDocument(made.path) as document:
        right_margin = document[0].get_width() - MARGIN_MM / 25.4 * 72
    assert max(right for _, _, right, _ in foot) < right_margin + 1
    assert {"4", "H", "z"} <= {letter for letter, *_ in foot}  # all of it is there


def test_a_section_of_wide_letters_keeps_the_plain_tab_on_the_page(tmp_path: Path) -> None:
    """A margin is 10 mm at least; East Asian letters are two wide (Unicode Annex 11)."""
    name = SCRIPTS["Chinese"][0] * 40
    need(name)
    score = replace(score_from("-2 -3", title="Home"), sections=((Fraction(0), printable(name)),))
    [made] = make([score], tmp_path, ["sheet"])
    with pypdfium2.PdfDocument(made.path) as document:
        width = document[0].get_width()
    assert max(right for _, _, right, _ in boxes(made.path)) < width - 10 / 25.4 * 72


def test_the_lines_of_the_input_ask_for_no_font(monkeypatch: pytest.MonkeyPatch) -> None:
    """Some fonts claim to have a line feed; LilyPond was started anew for it, for nothing."""
    asked: list[str] = []

    def fonts_for(text: str) -> tuple[fonts.Font, ...]:
        asked.append(text)
        return ()

    monkeypatch.setattr(letters, "fonts_for", fonts_for)
    letters.fonts_drawing(pages([score_from("-2 -3'")]))
    assert "".join(asked) == ""
