"""SoundFonts from strangers: none costs more than seconds and some memory, and each is told.

The limits are those a player would set: ten seconds, 400 MB, a sentence, exit code 2.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import fuzz_soundfonts
import numpy as np
import pytest
from click.testing import CliRunner

import hostile_fonts
import soundfonts
from hostile_fonts import HARMLESS, HELD, REFUSED, font, lying, ogg_pages, packed, sealed
from reedmill.base.errors import InputError, ReedmillError, RenderError
from reedmill.cli import cli
from reedmill.sound.soundfont import cache as soundfont_cache
from reedmill.sound.soundfont import player as soundfont_player
from reedmill.sound.soundfont.file import open_soundfont, parse_voice
from reedmill.sound.soundfont.font_voice import soundfont_voice
from reedmill.sound.soundfont.player import Ask, play_keys
from reedmill.sound.soundfont.samples import MOST_VOICES, vorbis_samples
from reedmill.sound.soundfont.tables import preset_zones
from reedmill.sound.soundfont.tuning import Fault, measure_key, measure_preset
from soundfonts import RATE, Font, Named, Zone

MOST_S, MOST_MB = 10, 400


@pytest.fixture(autouse=True)
def _own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(soundfont_cache, "cache_folder", lambda: tmp_path / "cache")


def written(folder: Path, content: bytes) -> Path:
    return soundfonts.write(folder / "strange.sf2", content)


def measured(path: Path, *keys: int) -> list[Fault]:
    """The faults of some keys of the first preset of a font."""
    found = open_soundfont(path)
    return [each.fault for each in measure_preset(found, found.presets[0], keys).keys]


# --- refused -------------------------------------------------------------------------------


@pytest.mark.parametrize(("make", "reason"), REFUSED.values(), ids=REFUSED)
def test_a_font_that_would_hurt_is_bad_input_with_the_reason(
    tmp_path: Path, make: Callable[[], bytes], reason: str
) -> None:
    path = written(tmp_path, make())
    with pytest.raises(InputError) as caught:
        measured(path, 69, 100)
    said = str(caught.value)
    assert reason in said
    assert str(path) in said
    assert said.endswith((".", "?"))
    assert said.isprintable()


# What the command does, in a process of its own, with what it cost.  It is forked once more,
# because the memory a process is said to have used begins with that of whoever forked it, and
# a test run is large.
ASKED = """
import os, sys
child = os.fork()
if child == 0:
    from reedmill.cli import cli
    try:
        cli(sys.argv[1:])
    except SystemExit as ended:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(ended.code or 0)
_, status, used = os.wait4(child, 0)
code = os.waitstatus_to_exitcode(status)
print(code, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024)
"""


def asked(folder: Path, *words: str) -> tuple[int, str, float, float]:
    """Exit code, what was said, seconds of work and MB of a command, with its children's."""
    places = os.pathsep.join(filter(None, sys.path))
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", ASKED, *words], capture_output=True, text=True,
        env={**os.environ, "PYTHONPATH": places, "XDG_CACHE_HOME": str(folder)}, check=True,
    )  # fmt: skip
    code, seconds, memory = done.stdout.split("\n")[-2].split()
    return int(code), done.stderr, float(seconds), float(memory)


DEAREST = ("zones of zones", "256 voices", "instruments", "packed bomb", "packed lie", "tuned up")


@pytest.mark.parametrize("name", DEAREST)
def test_the_dearest_fonts_cost_seconds_and_some_memory(tmp_path: Path, name: str) -> None:
    make, reason = REFUSED[name]
    path = written(tmp_path, make())
    code, told, seconds, memory = asked(tmp_path, "soundfont", str(path))
    assert (code, told.count("\n")) == (2, 1)
    assert reason in told
    assert seconds < MOST_S
    assert memory < MOST_MB


def test_as_many_voices_and_modulators_as_are_played_cost_seconds(tmp_path: Path) -> None:
    # the most that is not refused
    made = font(zones=MOST_VOICES, modulators=hostile_fonts.unlike(64))
    path = written(tmp_path, made.content())
    code, told, seconds, memory = asked(tmp_path, "soundfont", str(path))
    assert (code, told) == (0, "")
    assert seconds < MOST_S
    assert memory < MOST_MB


