"""Rules that every candidate keeps, and what a goal keeps besides; each as how far it is broken.

Both are asked of flights one by one, so that they can also be asked of some of the flights.
"""

from collections.abc import Sequence

from host_sim.output.review_stalls import LEAST_KT, LEAST_SHARE
from host_sim.tuning.measuring.judged import totals

FAULT_MORE_S = 0.05  # less is rounding of ticks
# By judgement, no source: a tenth of a second is not heard, and 10 s before is twice what
# 14 CFR 23.207(c) asks for (5 kt, at 1 kt/s).
LATER_S, EARLY_S = 0.1, 10.0

Seen = Sequence[dict]  # `measures.FlightSeen` of each flight, as JSON holds it


def broken(seen: Seen, shipped: Seen) -> float:
    """0 where they are kept: no stall missed; in slow entries 5 kt and 5 % of margin; no more
    time in fault than as shipped."""
    over = totals(seen)
    kt = sum(max(0.0, LEAST_KT - margin) for margin in over.margins_kt)
    share = sum(max(0.0, LEAST_SHARE - margin) * 100.0 for margin in over.margins_share)
    more_s = over.fault_s - totals(shipped).fault_s
    return 100.0 * over.misses + kt + share + (more_s if more_s > FAULT_MORE_S else 0.0)


def later_s(seen: Seen, shipped: Seen) -> float:
    """0 where neither sound before a stall begins later than as shipped by more than LATER_S, or
    it begins EARLY_S before the stall; else by how much, of all stalls."""
    found = 0.0
    for one, other in zip(seen, shipped, strict=True):
        for stall, before in zip(one["stalls"], other["stalls"], strict=True):
            for name in ("lead_s", "warble_s"):
                allowed = min(before[name] or 0.0, EARLY_S) - LATER_S
                found += max(0.0, allowed - (stall[name] or 0.0))
    return found


def more_nuisance(seen: Seen, shipped: Seen) -> int:
    """Warnings outside slow flight that the shipped values do not give, in number."""
    return max(0, sum(one["nuisance"] for one in seen) - sum(one["nuisance"] for one in shipped))
