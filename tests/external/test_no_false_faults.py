"""Independent flights in raw 14-bit words, without any noise: never a fault (cases A4, H10).

Noise-free words repeat themselves as no real sensor's do, so this is the healthy thing that looks
most like a frozen one.
"""

import numpy as np
import pytest

from host_sim.runtimes.run import Stream, run_stream
from host_sim.runtimes.session import OUT_COLUMNS
from tests.external.truth import PHASES, PLUMBINGS, Probe, calibration, load, pressures

PA_PER_COUNT = 13789.514 / 13108  # Honeywell type A over +-1 psi: 1638 to 14746


@pytest.mark.parametrize("plumbing", PLUMBINGS)
@pytest.mark.parametrize("phi_deg", [40.0, 45.0, 55.0])
def test_no_fault_in_any_independent_flight(plumbing: str, phi_deg: float):
    probe = Probe(phi_deg, 2.0)
    for name in PHASES:
        flight = load(name)
        rows = np.zeros((len(flight["time_s"]), 9), np.int32)
        rows[:, 0] = np.rint((flight["time_s"] - flight["time_s"][0]) * 1000)
        for column, felt in zip((2, 4), pressures(flight, plumbing, probe), strict=True):
            rows[:, column] = np.rint(8192 + felt / PA_PER_COUNT)
        rows[:, 5] = 4
        settings = {"plumbing": plumbing}
        for channel in ("pitot", "angled"):
            settings |= {f"{channel}_output": "hsc-a", f"{channel}_low_dpa": -68948,
                         f"{channel}_high_dpa": 68948}
        learned = "hw_stall_1g" if name.startswith("hw") else "tp_stall_1g"
        out = run_stream(Stream(rows, settings, calibration(learned, plumbing, probe),
                                {"pitot_dpa": 0, "angled_dpa": 0}))
        assert (out[:, OUT_COLUMNS.index("state")] < 4).all(), name
