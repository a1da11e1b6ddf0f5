"""From tone requests to a WAV, by way of the firmware's own tone driver.

The driver's PWM settings are recorded, then rendered as the pulse wave they make: harmonics up to
a stated limit, no direct component, as a simple output filter and a headset would pass it.
"""

import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from host_sim.errors import UsageError
from host_sim.output.trace import column
from host_sim.output.whole_file import whole_file
from host_sim.runtimes.paths import use_firmware

use_firmware()

from drivers.tone_pwm import TonePwm  # noqa: E402
from host_sim.bench.fake_pwm import RecordingPwm  # noqa: E402
from host_sim.bench.virtual_clock import VirtualClock  # noqa: E402

RATE_HZ = 22050
PASS_HZ = 7000  # harmonics above this are left out
PIECE = 1 << 16  # samples rendered at a time: an hour of silence needs no more memory
LONGEST_S = 24 * 3600  # at two bytes a sample; the format counts bytes in 32 bits
PEAK = 0.6  # of full scale, for the fundamental at level 8


def pwm_events(out: np.ndarray) -> list[tuple[int, int, int]]:
    """(time_us, freq_hz, duty_u16) of everything the tone driver told the PWM in a run."""
    voice = np.stack([column(out, "voice_hz"), column(out, "voice_level")], axis=1)
    at = np.flatnonzero(np.r_[True, (voice[1:] != voice[:-1]).any(axis=1)])
    clock = VirtualClock()
    pwm = RecordingPwm(clock, 3 * len(at) + 4)
    tone = TonePwm(pwm)
    times = column(out, "now_ms")
    for i in at.tolist():
        clock.advance_ms(int(times[i]) - clock.elapsed_ms())
        tone.apply(int(voice[i, 0]), int(voice[i, 1]))
    return pwm.events()


def render(events: list[tuple[int, int, int]], duration_s: float) -> np.ndarray:
    """The pulse wave as samples at RATE_HZ, float, within -1..1; phase runs on through changes."""
    return np.concatenate([np.zeros(0), *render_pieces(events, duration_s)])


def render_pieces(events: list[tuple[int, int, int]], duration_s: float) -> Iterator[np.ndarray]:
    """The same in pieces of PIECE samples at most.

    Fourier series of a pulse of duty d: sum of 2/(n pi) sin(n pi d) cos(n phase).
    """
    total = int(duration_s * RATE_HZ)
    done, phase = 0, 0.0
    for i, (start_us, hz, duty) in enumerate(events):
        end_us = events[i + 1][0] if i + 1 < len(events) else duration_s * 1e6
        first, last = (min(total, round(t * RATE_HZ / 1e6)) for t in (start_us, end_us))
        yield from _silence(first - done)
        step = 2 * np.pi * hz / RATE_HZ
        for begin in range(first, last, PIECE):
            end = min(last, begin + PIECE)
            if duty and hz:
                angle = phase + step * np.arange(begin - first, end - first)
                yield _pulse(angle, duty / 65536, max(1, PASS_HZ // hz))
            else:
                yield np.zeros(end - begin)
        phase = (phase + step * max(0, last - first)) % (2 * np.pi)
        done = max(done, last)
    yield from _silence(total - done)


def _silence(count: int) -> Iterator[np.ndarray]:
    for begin in range(0, count, PIECE):
        yield np.zeros(min(PIECE, count - begin))


def _pulse(angle: np.ndarray, duty: float, harmonics: int) -> np.ndarray:
    wave_form = np.zeros_like(angle)
    for n in range(1, harmonics + 1):
        wave_form += np.sin(n * np.pi * duty) / n * np.cos(n * (angle - np.pi * duty))
    return PEAK * wave_form


def write_wav(path: Path, out: np.ndarray) -> float:
    """Write the sound of a run; returns its length in s."""
    duration_s = (int(column(out, "now_ms")[-1]) + 10) / 1000
    if duration_s > LONGEST_S:
        raise UsageError(f"{path}: a WAV holds {LONGEST_S // 3600} hours at most; leave it out, "
                         "or choose one session")
    with whole_file(path) as temporary, wave.open(str(temporary), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(RATE_HZ)
        for samples in render_pieces(pwm_events(out), duration_s):
            file.writeframes((np.clip(samples, -1, 1) * 32767).astype("<i2").tobytes())
    return duration_s
