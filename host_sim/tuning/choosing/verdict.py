"""What may be said of a proposal: whether the flights settle it, and how its numbers were held to
the firmware."""

from host_sim.tuning.choosing import rules
from host_sim.tuning.choosing.result import Tuning
from host_sim.tuning.choosing.rules import EARLY_S, LATER_S
from host_sim.tuning.measuring.judged import Judged

# By judgement, no source: two stalls for each of three pilots or days; and an hour, in which a
# nuisance of one an hour is likely to show.
FEW_STALLS, FEW_HOURS = 6, 1.0


def verdict(tuning: Tuning) -> str:
    """One sentence that comes first: do these flights settle it?"""
    if tuning.shipped.values == tuning.proposal.values:
        return "Nothing to change: of all candidates none may be proposed that does better."
    held = [one for one in tuning.held if one.favourite is not None]
    if not held:
        return ("Not settled: with one group of flights nothing tells whether one odd flight has "
                "made the choice. Keep the shipped values until more flights say so.")
    against = [one for one in held if not one.holds]
    if against:
        return (f"Not settled: for {len(against)} of {len(held)} groups of flights, what all "
                "others chose costs more on them than the shipped values, or breaks a rule there. "
                "Fly more, or keep the shipped values; the table of the groups on the page shows "
                "which.")
    return (f"These flights agree: for each of {len(held)} groups, what all others chose costs no "
            f"more on it than the shipped values, and keeps the rules there.{_few(tuning)}")


def _few(tuning: Tuning) -> str:
    """What is too little, though all agree; empty if nothing."""
    hours = sum(flight["hours"] for flight in tuning.shipped.seen)
    found = [text for text, few in (
        (f"{tuning.shipped.all.stalls} stalls", tuning.shipped.all.stalls < FEW_STALLS),
        (f"{hours:.1f} h in the air, too little to show nuisance", hours < FEW_HOURS)) if few]
    return (f" But they hold only {' and '.join(found)}: fly more before you ship it."
            if found else "")


def kept(tuning: Tuning) -> str:
    """What the goal keeps of the shipped values, in words; as `rules` has it."""
    goal = tuning.chooser.goal
    later = ("a warning may come later than as shipped, as far as the rules allow" if goal.later
             else "no warning before a stall, and no warble, begins more than "
             f"{LATER_S:g} s later than as shipped, unless it does {EARLY_S:g} s before the stall")
    nuisance = ("nuisance may be more than as shipped" if goal.nuisance
                else "no more warnings outside slow flight than as shipped")
    return f"{later}; {nuisance}. Where the shipped values break a rule, neither counts"


def why_not(tuning: Tuning, one: Judged) -> str:
    """What stands against proposing a candidate, in two words; empty if nothing."""
    if not tuning.chooser.against(one):
        return ""
    seen, shipped = one.seen, tuning.shipped.seen
    if rules.broken(seen, shipped):
        return "breaks a rule"
    return "more nuisance" if rules.more_nuisance(seen, shipped) and (
        not tuning.chooser.goal.nuisance) else "warns later"


def checks(tuning: Tuning) -> list[str]:
    """How the numbers were held to the firmware, and what was left out."""
    return [_by_firmware(tuning), *_better_beside(tuning), *_left_out(tuning)]


def _by_firmware(tuning: Tuning) -> str:
    shown = sum(one.values in tuning.verified for one in tuning.front)
    front = ("the whole front" if shown == len(tuning.front)
             else f"the best {shown} of {len(tuning.front)} on the front by cost")
    alike = (f"{tuning.corrected} of them otherwise than by the engine: the firmware's numbers "
             "stand" if tuning.corrected else "and alike")
    return (f"{len(tuning.verified)} candidates, the shipped values, the proposal and {front}, "
            f"were decided by the firmware itself, too, {alike}")


def _better_beside(tuning: Tuning) -> list[str]:
    """A setting moved that would cost less: the sensitivity knows more than the search."""
    base = tuning.chooser.total(tuning.proposal)
    better = [f"{side.name} {side.value}" for side in tuning.sides if side.cost < base - 1e-9]
    return [f"{', '.join(better)} would cost less than the proposal: widen the grid, or give the "
            "search more --budget"] if better else []


def _left_out(tuning: Tuning) -> list[str]:
    return [f"{tuning.left_out_s:.0f} s are left out: the unit doubted its pressures there "
            "(`alula review` shows why)"] if tuning.left_out_s else []
