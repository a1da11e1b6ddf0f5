"""A family of invented aeroplanes, each flown into a stall and out of it: numpy only.

Quasi-steady: alpha is what the pilot does, lift and n follow from it, n bends the path, and the
path and the drag change the speed. So q, n and alpha move together as they must:

    n = CL(alpha) q S/W,   dgamma/dt = g (n - cos gamma)/V,   dV/dt = -(asked rate) - g sin gamma
    - drag past the straight part of the lift curve

Not in it: unsteady lift, buffet, wing drop, pitch rate at the probe. Probe: sphere in potential
flow, as in tests/external/truth.py, written again here; tubes: a first-order lag.
"""

from dataclasses import asdict, dataclass, fields

import numpy as np

G_M_S2, KT_M_S, RHO_KG_M3 = 9.80665, 1852 / 3600, 1.225
RATE_HZ = 100
PSI_PA = 6894.757
PLUMBINGS = ("port-static", "pitot-port", "opposed")
STEADY_S, AFTER_S, LONGEST_S = 5.0, 6.0, 80.0


@dataclass(frozen=True)
class Case:
    """One aeroplane and one stall of it. Angles in degrees, rates a second."""

    stall_q_pa: float  # wing loading over CLmax
    cl_max: float
    slope: float  # of CL, a degree, in the straight part
    stall_deg: float
    rounding_deg: float  # width of the rounded part below the stall
    drop: float  # share of the lift that is lost past the stall
    drop_deg: float  # over so many degrees; a mush loses little over many
    start: float  # speed at the start, in stall speeds
    rate_kt_s: float
    rate_wander: float  # share by which the pilot's rate swings
    alpha_rate_most: float  # how fast the pilot lets alpha rise at the stall
    hold_deg: float  # recovery begins so far past the stall; negative: before it
    recovery_deg_s: float
    drag_g_deg: float  # deceleration in g for a degree beyond the straight part
    gust_m_s: float
    gust_s: float
    noise_pa: float
    n_noise_g: float
    phi_deg: float
    k: float
    tau_s: float
    plumbing: int
    seed: int


# Lowest and highest of each; the last two are whole numbers.
RANGES = {
    "stall_q_pa": (220, 700), "cl_max": (1.2, 2.4), "slope": (0.07, 0.105), "stall_deg": (11, 19),
    "rounding_deg": (1, 5), "drop": (0.05, 0.30), "drop_deg": (1, 4), "start": (1.42, 1.6),
    "rate_kt_s": (0.5, 1.3), "rate_wander": (0, 0.15), "alpha_rate_most": (1.2, 3),
    "hold_deg": (-3, 4), "recovery_deg_s": (2, 8), "drag_g_deg": (0.003, 0.012),
    "gust_m_s": (0, 0.3), "gust_s": (0.3, 2), "noise_pa": (0, 2), "n_noise_g": (0, 0.05),
    "phi_deg": (40, 60), "k": (1.8, 2.3), "tau_s": (0.005, 0.05),
}
MUSH_SHARE = 0.25


def draw(seed: int) -> Case:
    """A case out of the family."""
    rng = np.random.default_rng([11, seed])
    values = {name: float(rng.uniform(*ends)) for name, ends in RANGES.items()}
    if rng.random() < MUSH_SHARE:
        values["drop"], values["drop_deg"] = rng.uniform(0, 0.03), rng.uniform(5, 8)
    if rng.random() < 0.3:
        values["gust_m_s"] = 0.0
    return Case(**values, plumbing=int(rng.integers(3)), seed=seed)


def calm_and_prompt(case: Case) -> bool:
    """A run that a pilot would call good: smooth air, an even pace, recovery at the first sign."""
    return (case.gust_m_s < 0.1 and 0.4 <= case.hold_deg < 1.5 and case.drop_deg < 5
            and case.drop > 0.1 and case.rate_kt_s < 1.1 and case.rate_wander < 0.1)


