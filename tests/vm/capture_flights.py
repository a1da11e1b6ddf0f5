"""Flights in which the button is used: captures that end in every way, and references.

Made from the independent flights of tests/external, so that the capture meets real stalls.
"""

import numpy as np

from alula.sample import FLAP_UNCLEAR, FRESH, NO_REPLY, NOT_FITTED
from host_sim.runtimes.run import Stream
from tests.external.truth import Probe, calibration, load, pressures, stream

FLAP, BUTTON, NZ_STATUS, NZ = 7, 8, 5, 6
LONG_MS, SHORT_MS = 1700, 300


def flight(name: str, plumbing: str = "port-static", with_n: bool = True, flap: int = 0,
           press_s=((2.5, LONG_MS),), noise_pa: float = 0.5, learned: bool = True,
           **settings) -> Stream:
    """One set at 50 Hz; press_s: when the button is pressed, s, and for how long, ms."""
    seen, probe = load(name), Probe()
    rng = np.random.default_rng(3)
    felt = [p + noise_pa * rng.standard_normal(len(p))
            for p in pressures(seen, plumbing, probe)]
    record = calibration("tp_stall_1g", plumbing, probe) if learned else None
    made = stream(*felt, seen["time_s"], plumbing, record, sample_rate_hz=50, **settings)
    rows = made.rows
    rows[:, NZ_STATUS] = FRESH if with_n else NOT_FITTED
    rows[:, NZ] = np.rint(1000 * seen["nz_g"]) + rng.integers(-30, 31, len(rows))
    rows[:, FLAP] = flap
    for at_s, ms in press_s:
        rows[(rows[:, 0] >= 1000 * at_s) & (rows[:, 0] < 1000 * at_s + ms), BUTTON] = 1
    return made


def with_rows(made: Stream, from_s: float, to_s: float, column: int, value: int) -> Stream:
    """The flight, one column changed for a while."""
    rows = made.rows.copy()
    rows[(rows[:, 0] >= 1000 * from_s) & (rows[:, 0] < 1000 * to_s), column] = value
    return Stream(rows, made.settings, made.calibration, made.zero)


def thinned(made: Stream, from_s: float) -> Stream:
    """The flight, three reads in five of the pitot lost from one moment on."""
    rows = made.rows.copy()
    rows[(rows[:, 0] >= 1000 * from_s) & (np.arange(len(rows)) % 5 < 3), 1] = NO_REPLY
    return Stream(rows, made.settings, made.calibration, made.zero)


def mirrored(made: Stream) -> Stream:
    """Angled hose on the wrong side: the ratio falls while the lift rises."""
    rows = made.rows.copy()
    rows[:, 4] = -rows[:, 4]
    return Stream(rows, made.settings, made.calibration, made.zero)


def twice(made: Stream) -> Stream:
    """The flight, and the same again: more runs than the book holds."""
    rows = np.concatenate([made.rows, made.rows])
    rows[len(made.rows):, 0] += made.rows[-1, 0] + 20
    rows[len(made.rows):, BUTTON] = 0
    return Stream(rows, made.settings, made.calibration, made.zero)


def held(made: Stream, at_s: float, seconds: float) -> Stream:
    """The aeroplane stays as it is at one moment, for so long: mushing, or never slowing down."""
    at = int(np.searchsorted(made.rows[:, 0], 1000 * at_s))
    rows = np.concatenate([made.rows[:at], np.repeat(made.rows[at:at + 1], int(50 * seconds), 0)])
    rows[:, 0] = np.arange(len(rows)) * 20
    return Stream(rows, made.settings, made.calibration, made.zero)


def landed(made: Stream, at_s: float) -> Stream:
    """From one moment on both pressures fade together: rolling out with a capture armed."""
    rows = made.rows.copy()
    left = np.clip(1 - (rows[:, 0] / 1000 - at_s) / 12, 0, 1)
    for column in (2, 4):
        rows[:, column] = np.rint(rows[:, column] * left)
    return Stream(rows, made.settings, made.calibration, made.zero)


def all_flights() -> list[Stream]:
    """Each ends differently."""
    prompt = flight("tp_capture3_prompt")
    return [
        prompt,
        flight("tp_capture3_prompt", with_n=False),
        flight("tp_capture3", with_n=False),
        flight("tp_capture3", plumbing="opposed"),
        flight("tp_capture3_flap20", plumbing="pitot-port", flap=1),
        flight("tp_capture3_prompt", learned=False, capture_agree_pm=10),
        flight("tp_fast_entry"), flight("tp_turb_sev4_stall"), flight("tp_pullups"),
        flight("tp_ordinary", capture_longest_s=20), flight("tp_gusts"),
        mirrored(prompt), thinned(prompt, 8), landed(prompt, 8),
        with_rows(prompt, 20, 23, FLAP, 1), with_rows(prompt, 2, 6, FLAP, FLAP_UNCLEAR),
        with_rows(prompt, 20, 22, 1, NO_REPLY), with_rows(prompt, 20, 20.4, 1, NO_REPLY),
        with_rows(prompt, 0, 5, 2, 0),  # armed on the ground
        flight("tp_capture3_prompt", press_s=((2.5, LONG_MS), (14, LONG_MS), (18, LONG_MS),
                                              (31, SHORT_MS), (60, 1000))),
        flight("tp_capture3_prompt", with_n=False, press_s=((2.5, LONG_MS), (34, SHORT_MS))),
        twice(flight("tp_capture3_prompt", capture_agree_pm=10, capture_runs=5)),
        held(flight("tp_capture3_prompt", capture_longest_s=20), 9, 40),
        held(flight("tp_capture3_prompt", with_n=False), 30, 20),
        flight("tp_turb_sev4_stall", noise_pa=8, capture_rough_pm=5),
        flight("tp_capture3_prompt", noise_pa=8, capture_rough_pm=5),
        flight("tp_capture3", with_n=False, noise_pa=6, capture_marks_pm=5),
        flight("tp_capture3_flap20", with_n=False, capture_marks_pm=5),
        flight("hw_stall_1g", with_n=False, press_s=((1.0, LONG_MS),)),
        flight("hw_stall_1g", press_s=((1.0, LONG_MS), (26, SHORT_MS))),
        flight("hw_stall_1g", press_s=((1.0, LONG_MS), (31, SHORT_MS))),
        with_rows(with_rows(prompt, 10, 10.4, NZ, 9000), 11, 11.4, NZ, -9000),
        flight("tp_ordinary", press_s=((6, SHORT_MS), (20, 10), (30, SHORT_MS))),
    ]
