"""`alula listen`: the sounds as a WAV."""

import wave
from pathlib import Path

import numpy as np

from tests.end_to_end.command import alula, files, write_calibration, write_flight


def samples_of(path: Path) -> tuple[np.ndarray, int]:
    """Samples within -1..1, and how many a second."""
    with wave.open(str(path), "rb") as file:
        assert (file.getnchannels(), file.getsampwidth()) == (1, 2)
        data = np.frombuffer(file.readframes(file.getnframes()), "<i2") / 32768
        return data, file.getframerate()


def test_sweep_goes_from_silence_to_the_warble_and_back(tmp_path: Path) -> None:
    done = alula(tmp_path, "listen", "--seconds", "10")
    assert done.code == 0 and done.err == "", done
    assert set(files(tmp_path)) == {"sweep.wav"}
    sound, rate = samples_of(tmp_path / "sweep.wav")
    assert len(sound) / rate >= 10 + 3 + 5  # up, held, down in half the time: as the help says
    assert abs(sound[10 * rate:13 * rate]).max() > 0.3  # held past the stall
    assert abs(sound[-rate // 2:]).max() == 0.0
    order = [line.split()[1] for line in done.out.splitlines()[1:-1]]
    assert order == ["quiet", "calm", "pressing", "stalling", "pressing", "calm", "quiet"]


def test_a_flight_gives_its_own_sound(tmp_path: Path) -> None:
    write_flight(tmp_path / "f.csv", "tp_turn60")
    write_calibration(tmp_path / "cal.json")
    done = alula(tmp_path, "listen", "f.csv", "--calibration", "cal.json")
    assert done.code == 0, done
    assert set(files(tmp_path)) == {"f.csv", "cal.json", "f.wav"}
    done = alula(tmp_path, "replay", "f.csv", "--calibration", "cal.json", "--no-picture",
                 "--sound", "g.wav")
    assert done.code == 0, done
    assert (tmp_path / "f.wav").read_bytes() == (tmp_path / "g.wav").read_bytes()
