"""The campaign's result as text, as JSON and as a page."""

from dataclasses import asdict
from math import isinf
from typing import Any

from host_sim.campaign.expectations import EXPECTED
from host_sim.campaign.judge import Outcome, Reference
from host_sim.world.faults import FAULTS

VERDICTS = ("in time", "late", "missed", "wrong word", "undetected", "no harm", "borne")
BAD = ("missed", "wrong word", "late")
_MOST_REPLAYS = 3
HEADER = ("fault", "flights", "in time", "late", "missed", "wrong word", "harmless", "silent",
          "silent before", "false stall", "more margin s", "recovery s", "worst s")
_NEVER = "none seen"


def must_be_zero(outcomes: list[Outcome], references: list[Reference]) -> dict[str, int]:
    """The numbers that must be 0."""
    return {"silent near the stall": sum(one.silent for one in outcomes),
            "false alarms without a fault": sum(one.false_alarms for one in references),
            "silent near the stall without a fault": sum(
                one.silent_s > 1.0 for one in references)}


def by_fault(outcomes: list[Outcome]) -> dict[str, list[Outcome]]:
    """Outcomes by fault, in the order of the faults' table; faults not flown are left out."""
    groups = {name: [one for one in outcomes if one.fault == name] for name in FAULTS}
    return {name: group for name, group in groups.items() if group}


def row(name: str, group: list[Outcome]) -> list[str]:
    """One line of the table, in the order of `HEADER`."""
    count = {word: sum(one.verdict == word for one in group) for word in VERDICTS}
    told = [one.told_s for one in group
            if one.verdict in ("in time", "late") and one.told_s is not None]
    # A detectable fault counts in `silent`; what an undetectable one hides has its own table.
    silent = sum(one.silent for one in group)
    return [name, str(len(group)), str(count["in time"]), str(count["late"]),
            str(count["missed"] + count["undetected"]), str(count["wrong word"]),
            str(count["no harm"] + count["borne"]), str(silent),
            str(sum(one.early_s > 1.0 for one in group)),
            str(sum(one.false_s > 0 for one in group)),
            f"{max(one.more_s for one in group):.1f}", _recovery(group),
            f"{max(told):.1f}" if told else "-"]


def _recovery(group: list[Outcome]) -> str:
    known = [one.recovery_s for one in group if one.recovery_s is not None]
    if not known:
        return "-"
    finite = [value for value in known if not isinf(value)]
    longer = len(known) - len(finite)
    text = f"{max(finite):.1f}" if finite else ""
    return f"{text} ({longer} longer)".strip() if longer else text


def text_table(outcomes: list[Outcome]) -> list[str]:
    """The table in columns."""
    rows = [list(HEADER)] + [row(name, group) for name, group in by_fault(outcomes).items()]
    widths = [max(len(line[i]) for line in rows) for i in range(len(HEADER))]
    return ["  ".join(cell.ljust(width) if not i else cell.rjust(width)
                      for i, (cell, width) in enumerate(zip(line, widths, strict=True)))
            for line in rows]


def failing(outcomes: list[Outcome]) -> list[str]:
    """The worst flights of each fault, with the command that flies each again."""
    lines = []
    for group in by_fault(outcomes).values():
        silent = sorted((one for one in group if one.silent), key=lambda one: -one.silent_s)
        lines += [f"SILENT {one.silent_s:.1f} s ({one.phase}): {one.replay}"
                  for one in silent[:_MOST_REPLAYS]]
        for verdict in BAD:
            bad = sorted((one for one in group if one.verdict == verdict and not one.silent),
                         key=lambda one: (-(one.told_s or 0.0), one.replay))
            lines += [f"{_words(one)} ({one.phase}): {one.replay}"
                      for one in bad[:_MOST_REPLAYS]]
    return lines


def _words(one: Outcome) -> str:
    if one.verdict == "late":
        return f"late {one.told_s:.1f} s `{one.word}`"
    return f"{one.verdict} `{one.word}`" if one.word else one.verdict


def summary(outcomes: list[Outcome], references: list[Reference]) -> list[str]:
    """What the campaign flew, and the numbers that must be 0."""
    hours = sum(one.hours for one in references)
    alarms = sum(one.false_alarms for one in references)
    return [f"{len(outcomes)} flights with a fault; {len(references)} without, {hours:.1f} h: "
            f"{alarms / hours if hours else 0:.2f} false alarms an hour",
            *(f"must be 0: {name}: {count}"
              for name, count in must_be_zero(outcomes, references).items())]


def as_json(outcomes: list[Outcome], references: list[Reference]) -> dict[str, Any]:
    """Everything, for machines; a recovery that was not seen is -1."""
    flown = [{**asdict(one), "silent": one.silent} for one in outcomes]
    for one in flown:
        if one["recovery_s"] is not None and isinf(one["recovery_s"]):
            one["recovery_s"] = -1
    return {"must_be_zero": must_be_zero(outcomes, references),
            "references": [asdict(one) for one in references], "flights": flown}


def undetectable_rows(outcomes: list[Outcome]) -> list[list[str]]:
    """What cannot be told, why, and the error that it caused while nothing was told."""
    rows = []
    for name, group in by_fault(outcomes).items():
        why = EXPECTED[name].undetectable
        if why:
            rows.append([f"`{name}`", why, f"{max(one.hidden for one in group):.2f}",
                         str(sum(max(one.silent_s, one.early_s) > 1.0 for one in group))])
    return rows
