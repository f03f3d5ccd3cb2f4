"""Recordings as phones and browsers make them are read; whatever else is given is named."""

from __future__ import annotations

import os
import struct
import subprocess
import sys
import wave
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from hearing.conditions import encoded
from hearing.sounding import RATE, Samples
from reedmill.base.errors import InputError
from reedmill.ear.take import LONGEST_S, MOST_STREAMS, Steps, check_audible, read_take
from reedmill.ear.take import RATE as TAKE_RATE

TONE = 0.3 * np.sin(2 * np.pi * 440 * np.arange(3 * RATE) / RATE)


def pitch(steps: Steps) -> float:
    """The strongest frequency of the middle second, in Hz."""
    middle = steps[len(steps) // 2 - TAKE_RATE // 2 :][:TAKE_RATE].astype(float)
    return float(np.argmax(np.abs(np.fft.rfft(middle * np.hanning(len(middle))))))


def written(path: Path, left: Samples, right: Samples) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(RATE)
        file.writeframes((np.stack([left, right], 1) * 32767).astype("<i2").tobytes())
    return path


@pytest.mark.parametrize(
    ("ending", "container", "codec", "rate"),
    [
        ("m4a", "ipod", "aac", 44_100), ("webm", "webm", "libopus", 48_000),
        ("ogg", "ogg", "libopus", 48_000), ("mp3", "mp3", "libmp3lame", 44_100),
        ("flac", "flac", "flac", 44_100), ("wav", "wav", "pcm_s16le", 8_000),
    ],
)  # fmt: skip
def test_what_phones_and_browsers_record_is_read(
    tmp_path: Path, ending: str, container: str, codec: str, rate: int
) -> None:
    path = tmp_path / f"take.{ending}"
    path.write_bytes(encoded(TONE, container, codec, None, rate))
    take = read_take(path)
    assert take.seconds == pytest.approx(3, abs=0.12)
    assert pitch(take.steps) == pytest.approx(440, abs=1)


@pytest.mark.parametrize("empty", ["left", "right"])
def test_an_empty_side_of_a_stereo_take_costs_no_level(tmp_path: Path, empty: str) -> None:
    nothing = np.zeros(len(TONE))
    sides = (nothing, TONE) if empty == "left" else (TONE, nothing)
    take = read_take(written(tmp_path / "take.wav", *sides))
    assert np.max(take.steps) / 32767 == pytest.approx(0.3, abs=0.01)


def test_sides_turned_against_each_other_do_not_cancel(tmp_path: Path) -> None:
    take = read_take(written(tmp_path / "take.wav", TONE, -TONE))
    assert np.max(take.steps) / 32767 == pytest.approx(0.3, abs=0.01)


def refused(path: Path) -> str:
    with pytest.raises(InputError) as caught:
        read_take(path)
    assert str(caught.value).startswith(str(path))
    return str(caught.value)


def test_a_take_of_a_third_of_a_second_is_too_short(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(encoded(TONE[: RATE // 3], "wav", "pcm_s16le", None, RATE))
    assert "lasts 0.3 s, which is too short" in refused(path)


def test_a_recording_of_three_hours_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    bytes_said = 3 * 3600 * 8000
    head = struct.pack(
        "<4sI4s4sIHHIIHH4sI", b"RIFF", 36 + bytes_said, b"WAVE", b"fmt ", 16, 1, 1, 8000, 8000, 1,
        8, b"data", bytes_said,
    )  # fmt: skip
    with path.open("wb") as file:
        file.write(head)
        file.truncate(44 + bytes_said)
    said = refused(path)
    assert f"lasts 180 minutes; the longest that is heard lasts {LONGEST_S // 60}" in said


@pytest.mark.parametrize(
    ("ending", "container", "codec", "rate"),
    [("m4a", "ipod", "aac", 44_100), ("wav", "wav", "pcm_s16le", 44_100),
     ("flac", "flac", "flac", 44_100)],
)  # fmt: skip
def test_a_file_that_is_cut_off_is_said_to_be(
    tmp_path: Path, ending: str, container: str, codec: str, rate: int
) -> None:
    path = tmp_path / f"take.{ending}"
    whole = encoded(TONE, container, codec, None, rate)
    path.write_bytes(whole[: len(whole) // 3])
    assert "breaks off" in refused(path) or "cut off" in refused(path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "is empty"),
        (b"\x89PNG\r\n\x1a\n" + bytes(100), "a PNG picture, not a recording"),
        (b"%PDF-1.7\n", "a PDF, not a recording"),
        (b'drill "Home"\n', "a drill, not a recording"),
        (b"ffconcat version 1.0\nfile take.flac\n", "a text, not a recording"),
        (b"#EXTM3U\n#EXTINF:1,\ntake.flac\n", "a text, not a recording"),
    ],
)
def test_what_is_not_a_recording_is_named(tmp_path: Path, content: bytes, said: str) -> None:
    (tmp_path / "take.flac").write_bytes(encoded(TONE, "flac", "flac", None, RATE))
    path = tmp_path / "take.wav"
    path.write_bytes(content)
    assert said in refused(path)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    os.mkfifo(path)
    assert "pipe" in refused(path)


def test_a_film_without_sound_is_said_to_have_none(tmp_path: Path) -> None:
    import av

    path = tmp_path / "take.mp4"
    with av.open(str(path), "w") as file:
        stream: Any = file.add_stream("mpeg4", rate=25)
        stream.width = stream.height = 32
        picture = av.VideoFrame.from_ndarray(np.zeros((32, 32, 3), np.uint8), format="rgb24")
        for packet in [*stream.encode(picture), *stream.encode(None)]:
            file.mux(packet)
    assert "no sound in this file" in refused(path)
    assert MOST_STREAMS >= 8  # a film with several languages is no reason to refuse it


def test_an_overdriven_take_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    path.write_bytes(encoded(np.clip(20 * TONE, -1, 1), "wav", "pcm_s16le", None, RATE))
    with pytest.raises(InputError, match="overdriven"):
        check_audible(read_take(path))


def test_twenty_minutes_are_heard_in_little_memory(tmp_path: Path) -> None:
    path = tmp_path / "take.wav"
    second = (TONE[:RATE] * 32767).astype("<i2").tobytes()
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, RATE, 0, "NONE", ""))
        for _ in range(1200):
            file.writeframes(second)
    program = (
        "import sys\nfrom pathlib import Path\n"
        "from reedmill.ear.take import read_take\n"
        "from reedmill.ear.track import Expected, track_pitch\n"
        "take = read_take(Path(sys.argv[1]))\n"
        "track = track_pitch(take, Expected((440.0,), (440.0,), 200.0, 2000.0))\n"
        "print(len(track), Path('/proc/self/status').read_text().split('VmHWM:')[1].split()[0])"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, str(path)], capture_output=True, text=True, check=True,
        timeout=600, env=os.environ | {"PYTHONPATH": os.pathsep.join(sys.path)},
    )  # fmt: skip
    readings, kilobytes = map(int, done.stdout.split())
    assert readings == pytest.approx(120_000, abs=20)
    assert kilobytes < 220_000
