"""Whether the stated units can be true: refused where the numbers speak against them.

Two witnesses: a column of indicated airspeed against the pitot pressure (compressible, sea-level
formula, as an airspeed indicator is made), and the angled pressure against the pitot's. No port on
a round head feels more than q below static by 5/4 or above it by 1 (potential flow round a sphere,
k = 9/4), so that no plumbing gives a ratio past 9/4.
"""

import math

from host_sim.errors import UsageError
from host_sim.reading.csv_columns import Column, Layout
from host_sim.reading.csv_report import Report
from host_sim.reading.csv_survey import Quotients, Survey
from host_sim.reading.csv_units import UNITS

SPEED_OFF_MOST = 0.10  # of 1; position error and instruments stay below, mph for kt is 0.15
RATIO_MOST = 2.5  # the median; 9/4 and a little for real heads
RATIO_LEAST = 0.01  # nine in ten rows
LEAST_ROWS = 50  # with less than half a second of flight there is nothing to judge
NEAR = 0.06  # a unit explains a factor of speeds when it brings it so near to 1; twice for q
EQUAL_SHARE, SORTED_SHARE, SAME_SHARE = 0.1, 0.5, 0.9
WILD_SHARE, FEW = 0.01, 3
BELIEVE = "if the numbers are right as they stand, add --believe-units"


def check_times(where: str, survey: Survey, report: Report, equal: int) -> None:
    """Refuse times that would lose much of the flight. equal: rows with the time of the one
    before."""
    rows = survey.rows + report.count("same-time") + report.count("wild-time")
    for count, share, kind, what in (
            (equal, EQUAL_SHARE, "same-time", "have the same time as the row before: the clock is "
             "too coarse; export with milliseconds"),
            (report.count("sorted"), SORTED_SHARE, "sorted", "come late: sort the rows by time"),
            (report.count("wild-time"), WILD_SHARE, "wild-time", "have a time that fits no "
             "other: correct the time column, or its unit (--units time=s|ms|us)"),
            (report.count("same-time"), SAME_SHARE, "same-time", "fall into one millisecond with "
             "others: correct the unit of time (--units time=s|ms|us)")):
        if count > max(FEW, share * rows) and report.count(kind):
            raise UsageError(f"{where}:{report.first_line(kind)}: {count} of {rows} rows {what}")


def check_columns(where: str, survey: Survey, layout: Layout) -> None:
    """Refuse a pressure column without any number."""
    for role, usable in survey.usable.items():
        if not usable:
            raise UsageError(f"{where}:1: column {layout.columns[role].name!r} has no usable "
                             f"number in any row; name another by --columns {role}=NAME")


def check_units(where: str, survey: Survey, layout: Layout) -> None:
    """Refuse units that a speed column, or one pressure against the other, shows to be wrong."""
    columns = layout.columns
    if "speed" in columns and survey.speed_by_pitot.count >= LEAST_ROWS:
        factor = survey.speed_by_pitot.quantile(0.5)
        if not 1 - SPEED_OFF_MOST <= factor <= 1 + SPEED_OFF_MOST:
            raise UsageError(f"{where}:1: {_speed_text(columns, survey, factor)}; {BELIEVE}")
    found = survey.angled_by_pitot
    if found.count < LEAST_ROWS:
        return
    ratio = _unlikely(found, survey)
    if ratio is not None:
        likely = _likely(columns["angled"], ratio, 1.0, (0.03, 2.25)) + _likely(
            columns["pitot"], ratio, -1.0, (0.03, 2.25))
        raise UsageError(
            f"{where}:1: angled is {ratio:.3g} times pitot, which no probe gives: one of the two "
            f"is in another unit{_or_list(likely)}; {BELIEVE} (a blocked line does this too)")


def _unlikely(found: Quotients, survey: Survey) -> float | None:
    """The quotient angled/pitot where it cannot be; None where it can. A pressure that never
    changes is a remark, and no sign of a wrong unit."""
    middle, most = found.quantile(0.5), found.quantile(0.9)
    if middle > RATIO_MOST:
        return middle
    changes = all(least < most for least, most in survey.ends_dpa.values())
    return most if changes and 0 < most < RATIO_LEAST else None


def _speed_text(columns: dict[str, Column], survey: Survey, factor: float) -> str:
    speed, pitot = columns["speed"], columns["pitot"]
    likely = _likely(speed, factor, 1.0, (1 - NEAR, 1 + NEAR)) + _likely(
        pitot, survey.impact_by_pitot.quantile(0.5), -1.0, (1 - 2 * NEAR, 1 + 2 * NEAR))
    hint = _or_list(likely) or ("; no unit explains that: is it true airspeed, at height? The "
                                "indicated is wanted, or none")
    return (f"{speed.name} is {factor:.3g} times the indicated airspeed that {pitot.name} gives "
            f"(median){hint}")


def _likely(column: Column, factor: float, power: float, span: tuple[float, float]) -> list[str]:
    """Units that would bring a factor into a span; it changes with the unit by this power."""
    units = UNITS[column.role]
    return [f"--units {column.role}={unit}" for unit, scale in units.items()
            if unit != column.unit
            and span[0] <= factor * math.pow(scale / units[column.unit], power) <= span[1]]


def _or_list(likely: list[str]) -> str:
    return ": perhaps " + " or ".join(likely) if likely else ""


def remarks(survey: Survey, layout: Layout) -> list[str]:
    """What is worth saying of a flight that is taken."""
    columns = layout.columns
    found = [f"no {role} column: {text}" for role, text in (
        ("nz", "accelerometer not fitted"), ("flap", "flap switches not wired"))
        if role not in columns]
    if layout.unused:
        found.append("columns passed over: " + ", ".join(map(ascii, layout.unused[:12])) + (
            f" and {len(layout.unused) - 12} more" if len(layout.unused) > 12 else ""))
    for role, (least, most) in survey.ends_dpa.items():
        if least == most and survey.usable[role] > LEAST_ROWS:
            found.append(f"{role} is {least / 10:g} Pa in every row: a frozen or a blocked line?")
    if survey.over_limit > survey.usable["pitot"] / 2:
        found.append("pitot is past the unit's limit of 10000 Pa in most rows: is it really in "
                     f"{columns['pitot'].unit}?")
    if survey.usual_ms() >= 5000:
        found.append(f"rows are {survey.usual_ms() / 1000:g} s apart, too far for the unit to "
                     f"work with: is time really in {columns['time'].unit}?")
    if "speed" in columns:
        found.append(_speed_remark(survey))
    return found


def _speed_remark(survey: Survey) -> str:
    if survey.speed_by_pitot.count < LEAST_ROWS:
        return "speed column: too few rows in flight to check the units by"
    return ("speed column: the median is %.2f of the indicated airspeed that pitot gives"
            % survey.speed_by_pitot.quantile(0.5))


