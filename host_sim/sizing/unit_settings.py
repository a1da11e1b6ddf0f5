"""The firmware's own settings for a case and a pair of sensors, checked by its own loader."""

from host_sim.errors import UsageError
from host_sim.runtimes.paths import use_firmware
from host_sim.sizing.case import Case, Pair, Sensor
from host_sim.sizing.wing import impact_pa

use_firmware()

from alula.settings import OUTPUTS as OUTPUTS  # noqa: E402
from alula.settings import Settings, load  # noqa: E402
from alula.transfer import COMPENSATED as COMPENSATED  # noqa: E402
from alula.transfer import LIMIT_DPA  # noqa: E402

FLYING_SHARE = 0.9  # `flying_q_dpa` is this share of the stall's pressure (settings reference)
_FLYING_LEAST_DPA, _FLYING_MOST_DPA = 400, 6000
_ABOVE_MIN_Q_DPA = 100


def settings_of(case: Case, pair: Pair) -> Settings:
    """Settings of a unit with these sensors. UsageError where the firmware refuses them.

    `flying_q_dpa`, where the record does not say it, is 0.9 of the stall's pressure, as far as
    the firmware's limits allow.
    """
    settings, problems = load({**_known(case), **_of_sensor("pitot", pair.pitot),
                               **_of_sensor("angled", pair.angled)})
    if problems:
        name, text = problems[0]
        raise UsageError(f"sensor {pair.name}: setting {name} {text}")
    return settings


def check_record(case: Case) -> None:
    """UsageError for the first setting that the firmware refuses."""
    problems = load(_known(case))[1]
    if problems:
        name, text = problems[0]
        raise UsageError(f"setting {name} {text}")


def flying_q_dpa(case: Case) -> int:
    """What the setting should be for this stall speed."""
    return round(10.0 * FLYING_SHARE * impact_pa(case.stall_kt))


def _known(case: Case) -> dict:
    low = _FLYING_LEAST_DPA
    if isinstance(case.record.get("min_q_dpa", 650), int):
        low = max(low, case.record.get("min_q_dpa", 650) + _ABOVE_MIN_Q_DPA)
    flying = min(_FLYING_MOST_DPA, max(low, flying_q_dpa(case)))
    return {"flying_q_dpa": flying, **case.record, "plumbing": case.plumbing}


def _of_sensor(channel: str, sensor: Sensor) -> dict:
    ends = [round(10.0 * sensor.low_pa), round(10.0 * sensor.high_pa)]
    if sensor.output == "direct":  # the driver computes the pressure; the firmware has its clamp
        ends = [-LIMIT_DPA, LIMIT_DPA]
    return {f"{channel}_output": sensor.output, f"{channel}_low_dpa": ends[0],
            f"{channel}_high_dpa": ends[1]}
