"""A stranger's title and purpose, in every format: shown as text, never obeyed.

Nothing is run, nothing is written outside the output folder, and no character that
could reorder or hide what follows it reaches a page.
"""

from __future__ import annotations

import io
import json
import re
import subprocess
import unicodedata
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import lilypond
import mido
import pypdf
import pytest

from reedmill.base.text import ForeignText
from reedmill.expand import expand
from reedmill.formats.table import DRILL_FORMATS
from reedmill.harp import Harp
from reedmill.language import parse
from reedmill.make.made_files import LIST
from reedmill.make.material import FORMATS, Made, make
from reedmill.score.score import Score
from reedmill.theory.positions import Position
from tunes import score_from

# Each would leave a file behind if a shell or LilyPond's Scheme saw it as code: one in
# the folder it runs in, one at a place that outlives the engraver's scratch folder.
RUN = "touch pwned $PWNED"

# What is written in a drill, and what a reader must find; the second by hand.
WRITTEN = {
    f'x" #(system "{RUN}") "': f'x" #(system "{RUN}") "',
    f'\\" #(system "{RUN}")': f'\\" #(system "{RUN}")',
    f'x\\\\" #(system "{RUN}") \\\\': f'x\\\\" #(system "{RUN}") \\\\',
    r'\include "/etc/passwd"': r'\include "/etc/passwd"',
    "</script><b>": "</script><b>",
    "../../x": "../../x",
    "/etc/x": "/etc/x",
    "home\u202eyawa": "home[U+202E]yawa",
    "home\x00away": "home[U+0000]away",
    "home\x1b[31maway": "home[U+001B][31maway",
    "zero\u200bwidth": "zero[U+200B]width",
    "%{ open": "%{ open",
    "#(ly:exit 1)": "#(ly:exit 1)",
    f"$({RUN})": f"$({RUN})",
    f"`{RUN}`": f"`{RUN}`",
    "} \\book { $defaultheader ##f": "} \\book { $defaultheader ##f",
    "e\u0301tude": "\u00e9tude",  # NFC, Unicode Standard Annex 15
}

# What the language cannot hold, given by another program.
GIVEN = {
    "one\ntwo": "one two",
    "one\r\ntwo\x0bthree\x0cfour": "one two three four",
    "one\x85two\u2028three\u2029four": "one two three four",
    f'one\n#(system "{RUN}")': f'one #(system "{RUN}")',
    "lone\ud800half": "lone[U+D800]half",
}


@dataclass(frozen=True)
class Outcome:
    """What one run over all hostile texts left."""

    root: Path  # with the folders out, cwd and scratch below it
    shown: list[str]
    files: dict[str, list[Made]]  # by kind, in the order of the texts


def scores() -> list[Score]:
    drills = [drill for text in WRITTEN for drill in parse(pattern(text))]
    written = [expand(drill, Harp("C"), Position(2)) for drill in drills]
    raw = map(ForeignText, GIVEN)  # as a program may have it that never called printable
    given = [replace(score_from("-2 -3'"), title=text, about=text) for text in raw]
    return [*written, *given]


def pattern(text: str) -> str:
    """A drill whose title and purpose are *text*, quoted as the language quotes."""
    inside = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'drill "{inside}"\n  about "{inside}"\n  play -2 -3\''


@pytest.fixture(scope="module")
def outcome(tmp_path_factory: pytest.TempPathFactory) -> Outcome:
    root = tmp_path_factory.mktemp("hostile")
    (root / "cwd").mkdir()
    with pytest.MonkeyPatch.context() as patched:
        patched.chdir(root / "cwd")
        patched.setenv("PWNED", str(root / "pwned"))
        made = make(scores(), Path("../out"), FORMATS)
    kinds = sorted({each.kind for each in made})
    files = {kind: [each for each in made if each.kind == kind] for kind in kinds}
    return Outcome(root, [*WRITTEN.values(), *GIVEN.values()], files)


def where(outcome: Outcome, made: Made) -> Path:
    return outcome.root / "cwd" / made.path


# --- nothing is run, nothing is written elsewhere ----------------------------------------


def test_nothing_is_run(outcome: Outcome) -> None:
    assert list(outcome.root.rglob("pwned*")) == []


