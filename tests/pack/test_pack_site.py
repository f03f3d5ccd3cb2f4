"""The page of a pack as a file: what it links to, what it lets in, what foreign text becomes.

lxml reads it.  Outside facts: Content Security Policy Level 3 (W3C), 6.7.2.3 hashes of inline
scripts and styles; Web Content Accessibility Guidelines 2.1 (W3C), 1.4.3 contrast.
"""

from __future__ import annotations

import base64
import hashlib
import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from lxml import html

from reedmill.harp.layouts import COUNTRY
from reedmill.library import find_drills
from reedmill.pack.pages.chapter import Chapter, Exercise, Front
from reedmill.pack.site.index_page import Site, site_html
from reedmill.pack.site.manifest import PackFile
from small_pack import SmallPack, small_pack


def pack() -> SmallPack:
    return small_pack()


@cache
def page() -> html.HtmlElement:
    return html.document_fromstring(pack().read("index.html").decode())


def site() -> Site:
    files = tuple(each for each in pack().files if each.kind != "page")
    return Site(pack().front, pack().chapters, files)


def test_every_address_is_relative_and_leads_to_a_file_of_the_pack() -> None:
    found = 0
    for element, attribute, address, _ in page().iterlinks():
        if address.startswith(("https://example.org", "#")):
            continue
        assert attribute in {"href", "src"}
        parts = urlsplit(address)
        assert (parts.scheme, parts.netloc, parts.query, parts.fragment) == ("", "", "", "")
        assert not parts.path.startswith("/")
        assert (pack().folder / unquote(parts.path)).is_file(), element
        found += 1
    assert found > 30


def test_every_file_of_the_pack_can_be_reached_but_the_page_itself() -> None:
    linked = {address for _, _, address, _ in page().iterlinks()}
    offered = {each.path for each in pack().files if each.kind != "icon"}
    assert offered - linked == {"index.html"}


def test_every_fragment_has_its_place_and_every_id_is_used_once() -> None:
    ids = page().xpath("//@id")
    assert len(ids) == len(set(ids))
    for address in page().xpath("//a/@href[starts-with(., '#')]"):
        assert address[1:] in ids
    for each in page().xpath("//@aria-labelledby"):
        assert each in ids


def test_a_sheet_says_without_eyes_which_drill_harp_and_position_it_is() -> None:
    texts = page().xpath("//img/@alt")
    assert texts == [
        "Sheet of Home from every rung, C harp, 2nd position",
        "Sheet of Home from every rung, low F harp, 2nd position",
        "Sheet of Answer in one bar, C harp, 2nd position, page 1 of 2",
        "Sheet of Answer in one bar, C harp, 2nd position, page 2 of 2",
    ]


def test_every_player_waits_to_be_asked_and_says_what_it_plays() -> None:
    players = page().xpath("//audio")
    assert len(players) == 3 * 3
    for each in players:
        assert each.get("preload") == "none"
        assert "controls" in each.attrib
        assert re.fullmatch(r".+: .+, (low )?[CF] harp, 2nd position", each.get("aria-label"))


def exercise_alone(exercise: Exercise, *files: PackFile) -> html.HtmlElement:
    chapters = (Chapter(1, "A", exercises=(exercise,)),)
    return html.document_fromstring(site_html(Site(Front("A"), chapters, files)).decode())


def captions(found: html.HtmlElement) -> list[str]:
    return [" ".join(each.text_content().split()) for each in found.xpath("//figure[audio]")]


EXERCISE = Exercise("01-a", "A", "C", 2, "G major", 60)


def sound(ending: str, stem: str, seconds: float, tempo: int = 60) -> PackFile:
    return PackFile(
        f"a{ending}", "audio", lesson=1, exercise="01-a", stem=stem, tempo=tempo, seconds=seconds
    )


@pytest.mark.parametrize("kind", ["wav", "flac", "mp3"])
def test_the_length_stands_beside_a_player_before_it_is_started(kind: str) -> None:
    [caption] = captions(exercise_alone(EXERCISE, sound(f".mix.{kind}", "mix", 68.4)))
    assert caption == "Full mix 1:08"


def test_a_sound_that_goes_through_a_ladder_says_which() -> None:
    climbing = replace(EXERCISE, tempo_bpm=50, tempi_bpm=(50, 55, 60))
    found = exercise_alone(
        climbing, sound(".wav", "tones", 60, 50), sound(".mix.wav", "mix", 61, 50),
        sound(".drone-loop.wav", "drone", 9, 50),
    )  # fmt: skip
    assert captions(found) == [
        "Full mix, 50 to 60 by 5 1:01", "Reference tones, 50 to 60 by 5 1:00",
        "Drone, to loop 0:09",
    ]  # fmt: skip
    assert "<dt>Tempo</dt><dd>50, 55, 60</dd>" in html.tostring(found).decode()
    links = found.xpath("//article//ul//a/text()")
    assert links == ["Full mix, WAV", "Reference tones, WAV", "Drone, to loop, WAV"]


