"""The answers as text for a person: the aeroplane, a table of sensors, and why."""

from typing import Any

from host_sim.sizing.case import Case
from host_sim.sizing.verdict import few

NOT_COUNTED = ("Not counted: what the capture learns with the sensors' own scale (span errors), "
               "bends of a sensor's curve, static error, upwash, rain, ice, and the wing's own "
               "+-0.7 degrees. Computed on the desk; not tried on a real board.")
CAUTION = ("It helps to choose parts; it proves nothing about an aeroplane. The unit supplements, "
           "and never replaces, the primary stall warning.")
HEADER = ("sensor", "range", "steps", "noise", "zero before", "after", "drift", "late/room",
          "delay", "changes/h", "verdict")
_UNDER = ("", "pitot/angled", "pitot/angled", "rms", "at the stall", "", "", "kt", "ms", "", "")


def as_text(case: Case, common: dict[str, Any], found: list[dict[str, Any]]) -> str:
    """The whole answer."""
    lines = _opening(case, common)
    rows = [HEADER, _UNDER, *(_row(one) for one in found)]
    lines += ["", *_aligned(rows), ""]
    for one in found:
        lines.append(f"{one['name']}: {one['verdict']}; most by {one['dominant']}. "
                     f"{_capital(one['because'])}.")
        lines += [f"  note: {note}" for note in _notes(one)]
    return "\n".join([*lines, "", NOT_COUNTED, CAUTION])


def _opening(case: Case, common: dict[str, Any]) -> list[str]:
    return [
        f"stall {case.stall_kt:.4g} kt: {common['stall_pa']:.0f} Pa (flying_q_dpa "
        f"{common['flying_q_dpa_advised']}); top {case.top_kt:.4g} kt: {common['top_pa']:.0f} Pa; "
        f"{case.plumbing}, port at {case.probe_deg:g} deg",
        f"tubes at {case.height_m:.0f} m: pitot {common['pitot_tube_ms']:.1f} ms, angled "
        f"{common['angled_tube_ms']:.1f} ms; range judged at {case.overspeed_pc:g} % overspeed, 0 "
        f"to {case.limit_load_g:g} g, {case.sideslip_deg:g} deg of slip",
        f"drift: {case.warm_up_k:g} K of warming up before the second zero, {case.change_k:g} K "
        "after it; errors of the two sensors in the worst of their signs; knots and lift (1000 is "
        "the stall) at the stall"]


def _row(one: dict[str, Any]) -> tuple[str, ...]:
    stall, late = one["at_stall"], one["late"]
    worst = max(("pressing", "stalling"), key=lambda place: _part(late[place]))
    return (
        one["name"], f"{_percent(one['range']['pitot'])}/{_percent(one['range']['angled'])}",
        f"{stall['pitot_steps']:.0f}/{stall['angled_steps']:.0f}",
        f"{stall['noise_kt']:.2f} kt {stall['noise_lift_pm']:.1f}",
        _both(stall["zero_error_before"]), _both(stall["zero_error_after"]),
        _both(stall["drift_left"]),
        f"{_knots(late[worst]['sum_kt'])}/{late[worst]['room_kt']:.2f}",
        f"{one['delay']['total_ms']:.0f}", _rate(one["false_changes"]),
        one["verdict"])


def _rate(changes: dict[str, Any]) -> str:
    text = few(changes["per_h"])
    return text if changes["seen"] or text[0] == "<" else f"<={text}"


def _knots(speed_kt: float | None) -> str:
    return "blind" if speed_kt is None else f"{speed_kt:.2f}"


def _part(late: dict[str, Any]) -> float:
    if late["sum_kt"] is None:
        return float("inf")
    return late["sum_kt"] / late["room_kt"] if late["room_kt"] > 0.0 else float("inf")


def _percent(reach: dict[str, Any]) -> str:
    return ">all" if reach["share"] is None else f"{100 * reach['share']:.0f}%"


def _both(late: dict[str, Any]) -> str:
    if late["kt"] is None:
        return f"blind {late['lift_pm']:.0f}"
    return f"{late['kt']:.2f} kt {late['lift_pm']:.0f}"


def _notes(one: dict[str, Any]) -> list[str]:
    zero, reach, found = one["zero"], one["range"]["angled"], []
    found.append(f"angled sensor feels {reach['low_pa']:.0f} to {reach['high_pa']:.0f} Pa")
    if not zero["first_taken"]:
        found.append("the unit refuses the first zero; unzeroed, it gives no margins")
    elif not zero["second_taken"]:
        found.append("the second, warm zero is refused (zero_spread_dpa): all of the drift stays")
    if zero["follows_k"] is not None and zero["follows_k"] < 40.0:
        found.append(f"sensors {zero['follows_k']:.0f} K colder or warmer than at the zero last "
                     "asked for have their next zero refused; the unit says so")
    return found


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _aligned(rows: list[tuple[str, ...]]) -> list[str]:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    return ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()
            for row in rows]