def test_the_trap_does_catch_code_that_is_run(tmp_path: Path) -> None:
    """So that the test above could fail: LilyPond does run what stands in its input."""
    source = f'\\version "2.24.3"\n#(system "{RUN}")\n'
    subprocess.run(
        [str(lilypond.executable()), "-"], input=source.encode(), cwd=tmp_path, check=True,
        env={"PATH": "/usr/bin:/bin", "PWNED": str(tmp_path / "pwned-too")}, capture_output=True,
    )  # fmt: skip
    assert {path.name for path in tmp_path.iterdir()} == {"pwned", "pwned-too"}


def test_nothing_is_written_outside_the_output_folder(outcome: Outcome) -> None:
    assert {path.name for path in outcome.root.iterdir()} == {"cwd", "out"}
    assert list((outcome.root / "cwd").iterdir()) == []
    made = {where(outcome, each).resolve() for files in outcome.files.values() for each in files}
    assert set((outcome.root / "out").rglob("*")) == made | {outcome.root / "out" / LIST}


def test_file_names_hold_nothing_of_the_kind(outcome: Outcome) -> None:
    """Letters and digits, hyphens and dots: the only letter among them that is not ASCII is é."""
    names = [path.name for path in (outcome.root / "out").iterdir() if path.name != LIST]
    assert [n for n in names if not re.fullmatch("[a-z0-9\u00e9][a-z0-9\u00e9.-]*", n)] == []
    assert [name for name in names if ".." in name] == []


def test_every_text_got_every_format(outcome: Outcome) -> None:
    counts = {kind: len(files) for kind, files in outcome.files.items()}
    kinds = [row.kind for row in DRILL_FORMATS.values()]
    assert counts == dict.fromkeys(kinds, len(outcome.shown))


# --- the text is shown as text -----------------------------------------------------------


def test_the_sheet_prints_it_as_title_and_purpose(outcome: Outcome) -> None:
    for shown, made in zip(outcome.shown, outcome.files["sheet-pdf"], strict=True):
        reader = pypdf.PdfReader(where(outcome, made))
        text = reader.pages[0].extract_text()
        assert len(reader.pages) == 1
        assert letters(text).startswith(letters(shown) * 2), (shown, text[:200])
        assert reader.metadata is not None
        assert (reader.metadata.title, reader.metadata.subject) == (shown, shown)


def letters(text: str) -> str:
    """*text* without spaces and line breaks, which a reader of PDF has to guess."""
    return re.sub(r"\s", "", unicodedata.normalize("NFKC", text))


def test_no_sheet_can_be_clicked_or_runs_anything(outcome: Outcome) -> None:
    """PDF 32000-1:2008: actions, scripts and attachments would stand under these names."""
    for made in outcome.files["sheet-pdf"]:
        reader = pypdf.PdfReader(where(outcome, made))
        root: Any = reader.trailer["/Root"]
        page = reader.pages[0]
        assert not {"/OpenAction", "/AA", "/AcroForm"} & set(root)
        assert not {"/AA", "/Annots"} & set(page)
        assert not {"/JavaScript", "/EmbeddedFiles"} & set(root.get("/Names", {}))


def test_the_midi_file_names_its_first_track_so(outcome: Outcome) -> None:
    for shown, made in zip(outcome.shown, outcome.files["midi"], strict=True):
        content = where(outcome, made).read_bytes()
        file = mido.MidiFile(file=io.BytesIO(content), charset="utf-8")
        assert file.tracks[0].name == shown


def test_the_tab_begins_with_it_on_one_line(outcome: Outcome) -> None:
    for shown, made in zip(outcome.shown, outcome.files["tab"], strict=True):
        lines = where(outcome, made).read_text("utf-8").split("\n")
        assert (lines[0], lines[2]) == (shown, shown)


def test_the_data_hold_it(outcome: Outcome) -> None:
    for shown, made in zip(outcome.shown, outcome.files["json"], strict=True):
        [drill] = json.loads(where(outcome, made).read_bytes())["drills"]
        assert drill["title"] == shown


def test_what_make_returns_is_fit_for_a_terminal(outcome: Outcome) -> None:
    for kind in outcome.files:
        assert [made.drill for made in outcome.files[kind]] == outcome.shown


def test_text_files_hold_no_invisible_character(outcome: Outcome) -> None:
    """Categories of the Unicode Standard, 4.5: control, format, surrogate, private, unassigned."""
    for made in [*outcome.files["tab"], *outcome.files["json"]]:
        text = where(outcome, made).read_text("utf-8")
        hidden = {c for c in text if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Co", "Cn"}}
        assert hidden <= {"\n"}