def test_tempi_in_files_of_their_own_are_players_of_their_own() -> None:
    climbing = replace(EXERCISE, tempo_bpm=50, tempi_bpm=(50, 55))
    files = [sound(f".{tempo}-bpm.{kind}", "tones", 30, tempo) for tempo in (50, 55)
             for kind in ("flac", "mp3")]  # fmt: skip
    found = exercise_alone(climbing, *files)
    assert captions(found) == ["Reference tones, tempo 50 0:30", "Reference tones, tempo 55 0:30"]
    assert found.xpath("//article//ul//a/text()") == [
        f"Reference tones, tempo {tempo}, {kind}" for tempo in (50, 55) for kind in ("FLAC", "MP3")
    ]


def test_a_drone_and_its_loop_are_two_players() -> None:
    found = exercise_alone(
        EXERCISE, sound(".drone.wav", "drone", 30), sound(".drone-loop.wav", "drone", 9)
    )
    assert captions(found) == ["Drone 0:30", "Drone, to loop 0:09"]


def test_an_exercise_says_what_it_is_for() -> None:
    purposes = page().xpath("//article/p[@class='purpose']/text()")
    [drill] = find_drills("Home from every rung")
    assert purposes[:2] == [drill.about] * 2
    assert len(purposes) == 3


def test_sheets_are_shown_without_a_click() -> None:
    assert page().xpath("//article/details[not(@open)]") == []
    assert len(page().xpath("//article/details[@open]//img")) == 4


def test_playlists_stand_where_nothing_comes_after_them() -> None:
    music = PackFile("a.m3u8", "playlist", 1, lesson=1)
    whole = PackFile("b.m3u8", "playlist", 1)
    chapters = (Chapter(1, "A", exercises=(EXERCISE,)),)
    found = html.document_fromstring(site_html(Site(Front("A"), chapters, (whole, music))).decode())
    assert found.xpath("//section//article/following-sibling::ul//a/text()") == [
        "Playlist of this lesson"
    ]
    assert found.xpath("//footer//a/text()") == ["Playlist of the whole course"]
    assert found.xpath("//header//a") == []


def test_the_drawing_numbers_the_holes_and_shows_the_bends_of_the_layout() -> None:
    assert page().xpath("//svg/text/text()") == [str(hole) for hole in range(1, 11)]
    # a Richter harp bends to the notes strictly between the two of each hole: OEIS A291810
    assert len(page().xpath("//svg/rect[@class='bend']")) == 1 + 2 + 3 + 1 + 1 + 1 + 1 + 2
    country = site_html(Site(Front("A", layout=COUNTRY), (), ())).decode()
    # draw 5 a semitone higher, so that one note lies between: common practice, no published source
    assert country.count('class="bend"') == 13


def test_headings_go_down_one_level_at_a_time() -> None:
    levels = [int(each.tag[1]) for each in page().xpath("//h1 | //h2 | //h3 | //h4 | //h5 | //h6")]
    assert levels[0] == 1
    assert levels.count(1) == 1
    for above, below in pairwise(levels):
        assert below <= above + 1


def test_the_policy_lets_in_this_style_and_script_and_nothing_foreign() -> None:
    [policy] = page().xpath("//meta[@http-equiv='Content-Security-Policy']/@content")
    rules = dict(rule.split(" ", 1) for rule in policy.split("; "))
    assert rules["default-src"] == "'none'"
    for tag in ("script", "style"):
        [element] = page().xpath(f"//{tag}")
        digest = base64.b64encode(hashlib.sha256(element.text.encode()).digest()).decode()
        assert rules[f"{tag}-src"] == f"'sha256-{digest}'"
    assert rules["img-src"] == rules["media-src"] == "'self' file:"
    assert rules["manifest-src"] == rules["worker-src"] == "'self'"  # of the app, see app_files
    assert rules["connect-src"] == "'none'"
    assert rules["base-uri"] == rules["form-action"] == "'none'"
    assert page().xpath("//@style | //@*[starts-with(name(), 'on')]") == []


def test_the_policy_stands_before_what_it_governs() -> None:
    first = [each.tag for each in page().xpath("//head/*")][:2]
    assert first == ["meta", "meta"]
    assert b"<meta charset" in pack().read("index.html")[:100]


BAD = "\"><script>alert(1)</script><img src=x onerror=alert(2)>' onload='x"


def hostile() -> Site:
    exercise = Exercise("01-a", BAD, BAD, 2, BAD, 60, 70, BAD, BAD)
    chapter = Chapter(1, BAD, BAD, f"# {BAD}\n\n{BAD}\n\n    {BAD}", (exercise,))
    front = Front(BAD, BAD, BAD, BAD, (BAD, "C"), 1)
    files = tuple(
        PackFile(f"a.{kind}", kind, 1, lesson=1, exercise="01-a", drill=BAD, harp=BAD, stem=BAD)
        for kind in ("audio", "sheet-png", "sheet-pdf")
    )
    chart = PackFile("b.pdf", "role-chart", 1, lesson=1, harp=BAD)
    second = replace(chapter, number=2, exercises=(replace(exercise, name="02-a", harp="C"),))
    return Site(front, (chapter, second), (*files, chart))


