"""Live flights of an invented two-seater in the general flight-dynamics library JSBSim (PyPI
`jsbsim`, LGPL, a test dependency only). Nothing of our own code makes the motion.

Aeroplane: data/truthplane.xml, invented, round numbers, no existing type; the same that flew the
`tp_*` sets. Its clean wing stalls at 16.0 deg: the peak of its lift table.

The pilot is an autopilot in steps: wanted alpha -> alpha rate -> pitch acceleration -> change of
elevator from the pitch acceleration that is measured; roll by aileron, slip by rudder.
"""

import tempfile
from dataclasses import dataclass
from pathlib import Path

import jsbsim
import numpy as np

MODEL = Path(__file__).parent / "data" / "truthplane.xml"
STALL_DEG = 16.0
RATE_HZ, STEP_S = 100, 0.01
EMPTY_LB = 950.0
PSF_PA = 47.880259
AREA_FT2 = 118.0
SETTLE_S, SLOWEST_S, AFTER_S = 10.0, 70.0, 7.0
LIGHT, WIND_FPS = 3, 25.0  # severity of the library's Dryden form, from memory: 3 is "light"
# The rising part of the aeroplane's own lift table: what its pilot knows of it.
CL = (0.24, 0.65, 1.06, 1.265, 1.3054, 1.3404, 1.3691, 1.3913, 1.4073)
ALPHA_DEG = (0.0, 5.0, 10.0, 12.5, 13.0, 13.5, 14.0, 14.5, 15.0)
COLUMNS = ("time_s", "alpha_deg", "beta_deg", "qbar_pa", "kcas", "nz_g", "bank_deg", "cl")


@dataclass(frozen=True)
class Flight:
    """One slow stall. hold_deg: recovery begins so far past the stall."""

    weight_lb: float = 1300.0
    height_ft: float = 4000.0
    rate_kt_s: float = 1.0
    bank_deg: float = 0.0
    severity: int = 0
    hold_deg: float = 0.4
    seed: int = 1


def _start(flight: Flight, root: Path) -> jsbsim.FGFDMExec:
    folder = root / "truthplane"
    folder.mkdir()
    (folder / "truthplane.xml").write_bytes(MODEL.read_bytes())
    plane = jsbsim.FGFDMExec(str(root))
    plane.set_debug_level(0)
    plane.set_aircraft_path("")
    assert plane.load_model("truthplane")
    plane.set_dt(STEP_S)
    plane["inertia/pointmass-weight-lbs"] = flight.weight_lb - EMPTY_LB
    plane["ic/h-sl-ft"] = flight.height_ft
    plane["ic/vc-kts"] = 1.5 * np.sqrt(flight.weight_lb / np.cos(np.radians(flight.bank_deg))
                                       / (1.42 * AREA_FT2 * 0.5 * 0.0023769)) / 1.68781
    plane["ic/alpha-deg"] = 4.5
    plane["ic/theta-deg"] = 4.5
    assert plane.run_ic()
    if flight.severity:
        plane["simulation/randomseed"] = flight.seed
        plane["atmosphere/turb-type"] = 4
        plane["atmosphere/turbulence/milspec/windspeed_at_20ft_AGL-fps"] = WIND_FPS
        plane["atmosphere/turbulence/milspec/severity"] = flight.severity
    return plane


class _Pilot:
    """Holds a wanted alpha and bank; knows the aeroplane only by what it measures."""

    def __init__(self) -> None:
        self.elevator = -0.05

    def step(self, plane: jsbsim.FGFDMExec, alpha_deg: float, bank_deg: float) -> None:
        """One step of 10 ms."""
        error = alpha_deg - plane["aero/alpha-deg"]
        rate = np.clip(2.0 * error, -8, 8) - np.degrees(plane["aero/alphadot-rad_sec"])
        wanted = np.radians(np.clip(4.0 * rate, -60, 60))
        off = wanted - plane["accelerations/qdot-rad_sec2"]
        self.elevator = float(np.clip(self.elevator - 0.02 * off, -1, 1))
        plane["fcs/elevator-cmd-norm"] = self.elevator
        bank_error = bank_deg - plane["attitude/phi-deg"]
        roll = np.clip(0.03 * bank_error - 0.02 * np.degrees(plane["velocities/p-rad_sec"]),
                       -1, 1)
        plane["fcs/aileron-cmd-norm"] = float(roll)
        plane["fcs/rudder-cmd-norm"] = float(np.clip(
            -0.05 * plane["aero/beta-deg"] - 0.3 * plane["velocities/r-rad_sec"], -1, 1))


def fly(flight: Flight) -> dict[str, np.ndarray]:
    """Settle, slow down to the stall and past it, recover. Columns as named in COLUMNS."""
    with tempfile.TemporaryDirectory() as root:
        plane, pilot = _start(flight, Path(root)), _Pilot()
        rows, ended_s, thrust_lb, alpha = [], None, 150.0, 4.5
        speed_kt = plane["velocities/vc-kts"]
        while True:
            time = plane["simulation/sim-time-sec"]
            if ended_s is not None and time > ended_s + AFTER_S or time > SLOWEST_S:
                break
            slowing = time > SETTLE_S and ended_s is None
            if slowing:
                speed_kt -= flight.rate_kt_s * STEP_S
            alpha, thrust_lb = _command(plane, flight, alpha, thrust_lb, speed_kt, ended_s)
            plane["external_reactions/prop/magnitude"] = thrust_lb
            pilot.step(plane, alpha, 0.0 if ended_s else flight.bank_deg)
            if slowing and plane["aero/alpha-deg"] >= STALL_DEG + flight.hold_deg:
                ended_s = time
            plane.run()
            rows.append(_row(plane))
        columns = dict(zip(COLUMNS, np.array(rows).T, strict=True))
    kept = columns["time_s"] > 5.0  # the first seconds are the autopilot's own
    return {name: values[kept] for name, values in columns.items()}


def _command(plane, flight: Flight, alpha: float, thrust_lb: float, speed_kt: float,
             ended_s: float | None) -> tuple[float, float]:
    """Alpha that keeps the path level, thrust that keeps the wanted speed; or a recovery."""
    if ended_s is not None:
        return max(6.0, alpha - 4.0 * STEP_S), min(400.0, thrust_lb + 60 * STEP_S)
    level_n = (1 - 0.02 * plane["velocities/h-dot-fps"]) / np.cos(np.radians(flight.bank_deg))
    cl = level_n * flight.weight_lb / (plane["aero/qbar-psf"] * AREA_FT2)
    wanted = float(np.interp(cl, CL, ALPHA_DEG))
    if plane["aero/alpha-deg"] > STALL_DEG - 1.0:
        wanted = alpha + 1.0  # near the top the stick keeps coming back
    alpha += float(np.clip(wanted - alpha, -3.0 * STEP_S, 1.5 * STEP_S))
    fast_kt = plane["velocities/vc-kts"] - speed_kt
    return alpha, float(np.clip(100.0 - 40.0 * fast_kt, 0, 500))


def _row(plane) -> tuple[float, ...]:
    q_psf = plane["aero/qbar-psf"]
    return (plane["simulation/sim-time-sec"], plane["aero/alpha-deg"], plane["aero/beta-deg"],
            q_psf * PSF_PA, plane["velocities/vc-kts"], plane["accelerations/Nz"],
            plane["attitude/phi-deg"], plane["forces/fwz-aero-lbs"] / (q_psf * AREA_FT2))