def lift(case, alpha_deg):
    """CL of a case (or of columns of cases): straight, rounded to the top, dropping beyond."""
    below = case.stall_deg - alpha_deg
    rounded = np.clip(case.rounding_deg - below, 0, case.rounding_deg)
    straight = case.cl_max + case.slope * (case.rounding_deg / 2 - below)
    rising = straight - case.slope * rounded ** 2 / (2 * case.rounding_deg)
    beyond = np.clip(-below / case.drop_deg, 0, 1)
    falling = case.cl_max * (1 - case.drop * (1 - np.cos(np.pi * beyond)) / 2)
    return np.where(below > 0, rising, falling)


def alpha_for(case, cl):
    """Alpha in the rising part for a lift coefficient up to CLmax."""
    missing = np.maximum(case.cl_max - cl, 0)
    edge = case.slope * case.rounding_deg / 2
    in_round = np.sqrt(np.minimum(missing, edge) * 2 * case.rounding_deg / case.slope)
    return case.stall_deg - np.where(missing < edge, in_round,
                                     case.rounding_deg + (missing - edge) / case.slope)


def flat_top_deg(case: Case) -> float:
    """Width of the range of alpha in which lift lies within 0.5 % of CLmax."""
    alpha = np.linspace(case.stall_deg - 10, case.stall_deg + 15, 5001)
    return float((lift(case, alpha) >= 0.995 * case.cl_max).sum() * (alpha[1] - alpha[0]))


class _Columns:
    """The same fields as a case, an array each."""

    def __init__(self, cases: list[Case]) -> None:
        for field in fields(Case):
            setattr(self, field.name, np.array([asdict(c)[field.name] for c in cases], float))


def fly(cases: list[Case]) -> list[dict[str, np.ndarray]]:
    """Flights of all cases at 100 Hz: time_s, alpha_deg, q_pa, n_g, air as the probe feels it."""
    c, dt = _Columns(cases), 1 / RATE_HZ
    stall_m_s = np.sqrt(2 * c.stall_q_pa / RHO_KG_M3)
    speed, path = c.start * stall_m_s, np.zeros(len(cases))
    alpha = alpha_for(c, c.cl_max / c.start ** 2)
    ended_s = np.full(len(cases), np.inf)
    gusts = _gusts(cases)
    kept: list[tuple] = []
    for i in range(round(LONGEST_S * RATE_HZ)):
        time = i * dt
        ending = (alpha >= c.stall_deg + c.hold_deg) & (ended_s == np.inf)
        ended_s = np.where(ending, time, ended_s)
        felt = alpha + np.degrees(gusts[0][i] / speed)
        q = RHO_KG_M3 / 2 * (speed + gusts[1][i]) ** 2
        n = lift(c, felt) / c.cl_max * q / c.stall_q_pa
        kept.append((felt, q, n))
        alpha = _steer(c, alpha, speed, stall_m_s, time > ended_s, dt)
        wander = 1 + c.rate_wander * np.sin(2 * np.pi * (time / 7 + c.seed / 5))
        asked = np.where(time > ended_s, -2.0, c.rate_kt_s * wander) * (time > STEADY_S) * KT_M_S
        drag = c.drag_g_deg * np.maximum(0, alpha - c.stall_deg + c.rounding_deg) * G_M_S2
        mean_n = lift(c, alpha) / c.cl_max * (speed / stall_m_s) ** 2
        path = path + G_M_S2 * (mean_n - np.cos(path)) / speed * dt
        speed = speed - (asked + G_M_S2 * np.sin(path) + drag) * dt
    columns = [np.array(column) for column in zip(*kept, strict=True)]
    return [_cut(columns, j, min(end, LONGEST_S - AFTER_S)) for j, end in enumerate(ended_s)]


def _cut(columns: list[np.ndarray], j: int, end_s: float) -> dict[str, np.ndarray]:
    count = round((end_s + AFTER_S) * RATE_HZ)
    felt, q, n = (column[:count, j] for column in columns)
    return {"time_s": np.arange(len(q)) / RATE_HZ, "alpha_deg": felt, "q_pa": q, "n_g": n}


