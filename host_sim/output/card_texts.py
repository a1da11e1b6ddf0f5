"""The three flight cards: stall capture, proof flight, daily check."""

from math import ceil

from host_sim.output.card_facts import (
    BANKS_DEG,
    CardFacts,
    bank_factor,
    notes_in_words,
    speed_factor,
)
from host_sim.output.card_page import Card, Section
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import figures  # noqa: E402
from alula.stall_capture import refusals  # noqa: E402

HOLD_S = 2  # a long press is one of 1.5 s or more (alula.press)
START_SPEED = 1.4  # times the stalling speed: where a capture run begins
LEAST_KT, LEAST_PERCENT = 5, 5  # 14 CFR 23.207(c), 25.207(c)
RUNS = ("no", "one", "two", "three", "four", "five")
SUPPLEMENT = ("This unit supplements, and never replaces, the primary stall warning and the "
              "airspeed indicator; it is no licence to fly slower. It can be wrong without "
              "saying so.")
STALLS = (
    "Stalls only at a height from which you can recover from a spin you did not plan. Write that "
    "height down, and stop below it.",
    "Weight, centre of gravity and flap speed within limits; loose things stowed, harness tight, "
    "parachute if you fly with one; clearing turns before every run; clear air, no cloud near.",
    "At first with somebody who knows the type. If this aeroplane's stall is not known to be "
    "benign, this is not the way to find out.",
    "Local rules and licensed people decide what may be flown, by whom, and with what on board.")
_HEAD = ("date", "aeroplane", "pilot", "weight", "centre of gravity", "height not below",
         "air temperature, wind")


def _fields() -> Section:
    return Section("Flight", head=_HEAD, rows=[[""] * len(_HEAD)], to_do=False)


def _footer(facts: CardFacts) -> str:
    made = "; ".join(facts.sources) or "no settings and no calibration given: speeds are left open"
    return f"Made by `alula card` from: {made}. Nothing on it was tried in an aeroplane."


def _knots(stall_kt: float | None, factor: float) -> str:
    """A multiple of a stalling speed, rounded up to whole knots; a blank where it is not known."""
    return f"{ceil(stall_kt * factor - 1e-9)} kt" if stall_kt else "____ kt"


def _stall_speed(facts: CardFacts) -> str:
    """Where the stalling speed is to be taken from. The setting's speed belongs to the flaps that
    stall slowest: with others the wing stalls faster, so it must not be taken for theirs."""
    known = "" if facts.stall_kt is None else (
        f" With the flaps that stall slowest it is {facts.stall_kt:.0f} kt by flying_q_dpa; with "
        "others the wing stalls at a higher speed.")
    return ("Stalling speed with these flaps and this weight, IAS, from the handbook or an "
            "earlier flight: ____ kt." + known)


def capture_card(facts: CardFacts) -> Card:
    """How a stall capture is flown."""
    settings = facts.settings
    runs, pace = RUNS[settings.capture_runs], settings.capture_pace_ckts / 100
    return Card("Stall capture", [SUPPLEMENT, *STALLS, "The unit may be wrong or silent at any "
                "time in this flight: fly by your airspeed indicator and your own senses. Never "
                "hold a stall to wait for a sound."], [
        _fields(),
        Section("Before", ticks=[
            "settings done, hoses checked; unit switched on while the aeroplane stands still: it "
            "takes its zero then",
            "calm air; engine at idle or as the handbook says for stalls, the same in all runs",
            "one flap setting, set and left alone: flap ____; " + _flaps_known(facts),
            _stall_speed(facts) + f" Start at {START_SPEED} times that or faster: ____ kt (never "
            f"below {_knots(facts.stall_kt, START_SPEED)})"]),
        Section("Each run", head=("you", "the unit"), rows=_capture_steps(runs, pace)),
        *_capture_runs(facts),
        Section("After", ticks=["each flap setting calibrated by itself",
                                "proof flight planned: the card `alula card proof`",
                                "records backed up"])], _footer(facts))