COMMANDS = {
    "measured": ["soundfont"],
    "as a voice": ["make", "Two bars home", "--to", "wav", "--voice"],
    "as a band": ["backing", "--form", "Twelve bars", "--to", "wav", "--band"],
}


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
@pytest.mark.parametrize("name", ["packed lie", "256 voices"])
def test_every_command_ends_with_exit_code_2_and_a_sentence(
    tmp_path: Path, words: list[str], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    path = written(tmp_path, REFUSED[name][0]())
    result = CliRunner().invoke(cli, [*words, str(path)])
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.count("\n") == 1
    assert sorted(tmp_path.iterdir()) == [path]


def test_a_file_larger_than_a_font_is_refused_at_once(tmp_path: Path) -> None:
    path = written(tmp_path, font().content())
    os.truncate(path, 40 * 1024**3)  # it takes no room on the disk
    with pytest.raises(InputError, match="is larger than 1 GB"):
        open_soundfont(path)


def test_a_font_that_is_gone_meanwhile_is_bad_input(tmp_path: Path) -> None:
    for content in (font().content(), hostile_fonts.packed_font(packed(1, loud=0.5))):
        path = written(tmp_path, content)
        found = open_soundfont(path)
        path.unlink()
        with pytest.raises(InputError, match="cannot be read"):
            measure_preset(found, found.presets[0], [69])
        with pytest.raises(InputError, match=r"cannot be (read|played)"):
            play_keys(found, found.presets[0], [(69, 900)])


def test_a_name_longer_than_names_can_be_is_no_crash() -> None:
    name = f"{'a' * 5000}:3"
    with pytest.raises(InputError, match="cannot be read"):
        open_soundfont(parse_voice(name)[0])


# --- strange, but heard ----------------------------------------------------------------------


@pytest.mark.parametrize("make", HARMLESS.values(), ids=HARMLESS)
def test_a_strange_font_is_measured_without_a_warning(
    tmp_path: Path, make: Callable[[], bytes]
) -> None:
    # warnings are errors here, as everywhere in these tests
    path = written(tmp_path, make())
    assert len(measured(path, 57, 69, 100)) == 3
    assert open_soundfont(path).presets[0].name.isprintable()


def test_a_constant_has_no_pitch() -> None:
    assert measure_key(69, np.full(2 * RATE, 0.5)).fault is Fault.NO_PITCH


def test_a_tone_that_is_over_before_it_has_settled_is_too_short() -> None:
    # two seconds that rise until the last frame: what is left is too little to be heard
    seconds = np.arange(2 * RATE) / RATE
    rising = 440 * 2 ** (np.minimum(seconds, 1.9) / 1.9 * 4 / 1200)
    tone = np.sin(2 * np.pi * np.cumsum(rising) / RATE)
    found = measure_key(69, tone)
    assert np.isfinite(found.after_cents)


def test_numbers_that_are_no_sound_are_bad_input(tmp_path: Path) -> None:
    found = open_soundfont(written(tmp_path, font().content()))
    for number in (np.nan, np.inf, -np.inf, 1e9):
        with pytest.raises(InputError, match="numbers that are not sound"):
            soundfont_player._mono(found, np.full(8, number, "<f4").tobytes())


def test_a_voice_that_dies_away_at_once_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = written(tmp_path, font().content())
    found = open_soundfont(path)
    measure_preset(found, found.presets[0], range(66, 73))

    def nothing(*_: object) -> list[np.ndarray]:
        return [np.zeros(2 * RATE)]

    monkeypatch.setattr("reedmill.sound.soundfont.font_voice.play_keys", nothing)
    with pytest.raises(InputError, match="died away before its pitch is steady"):
        soundfont_voice(found, found.presets[0], [((440.0,), 1.0)])


# --- what is counted ---------------------------------------------------------------------------


def test_voices_are_counted_where_both_ranges_and_velocities_meet(tmp_path: Path) -> None:
    def zone(*generators: tuple[int, int]) -> Zone:
        return Zone((*generators, (53, 0)))

    inner = [
        zone((43, 60 | 72 << 8)),
        zone((43, 70 | 80 << 8), (44, 0 | 99 << 8)),
        zone((44, 100 | 127 << 8), (43, 0 | 1 << 8)),  # a key range too late, which is not heeded
        Zone(((43, 0 | 127 << 8),)),  # names no sample
    ]
    uses = [Zone(((51, 1),)), Zone(((43, 65 | 127 << 8), (41, 0))), Zone(((41, 0),))]
    made = Font([Named("A", uses)], [Named("b", inner)], [HELD], hostile_fonts.wave(RATE))
    found = preset_zones(open_soundfont(written(tmp_path, made.content())).tables, 0, 22)
    # by hand: zones that hold the key and velocity, once for each of the two uses that hold it
    assert found.voices(60, 100) == 0 + 2
    assert found.voices(70, 99) == 2 + 2
    assert found.voices(70, 100) == 2 + 2
    assert found.voices(80, 50) == 2
    assert found.voices(81, 50) == 0


def test_a_packed_sample_is_as_long_as_what_was_packed() -> None:
    assert vorbis_samples(packed(3)) == 3 * RATE
    assert vorbis_samples(lying(packed(3), 7_000_000)) == 7_000_000


def test_a_page_without_an_end_of_a_packet_has_no_place() -> None:
    # RFC 3533, section 6: -1 says that no packet finishes on this page
    pages = ogg_pages(packed(3))
    pages[1][6:14] = b"\xff" * 8
    content = b"".join([bytes(pages[0]), sealed(pages[1]), *map(bytes, pages[2:])])
    assert vorbis_samples(content) == 3 * RATE


def test_programs_are_played_one_by_one_so_that_one_is_in_memory() -> None:
    bass, piano = (Ask(0, number, 60, 100, 40 * RATE) for number in (33, 0))
    runs = soundfont_player._runs([bass, bass, piano, piano, piano, piano, bass])
    assert runs == [[bass] * 2, [piano] * 3, [piano], [bass]]
    assert soundfont_player._runs([]) == []


def test_a_packed_font_sounds(tmp_path: Path) -> None:
    # else the bombs would prove nothing
    path = written(tmp_path, hostile_fonts.packed_font(packed(1, loud=0.5)))
    found = open_soundfont(path)
    [sound] = play_keys(found, found.presets[0], [(0, RATE)])
    assert float(np.abs(sound).max()) > 0.01


# --- the process that plays -------------------------------------------------------------------


def pretended(folder: Path, monkeypatch: pytest.MonkeyPatch, program: str) -> ReedmillError:
    """What is said when FluidSynth does *program* where it would load a font."""
    (folder / "pretend").mkdir()
    loads = "".join(f"    {line}\n" for line in program.splitlines())
    (folder / "pretend" / "fluidsynth.py").write_text(
        "import os, resource, sys, time\n"
        "class Synth:\n    synth = None\n    def __init__(self, **_): pass\n"
        "def cfunc(name, *_): return lambda *_: None\n"
        f"def fluid_synth_sfload(*_):\n{loads}"
    )
    monkeypatch.setenv("PYTHONPATH", str(folder / "pretend"))
    found = open_soundfont(written(folder, font().content()))
    with pytest.raises(ReedmillError) as caught:
        play_keys(found, found.presets[0], [(69, 100)])
    assert str(caught.value).isprintable()
    return caught.value


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited on Linux")
def test_a_font_that_takes_all_memory_is_bad_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    error = pretended(tmp_path, monkeypatch, "return bytearray(400_000_000)")
    assert isinstance(error, InputError)
    assert "needs too much memory. Use another font" in str(error)


def test_a_font_that_never_stops_working_is_bad_input(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    start = os.times()
    error = pretended(tmp_path, monkeypatch, "while True: pass")
    spent = os.times()
    assert isinstance(error, InputError)
    assert "needs more time or memory" in str(error)
    assert spent.children_user - start.children_user < MOST_S


LOUD = {
    "its log": "while True: os.write(2, b'x' * 65_536)",
    "the sound": "while True: os.write(1, b'x' * 65_536)",
    "a crash": "os.abort()",
    "killed": "os.kill(os.getpid(), 11)",
}


@pytest.mark.parametrize("program", LOUD.values(), ids=LOUD)
def test_whatever_ends_the_player_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, program: str
) -> None:
    error = pretended(tmp_path, monkeypatch, program)
    assert isinstance(error, RenderError)
    assert "FluidSynth broke down while it played" in str(error)
    assert len(str(error)) < 1000


def test_the_player_inherits_no_open_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with (tmp_path / "secret").open("w") as file:
        os.set_inheritable(file.fileno(), True)
        told = pretended(
            tmp_path, monkeypatch,
            "names = [os.readlink(f'/dev/fd/{n}') for n in os.listdir('/dev/fd') "
            "if os.path.exists(f'/dev/fd/{n}')]\n"
            "sys.exit(77 if any('secret' in name for name in names) else 78)",
        )  # fmt: skip
    assert "(exit code 78)" in str(told)


@pytest.mark.skipif(sys.platform != "linux", reason="the kernel of Linux does it")
def test_the_player_ends_with_the_program_that_started_it(tmp_path: Path) -> None:
    path = written(tmp_path, font().content())
    (tmp_path / "pretend").mkdir()
    began = tmp_path / "began"
    (tmp_path / "pretend" / "fluidsynth.py").write_text(
        f"import os, time\nopen({str(began)!r}, 'w').write(str(os.getpid()))\ntime.sleep(60)"
    )
    places = os.pathsep.join([str(tmp_path / "pretend"), *filter(None, sys.path)])
    with subprocess.Popen(
        [sys.executable, "-m", "reedmill.cli", "soundfont", str(path)],
        env={**os.environ, "PYTHONPATH": places, "XDG_CACHE_HOME": str(tmp_path)},
    ) as running:
        assert waited(lambda: began.exists() and began.read_text() != "")
        running.kill()
    player = int(began.read_text())
    assert waited(lambda: not alive(player))


def waited(for_what: Callable[[], bool], most_s: float = 30) -> bool:
    end = time.monotonic() + most_s
    while not for_what() and time.monotonic() < end:
        time.sleep(0.02)
    return for_what()


def alive(process: int) -> bool:
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


# --- the cache -----------------------------------------------------------------------------


def kept(folder: Path) -> Path:
    [place] = (folder / "cache").rglob("*.json")
    return place


def as_pipe(place: Path, _: Path) -> None:
    os.mkfifo(place)


def as_folder(place: Path, _: Path) -> None:
    place.mkdir()


def as_link(place: Path, folder: Path) -> None:
    elsewhere = folder / "elsewhere.json"
    elsewhere.write_text('{"mine": true}')
    place.symlink_to(elsewhere)


def as_link_to_itself(place: Path, _: Path) -> None:
    place.symlink_to(place)


def as_brackets(place: Path, _: Path) -> None:
    place.write_text("[" * 200_000)


def as_digits(place: Path, _: Path) -> None:
    place.write_text("9" * 900_000)


POISON = (as_pipe, as_folder, as_link, as_link_to_itself, as_brackets, as_digits)


@pytest.mark.parametrize("poison", POISON)
def test_a_poisoned_cache_is_measured_anew(
    tmp_path: Path, poison: Callable[[Path, Path], None]
) -> None:
    path = written(tmp_path, font().content())
    found = open_soundfont(path)
    first = measure_preset(found, found.presets[0], [69])
    place = kept(tmp_path)
    place.unlink()
    poison(place, tmp_path)
    assert measure_preset(found, found.presets[0], [69]) == first
    elsewhere = tmp_path / "elsewhere.json"
    assert not elsewhere.exists() or json.loads(elsewhere.read_text()) == {"mine": True}


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="files have owners on POSIX")
def test_what_somebody_else_measured_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    found = open_soundfont(written(tmp_path, font().content()))
    measure_preset(found, found.presets[0], [69])
    digest = kept(tmp_path).name.partition("-")[0]
    assert list(soundfont_cache.load(digest, found.presets[0])) == [69]
    monkeypatch.setattr(os, "geteuid", lambda: os.getuid() + 1)
    assert soundfont_cache.load(digest, found.presets[0]) == {}