def _steer(c, alpha, speed, stall_m_s, recovering, dt: float):
    """The stick: hold the path level while lift allows, pull on past the top, then let go."""
    level = alpha_for(c, c.cl_max * (stall_m_s / speed) ** 2)
    short = speed < stall_m_s * 1.002
    wanted = np.where(short, alpha + c.alpha_rate_most * dt, level)
    up = np.clip(wanted - alpha, -c.alpha_rate_most * dt, c.alpha_rate_most * dt)
    safe = alpha_for(c, 0.5 * c.cl_max)
    # past the top the stick keeps coming back
    up = np.where(alpha > c.stall_deg - 0.3, c.alpha_rate_most * dt, up)
    down = np.maximum(safe - alpha, -c.recovery_deg_s * dt)
    return alpha + np.where(recovering, down, up)


def _gusts(cases: list[Case]) -> tuple[np.ndarray, np.ndarray]:
    """Vertical and lengthwise gusts, m/s: first-order noise, shape (ticks, cases)."""
    count = round(LONGEST_S * RATE_HZ)
    keep = np.array([np.exp(-1 / (RATE_HZ * case.gust_s)) for case in cases])
    rms = np.array([case.gust_m_s for case in cases]) * np.sqrt((1 + keep) / (1 - keep))
    noise = np.stack([np.random.default_rng([12, case.seed]).standard_normal((2, count))
                      for case in cases], axis=1)
    both = np.moveaxis(_lagged(noise, keep), 2, 1) * rms
    return both[0], both[1]


def _lagged(values: np.ndarray, keep) -> np.ndarray:
    """First-order lag along the last axis: y += (1 - keep)(x - y)."""
    out = np.empty_like(values)
    level = values[..., 0] * 0
    for i in range(values.shape[-1]):
        level = keep * level + (1 - keep) * values[..., i]
        out[..., i] = level
    return out


def ratio_of(case: Case, alpha_deg):
    """The pressure ratio of the case's probe."""
    def port(phi_deg):
        return 1 - case.k * np.sin(np.radians(phi_deg - alpha_deg)) ** 2
    if PLUMBINGS[case.plumbing] == "opposed":
        return port(case.phi_deg) - port(-case.phi_deg)
    return port(case.phi_deg)


def alpha_of(case: Case, ratio_bp: int) -> float:
    """Alpha at which the case's probe gives a ratio."""
    alpha = np.linspace(-25, 40, 6501)
    ratio = ratio_of(case, alpha)
    low, top = int(np.argmin(ratio[:3000])), int(np.argmax(ratio)) + 1
    return float(np.interp(ratio_bp / 10000, ratio[low:top], alpha[low:top]))


def rows_of(case: Case, flight: dict[str, np.ndarray], with_n: bool) -> np.ndarray:
    """Input rows of the firmware: 14-bit words of two +-1 psi sensors of type A."""
    rng = np.random.default_rng([13, case.seed])
    q = flight["q_pa"]
    angled = ratio_of(case, flight["alpha_deg"]) * q
    if PLUMBINGS[case.plumbing] == "pitot-port":
        angled = q - angled
    felt = np.stack([q, angled])
    keep = np.exp(-1 / (RATE_HZ * case.tau_s))
    lagged = _lagged(felt - felt[:, :1], keep) + felt[:, :1]
    lagged += case.noise_pa * rng.standard_normal(felt.shape)
    rows = np.zeros((len(q), 9), np.int32)
    rows[:, 0] = np.arange(len(q)) * 1000 // RATE_HZ
    # 10..90 % of 2^14 counts: data sheet 50099148 by way of the Linux driver (secondary source)
    words = np.rint(1638 + (lagged + PSI_PA) / (2 * PSI_PA) * (14746 - 1638))
    rows[:, 2], rows[:, 4] = np.clip(words, 0, 16383)
    rows[:, 5] = 0 if with_n else 4
    n_g = flight["n_g"] + case.n_noise_g * rng.standard_normal(len(q))
    rows[:, 6] = np.rint(1000 * n_g) if with_n else 0
    rows[:, 7] = -1
    return rows
