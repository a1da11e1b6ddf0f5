"""Why a stall run is refused: stable words, what the number means, a remedy."""

from micropython import const

ACCEPTED = const(0)
NOT_FLYING = const(1)
TOO_FAST = const(2)
TOO_ROUGH = const(3)
NO_STALL = const(4)
UNCLEAR = const(5)
FAULT = const(6)
WRONG_SIDE = const(7)
FLAP_MOVED = const(8)
FLAT_CURVE = const(9)
DISAGREE = const(10)

WORDS = ("accepted", "not-flying", "too-fast", "too-rough", "no-stall", "unclear", "fault",
         "wrong-side", "flap-moved", "flat-curve", "disagree")
NUMBERS = (
    "", "dynamic pressure, 0.1 Pa", "entry rate, 0.01 kt/s", "scatter about the line, per mille",
    "lift missing from the straight line at the peak, per mille",
    "marks apart, lift missing, or lift still moving, per mille", "health code",
    "ratio from the start to the stall, 1/10000", "flap setting now",
    "change of ratio between 0.6 and 0.9 of the peak, 1/10000",
    "distance between the runs, per mille of lift")
REMEDIES = (
    "", "arm the capture in flight", "slow down more gently, 1 kt each second",
    "find calmer air, hold wings level", "hold the deceleration until the wing stalls",
    "recover at the first sign, or fit the accelerometer, or mark the stop by a short press",
    "see the health word; check hoses and sensors on the ground",
    "check for swapped hoses, plumbing setting, accelerometer sense",
    "keep the flaps where they are in a run",
    "start faster, at 1.4 times the stalling speed, and check the port for leaks",
    "fly another run; if they keep apart, look for leaks, gusts or slip")
