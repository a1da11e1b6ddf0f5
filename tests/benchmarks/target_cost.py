"""An estimate of one tick on the 125 MHz target, from counted work and measured costs.

Every opcode that CPython runs inside firmware/alula in one tick is counted, and weighed with the
cost of the like operation measured for MicroPython on an RP2040 (cycle-counting emulator with the
flash cache modelled; single figures within 15 to 20 %; about 30 % more in real programs for cache
misses). CPython's opcodes are not MicroPython's, so this ranks changes and finds the order of
magnitude; it is no measurement.
"""

import sys
from array import array
from collections import Counter
from dis import opname

import numpy as np

from host_sim.runtimes.session import IN_WIDTH, OUT_WIDTH

COST_US = {
    "CALL": 9.6, "LOAD_ATTR": 1.6, "LOAD_METHOD": 1.6, "STORE_ATTR": 2.4, "LOAD_GLOBAL": 1.5,
    "BINARY_OP": 1.6, "COMPARE_OP": 1.5, "BINARY_SUBSCR": 2.2, "STORE_SUBSCR": 3.3,
    "FOR_ITER": 3.2, "UNARY_NEGATIVE": 1.5, "UNARY_NOT": 1.5,
}
FREE = {"PRECALL", "RESUME", "RETURN_VALUE", "CACHE", "EXTENDED_ARG"}  # part of a call's cost
OTHER_US = 0.2  # a local read or write: assigning one local to another was measured as 0.4
CACHE_MISSES = 1.3


def opcodes_a_tick(session, rows: np.ndarray) -> list[Counter]:
    """Opcodes run in the firmware, one counter a tick. session: as in `runtimes.session`."""
    out = array("i", bytes(4 * OUT_WIDTH))
    counts: list[Counter] = []

    def trace(frame, event, _):
        if "/firmware/" not in frame.f_code.co_filename:
            return trace if event == "call" else None
        frame.f_trace_opcodes, frame.f_trace_lines = True, False
        if event == "opcode":
            counts[-1][opname[frame.f_code.co_code[frame.f_lasti]]] += 1
        return trace

    for row in rows:
        counts.append(Counter())
        sys.settrace(trace)
        session.run(array("i", row.tobytes()), 1, out)
        sys.settrace(None)
    assert len(rows[0]) == IN_WIDTH
    return counts


def microseconds(count: Counter) -> float:
    """The weighed cost of one tick."""
    return CACHE_MISSES * sum(number * COST_US.get(name, OTHER_US)
                              for name, number in count.items() if name not in FREE)


def usual_and_worst(session, rows: np.ndarray) -> tuple[float, float]:
    """Median and largest estimate over a stream, us a tick."""
    costs = [microseconds(count) for count in opcodes_a_tick(session, rows)]
    return float(np.median(costs)), max(costs)
