"""The one table of settings: loader, reference page and command line are made from it.

A row is (name, default, least, most, unit, text). Where `unit` is a tuple, the setting is a word
out of it (least and most are then 0 and the last index). A default of None means that nobody can
know it but the builder: the unit refuses to give margins until it is set.
"""

from alula.intmath import is_whole
from alula.pressure_ratio import PLUMBINGS
from alula.transfer import (
    COMPENSATED,
    COMPENSATED_ADDRESSES,
    COMPENSATED_MOST_DPA,
    LIMIT_DPA,
    OUTPUT_TENTHS,
)

FORMAT = 1
OUTPUTS = tuple(sorted(OUTPUT_TENTHS)) + ("direct",) + COMPENSATED
_SENSES = ("normal", "reversed")
_AXES = ("x", "y", "z")
_KINDS = ("none", "lis3dh", "adxl345")


def _word(name: str, default, words, text: str) -> tuple:
    return (name, default, 0, len(words) - 1, words, text)


TABLE = (
    _word("plumbing", None, PLUMBINGS, "what the angled sensor measures"),
    _word("pitot_output", None, OUTPUTS, "pitot sensor: family and output type"),
    ("pitot_low_dpa", None, -LIMIT_DPA, LIMIT_DPA, "0.1 Pa", "pitot sensor: low end of range"),
    ("pitot_high_dpa", None, -LIMIT_DPA, LIMIT_DPA, "0.1 Pa", "pitot sensor: high end of range"),
    ("pitot_address", 40, 8, 119, "I2C address", "pitot sensor: bus address (40 is 0x28)"),
    _word("pitot_sense", "normal", _SENSES, "pitot sensor: reversed if hoses are swapped"),
    _word("angled_output", None, OUTPUTS, "angled sensor: family and output type"),
    ("angled_low_dpa", None, -LIMIT_DPA, LIMIT_DPA, "0.1 Pa", "angled sensor: low end of range"),
    ("angled_high_dpa", None, -LIMIT_DPA, LIMIT_DPA, "0.1 Pa", "angled sensor: high end of range"),
    ("angled_address", 40, 8, 119, "I2C address", "angled sensor: bus address (40 is 0x28)"),
    _word("angled_sense", "normal", _SENSES, "angled sensor: reversed if hoses are swapped"),
    _word("accelerometer", "none", _KINDS, "which accelerometer is fitted"),
    ("accelerometer_address", 24, 8, 119, "I2C address", "accelerometer: address (24 is 0x18)"),
    _word("accelerometer_axis", "z", _AXES, "accelerometer: axis along the wing normal"),
    _word("accelerometer_sense", "normal", _SENSES, "accelerometer: reversed if level reads -1 g"),
    ("sample_rate_hz", 100, 50, 200, "Hz", "samples a second: 50, 100, 125 or 200"),
    ("window_ms", 200, 80, 400, "ms", "length of the smoothing line: longer is quieter and later"),
    ("lead_ms", 0, 0, 150, "ms", "how far ahead the line is read: earlier and noisier"),
    ("gap_ms", 100, 40, 300, "ms", "a longer gap in the data empties both windows"),
    ("fault_after_ms", 500, 200, 2000, "ms", "no usable data this long is a fault"),
    ("min_q_dpa", 650, 200, 3000, "0.1 Pa", "below this q the ratio is not judged"),
    ("flying_q_dpa", 1300, 400, 6000, "0.1 Pa", "flying from this q: 0.9 of the least stall q"),
    ("flying_ms", 500, 100, 3000, "ms", "flying after so long above flying_q_dpa"),
    ("ground_q_dpa", 100, 30, 150, "0.1 Pa", "both pressures within this for ground_ms: stopped"),
    ("ground_ms", 3000, 1000, 20000, "ms", "so long near zero means stopped"),
    ("lost_ms", 700, 200, 3000, "ms", "from flying to below min_q_dpa sooner: lost, not slowed"),
    ("hold_ms", 10000, 2000, 60000, "ms", "a stalling sound outlives its data, then fault"),
    ("frozen_ms", 2000, 500, 10000, "ms", "one word so long, while the other moves, is frozen"),
    ("frozen_move_dpa", 100, 30, 1000, "0.1 Pa", "so much it ought to have moved; pitot twice"),
    ("alive_dpa", 600, 200, 2000, "0.1 Pa", "the angled port feels wind from here, pitot dead"),
    ("dead_ms", 1000, 300, 10000, "ms", "the pitot is dead after so long"),
    ("jump_dpa", 400, 100, 2000, "0.1 Pa", "a step of less within 20 ms is never called a jump"),
    ("jump_pm", 150, 50, 1000, "per mille", "a step within 20 ms is a jump from this share of q"),
    ("jump_clear_ms", 20000, 2000, 120000, "ms", "a jump that stays is believed after so long"),
    ("unsteady_ms", 5000, 1000, 20000, "ms", "lost reads are counted over so long"),
    ("unsteady_pm", 400, 100, 900, "per mille", "a larger share of lost reads is a fault"),
    ("outside_ms", 3000, 1000, 20000, "ms", "a ratio so long outside the calibration is a fault"),
    ("balance_pm", 200, 100, 1000, "per mille", "lift and load factor disagree from here"),
    ("balance_ms", 6000, 2000, 60000, "ms", "and for so long"),
    ("landing_pm", 350, 100, 600, "per mille", "no landing without this lift share before it"),
    ("landing_ms", 60000, 10000, 300000, "ms", "which was there so long ago at most"),
    ("flap_switches", 0, 0, 3, "switches", "flap switches fitted, one a setting, up included"),
    ("flap_settle_ms", 1000, 100, 5000, "ms", "a flap switch counts after this long unchanged"),
    ("zero_ms", 2000, 1000, 10000, "ms", "stillness needed for a new zero"),
    ("zero_spread_dpa", 50, 10, 200, "0.1 Pa", "a new zero is refused if its parts spread more"),
    ("zero_change_dpa", 200, 50, 1000, "0.1 Pa", "a new zero further off the stored is refused"),
    ("zero_share_pm", 80, 10, 300, "per mille", "and one that hides more of q at the stall"),
    ("zero_again_ms", 120000, 10000, 1800000, "ms", "once more after so long, when warm"),
    ("zero_warmth_dc", 150, 50, 500, "0.1 degC", "further from the zero's temperature: said"),
    ("zero_first_dpa", 1500, 200, 5000, "0.1 Pa", "a first zero is refused if larger than this"),
    ("leak_pm", 100, 20, 300, "per mille", "a line that loses more in a minute has a leak"),
    ("capture_pace_ckts", 100, 30, 150, "0.01 kt/s", "deceleration that a capture asks for"),
    ("capture_fast_ckts", 140, 110, 200, "0.01 kt/s", "a run that slows faster is refused"),
    ("capture_longest_s", 60, 20, 60, "s", "a run without a stall ends after this long"),
    ("capture_rough_pm", 20, 5, 60, "per mille", "a run whose points scatter more is refused"),
    ("capture_knee_pm", 40, 20, 100, "per mille", "the ratio has left its line when so far off"),
    ("capture_marks_pm", 35, 5, 100, "per mille", "without n: the marks may lie so far apart"),
    ("capture_caution_pm", 60, 0, 200, "per mille", "without n: the stall ratio is less by this"),
    ("capture_runs", 3, 2, 5, "runs", "runs that must agree to make a calibration"),
    ("capture_agree_pm", 60, 10, 200, "per mille", "agreeing runs lie no further apart"),
    ("calm_pm", 510, 200, 900, "per mille", "calm from this lift share (510 is 1.40 Vs)"),
    ("calm_half_pm", 40, 10, 150, "per mille", "half width of the calm tick round a reference"),
    _word("calm_sound", "on", ("off", "on"), "the soft tick of the calm band"),
    ("pressing_pm", 694, 400, 950, "per mille", "pressing from this share (694 is 1.20 Vs)"),
    ("stalling_pm", 907, 600, 990, "per mille", "stalling from this share (907 is 1.05 Vs)"),
    ("hysteresis_pm", 20, 5, 100, "per mille", "a band ends this far below, or 2 sensor steps"),
    ("release_ms", 500, 0, 2000, "ms", "a band ends only after this long below its end"),
    ("calm_release_ms", 2000, 0, 10000, "ms", "the same for the calm band, whose tick is slow"),
    ("calm_after_ms", 20000, 0, 120000, "ms", "no calm tick so soon after the take-off roll"),
    ("pulse_low_millihz", 1500, 1000, 4000, "milli-Hz", "pulse rate where pressing begins"),
    ("pulse_high_millihz", 8000, 2000, 8000, "milli-Hz", "pulse rate where pressing ends"),
    ("urgency_pm", 1350, 500, 2500, "per mille", "exponent of urgency against pulse rate"),
    ("pitch_low_hz", 600, 500, 2500, "Hz", "pitch where pressing begins"),
    ("pitch_high_hz", 1100, 300, 2500, "Hz", "pitch where pressing ends"),
    ("warble_low_hz", 1000, 300, 2500, "Hz", "lower pitch of the stalling warble"),
    ("warble_high_hz", 1400, 300, 2500, "Hz", "upper pitch of the stalling warble"),
    ("edge_ms", 20, 10, 25, "ms", "rise and fall of a sound, two ticks at least"),
    ("fault_every_ms", 3000, 1500, 10000, "ms", "the fault sound repeats this often at first"),
    ("fault_repeats", 5, 1, 50, "times", "how often before it becomes a reminder"),
    ("fault_reminder_ms", 20000, 5000, 60000, "ms", "the reminder repeats this often"),
)