def _capture_runs(facts: CardFacts) -> list[Section]:
    """A table to fill in, and what to do about a refusal."""
    settings = facts.settings
    return [
        Section("Runs", f"{RUNS[settings.capture_runs].capitalize()} that agree make a "
                f"calibration. An entry faster than {settings.capture_fast_ckts / 100:g} kt/s or "
                f"longer than {settings.capture_longest_s} s is refused.",
                head=("run", "IAS at the stall", "accepted", "if refused: word"),
                rows=[[str(number + 1), "", "", ""]
                      for number in range(settings.capture_runs + 2)]),
        Section("If a run is refused", head=("word", "what to do"), to_do=False, rows=[
            [word, remedy] for word, remedy in zip(refusals.WORDS[1:], refusals.REMEDIES[1:],
                                                   strict=True)])]


def _flaps_known(facts: CardFacts) -> str:
    if facts.flaps is None:
        return "no calibration was given to this card"
    return "calibrated so far: " + ", ".join(map(str, facts.flaps))


def _capture_steps(runs: str, pace: float) -> list[list[str]]:
    words = notes_in_words
    return [
        [f"level, steady, at {START_SPEED} times the stalling speed or faster; hold the button "
         f"for {HOLD_S} s, let go", f"{words(figures.ARMED)}: armed"],
        ["hold steady", f"{words(figures.SLOW_NOW)}: slow down now"],
        [f"raise the nose, {pace:g} kt each second",
         f"every few seconds {words(figures.GOOD)}: good; {words(figures.MORE)}: a little more; "
         f"{words(figures.EASE)}: more gently"],
        ["let it stall, until the nose drops; recover as you were taught",
         f"{words(figures.RECOVER)}: the stall has passed, recover now. Never hold a stall to "
         "wait for them"],
        ["settle at the starting speed",
         f"{words(figures.ACCEPTED)}: the run counts; {words(figures.REFUSED)}: it does not"],
        [f"after {runs} runs that agree", f"{words(figures.SAVED)}: stored, read back, in use"],
        ["to cancel at any time: a long press",
         f"{words(figures.CANCELLED)}: nothing is stored"],
        ["it only mushes, stick on its stop, nothing moving any more: a short press then",
         f"{words(figures.RECOVER)}: recover"]]


_RUN_HEAD = ("run", "stall is near", "IAS pressing", "IAS stalling", "IAS stall",
             f"pressing - stall: at least {LEAST_KT} kt", f"and {LEAST_PERCENT} % of the stall",
             "stalling came before the stall")


def proof_card(facts: CardFacts) -> Card:
    """The proof of a calibration: straight, turning, accelerated."""
    flaps = [f"flap {flap}" for flap in facts.flaps or []] or ["flap ____"]
    tables = [Section(f"Runs, {flap}", head=_RUN_HEAD, rows=_proof_runs()) for flap in flaps]
    return Card("Proof flight", [SUPPLEMENT, *STALLS, "Do not use its sounds below the height on "
                "this card before every box is ticked. A stall before the sound, or no sound at "
                "all: end the test, land, find out why."], [
        _fields(),
        _asked(),
        *_speeds(facts),
        Section("Order", ticks=[
            "each run first to the first pressing, and recover; then to stalling, and recover; "
            "then to the stall",
            "straight with idle, all ticked, before any turn; turns ball in the middle",
            "a sideslip makes the warning late with one angled port: none near the stall"]),
        *tables,
        Section("Passed", ticks=["every row ticked, both directions of turn, every calibrated "
                                 "flap", "log read with `alula review`, margins copied here",
                                 "name, date: ____"])], _footer(facts))


def _asked() -> Section:
    """The margins of the rules."""
    return Section("What is asked", ticks=[
        f"slow entry, 1 kt each second (14 CFR 23.201): pressing begins at least {LEAST_KT} "
        f"kt and {LEAST_PERCENT} % above the stall, and goes on until it (14 CFR 23.207)",
        "stalling sounds before the stall, in every run",
        "accelerated, 3 to 5 kt each second (14 CFR 23.203): pressing early enough that "
        "letting go at the first sound averts the stall",
        "no pressing in a normal take-off, and none at 1.3 times the stalling speed on a "
        "normal approach"])


