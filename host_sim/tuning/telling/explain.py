"""`alula tune --explain SETTING`: what it does, in numbers from the firmware itself.

The numbers are those of a nominal unit: one 45-degree port, a 1 g stall at 250 Pa, sensors with
1 Pa of noise in each word, 100 samples a second. A kit's own come from its flights.
"""

from math import sqrt

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware
from host_sim.tuning.candidates import (
    ROWS,
    SHIPPED,
    STEPS,
    TUNABLE,
    Candidate,
    candidate,
    problem,
    record_of,
)
from host_sim.tuning.engine.through_engine import Short
from host_sim.tuning.measuring.bench_signals import (
    RATES_DEG_S,
    Wing,
    most_lag_s,
    noise,
    noise_pm,
    ramp,
)

use_firmware()

from alula.cues import Cues  # noqa: E402
from alula.settings import load  # noqa: E402
from alula.urgency import STEPS as PULSE_STEPS  # noqa: E402
from alula.urgency import pulse_rates  # noqa: E402
from host_sim.runtimes.session import UNKNOWN  # noqa: E402

NOMINAL = Wing({"plumbing": "port-static", "flap": 0,
                "points": [[-1250, 200], [700, 400], [2600, 694], [3600, 850], [4700, 1000]]},
               {"plumbing": "port-static"}, 2500.0, (10.0, 10.0))
TEXTS = {
    "window_ms": "The longer the smoothing line, the less noise is left in the lift and the later "
                 "a sudden change is seen; a steady one is followed without delay. In the "
                 "continuous limit the most lag after a kink is 4/27 of the window (computed), "
                 "and the median before the line adds one sample.",
    "lead_ms": "The line is read so far ahead of now: the delay falls by as much, and the noise "
               "rises, the faster the shorter the window.",
    "gap_ms": "Not delay nor noise while data flow: a longer gap empties both windows, and the "
              "unit needs a window of new data before it knows the lift again.",
    "calm_pm": "Where the soft tick begins. Not delay nor noise.",
    "pressing_pm": "Where the pressing pulses begin: lower is an earlier warning and more of them "
                   "in normal flight. Not delay nor noise.",
    "stalling_pm": "Where the unbroken warble begins. Not delay nor noise.",
    "hysteresis_pm": "How far below its start a band ends: too little, and noise switches the "
                     "sound on and off; too much, and it stays on in the recovery.",
    "release_ms": "How long the lift must stay below a band's end before the sound ends: it never "
                  "delays a warning, only its end.",
    "calm_release_ms": "The same for the calm tick.",
    "pulse_low_millihz": "The pulse rate where pressing begins.",
    "pulse_high_millihz": "The pulse rate where pressing ends, just below the warble.",
    "urgency_pm": "How perceived urgency grows with the pulse rate (power law; exponent 1.35 from "
                  "memory of Hellier, Edworthy and Dennis 1993): it bends the rates between the "
                  "two ends, which stay.",
}
_VALUES = 6
_FOOT = (
    "A nominal unit: stall at 250 Pa, 1 Pa of noise in each word, 100 samples a second, one "
    "45-degree port. Delay and noise: the firmware's conditioning. Changes in noise: of the band, "
    "in steady flight halfway between start and end of pressing. Begins at: the band that is "
    "asked for, else pressing. Tubes, sensor and sound add delay: `alula size`.",
    "Prove a change in flight before you rely on it; the unit supplements, and never replaces, "
    "the primary stall warning.")