# Pairs that must rise from the first to the second, by the least step given.
_RISING = (
    ("pitot_low_dpa", "pitot_high_dpa", 100),
    ("angled_low_dpa", "angled_high_dpa", 100),
    ("calm_pm", "pressing_pm", 20),
    ("pressing_pm", "stalling_pm", 20),
    ("pulse_low_millihz", "pulse_high_millihz", 100),
    ("pitch_low_hz", "pitch_high_hz", 10),
    ("warble_low_hz", "warble_high_hz", 50),
    ("pitch_high_hz", "warble_high_hz", 0),
    ("min_q_dpa", "flying_q_dpa", 100),
    ("ground_q_dpa", "min_q_dpa", 50),
    ("gap_ms", "fault_after_ms", 50),
)


class Settings:
    """Every setting of TABLE as an attribute: a number, or the index of a setting's word.

    A setting that the builder has not given and nobody may guess is None, and named in `missing`.
    """

    def __init__(self) -> None:
        self.missing: list = []
        for name, default, _, _, unit, _ in TABLE:
            setattr(self, name, _index(default, unit))
            if default is None:
                self.missing.append(name)

    def __getattr__(self, name: str) -> int:
        """Only reached for names not in TABLE; here so that type checkers know the rest."""
        raise AttributeError(name)

    def word(self, name: str) -> str:
        """The word of a word setting, e.g. "port-static"; "not set" where it is not."""
        for row in TABLE:
            if row[0] == name:
                value = getattr(self, name)
                return "not set" if value is None else row[4][value]
        raise ValueError(name)


