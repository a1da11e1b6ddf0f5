"""Two conditioned pressures to one ratio that rises with angle of attack.

Both pressures are proportional to dynamic pressure, so their ratio depends on the angle of
attack alone: airspeed, weight, height, bank and load factor drop out.
"""

from micropython import const

# The three ways to plumb the angled sensor, in the order of the setting's words.
PLUMBINGS = ("port-static", "pitot-port", "opposed")
_PITOT_PORT = const(1)
_LIMIT_BP = const(30000)


def ratio_bp(plumbing: int, pitot_dpa: int, angled_dpa: int) -> int:
    """The pressure ratio in 1/10 000, clamped to +-30 000.

    plumbing: index into PLUMBINGS. With q = pitot minus static:
        port-static: the angled sensor reads angled port minus static; divided by q.
        pitot-port: it reads pitot minus angled port; one minus that over q is the same ratio.
        opposed: it reads lower port minus upper port; divided by q.
    pitot_dpa: q in 0.1 Pa, > 0 and at most 100 000.
    angled_dpa: the angled sensor in 0.1 Pa, signed, at most +-100 000 (* 10 000 fits 2^30).

    Half a divisor is added before `//`, which floors, so both signs are rounded. No allocation.
    """
    ratio = (angled_dpa * 10000 + (pitot_dpa >> 1)) // pitot_dpa
    if plumbing == _PITOT_PORT:
        ratio = 10000 - ratio
    if ratio > _LIMIT_BP:
        return _LIMIT_BP
    if ratio < -_LIMIT_BP:
        return -_LIMIT_BP
    return ratio


def step_bp(plumbing: int, pitot_dpa: int, ratio: int, pitot_step: int, angled_step: int) -> int:
    """How much one step of either sensor, 0.1 Pa, moves the ratio at most, 1/10 000.

    With r = a/q: dr = da/q - r dq/q; with r = 1 - a/q the second term is (1 - r) dq/q. At most
    2 * 160 * 40 000 for the widest sensors; pitot_dpa > 0. No allocation.
    """
    gain = 10000 - ratio if plumbing == _PITOT_PORT else ratio
    if gain < 0:
        gain = -gain
    return (angled_step * 10000 + gain * pitot_step) // pitot_dpa