def explain(name: str) -> list[str]:
    """Lines for people. UsageError for a setting that is not for tuning."""
    _refuse_other(name)
    _, _, least, most, unit, text = ROWS[name]
    lines = [f"{name}: {text}", f"from {least} to {most} {unit}, shipped {SHIPPED[name]}", "",
             TEXTS[name], "",
             f"{'value':>8} {'delay at 3 deg/s':>18} {'noise at 1.20 Vs':>18} "
             f"{'changes in noise':>18} {'begins at':>10} {'pulses at 1.10 Vs':>18}"]
    for value in values_of(name):
        row = numbers(name, value)
        mark = " shipped" if value == SHIPPED[name] else ""
        lines.append(f"{value:>8} {1000 * row['delay_s']:>9.0f} ms {row['deg']:>4.2f}° "
                     f"{row['noise_pm']:>14.2f} pm {row['changes_min']:>14.1f}/min "
                     f"{row['begins_vs']:>7.3f} Vs {row['pulses_hz']:>14.2f}/s{mark}")
    return [*lines, "", *_FOOT]


def explained(name: str) -> dict:
    """The same for machines."""
    _refuse_other(name)
    return {"setting": name, "least": ROWS[name][2], "most": ROWS[name][3],
            "unit": ROWS[name][4], "shipped": SHIPPED[name], "text": TEXTS[name],
            "values": [{"value": value, **numbers(name, value)} for value in values_of(name)]}


def _refuse_other(name: str) -> None:
    if name not in TUNABLE:
        why = "is not for tuning" if name in ROWS else "is no setting"
        raise UsageError(f"--explain {name}: {why}; for tuning are: {', '.join(TUNABLE)}")


def values_of(name: str) -> list[int]:
    """Legal values from end to end, the shipped one among them."""
    _, _, least, most, _, _ = ROWS[name]
    step = STEPS[name]
    between = {round((least + (most - least) * k / (_VALUES - 1)) / step) * step
               for k in range(1, _VALUES - 1)}
    return [value for value in sorted({least, most, SHIPPED[name]} | between)
            if problem(NOMINAL.settings, candidate({name: value})) is None]


def numbers(name: str, value: int) -> dict[str, float]:
    """What one value gives, all else as shipped."""
    one = candidate({name: value})
    ramped, steady = Short(ramp(NOMINAL, RATES_DEG_S[1])), Short(noise(NOMINAL))
    delay_s = most_lag_s(NOMINAL, ramped.time_ms, ramped.shown(
        record_of(ramped.flight.settings, one)), RATES_DEG_S[1])
    shown = steady.shown(record_of(steady.flight.settings, one))
    band = name if name in ("calm_pm", "stalling_pm") else "pressing_pm"
    return {"delay_s": delay_s, "deg": delay_s * RATES_DEG_S[1],
            "noise_pm": noise_pm(NOMINAL, shown)[1],
            "changes_min": _changes(one), "begins_vs": 1.0 / sqrt(dict(one)[band] / 1000.0),
            "pulses_hz": _pulses_hz(dict(one), 1.10)}


def _changes(one: Candidate) -> float:
    """Changes of the band a minute in steady flight in the middle of pressing's hysteresis."""
    values = dict(one)
    middle_pm = values["pressing_pm"] - values["hysteresis_pm"] / 2.0
    steady = Short(noise(NOMINAL, (sqrt(1000.0 / middle_pm),)))
    record = record_of(steady.flight.settings, one)
    lift_pm = steady.shown(record).lift_pm
    cues, bands = Cues(load(record)[0]), []
    for lift in lift_pm[lift_pm != UNKNOWN].tolist():
        cues.step(NOMINAL.period_ms, lift, 0, True)
        bands.append(cues.band)
    changes = sum(a != b for a, b in zip(bands, bands[1:], strict=False))
    return changes / (len(bands) * NOMINAL.period_ms / 60000.0)


def _pulses_hz(values: dict[str, int], speed: float) -> float:
    """Pulse rate at a speed, shares of Vs, by the firmware's own law; 0 outside pressing."""
    lift_pm = round(1000.0 / speed ** 2)
    start, end = values["pressing_pm"], values["stalling_pm"]
    if not start <= lift_pm < end:
        return 0.0
    rates = pulse_rates(values["pulse_low_millihz"], values["pulse_high_millihz"],
                        values["urgency_pm"])
    return rates[(lift_pm - start) * (PULSE_STEPS + 1) // (end - start)] / 1000.0
