"""A curriculum reads what lies beside it and nothing else, whatever it names."""

from __future__ import annotations

import os
import socket
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from reedmill.base.errors import InputError, PatternError
from reedmill.base.text import file_slug
from reedmill.pack.build.unchanged import inputs_of_build
from reedmill.pack.course.beside import DEVICES, beside, safe_slug
from reedmill.pack.course.course import editions
from reedmill.pack.course.course_reading import parse_course, read_course
from reedmill.pack.course.limits import MAX_FILE_BYTES, MAX_TEXT
from reedmill.pack.course.tasks import Task, tasks

DRILL = 'drill "Mine"\n play -2\n'

ESCAPES = {
    "up": "../mine.drill",
    "up and up": "../../../../etc/passwd.drill",
    "up from inside": "inside/../../mine.drill",
    "up and back": "../course/mine.drill",
    "up, the Windows way": "..\\mine.drill",
    "only up": "..",
    "here": "./mine.drill",
    "here again": "inside/./mine.drill",
    "from the root": "/etc/mine.drill",
    "two slashes": "//host/share/mine.drill",
    "a drive": "C:\\mine.drill",
    "a drive, relative": "C:mine.drill",
    "a share": "\\\\host\\share\\mine.drill",
    "a stream of a file": "mine.drill:hidden.drill",
    "a URL": "file:///etc/mine.drill",
    "home": "~\\..\\mine.drill",
    "NUL": "mine\0.drill",
    "NUL and an ending": "/etc/passwd\0.drill",
    "a line break": "mine\n.drill",
    "an escape": "mine\x1b[2J.drill",
    "a pattern": "*.drill",
    "a device": "nul.drill",
    "a device with two endings": "con.txt.drill",
    "a device in capitals": "COM1.drill",
    "a device as a folder": "aux/mine.drill",
    "a device and a space": "prn .drill",
    "no name": ".drill",
    "an empty folder": "inside//mine.drill",
    "a slash at the end": "mine.drill/",
    "a space before": " mine.drill",
    "dots after": "inside./mine.drill",
    "three dots": ".../mine.drill",
    "another ending": "mine.txt",
    "another ending behind ours": "mine.drill.txt",
    "no ending": "mine",
    "a folder": "folder.drill",
    "nothing there": "yours.drill",
    "inside a file": "mine.drill/mine.drill",
    "very long": "a" * 190 + "/" + "b" * 190 + ".drill",
    "a link to a file outside": "out.drill",
    "a link to a folder outside": "out/secret.drill",
    "a link to a link outside": "out-again.drill",
    "a link that goes round": "round.drill",
    "a link to nothing": "gone.drill",
    "a pipe": "pipe.drill",
    "a socket": "socket.drill",
    "a link to a device": "zero.drill",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A curriculum's folder with all sorts of things in it, and a secret beside it."""
    (tmp_path / "secret.drill").write_text(DRILL)
    (tmp_path / "mine.drill").write_text(DRILL)
    folder = tmp_path / "course"
    for inside in ("inside", "folder.drill"):
        (folder / inside).mkdir(parents=True)
    for name in ("mine.drill", "inside/mine.drill", "mine.txt", "nul.drill", "COM1.drill"):
        (folder / name).write_text(DRILL)
    (folder / "out.drill").symlink_to(tmp_path / "secret.drill")
    (folder / "out").symlink_to(tmp_path)
    (folder / "out-again.drill").symlink_to("out.drill")
    (folder / "round.drill").symlink_to("round.drill")
    (folder / "gone.drill").symlink_to("never.drill")
    (folder / "zero.drill").symlink_to("/dev/zero")
    (folder / "in.drill").symlink_to("inside/mine.drill")
    os.mkfifo(folder / "pipe.drill")
    return folder


@pytest.fixture
def socket_there(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(folder)  # a socket's whole path may be too long
    with socket.socket(socket.AF_UNIX) as made:
        made.bind("socket.drill")


@pytest.mark.usefixtures("socket_there")
@pytest.mark.parametrize("name", ESCAPES.values(), ids=ESCAPES)
def test_no_name_leads_out_or_to_what_is_no_file(folder: Path, name: str) -> None:
    with pytest.raises(InputError) as caught:
        beside(folder, name, ".drill")
    assert str(caught.value)
    with pytest.raises(PatternError, match=r"^evil\.toml:6:8: "):
        parse_course(course_naming(name), "evil.toml", folder)


def course_naming(name: str, key: str = "file") -> str:
    quoted = "".join(c if c.isalnum() else f"\\u{ord(c):04X}" for c in name)
    table = "[[lessons.exercises]]" if key == "file" else ""
    return f'title = "x"\nharps = "C"\n[[lessons]]\ntitle = "y"\n{table}\n{key} = "{quoted}"\n'


NAMES_THAT_ARE_FINE = ["mine.drill", "inside/mine.drill", "in.drill"]


@pytest.mark.parametrize("name", NAMES_THAT_ARE_FINE)
def test_a_file_beside_the_curriculum_is_read(folder: Path, name: str) -> None:
    assert beside(folder, name, ".drill").read_text() == DRILL
    [entry] = parse_course(course_naming(name), "good.toml", folder).lessons[0].entries
    assert entry.drill.title == "Mine"


def test_a_folder_reached_by_a_link_is_the_folder(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "by-a-link").symlink_to(folder)
    assert beside(tmp_path / "by-a-link", "mine.drill", ".drill").read_text() == DRILL
    with pytest.raises(InputError, match="leads out of the folder"):
        beside(tmp_path / "by-a-link", "out.drill", ".drill")


def test_a_text_is_held_to_the_same_rule(folder: Path) -> None:
    (folder / "out.md").symlink_to("/etc/hostname")
    for name in ("../secret.md", "/etc/hostname", "out.md", "mine.drill", "nul.md"):
        with pytest.raises(PatternError, match=r"^evil\.toml:6:13: "):
            parse_course(course_naming(name, "text_file"), "evil.toml", folder)


any_name = st.text(
    st.sampled_from("ab./\\~:* \0\n\u202e\u7df4") | st.characters(), min_size=1, max_size=30
)


@given(any_name | any_name.map(lambda name: f"../{name}.drill"))
def test_any_name_is_inside_or_refused(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    folder = tmp_path_factory.getbasetemp()
    try:
        found = beside(folder, name, ".drill")
    except InputError:
        return
    assert found.is_relative_to(folder.resolve())


# --- forms and feels ----------------------------------------------------------------------

FORMS = 'form "Porch"\n bars I7 x3 | V7 I7\nform "Two: doors"\n bars i7 x8\n'
FEEL = 'feel "Porch shuffle"\n swing 2 to 1\n bass walk on 1 2 3 4\n'
BANDS = {
    ("mine.form:porch", "inside/mine.feel"): ("Porch", "Porch shuffle"),
    ("mine.form:Two: doors", "rumba"): ("Two: doors", "Rumba"),
    ("Eight bars", "both.feel"): ("Eight bars", "Two-step"),
    ("both.feel", "both.feel:Two-step"): ("Yard", "Two-step"),
}
NO_BANDS = {
    "mine.form": (
        "mine.form holds 2 forms", 'Say which one: "mine.form:Porch", "mine.form:Two: doors"'
    ),
    "mine.form:Yard": (
        "mine.form holds 2 forms", 'Say which one: "mine.form:Porch", "mine.form:Two: doors"'
    ),
    "inside/mine.feel": (
        "inside/mine.feel: there is no form in this file",
        'It holds the feel "Porch shuffle": write feel = "inside/mine.feel".',
    ),
}  # fmt: skip


def course_over(form: str, feel: str = "Rumba") -> str:
    quoted = "".join(c if c.isalnum() else f"\\u{ord(c):04X}" for c in form)
    exercise = course_naming("x").rpartition("file =")[0]
    return (
        f'{exercise}drill = "Two bars home"\nbacking = {{ form = "{quoted}", feel = "{feel}" }}\n'
    )


@pytest.fixture
def bands(folder: Path, tmp_path: Path) -> Path:
    """The folder with forms and feels in it, and for each drill a form in its place."""
    (tmp_path / "secret.form").write_text(FORMS)
    for path in sorted(folder.rglob("*.drill")):
        other = path.with_suffix(".form")
        if path.is_symlink():
            other.symlink_to(str(path.readlink()).replace(".drill", ".form"))
        elif path.is_dir():
            other.mkdir()
        elif path.is_file():
            other.write_text(FORMS)
    (folder / "inside/mine.feel").write_text(FEEL)
    (folder / "both.feel").write_text('form "Yard"\n bars I7\nfeel "Two-step"\n comp on 2 4\n')
    return folder


@pytest.mark.parametrize(("form", "feel"), BANDS)
def test_forms_and_feels_beside_the_curriculum_are_played(
    bands: Path, form: str, feel: str
) -> None:
    course = parse_course(course_over(form, feel), "good.toml", bands)
    [task] = tasks(editions(course)[0])
    assert isinstance(task, Task)
    assert task.score.band is not None
    assert (task.score.band.form, task.score.band.feel) == BANDS[form, feel]


@pytest.mark.parametrize("form", NO_BANDS)
def test_a_file_without_the_form_says_what_it_holds(bands: Path, form: str) -> None:
    with pytest.raises(PatternError) as caught:
        parse_course(course_over(form), "evil.toml", bands)
    assert caught.value.span.place == "evil.toml:7:20"
    assert (caught.value.fact, caught.value.remedy) == NO_BANDS[form]


@pytest.mark.parametrize("name", ESCAPES.values(), ids=ESCAPES)
def test_no_form_is_read_from_anywhere_else(
    bands: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(bands)  # where a title is not a file, whatever lies there
    for end in ("", ":Porch"):
        with pytest.raises(PatternError) as caught:
            parse_course(course_over(name.replace(".drill", ".form") + end), "evil.toml", bands)
        assert caught.value.span.place == "evil.toml:7:20"


def test_a_title_is_of_the_library_even_where_a_file_is_called_so(
    bands: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (bands / "Porch").write_text(FORMS)
    monkeypatch.chdir(bands)
    with pytest.raises(PatternError, match='there is no form "Porch"'):
        parse_course(course_over("Porch"), "evil.toml", bands)


def test_a_mistake_in_a_form_beside_points_into_that_form(bands: Path) -> None:
    (bands / "mine.form").write_text('form "Porch"\n bars I7, V7\n')
    with pytest.raises(PatternError, match=r"course/mine\.form:2:9: a comma does not end a bar"):
        parse_course(course_over("mine.form"), "good.toml", bands)


@pytest.mark.parametrize("form", ["inside/mine.form", "inside/mine.form:Two: doors"])
def test_a_form_that_is_changed_is_a_reason_to_build(bands: Path, form: str) -> None:
    curriculum = bands / "course.toml"
    curriculum.write_text(course_over(form))
    before = inputs_of_build(curriculum)
    (bands / "inside/mine.form").write_text(FORMS.replace("x8", "x4"))
    assert inputs_of_build(curriculum) != before


# --- too much, and not text ---------------------------------------------------------------


def test_a_curriculum_too_large_is_not_read(tmp_path: Path) -> None:
    file = tmp_path / "big.toml"
    file.write_bytes(b"#" * (MAX_FILE_BYTES + 1))
    with pytest.raises(InputError, match=r"this file is larger than 500 kB\. Put the texts of the"):
        read_course(file)
    with pytest.raises(InputError, match="/dev/zero: cannot read this file: it is a device"):
        read_course(Path("/dev/zero"))


def test_a_curriculum_that_is_not_there(tmp_path: Path) -> None:
    for name in ("none.toml", "none/none.toml", ".", "nul\0.toml"):
        with pytest.raises(InputError, match=r"cannot read this file: (it is|its)"):
            read_course(tmp_path / name)


def test_a_curriculum_in_an_old_encoding(tmp_path: Path) -> None:
    file = tmp_path / "old.toml"
    file.write_bytes('title = "Pr\u00e9lude"\n'.encode("latin-1"))
    with pytest.raises(PatternError, match=r"old\.toml:1:12: this is not UTF-8 text: byte 0xE9"):
        read_course(file)


def test_a_text_too_long(folder: Path) -> None:
    text = course_naming("long.md", "text_file")
    for length, sign in ((MAX_TEXT + 1, "a"), (MAX_TEXT + 1, "\u7df4"), (5 * MAX_TEXT, "a")):
        (folder / "long.md").write_text(sign * length)
        with pytest.raises(PatternError, match="is longer than 20,000 characters"):
            parse_course(text, "long.toml", folder)
    (folder / "long.md").write_text("\u7df4" * MAX_TEXT)
    assert len(parse_course(text, "long.toml", folder).lessons[0].text) == MAX_TEXT


def test_a_mistake_in_a_file_beside_points_into_that_file(folder: Path) -> None:
    (folder / "mine.drill").write_text('drill "Mine"\n play -5\'\n')
    course = parse_course(course_naming("mine.drill"), "good.toml", folder)
    assert course.lessons[0].entries  # whether a harp can play it shows later
    (folder / "mine.drill").write_text('drill "Mine"\n plya -2\n')
    with pytest.raises(PatternError, match=r"course/mine\.drill:2:2: "):
        parse_course(course_naming("mine.drill"), "good.toml", folder)


# --- names of our own ---------------------------------------------------------------------

# Names that mean devices, with any ending: Microsoft, "Naming Files, Paths, and Namespaces".
RESERVED = ["CON", "PRN", "AUX", "NUL", "COM1", "COM2", "COM9", "LPT1", "LPT9"]


@pytest.mark.parametrize("name", RESERVED)
def test_no_folder_of_a_student_is_a_device(name: str) -> None:
    assert name.lower() in DEVICES
    for spelled in (name, name.lower(), f" {name}!"):
        assert safe_slug(spelled) == f"{name.lower()}-"


@given(st.text())
def test_a_safe_slug_is_the_slug_of_anything_else(text: str) -> None:
    assert safe_slug(text) in (file_slug(text), f"{file_slug(text)}-")
    assert safe_slug(text) not in DEVICES
