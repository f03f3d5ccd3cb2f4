"""The page that opens a pack: one HTML file beside its sheets and sounds, read without a network.

Style and script stand inside the file and are named by their digests in its Content Security
Policy, which lets in nothing else but pictures and sounds from beside it.  Every letter of a
course is escaped; every address is a safe relative path of the pack.
"""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import sha256
from html import escape
from importlib.resources import files as package_files

from reedmill.harp import HOLES, Breath
from reedmill.harp.layouts import Layout
from reedmill.harp.reeds import bend_depth, bending_breath
from reedmill.pack.pages.chapter import Chapter, Front
from reedmill.pack.site.lesson import downloads_html, facts_html, lesson_html, lesson_id, with_signs
from reedmill.pack.site.manifest import PackFile
from reedmill.sheet.blocks import CAUTION

_HEARING = "Listen at a moderate level, especially with headphones."


@dataclass(frozen=True, slots=True)
class Site:
    """What the page shows.  Files are found by their lesson and exercise."""

    front: Front
    chapters: tuple[Chapter, ...]
    files: tuple[PackFile, ...]
    cautions: bool = True


def site_html(site: Site) -> bytes:
    """``index.html`` for the folder in which the paths of *site*'s files start."""
    style, script = asset("site.css"), asset("site.js")
    title = escape(site.front.title)
    parts = [
        "<!DOCTYPE html>",
        '<html lang="en">',
        "<head>",
        '<meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy(style, script)}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{title}</title>",
        f"<style>{style}</style>",
        "</head>",
        "<body>",
        '<a class="skip" href="#lessons">Skip to the lessons</a>',
        _header(site),
        f'<div class="layout">\n{_side(site)}\n<main id="lessons" tabindex="-1">',
        *([_care()] if site.cautions else []),
        *(lesson_html(chapter, site.files) for chapter in site.chapters),
        "</main>\n</div>",
        _footer(site),
        f"<script>{script}</script>",
        "</body>\n</html>\n",
    ]
    return "\n".join(parts).encode()


def asset(name: str) -> str:
    """The text of a file of the page: its style or its script."""
    return (package_files("reedmill.pack") / "assets" / name).read_text("utf-8")


def policy(style: str, script: str = "") -> str:
    """Nothing but this file and what lies beside it; no script but *script*.

    ``file:`` because browsers take every file on a disk for a stranger, to whom 'self' is nobody.
    """
    return "; ".join(
        [
            "default-src 'none'",
            "img-src 'self' file:",
            "media-src 'self' file:",
            f"style-src '{_digest(style)}'",
            *([f"script-src '{_digest(script)}'"] if script else []),
            "base-uri 'none'",
            "form-action 'none'",
        ]
    )


def _digest(text: str) -> str:
    return "sha256-" + b64encode(sha256(text.encode()).digest()).decode()


# --- around the lessons -----------------------------------------------------------------


def _header(site: Site) -> str:
    front = site.front
    facts = [
        ("For", front.student),
        ("Harps", ", ".join(map(with_signs, front.harps))),
        ("Lessons", str(front.lessons or "")),
        ("By", front.author),
    ]
    about = f'<p dir="auto">{escape(front.about)}</p>' if front.about else ""
    words = f'<div>\n<h1 dir="auto">{escape(front.title)}</h1>\n{about}\n</div>'
    files = downloads_html([each for each in _whole(site) if each.kind != "playlist"])
    parts = ["<header>", _holes(front.layout), words, facts_html(facts), files, "</header>"]
    return "\n".join(part for part in parts if part)


def _whole(site: Site) -> list[PackFile]:
    """The files that belong to no single lesson."""
    return [each for each in site.files if each.lesson is None]


def _holes(layout: Layout) -> str:
    """The harp as the covers show it: ten holes, their notes, every bend filled."""
    cells = ['<rect class="comb" x="0" y="45" width="198" height="13" rx="2"/>']
    for n, hole in enumerate(HOLES):
        cells += [f'<text x="{n * 20 + 9}" y="54.7">{hole}</text>']
        cells += [_cell("plain", n, row) for row in (-1, 1)]
        way = -1 if bending_breath(layout, hole) is Breath.BLOW else 1
        depth = bend_depth(layout, hole)
        cells += [_cell("bend", n, way * (bend + 1)) for bend in range(1, depth + 1)]
    drawing = "".join(cells)
    return (
        f'<figure class="holes">\n<svg viewBox="-1 -1 200 121" aria-hidden="true">{drawing}</svg>\n'
        "<figcaption>The ten holes: blow notes above, draw notes below, bends filled</figcaption>\n"
        "</figure>"
    )


def _cell(kind: str, hole: int, row: int) -> str:
    x, y = hole * 20, 45 + row * 15
    return f'<rect class="{kind}" x="{x}" y="{y}" width="18" height="13" rx="2"/>'


def _side(site: Site) -> str:
    rows = "\n".join(
        f'<li><a href="#{lesson_id(each)}"><span>{each.number}</span>'
        f"<bdi>{escape(each.title)}</bdi></a></li>"
        for each in site.chapters
    )
    return (
        '<div class="side"><nav aria-label="Contents">\n'
        f'<details class="contents" open>\n<summary>Contents</summary>\n<ol>\n{rows}\n</ol>\n'
        f"</details>\n{_harp_choice(site.chapters)}</nav></div>"
    )


def _harp_choice(chapters: Sequence[Chapter]) -> str:
    """Buttons that show one harp's exercises; hidden until the script can make them work."""
    names = dict.fromkeys(each.harp for chapter in chapters for each in chapter.exercises)
    if len(names) < 2:
        return ""
    choices = [("", "All"), *((name, with_signs(name)) for name in names)]
    buttons = "\n".join(
        f'<label><input type="radio" name="harp" value="{escape(value)}"'
        f"{'' if value else ' checked'}><span>{escape(text)}</span></label>"
        for value, text in choices
    )
    return f'<fieldset class="harps" hidden>\n<legend>Harp</legend>\n{buttons}\n</fieldset>\n'


def _care() -> str:
    return (
        '<section class="care" aria-labelledby="care">\n<h2 id="care">Take care</h2>\n'
        f"<p>{escape(_HEARING)} {escape(CAUTION)}</p>\n</section>"
    )


def _footer(site: Site) -> str:
    front = site.front
    by = f" by <bdi>{escape(front.author)}</bdi>" if front.author else ""
    files = downloads_html([each for each in _whole(site) if each.kind == "playlist"])
    words = (
        f"<p><bdi>{escape(front.title)}</bdi>{by}. Made with Reedmill; opens without a network.</p>"
    )
    return "\n".join(part for part in ("<footer>", files, words, "</footer>") if part)