def test_without_a_home_folder_nothing_is_kept(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def nobody() -> Path:
        raise RuntimeError("Could not determine home directory.")

    monkeypatch.undo()
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setattr(Path, "home", nobody)
    assert measured(written(tmp_path, font().content()), 69) == [Fault.NONE]


# --- anything at all -------------------------------------------------------------------------


def test_damaged_fonts_end_in_a_sentence_or_are_heard(tmp_path: Path) -> None:
    # a sample of what tests/fuzz/fuzz_soundfonts.py does for longer
    for number in range(40):
        found = fuzz_soundfonts.judged(tmp_path / "f.sf2", fuzz_soundfonts.damaged(1, number))
        assert not found.startswith("FAILED"), f"seed 1 font {number}: {found}"


def test_a_slice_of_a_real_font_measures_as_the_font_does(tmp_path: Path) -> None:
    # else the campaign would damage what was broken already
    for path in fuzz_soundfonts.REAL:
        assert path.is_file(), f"this test reads {path}"
        part = open_soundfont(written(tmp_path, fuzz_soundfonts.sliced(path)))
        whole = open_soundfont(path)
        heard = [measure_preset(each, each.preset(23), [60, 69, 80]).keys for each in (part, whole)]
        for a, b in zip(*heard, strict=True):
            assert a.before_cents == pytest.approx(b.before_cents, abs=0.01)
