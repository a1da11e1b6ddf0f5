"""What a calibration must be before the unit believes it. Runs at start-up; may allocate.

A calibration is a mapping, read from a small JSON file, for one flap setting or several:
{"plumbing": "port-static", "flap": 0, "points": [[ratio_bp, lift_pm], ...]}
{"plumbing": "port-static", "curves": [{"flap": 0, "points": [...]}, {"flap": 20, ...}]}
"""

from alula.intmath import is_whole
from alula.lift_curve import STALL_PM
from alula.pressure_ratio import PLUMBINGS

POINTS_LEAST, POINTS_MOST = 2, 8
RATIO_LIMIT_BP = 30000
CURVES_MOST = 4
FLAP_MOST = 99  # a flap setting is named by any whole number: degrees, or the number of the notch
_CURVE_FIELDS = ("flap", "points")


def problems(record, plumbing: str) -> list:
    """Every reason to refuse a calibration, as (field, what is wrong and what to do).

    record: what the file held. plumbing: the word the unit is set to, one of PLUMBINGS.
    An empty list means the calibration may be used.
    """
    if not isinstance(record, dict):
        return [("file", "is not a JSON object; make it with 'alula calibrate' or by the guide")]
    several = "curves" in record
    allowed = ("plumbing", "curves") if several else ("plumbing",) + _CURVE_FIELDS
    found = _unknown(record, allowed, "")
    made_for = record.get("plumbing", plumbing)
    if made_for not in PLUMBINGS:
        found.append(("plumbing", "must be one of " + ", ".join(PLUMBINGS)))
    elif made_for != plumbing:
        found.append(("plumbing", "says %s, the unit is set to %s; calibrate again or correct "
                      "the setting" % (made_for, plumbing)))
    return found + (_list_problems(record["curves"]) if several else _curve_problems(record, ""))


def curves_of(record) -> list:
    """The curves of a calibration without problems, as (flap, points)."""
    return [(curve.get("flap", 0), curve["points"]) for curve in record.get("curves", [record])]


def _unknown(record, allowed: tuple, where: str) -> list:
    return [(where + str(key), "is not a calibration field; known: " + ", ".join(allowed))
            for key in sorted(record) if key not in allowed]


def _list_problems(curves) -> list:
    if not isinstance(curves, list) or not 1 <= len(curves) <= CURVES_MOST:
        return [("curves", "must be a list of 1 to %d curves" % CURVES_MOST)]
    found = []
    for i, curve in enumerate(curves):
        where = "curves[%d]." % i
        if not isinstance(curve, dict):
            return [(where[:-1], "must be an object with flap and points")]
        found += _unknown(curve, _CURVE_FIELDS, where) + _curve_problems(curve, where)
    if not found and len({flap for flap, _ in curves_of({"curves": curves})}) < len(curves):
        found.append(("curves", "name the same flap setting twice; keep one curve for each"))
    return found


def _curve_problems(curve, where: str) -> list:
    flap = curve.get("flap", 0)
    found = []
    if not is_whole(flap) or not 0 <= flap <= FLAP_MOST:
        found.append((where + "flap", "must be a whole number from 0 to %d" % FLAP_MOST))
    return found + [(where + field, text) for field, text in _point_problems(curve.get("points"))]


def _point_problems(points) -> list:
    if not isinstance(points, (list, tuple)) or not POINTS_LEAST <= len(points) <= POINTS_MOST:
        return [("points", "must be a list of %d to %d [ratio_bp, lift_pm] pairs"
                 % (POINTS_LEAST, POINTS_MOST))]
    for i, point in enumerate(points):
        where = "points[%d]" % i
        if (not isinstance(point, (list, tuple)) or len(point) != 2
                or not is_whole(point[0]) or not is_whole(point[1])):
            return [(where, "must be a pair of whole numbers [ratio_bp, lift_pm]")]
        if not -RATIO_LIMIT_BP <= point[0] <= RATIO_LIMIT_BP:
            return [(where, "ratio must lie within -30000 to 30000 (1/10000)")]
        if not 0 <= point[1] <= 1500:
            return [(where, "lift must lie within 0 to 1500 per mille")]
        if i and (point[0] <= points[i - 1][0] or point[1] <= points[i - 1][1]):
            return [(where, "ratio and lift must both rise from point to point; capture again")]
    if points[-1][1] < STALL_PM:
        return [("points[%d]" % (len(points) - 1),
                 "the curve must reach the stall (lift 1000); capture again")]
    return []
