"""The last part of the search: from the best so far, one setting at a time, as long as it pays.

So a proposal is never worse than its neighbours in the page's picture of sensitivity, and does not
stick to the edge of a grid that was only a place to begin.
"""

from collections.abc import Mapping, Sequence

from host_sim.tuning.candidates import STEPS, Axis, Candidate, candidate, problem
from host_sim.tuning.choosing.goals import Chooser
from host_sim.tuning.choosing.search import MOVED, Judge, ranked


def walked(judge: Judge, chooser: Chooser, axes: Sequence[Axis], base: Mapping,
           budget: int) -> int:
    """Walk, looking at up to `budget` more candidates. Returns how many."""
    before = len(judge.known)
    while True:
        here = ranked(judge, chooser)[0]
        left = budget - (len(judge.known) - before)
        new = [one for one in around(here.values, axes, base) if one not in judge.known]
        judge.judge(new[:left], "search")
        if not new[:left] or ranked(judge, chooser)[0] is here:
            return len(judge.known) - before


def around(values: Candidate, axes: Sequence[Axis], base: Mapping) -> list[Candidate]:
    """One setting moved by MOVED steps or by one, to either side, within the axes' ends."""
    found = []
    for moves in (MOVED, 1):
        for axis in (axis for axis in axes if axis.step):
            least, most = axis.ends
            for side in (-1, 1):
                value = dict(values)[axis.name] + side * moves * STEPS[axis.name]
                one = candidate({**dict(values), axis.name: min(max(value, least), most)})
                if one != values and problem(base, one) is None:
                    found.append(one)
    return found
