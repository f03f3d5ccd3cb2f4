"""Every fenced example of the pages is pasted: as it stands, or under what its page says.

What a pasted drill, form or course comes to is judged elsewhere (``test_reference``,
``test_band_language``, ``test_curriculum_reference``); the commands and the Python of README
run in ``test_readme``, those about SoundFonts in ``test_soundfont``.
"""

from __future__ import annotations

import re
import shlex
import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner

from reedmill.cli import cli

ROOT = Path(__file__).parents[2]
PAGES = (
    "README.md", "patterns/README.md", "patterns/BACKING.md", "courses/README.md",
    "soundfonts_README.md",
)  # fmt: skip
PASTED = ("drill", "form", "feel", "toml")
SHOWN = ("text", "tab")  # what comes out
RUN_ELSEWHERE = {"README.md", "soundfonts_README.md"}
FENCE = re.compile(r"^```(\w*)\n(.*?)^```$", re.DOTALL | re.MULTILINE)


@dataclass(frozen=True)
class Snippet:
    """One fenced block: its page, its place there, what it is written in, its text."""

    page: str
    at: int
    kind: str
    text: str

    def __str__(self) -> str:
        return f"{self.page}-{self.at}-{self.kind}"

    @property
    def starts_one(self) -> bool:
        """True when it can be pasted as it stands."""
        return self.kind == "toml" or bool(re.search(rf'^{self.kind} "', self.text, re.MULTILINE))

    @property
    def pasted(self) -> str:
        """The file it makes: as it stands, or in the frame its page gives."""
        if self.starts_one:
            return self.text
        frame = frame_of(self.page, self.kind)
        own = {line.split()[0] for line in self.text.splitlines() if line.strip()}
        title, *rest = frame.splitlines()
        if self.kind == "drill" and own & {"play", "tune"}:
            rest = []
        kept = [line for line in rest if line.split()[0] not in own]
        return "\n".join([title, *kept, self.text])


def frame_of(page: str, kind: str) -> str:
    """What the page says its loose lines belong in, under "How to try an example"."""
    _, _, told = (ROOT / page).read_text("utf-8").partition("### How to try an example\n")
    section = told.partition("\n## ")[0]
    frames: dict[str, str] = dict(FENCE.findall(section))
    return frames[kind]


SNIPPETS = [
    Snippet(page, at, kind, text)
    for page in PAGES
    for at, (kind, text) in enumerate(FENCE.findall((ROOT / page).read_text("utf-8")), start=1)
]


def run(*words: str) -> None:
    result = CliRunner().invoke(cli, list(words))
    assert result.exit_code == 0, result.output


def commands(snippet: Snippet) -> list[list[str]]:
    """The commands a shell reads in *snippet*, without what stands after a #."""
    lines = [shlex.split(line, comments=True) for line in snippet.text.splitlines()]
    return [words for words in lines if words]


def test_a_shell_reads_only_commands_in_a_block_of_them() -> None:
    for each in SNIPPETS:
        if each.kind == "sh":
            assert {words[0] for words in commands(each)} <= {"reedmill", "sh"}, each
            for words in commands(each):
                assert words[0] == "sh" or words[1] in cli.commands


def test_every_block_says_what_it_is_written_in() -> None:
    known = {*PASTED, *SHOWN, "sh", "python"}
    assert [str(each) for each in SNIPPETS if each.kind not in known] == []
    for page in PAGES:
        fences = re.findall(r"^```", (ROOT / page).read_text("utf-8"), re.MULTILINE)
        assert len(fences) == 2 * sum(each.page == page for each in SNIPPETS)


@pytest.mark.parametrize("page", PAGES)
def test_a_page_with_loose_lines_says_what_they_belong_in(page: str) -> None:
    loose = {each.kind for each in SNIPPETS if each.page == page and each.kind in PASTED
             and not each.starts_one}  # fmt: skip
    for kind in loose:
        assert re.match(rf'{kind} "Mine"\n', frame_of(page, kind))


@pytest.mark.parametrize("snippet", [each for each in SNIPPETS if each.kind in PASTED], ids=str)
def test_what_is_pasted_is_right(
    snippet: Snippet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = Path(f"mine.{snippet.kind}")
    path.write_text(snippet.pasted, "utf-8")
    if re.match(r"blow = ", snippet.text):
        run("notes", "--tuning", str(path))
    else:
        run("check", str(path))


def prepared(page: str) -> None:
    """The files that the commands of *page* name, made from its own examples."""
    for kind in ("drill", "form", "feel"):
        found = [each.pasted for each in SNIPPETS if (each.page, each.kind) == (page, kind)]
        if found:
            Path(f"mine.{kind}").write_text(found[0], "utf-8")
    shutil.copytree(ROOT / "courses", "courses")


@pytest.mark.parametrize(
    "snippet",
    [each for each in SNIPPETS if each.kind == "sh" and each.page not in RUN_ELSEWHERE],
    ids=str,
)
def test_the_commands_of_the_pages_run(
    snippet: Snippet, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    prepared(snippet.page)
    for words in commands(snippet):
        assert words[0] == "reedmill"
        quick = {"make": ["--to", "tab,midi"], "backing": ["--to", "text"]}
        more = quick.get(words[1], [])
        if words[1:] == ["backing"] or "--to" in words or "--drone" in words:
            more = []
        run(*words[1:], *more)


def test_commands_and_python_run_here_or_where_they_are_said_to() -> None:
    for each in SNIPPETS:
        if each.kind == "python":
            assert each.page in RUN_ELSEWHERE
    scripts = re.findall(r"^sh (scripts/\w+)$", "".join(each.text for each in SNIPPETS), re.M)
    assert set(scripts) == {"scripts/try", "scripts/test"}
    assert all((ROOT / script).is_file() for script in scripts)