def _speeds(facts: CardFacts) -> list[Section]:
    """Expected speeds: to be filled in, and, where the settings say it, of the slowest stall."""
    head = ("level turn of", "Vs times", "stall", "stalling", "pressing")
    press, stall = (speed_factor(lift_pm) for lift_pm in (
        facts.settings.pressing_pm, facts.settings.stalling_pm))

    def rows(stall_kt: float | None) -> list[list[str]]:
        return [[f"{bank} degrees" if bank else "straight", f"{bank_factor(bank):.2f}",
                 *(_knots(stall_kt, bank_factor(bank) * share) for share in (1.0, stall, press))]
                for bank in BANKS_DEG]

    found = [Section("Speeds, flap ____", f"Expected: pressing from {press:.2f} Vs, stalling from "
                     f"{stall:.2f} Vs, at the load factor of the moment. " + _stall_speed(facts),
                     head=head, rows=rows(None), to_do=False)]
    if facts.stall_kt is not None:
        found.append(Section("Speeds with the flaps that stall slowest",
                             "By flying_q_dpa, for the weight it was set for. Flaps up: faster.",
                             head=head, rows=rows(facts.stall_kt), to_do=False))
    return found


def _proof_runs() -> list[list[str]]:
    runs = [("straight, idle", 0), ("straight, power as on approach", 0), ("turn 30 left", 30),
            ("turn 30 right", 30), ("turn 45 left", 45), ("turn 45 right", 45)]
    rows = [[name, f"{bank_factor(bank):.2f} Vs", *[""] * 6] for name, bank in runs]
    return rows + [[f"accelerated, {side}, 3 to 5 kt/s", "as n rises", "", "", "",
                    "letting go averts it: yes / no", "-", ""] for side in ("left", "right")]


def daily_card(facts: CardFacts) -> Card:
    """What to look at and listen to every day."""
    words = notes_in_words
    return Card("Daily check", [SUPPLEMENT, "A quiet unit is not a promise: some failures it "
                                "cannot see (hardware_notes/failure_modes.md).",
                                "Never blow into a port or a hose by mouth or with compressed "
                                "air: the sensors are delicate, and so is your airspeed "
                                "indicator.", STALLS[-1]], [
        Section("Outside", ticks=[
            "covers off: pitot, static, angled port", "ports clear of insects, grass, water, wax",
            "probe firm and straight; hoses on, not pinched, no water at the low point"]),
        Section("Switch on, standing still, out of the wind", ticks=[
            f"{words(figures.STARTED)}: the unit has started, and its sound works",
            "lamp as usual, and no more sound",
            "after rain, washing, work on the aeroplane or a night outside: the puff test (a "
            "short press begins the ground checks: hardware_notes/ground_checks.md)"]),
        _said(),
        Section("In flight", ticks=[
            "take-off roll: airspeed alive, unit quiet",
            "cruise: quiet; ball in the middle",
            "first flight of the day, at a safe height, straight, after a clearing turn: slow "
            "down gently until it presses, then speed up. Due at "
            f"{speed_factor(facts.settings.pressing_pm):.2f} times the stalling speed with these "
            "flaps: ____ kt. Nothing there: speed up, and do not rely on it"]),
        Section("After", ticks=["covers on", "anything odd written down, and the log kept"])],
        _footer(facts))


def _said() -> Section:
    """Remarks after a start."""
    words = notes_in_words
    return Section("What it may say then", head=("sound", "what it means"), to_do=False, rows=[
        [words(figures.ZERO_KEPT), "not still enough for a new zero; the stored one counts. "
         "Out of the wind, switch on again"],
        [words(figures.FLAP_UNKNOWN), "no curve for this flap setting: the most cautious one "
         "counts, and may warn late"],
        [words(figures.UNCALIBRATED) + ", repeated", "not calibrated: there will be no margin "
         "sounds"],
        [words(figures.CANNOT_KNOW) + ", repeated", "it cannot know; the lamp blinks which "
         "sensor. Fly without it, or not at all: your decision"],
        [words(figures.AMISS), "a stored record is damaged: connect a computer"]])


CARDS = {"capture": capture_card, "proof": proof_card, "daily": daily_card}
