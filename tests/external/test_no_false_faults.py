"""Independent flights in raw 14-bit words: never a fault (cases A4, H10).

Once without any noise: such words repeat themselves as no real sensor's do, so this is the healthy
thing that looks most like a frozen one. Once with noise and with the flights' own load factor,
turbulence and gusts included: nothing jumps, and lift balances the load.
"""

import numpy as np
import pytest

from alula.health import WORDS
from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, load, pressures

PA_PER_COUNT = 13789.514 / 13108  # Honeywell type A over +-1 psi: 1638 to 14746
FAULT = 4


def learned_on(name: str) -> str:
    """The set whose stall is this wing's and this flap setting's."""
    if name.startswith("hw"):
        return "hw_stall_1g"
    return "tp_stall_flap20" if "flap20" in name else "tp_stall_1g"


def flown(name: str, plumbing: str, probe: Probe, noise_pa: float, with_n: bool,
          learned: str) -> np.ndarray:
    """The unit's decisions over one set."""
    flight = load(name)
    rng = np.random.default_rng(5)
    rows = np.zeros((len(flight["time_s"]), 9), np.int32)
    rows[:, 0] = np.rint((flight["time_s"] - flight["time_s"][0]) * 1000)
    for column, felt in zip((2, 4), pressures(flight, plumbing, probe), strict=True):
        felt = felt + noise_pa * rng.standard_normal(len(felt))
        rows[:, column] = np.rint(8192 + felt / PA_PER_COUNT)
    rows[:, 5] = 0 if with_n else 4
    if with_n:
        rows[:, 6] = np.rint(1000 * flight["nz_g"] + 30 * rng.standard_normal(len(rows)))
    settings: dict = {"plumbing": plumbing, "sample_rate_hz": 50}
    for channel in ("pitot", "angled"):
        settings |= {f"{channel}_output": "hsc-a", f"{channel}_low_dpa": -68948,
                     f"{channel}_high_dpa": 68948}
    return run_stream(Stream(rows, settings, calibration(learned, plumbing, probe),
                             {"pitot_dpa": 0, "angled_dpa": 0}))


def words_told(out: np.ndarray) -> set[str]:
    told = out[out[:, OUT_COLUMNS.index("state")] == FAULT, OUT_COLUMNS.index("health")]
    return {WORDS[code] for code in told}


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("phi_deg", [40.0, 45.0, 55.0])
def test_no_fault_in_any_independent_flight(plumbing: str, phi_deg: float):
    probe = Probe(phi_deg, 2.0)
    for name in PHASES:
        for noise_pa, with_n in ((0.0, False), (1.0, True)):
            out = flown(name, plumbing, probe, noise_pa, with_n, learned_on(name))
            assert not words_told(out), (name, noise_pa)


def test_d4_flaps_that_the_calibration_does_not_know_unbalance_it():
    """tp_stall_flap20 on the clean curve, which warns two degrees late: the load factor tells."""
    out = flown("tp_stall_flap20", "port-static", Probe(45.0, 2.0), 1.0, True, "tp_stall_1g")
    assert words_told(out) == {"unbalanced"}