def test_foreign_text_becomes_letters_wherever_it_stands() -> None:
    text = site_html(hostile()).decode()
    found = html.document_fromstring(text)
    assert len(found.xpath("//script")) == 1
    assert found.xpath("//@*[starts-with(name(), 'on')]") == []
    assert found.xpath("//img/@src") == ["a.sheet-png"]
    assert "<script>alert" not in text
    assert len(re.findall(r"alert\(1\)", found.text_content())) >= 15


def test_text_cannot_write_a_policy_or_close_the_title() -> None:
    front = Front("</title><base href='https://example.org/'>", "", "", "", (), 0)
    found = html.document_fromstring(site_html(Site(front, (), ())).decode())
    assert found.xpath("//base") == []
    assert found.findtext(".//title") == front.title


def test_equal_packs_have_equal_pages() -> None:
    assert site_html(site()) == pack().read("index.html")


def test_the_page_says_for_whom_and_how_to_take_care() -> None:
    text = " ".join(page().text_content().split())
    for part in ("Jon Weaver", "Mara Holt", "moderate level", "headphones", "dizzy"):
        assert part in text
    assert "a matter for a teacher or a doctor" in text
    without = html.document_fromstring(site_html(replace(site(), cautions=False)).decode())
    assert without.xpath("//*[@id='care']") == []


def test_harps_can_be_chosen_when_there_are_several() -> None:
    assert page().xpath("//fieldset//input/@value") == ["", "C", "low F"]
    assert page().xpath("//article/@data-harp") == ["C", "low F", "C"]
    alone = replace(site(), chapters=pack().chapters[1:])
    assert b"<fieldset" not in site_html(alone)


def test_flats_and_sharps_are_written_as_such() -> None:
    exercise = Exercise("01-a", "A", "low Bb", 3, "C# minor", 60)
    text = site_html(Site(Front("Bb"), (Chapter(1, "b", exercises=(exercise,)),), ())).decode()
    assert "<dd>low B♭</dd>" in text
    assert "<dd>C♯ minor</dd>" in text
    assert '<h1 dir="auto">Bb</h1>' in text  # titles stay as they were written


def test_a_role_chart_stands_with_its_lesson() -> None:
    chart = PackFile(
        "01-roles-bb.pdf", "role-chart", 49_787, lesson=1, exercise="01-roles", harp="Bb"
    )
    text = site_html(Site(Front("A"), (Chapter(1, "A"),), (chart,))).decode()
    found = html.document_fromstring(text)
    [link] = found.xpath("//section[@id='lesson-1']//a")
    assert (link.get("href"), link.text) == ("01-roles-bb.pdf", "Role chart, B♭ harp")
    assert link.getnext().text == "50 kB"


def test_several_types_of_one_sound_are_one_player() -> None:
    files = tuple(
        PackFile(f"a.{kind}", "audio", lesson=1, exercise="01-a", stem="mix")
        for kind in ("flac", "mp3")
    )
    found = exercise_alone(EXERCISE, *files)
    assert found.xpath("//audio//source/@type") == ["audio/flac", "audio/mpeg"]
    assert len(found.xpath("//audio")) == 1


# --- colours ----------------------------------------------------------------------------


def style() -> str:
    return str(page().findtext(".//style"))


def schemes() -> list[dict[str, str]]:
    """The colours by name, light and dark."""
    light, dark = re.findall(r":root \{([^}]*--paper[^}]*)\}", style())[:2]
    return [dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block)) for block in (light, dark)]


def luminance(colour: str) -> float:
    """WCAG 2.1, relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted(map(luminance, (one, other)))
    return (light + 0.05) / (dark + 0.05)


@pytest.mark.parametrize("scheme", [0, 1], ids=["light", "dark"])
def test_all_text_has_the_contrast_of_wcag_aa(scheme: int) -> None:
    colours = schemes()[scheme]
    for text in ("ink", "faint", "accent"):
        for ground in ("paper", "card"):
            assert contrast(colours[text], colours[ground]) >= 4.5, (text, ground)
    assert contrast(colours["on-accent"], colours["accent"]) >= 4.5


def test_sheets_stay_on_white_paper_in_the_dark() -> None:
    assert re.search(r"\.sheets img \{[^}]*background: #ffffff", style())


def test_nothing_of_the_style_is_fetched() -> None:
    for word in ("url(", "@import", "@font-face"):
        assert word not in style()


def test_the_assets_are_in_the_package() -> None:
    import reedmill.pack

    folder = Path(str(reedmill.pack.__file__)).parent / "site" / "assets"
    assert {each.name for each in folder.iterdir()} >= {"site.css", "site.js"}
