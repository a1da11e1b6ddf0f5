"""What a listening computer is told of the checks, in words. Runs between two ticks."""

from alula.ground_check import steps
from alula.ground_check.sounds import TEXTS
from alula.ground_check.wiring import PORT_WORDS, UNEXPLAINED

_BEGIN = {
    steps.ZERO: "leave the probe covered and still",
    steps.NOISE: "5 seconds: leave the probe covered and still",
    steps.PUFF: "covers off. From a hand's breadth breathe gently at the port that is named; "
                "never into it, never with compressed air",
    steps.LEAK_PITOT: "press the pitot line up to about 60 kt within 3 seconds and clamp it; "
                      "never with the mouth",
    steps.LEAK_STATIC: "draw the static line down by as much as 60 kt within 3 seconds and clamp "
                       "it; never blow into it",
    steps.LEAK_ANGLED: "press the angled line as the pitot line",
    steps.LEAK_UPPER: "press the upper port's line as the pitot line",
    steps.SOUNDS: "each sound at flight level",
    steps.LAMP: "the lamp flashes five times",
    steps.BUTTON: "press the button once, shortly",
    steps.TIMING: "10 seconds: do nothing",
    steps.FLASH: "writes, reads back, removes a file",
}
_NEWS = {
    steps.TAKEN: "felt it",
    steps.TOO_STRONG: "too strong: from further away, once more",
    steps.SILENT: "nothing felt in 20 seconds: hose off, blocked, or too gentle",
    steps.UNSTILL: "the pressures are not still: stop the engine, turn out of the wind",
    steps.RIGHT: "all hoses are right",
    steps.HOLDING: "held: one minute, hands off the tube",
    steps.LET_GO: "let go; felt it",
    steps.NOT_A_TEST: "not held: it rose, came too slowly, or was too little. Let go, wait, once "
                      "more",
    steps.GIVEN_UP: "no pressure came: passed over",
    steps.OTHER_MOVES: "the other sensor moves as it must not: a leak between the lines, or a "
                       "wrong hose",
    steps.TOO_MUCH: "too much: let go, and press less",
    steps.CONFIRM: "all of them heard, or seen? A short press, or `check next`, within 20 seconds",
    steps.PRESS_NOW: "now",
    steps.ENDED: "ended; what was done stands in the table",
    steps.LEFT: "ended: the unit has something to say of its own",
    steps.REFUSED: "refused: not while it flies, captures, or sounds a fault; the lamp blinks why",
    steps.MOVING: "refused: the aeroplane must stand still for 2 seconds, engine off, out of the "
                  "wind; if it does, switch off and on for a new zero",
}
_CHANNELS = ("pitot", "angled")


def told(checks, plumbing: int, news: int) -> str:
    """A line for news, empty where rows tell it already."""
    step = checks.step
    if news == steps.STEP_BEGINS:
        return "check %s: %s" % (steps.STEP_WORDS[step], _BEGIN.get(step, ""))
    if news == steps.ASK_PORT:
        return "check: breathe at the %s port now" % PORT_WORDS[plumbing][checks.puff.port]
    if news == steps.WRONG:
        return "check puff: wrong: %s; mend it, it begins again" % "; ".join(
            mistakes(checks.puff.wiring, plumbing))
    if news == steps.NEXT_SOUND:
        return "check sound: " + TEXTS[min(checks.sounds.at, len(TEXTS) - 1)]
    if news == steps.VERDICT_COMES:
        row = checks.results.first_failed()
        return "checks: %s" % ("all that was done has passed" if row < 0 else
                               "failed: %s; ask for `check table`" % steps.ROWS[row][0])
    text = _NEWS.get(news, "")
    return "check: " + text if text else ""


def mistakes(wiring, plumbing: int) -> list:
    """What is wrong with the hoses, a line each; the simplest explanation."""
    words = PORT_WORDS[plumbing]
    found = ["nothing answers to the %s port: hose off or blocked" % words[i]
             for i in range(wiring.ports) if wiring.dead >> i & 1]
    if wiring.mistakes == UNEXPLAINED:
        return found + ["the answers fit no two mistakes: look at every hose, then once more"]
    if not wiring.dead:  # where ports are silent, what they would say is not known
        for i in range(wiring.ports):
            if wiring.order[i] != i:
                found.append("the hose of the %s port goes where that of the %s port belongs"
                             % (words[i], words[wiring.order[i]]))
    elif any([wiring.order[i] != i for i in range(wiring.ports)]):
        found.append("and hoses are exchanged; mend the silent ones first")
    if wiring.exchanged:
        found.append("the two sensors are exchanged")
    if wiring.reversed_pitot:
        found.append("the pitot sensor's two hoses are exchanged, or its sense is set wrongly")
    if wiring.reversed_angled:
        found.append("the angled sensor's two hoses are exchanged, or its sense is set wrongly")
    if wiring.cut >= 0:
        found.append("the branch of the common line to the %s sensor is off or blocked"
                     % _CHANNELS[wiring.cut])
    return found