def load(record) -> tuple:
    """Settings from a mapping as read from a settings file: (settings, problems).

    problems is a list of (field, what is wrong and what to do); where it is not empty, settings
    holds the defaults and must not be used for margins. Runs at start-up; may allocate.
    """
    settings = Settings()
    if not isinstance(record, dict):
        return settings, [("file", "is not a JSON object of settings")]
    rows = {row[0]: row for row in TABLE}
    found = []
    for name in sorted(record):
        if name == "format":
            if record[name] != FORMAT or not is_whole(record[name]):
                found.append((name, "is %s; this firmware reads %d" % (record[name], FORMAT)))
        elif name not in rows:
            found.append((name, "is not a setting; see the settings reference"))
        else:
            problem = _set(settings, rows[name], record[name])
            if problem:
                found.append((name, problem))
    found += _rule_problems(settings)
    return (Settings() if found else settings), found


def _set(settings: Settings, row: tuple, value) -> str:
    """Put one value into settings; returns what is wrong with it, or an empty string."""
    name, _, least, most, unit, _ = row
    if isinstance(unit, tuple):
        if value not in unit:
            return "must be one of " + ", ".join(unit)
        value = unit.index(value)
    elif not is_whole(value) or not least <= value <= most:
        return "must be a whole number from %d to %d (%s)" % (least, most, unit)
    setattr(settings, name, value)
    if name in settings.missing:
        settings.missing.remove(name)
    return ""


def _rule_problems(settings: Settings) -> list:
    """What no single row can say: pairs that must rise, rates that must divide a second."""
    found = []
    for low, high, step in _RISING:
        a, b = getattr(settings, low), getattr(settings, high)
        if a is not None and b is not None and b - a < step:
            found.append((high, "must be at least %d above %s" % (step, low)))
    if 1000 % settings.sample_rate_hz:
        found.append(("sample_rate_hz", "must be 50, 100, 125 or 200"))
    return found + _sensor_problems(settings, "pitot") + _sensor_problems(settings, "angled")


def _sensor_problems(settings: Settings, side: str) -> list:
    """What one sensor's settings ask for that no such sensor can be."""
    output, address = settings.word(side + "_output"), getattr(settings, side + "_address")
    found = []
    if output in COMPENSATED:
        if address not in COMPENSATED_ADDRESSES:
            found.append((side + "_address", "must be %d or %d: %s has no other"
                          % (COMPENSATED_ADDRESSES + (output,))))
        most = COMPENSATED_MOST_DPA[COMPENSATED.index(output)]
        for name in (side + "_low_dpa", side + "_high_dpa"):
            value = getattr(settings, name)
            if value is not None and not -most <= value <= most:
                found.append((name, "must be from %d to %d: the range of %s"
                              % (-most, most, output)))
    if (side == "pitot" and output not in ("direct", "not set") and settings.accelerometer
            and address == settings.accelerometer_address):
        found.append(("accelerometer_address", "must not be pitot_address: both are on one bus"))
    return found


def _index(default, unit):
    return unit.index(default) if isinstance(unit, tuple) and default is not None else default
