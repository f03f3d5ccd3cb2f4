"""The recipes of DEVELOPERS.md, carried out on a copy as a contributor would.

A recipe that is followed works, and a step that is left out is named by a test whose message
says what to do.  ``recipes.py`` has the copy.
"""

from __future__ import annotations

import csv
import json
import re
from pathlib import Path

import pytest

from recipes import Checkout, after, whole


@pytest.fixture(scope="module")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Checkout:
    return Checkout(tmp_path_factory.mktemp("recipes"))


# --- a format ----------------------------------------------------------------------------

CSV = '''\
"""The notes of a Score as a table for spreadsheets (RFC 4180)."""

from __future__ import annotations

import csv
import io

from reedmill.score.score import Score


def csv_text(score: Score) -> str:
    """A line for each note: where it starts and how long it is, in beats, and its tab."""
    table = io.StringIO()
    lines = csv.writer(table)
    lines.writerow(("start", "length", "tab"))
    lines.writerows((note.start, note.length, note.reed.tab) for note in score.notes)
    return table.getvalue()
'''
ROW = """
    Format(
        "csv", ".csv", "csv", "Table", "table of the notes", Maker.WRITER,
        drill="reedmill.formats.csv:csv_text",
        pack=InPack(StepKind("csv", (), (), 0.002, 300.0)),
    ),"""
MODULE = {"generator/reedmill/formats/csv.py": whole(CSV)}
TABLE = {"generator/reedmill/formats/table.py": after("\nROWS = (", ROW)}
COURSE = """\
title = "Tables"
harps = ["C"]
cautions = false
defaults = { hand_out = "csv" }

[[lessons]]
title = "One"

  [[lessons.exercises]]
  drill = "Mine"
  file = "mine.drill"
"""
# what commands say of a new format, each in a process of its own that has not seen the old table
SAID = """
import json, sys
from click.testing import CliRunner
from reedmill.cli import cli

def said(*arguments):
    done = CliRunner().invoke(cli, arguments)
    return [done.exit_code, done.output]

json.dump({
    "help": said("make", "--help"),
    "made": said("make", "mine.drill", "--to", "csv", "--out", "made"),
    "wrong": said("make", "mine.drill", "--to", "cvs", "--out", "made"),
    "checked": said("check", "tables.toml"),
    "pack": said("pack", "tables.toml", "--out", "pack", "--json"),
}, sys.stdout)
"""


def said(checkout: Checkout) -> dict[str, tuple[int, str]]:
    (checkout.folder / "mine.drill").write_text('drill "Mine"\n  play -2:1/2 -3\':3/2 4 r\n')
    (checkout.folder / "tables.toml").write_text(COURSE)
    found = json.loads(checkout.run("-c", SAID).splitlines()[-1])
    return {name: (code, output) for name, (code, output) in found.items()}


def test_a_format_is_one_module_and_one_row(checkout: Checkout) -> None:
    """RFC 4180: lines end in CR LF, and a field with a quote or comma in it is quoted."""
    with checkout.changed(MODULE | TABLE | checkout.as_they_are("docs", "courses")):
        found = said(checkout)
        assert re.search(r"Any\s+of\s+csv,\s+sheet,", found["help"][1])
        assert found["made"][0] == 0, found["made"][1]
        [made] = (checkout.folder / "made").glob("*.csv")
        assert made.read_bytes() == b"start,length,tab\r\n0,1/2,-2\r\n1/2,3/2,-3'\r\n2,1,4\r\n"
        code, told = found["wrong"]
        assert code == 2
        assert 'Did you mean "csv"? Choose from: csv, sheet, png,' in told
        assert found["checked"][0] == 0, found["checked"][1]
        assert found["pack"][0] == 0, found["pack"][1]
        files = {Path(row["path"]): row["kind"] for row in json.loads(found["pack"][1])["files"]}
        [packed] = [path for path, kind in files.items() if kind == "csv"]
        lines = (checkout.folder / packed).read_text("utf-8").splitlines()
        assert [row[2] for row in csv.reader(lines)] == ["tab", "-2", "-3'", "4"]
        manifest = json.loads((checkout.folder / "pack" / "manifest.json").read_text("utf-8"))
        assert "csv" in {row["kind"] for row in manifest["files"]}
        page = (checkout.folder / "pack" / "index.html").read_text("utf-8")
        assert f'href="{packed.relative_to("pack").as_posix()}">Table</a>' in page
        checkout.run("scripts/reference")
        reference = (checkout.folder / "docs" / "REFERENCE.md").read_text("utf-8")
        assert "Any of csv, sheet," in reference
        documents = re.findall(r'^\| `(?:files|plan)\[\]\.kind` .*`"csv"`.*$', reference, re.M)
        assert len(documents) == 4  # of make, pack, its plan and its manifest
        course = (checkout.folder / "courses" / "README.md").read_text("utf-8")
        assert "`csv`" in course


def test_without_its_row_nothing_knows_a_format(checkout: Checkout) -> None:
    with checkout.changed(MODULE):
        found = said(checkout)
        assert "csv" not in found["help"][1]
        for name in ("made", "checked", "pack"):
            code, told = found[name]
            assert (code, name) == (2, name), told
            assert re.search(r'there is no (format|kind of file) "csv"', told)
