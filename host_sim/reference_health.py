"""The page of health words: what each means, when it is told, when it is over, and the lamp."""

from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import health  # noqa: E402
from alula.settings import TABLE  # noqa: E402

_LOOK_MS = 100  # slow watches look ten times a second
_REFILL = "when both windows are full of fresh data again"
# reason: meaning, settings that add up to the time until it is told (factor, name), way back.
_REASONS: dict[str, tuple[str, tuple[tuple[int, str], ...], str]] = {
    "stale": ("the sensor sends the same conversion again and again",
              ((1, "fault_after_ms"),), _REFILL),
    "no-reply": ("the sensor does not answer on its bus", ((1, "fault_after_ms"),), _REFILL),
    "sensor-fault": ("the sensor reports a fault of its own", ((1, "fault_after_ms"),), _REFILL),
    "not-fitted": ("no such sensor", ((1, "fault_after_ms"),), _REFILL),
    "rail": ("the sensor is beyond its range, shorted or unplugged inside",
             ((1, "fault_after_ms"),), _REFILL),
    "jump": ("the pressure stepped further than an aeroplane can fly, and not back",
             ((1, "fault_after_ms"),),
             "when it has stepped back and the windows are full again; after `jump_clear_ms` "
             "without another step, unless an angled line has fallen to zero; 5 s after the last "
             "of several"),
    "unsteady": ("too many reads fail", ((2, "unsteady_ms"), (1, "fault_after_ms")),
                 "after `unsteady_ms` with few enough lost reads"),
    "frozen": ("it sends one word while the other channel moves as far as `frozen_move_dpa` asks",
               ((1, "frozen_ms"), (1, "fault_after_ms")), "with the next different word"),
    "dead": ("it feels nothing while the other one shows that the aeroplane moves", (), ""),
}
_WHOLE: dict[str, tuple[str, tuple[tuple[int, str], ...], str]] = {
    "ok": ("both pressures are good", (), ""),
    "on-ground": ("not flying: no margins are judged", (), ""),
    "seeding": ("the smoothing windows are filling", (), "when they are full"),
    "settings": ("settings are missing or wrong; connect a computer, the unit prints which", (),
                 "with complete settings, at the next start"),
    "uncalibrated": ("no valid calibration for this unit: no margin sounds", (),
                     "with an accepted calibration"),
    "no-zero": ("no stored zero, and none could be taken: park out of the wind and switch on "
                "again", (), "with a zero"),
    "too-slow": ("dynamic pressure is below `min_q_dpa`: the ratio cannot be judged",
                 ((1, "fault_after_ms"),), "with more of it, or standing still for `ground_ms`"),
    "q-lost": ("dynamic pressure vanished faster than an aeroplane can slow down (`lost_ms`), or "
               "without the wing having worked for it (`landing_pm`): hose, probe, ice",
               ((1, "fault_after_ms"),), "with dynamic pressure above `min_q_dpa`"),
    "intermittent": ("data come and go, so that the windows never fill",
                     ((1, "fault_after_ms"), (1, "window_ms")), _REFILL),
    "pitot-dead": ("no dynamic pressure while the angled port feels wind",
                   ((1, "dead_ms"), (1, "fault_after_ms")), "with the pressure"),
    "angled-dead": ("no angled pressure while dynamic pressure changes by half",
                    ((8, "dead_ms"), (1, "fault_after_ms")), "with the pressure"),
    "twins": ("both sensors send one and the same word: one answers for both",
              ((1, "frozen_ms"), (1, "fault_after_ms")), "with the first different pair"),
    "both-frozen": ("both sensors, lively before, repeat one word each",
                    ((2, "frozen_ms"), (1, "fault_after_ms")), "with the next different word"),
    "outside": ("the ratio is far outside anything this wing can fly; a stall that sounds is held "
                "for `hold_ms` first", ((1, "outside_ms"), (1, "fault_after_ms")),
                "one second after it is inside again"),
    "unbalanced": ("lift and load factor contradict each other: ice, a leak, a hose; needs the "
                   "accelerometer", ((1, "balance_ms"), (1, "fault_after_ms")),
                   "when they agree again, flaps not having moved; else on the ground"),
}
_DEFAULTS = {name: default for name, default, *_ in TABLE}


def _row(code: int) -> tuple[str, tuple[tuple[int, str], ...], str]:
    word = health.WORDS[code]
    if word in _WHOLE:
        return _WHOLE[word]
    channel, reason = word.split("-", 1)
    who = "both sensors" if channel == "both" else channel + " sensor"
    meaning, terms, back = _REASONS[reason]
    return f"{who}: {meaning}", terms, back


def told_within_ms(word: str) -> int:
    """Longest time from the sign that a fault needs to its sound, with default settings, ms; 0
    for words that are no fault of the moment. Blocks and looks of the slow watches included."""
    terms = _row(health.WORDS.index(word))[1]
    if not terms:
        return 0
    slow = {"unbalanced": 2000, "outside": 0}.get(word, _LOOK_MS if len(terms) > 1 else 0)
    return sum(factor * _DEFAULTS[name] for factor, name in terms) + slow


def _sum_text(terms: tuple[tuple[int, str], ...]) -> str:
    return " + ".join(f"{factor} x `{name}`" if factor > 1 else f"`{name}`"
                      for factor, name in terms)


def health_page(made: str) -> str:
    """The page; `made` is the line that says what made it."""
    lines = [made, "# Health words and lamp", "",
             "The `health` column of a trace says why the unit is in its state. While the fault "
             "or the uncalibrated sound is on, the lamp blinks in groups. *Told within* is the "
             "sum of the settings named, plus the look of a slow watch: the longest time from the "
             "first sign that the fault needs, with default settings. What a fault needs to show "
             "itself, and what never shows, is in [failure modes](failure_modes.md). A stalling "
             "sound is never cut off by a fault: it goes on for `hold_ms`, then the fault sound.",
             "", "| word | blinks | meaning | told within | which is | over |",
             "|---|---|---|---|---|---|"]
    for code, word in enumerate(health.WORDS):
        meaning, terms, back = _row(code)
        told = f"{told_within_ms(word) / 1000:.1f} s" if terms else ""
        lines.append(f"| `{word}` | {health.lamp_blinks(code) or ''} | {meaning} | {told} | "
                     f"{_sum_text(terms)} | {back} |")
    return "\n".join(lines) + "\n"
