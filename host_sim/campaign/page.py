"""`hardware_notes/fault_campaign.md`, made from a run, never typed."""

from host_sim.campaign.expectations import EXPECTED
from host_sim.campaign.judge import Outcome, Reference
from host_sim.campaign.plan import MOMENTS, SCENARIOS
from host_sim.campaign.table import HEADER, by_fault, row, summary, undetectable_rows
from host_sim.world.faults import FAULTS
from host_sim.world.probe import PLUMBINGS

MADE = "<!-- made by `python -m host_sim.campaign --page`; do not edit -->\n"
_INTRODUCTION = """Simulated flights of an invented aeroplane, with the unit's default settings and
the accelerometer fitted: what this firmware does, not what your installation will. A fault that
is told here within a second may be told later, or not at all, with other hoses in another
aeroplane. The unit supplements, and never replaces, the primary stall warning."""
_COLUMNS = (
    ("in time, late", "told by the fault sound with a right word, within the time allowed or "
     "after it. Time runs from the onset for a sensor that fails outright, else from when the "
     "fault makes the lift share wrong by 0.10 and by `balance_pm` in the air"),
    ("missed", "never told, though the lift share was wrong for longer than the time allowed"),
    ("wrong word", "told first with a word that does not name it"),
    ("harmless", "not told, and not wrong for long enough; or meant to be borne"),
    ("silent", "no stall sound and no fault sound for longer than 1 s beyond 0.85 of the true "
     "lift or past the stall, after the time allowed to tell the fault: must be 0"),
    ("silent before", "the same where nothing was due yet: the fault came seconds before the "
     "stall, or hid less of the lift than `balance_pm`. Then the warning is late or missing"),
    ("false stall", "flights with a stalling sound below 0.60 of the true lift"),
    ("more margin", "longest time near the stall with at least 10 % too little lift shown, before "
     "it was told"),
    ("recovery", "longest time from the end of the fault to the end of its sound; in brackets "
     "flights in which it still sounded when the watch ended, 25 s after"),
    ("worst", "longest time until it was told"),
)


def page(outcomes: list[Outcome], references: list[Reference]) -> str:
    """The whole page."""
    lines = [MADE, "# Fault campaign", "", _INTRODUCTION, ""]
    lines += [f"- {line}" for line in summary(outcomes, references)]
    lines += [f"- phases: {', '.join(moment.phase for moment in MOMENTS)}",
              f"- flights: {', '.join(SCENARIOS)}; plumbings: {', '.join(PLUMBINGS)}", "",
              "## What was told, and when", ""]
    lines += _markdown(list(HEADER), [row(f"`{name}`", group)
                                      for name, group in by_fault(outcomes).items()])
    lines += ["", *(f"- *{name}*: {text}." for name, text in _COLUMNS), "",
              "## What cannot be told", "", "No unit with these two pressures can know these for "
              "sure. The columns tell the greatest share of the lift that was hidden while "
              "nothing was told, and the flights that were silent near the stall.", ""]
    lines += _markdown(["fault", "why", "hidden lift", "silent flights"],
                       undetectable_rows(outcomes))
    lines += ["", "## The faults", ""]
    lines += _markdown(["fault", "what happens", "words that name it", "time allowed, s"],
                       [_fault_row(name) for name in by_fault(outcomes)])
    return "\n".join(lines) + "\n"


def _fault_row(name: str) -> list[str]:
    expected = EXPECTED[name]
    words = ", ".join(f"`{word}`" for word in sorted(expected.words))
    allowed = "borne" if expected.borne else f"{expected.within_s:.1f}"
    return [f"`{name}`", FAULTS[name].text, words or "none", allowed]


def _markdown(header: list[str], rows: list[list[str]]) -> list[str]:
    return [f"| {' | '.join(cells)} |" for cells in
            [header, ["---"] * len(header), *rows]]
