"""One sensor from what its table says."""

from typing import Any

from host_sim.errors import UsageError
from host_sim.sizing.case import Sensor
from host_sim.sizing.quantity import plain_number, quantity, share_or, within
from host_sim.sizing.unit_settings import COMPENSATED, OUTPUTS

WORD_BITS = 14  # of every output type but "direct"
WORD_MOST_PA = 10000.0  # where the firmware's pressures end
DRIFT_MOST_PA = 1000.0
_SPAN_LEAST_PA, _SPAN_MOST_PA = 20.0, 2.0e6
_HOW = {"range": '"1 psi", for both signs; or low and high', "output": "one of the words",
        "band_pc": "1 for a total error band of +-1 % of the span",
        "noise": '"1 Pa", rms of one reading; measure it at rest if no data sheet says it',
        "drift": '"0.3 Pa/K" or "0.002 %/K"; if the data sheet has only a total error band, '
                 "divide the band by half its temperature range"}


def read_sensor(table: dict[str, Any], where: str) -> Sensor:
    """A sensor. where: how the error calls a table without a name."""
    name = table.get("name")
    if not isinstance(name, str) or not name.strip() or not name.isprintable() or len(name) > 40:
        raise UsageError(f'{where} needs a name of at most 40 characters, e.g. name = "1 psi"')
    who = f"sensor {name}:"
    low_pa, high_pa = _ends(table, who)
    for key in ("output", "band_pc", "noise", "drift"):
        if key not in table:
            raise UsageError(f"{who} {key} is not known; give {_HOW[key]}")
    span_pa = high_pa - low_pa
    output = _output(table["output"], who)
    drift = share_or(table["drift"], "pressure_pa", span_pa, "/K", f"{who} drift")
    return Sensor(
        name, low_pa, high_pa, output,
        within(plain_number(table["band_pc"], f"{who} band_pc"), 0.0, 20.0, "%",
               f"{who} band_pc"),
        within(share_or(table["noise"], "pressure_pa", span_pa, "", f"{who} noise"), 0.0,
               span_pa / 20.0, "Pa", f"{who} noise"),
        within(drift, -DRIFT_MOST_PA, DRIFT_MOST_PA, "Pa/K", f"{who} drift"),
        _resolution_pa(table, output, span_pa, who),
        within(quantity(table.get("response", "1 ms"), "time_ms", f"{who} response"), 0.0, 500.0,
               "ms", f"{who} response"))


def _ends(table: dict[str, Any], who: str) -> tuple[float, float]:
    if ("range" in table) == ("low" in table or "high" in table):
        raise UsageError(f"{who} give either range, e.g. {_HOW['range']}")
    if "range" in table:
        high_pa = quantity(table["range"], "pressure_pa", f"{who} range")
        low_pa = -high_pa
    else:
        for key in ("low", "high"):
            if key not in table:
                raise UsageError(f'{who} {key} is not known; give both ends, e.g. low = "0 Pa"')
        low_pa, high_pa = (quantity(table[key], "pressure_pa", f"{who} {key}")
                           for key in ("low", "high"))
    in_pascals = table.get("output") in ("direct", *COMPENSATED)
    if not in_pascals and max(-low_pa, high_pa) > WORD_MOST_PA:
        raise UsageError(f"{who} range ends at {max(-low_pa, high_pa):.0f} Pa; the unit takes "
                         f"14-bit sensors of at most {WORD_MOST_PA:.0f} Pa: choose a narrower one")
    within(high_pa - low_pa, _SPAN_LEAST_PA, _SPAN_MOST_PA, "Pa", f"{who} span")
    return low_pa, high_pa


def _output(word: object, who: str) -> str:
    if word not in OUTPUTS:
        raise UsageError(f"{who} output {word!r} is not known; use " + ", ".join(OUTPUTS)
                         + " (direct: the driver gives pascals)")
    return "direct" if word in COMPENSATED else str(word)  # its driver gives pascals, too


def _resolution_pa(table: dict[str, Any], output: str, span_pa: float, who: str) -> float:
    """0 where the word decides."""
    if "bits" in table and "resolution" in table:
        raise UsageError(f"{who} give bits or resolution, not both")
    if "resolution" in table:
        return within(share_or(table["resolution"], "pressure_pa", span_pa, "",
                               f"{who} resolution"), 0.0, span_pa / 50.0, "Pa",
                      f"{who} resolution")
    if "bits" not in table:
        if output == "direct":
            raise UsageError(f'{who} give bits, e.g. 24, or resolution, e.g. "0.2 Pa"')
        return 0.0
    bits = plain_number(table["bits"], f"{who} bits")
    most = 32.0 if output == "direct" else float(WORD_BITS)
    within(bits, 8.0, most, "bits", f"{who} bits")
    if bits != int(bits):
        raise UsageError(f"{who} bits is {bits:g}; give a whole number")
    return span_pa / 2.0 ** bits if output == "direct" or bits < WORD_BITS else 0.0
