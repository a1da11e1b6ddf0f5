"""A tuning in numbers: the CSV of all candidates, the tables and sentences of page and command."""

import csv
import io

from host_sim.output.review_stalls import LEAST_KT, LEAST_SHARE
from host_sim.tuning.candidates import SHIPPED
from host_sim.tuning.choosing.result import Tuning, changed
from host_sim.tuning.choosing.verdict import checks, verdict
from host_sim.tuning.measuring.judged import Judged

CAUTION = ("These constants fit the flights they were found on, and the wing, probe and sensors "
           "flown there. Prove them in flight before you rely on them: at a safe height, "
           "straight, in turns and in accelerated stalls. The unit supplements, and never "
           "replaces, the primary stall warning; it is no licence to fly slower.")
# name, unit, column, digits
ROWS = (
    ("delay at 1 deg/s", "s", "delay_at_1_s", 3), ("delay at 3 deg/s", "s", "delay_at_3_s", 3),
    ("delay at 3 deg/s, as an angle", "deg", "delay_at_3_deg", 2),
    ("delay at 10 deg/s", "s", "delay_at_10_s", 3),
    ("delay at 10 deg/s, as an angle", "deg", "delay_at_10_deg", 2),
    ("noise of lift at 1.05 Vs", "per mille", "noise_at_105_pm", 2),
    ("noise of lift at 1.20 Vs", "per mille", "noise_at_120_pm", 2),
    ("noise of lift at 1.30 Vs", "per mille", "noise_at_130_pm", 2),
    ("stalls", "", "stalls", 0), ("misses (must be 0)", "", "misses", 0),
    ("warning lead, least", "s", "lead_s_worst", 2), ("warning lead, mean", "s", "lead_s_mean", 2),
    ("warning lead, least", "kt", "lead_kt_worst", 1),
    ("warning lead, mean", "kt", "lead_kt_mean", 1),
    ("margin at onset, least (slow entries, 5 kt)", "kt", "margin_kt_worst", 1),
    ("margin at onset, least (slow entries, 0.05)", "of Vs", "margin_share_worst", 3),
    ("warble before the stall, least", "s", "warble_s_worst", 2),
    ("pulses before warble or stall, least", "", "pulses_worst", 1),
    ("nuisance, all flights", "an hour", "nuisance_h_mean", 1),
    ("nuisance, worst flight", "an hour", "nuisance_h_worst", 1),
    ("changes in gusts, all flights", "a minute", "gust_changes_min_mean", 2),
    ("changes in gusts, worst flight", "a minute", "gust_changes_min_worst", 2),
    ("calm changes on approach, all flights", "a minute", "calm_changes_min_mean", 2),
    ("calm changes on approach, worst flight", "a minute", "calm_changes_min_worst", 2),
    ("overstay of warnings, mean", "s", "overstay_s_mean", 2),
    ("overstay of warnings, worst flight", "s", "overstay_s_worst", 2),
    ("in fault", "s", "fault_s", 1),
)


def candidates_csv(tuning: Tuning) -> str:
    """Every candidate, in order of its values; the same text whoever did the work."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    on_front = {one.values for one in tuning.front}
    header = [*tuning.shipped.columns(), "keeps_rules", "on_front", "by_firmware", "cost",
              "role"]
    writer.writerow(header)
    for one in tuning.judged:
        role = ("proposal" if one is tuning.proposal else "") + (
            "shipped" if one is tuning.shipped else "")
        writer.writerow([*(_cell(value) for value in one.columns().values()),
                         int(tuning.chooser.keeps(one)), int(one.values in on_front),
                         int(one.values in tuning.verified),
                         _cell(tuning.chooser.total(one)), role])
    return text.getvalue()


def _cell(value: float | int | None) -> str:
    if value is None:
        return ""
    return str(value) if isinstance(value, int) else f"{value:.6g}"


def comparison(tuning: Tuning) -> list[tuple[str, str, str, str]]:
    """(measure, unit, shipped, proposal) for people."""
    shipped, proposal = tuning.shipped.columns(), tuning.proposal.columns()
    return [(name, unit, _shown(shipped[column], digits), _shown(proposal[column], digits))
            for name, unit, column, digits in ROWS]


def _shown(value: float | int | None, digits: int) -> str:
    return "-" if value is None else f"{value:.{digits}f}"


def settings_rows(tuning: Tuning) -> list[tuple[str, str, str]]:
    """(setting, shipped, proposal), those of the grid and those that differ."""
    asked = {axis.name for axis in tuning.axes}
    return [(name, str(SHIPPED[name]), str(value)) for name, value in tuning.proposal.values
            if name in asked or value != SHIPPED[name]]


def gained(tuning: Tuning) -> str:
    """One paragraph: what the proposal gains and what it gives up, in words."""
    shipped, proposal = tuning.shipped, tuning.proposal
    if shipped.values == proposal.values:
        return ("The shipped values stay: of all candidates that keep the rules none does better "
                f"for the goal '{tuning.goal}' ({tuning.chooser.goal.text}).")
    better: list[str] = []
    worse: list[str] = []
    for less_is_better, text, before, after, unit, digits in _facts(shipped, proposal):
        if f"{before:.{digits}f}" == f"{after:.{digits}f}":
            continue
        good = (after < before) == less_is_better
        (better if good else worse).append(
            f"{text} {after:.{digits}f} instead of {before:.{digits}f} {unit}")
    return (f"Proposed for the goal '{tuning.goal}' ({tuning.chooser.goal.text}): "
            f"{changed(proposal.values)}. Gained: {_list(better)}. Given up: {_list(worse)}. "
            f"No stall of {proposal.all.stalls} is missed.{_rules(tuning)}")


def _facts(shipped: Judged, proposal: Judged) -> list[tuple[bool, str, float, float, str, int]]:
    a, b = shipped.columns(), proposal.columns()
    facts = ((True, "delay at 3 deg/s", "delay_at_3_s", "s", 3),
             (True, "noise of lift at 1.20 Vs", "noise_at_120_pm", "per mille", 2),
             (False, "mean warning lead", "lead_s_mean", "s", 2),
             (False, "least warning lead", "lead_s_worst", "s", 2),
             (False, "least margin in slow entries", "margin_kt_worst", "kt", 1),
             (True, "nuisance", "nuisance_h_mean", "an hour", 1),
             (True, "changes in gusts", "gust_changes_min_mean", "a minute", 2),
             (True, "calm changes on approach", "calm_changes_min_mean", "a minute", 2),
             (True, "overstay of warnings", "overstay_s_mean", "s", 2))
    return [(less, text, float(a[name] or 0), float(b[name] or 0), unit, digits)
            for less, text, name, unit, digits in facts
            if a[name] is not None and b[name] is not None]


def _rules(tuning: Tuning) -> str:
    if not tuning.chooser.keeps(tuning.shipped):
        return (" The shipped values themselves do not keep the rules on these flights (no miss, "
                f"{LEAST_KT:.0f} kt and {LEAST_SHARE:.0%} in slow entries); the proposal does.")
    return ""


def _list(parts: list[str]) -> str:
    return "; ".join(parts) if parts else "nothing that these flights show"


def summary(tuning: Tuning, folder: str) -> list[str]:
    """What the command prints."""
    fleet = tuning.fleet
    lines = [f"{len(fleet.flights)} flights, {tuning.shipped.all.stalls} stalls "
             f"({fleet.flights[0].stalls_from}); {len(tuning.judged)} candidates judged, "
             f"{tuning.searched} of them beside the grid's, {len(tuning.front)} on the front"]
    if tuning.illegal:
        lines.append(f"{tuning.illegal} combinations of the grid break the unit's rules and were "
                     "passed over")
    lines += [f"note: {note}" for note in [*fleet.notes, *checks(tuning)]]
    lines += [f"  {'':<46} {'shipped':>10} {'proposal':>10}"]
    lines += [f"  {name + (' [' + unit + ']' if unit else ''):<46} {a:>10} {b:>10}"
              for name, unit, a, b in comparison(tuning)]
    return [*lines, gained(tuning), verdict(tuning),
            f"written to {folder}: settings.json, page.html, candidates.csv", CAUTION]
