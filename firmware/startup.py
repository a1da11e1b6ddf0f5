"""From a board and a vault to a loop that is ready to run; the bench starts the same way."""

import assembly
from alula import figures
from alula.refusal import Refusal
from alula.settings import Settings
from alula.unit import Unit
from check_desk import CheckDesk
from console.desk import ConsoleDesk
from console.facts import Facts
from keeper import Keeper, unheard
from log_keeper import LogKeeper, head_of
from narrator import Narrator
from starts import Starts, counted, told
from stored import Stored
from zero_story import ZeroStory


def prepare(board, vault, say, log_files=None) -> tuple:
    """(loop, remarks): the loop ready to run, and a line for all that is amiss.

    log_files: `LogFiles` for the flight log, or None: none is kept."""
    stored = Stored(vault)
    unit, settings, remarks = assembly.make_unit(stored.settings, stored.plain, stored.zero)
    if isinstance(unit, Unit) and "direct" in (
            settings.word("pitot_output"), settings.word("angled_output")):
        unit, settings = Refusal(), Settings()
        remarks = ["settings: pitot_output and angled_output: direct is for replays only; name "
                   "the sensors that are fitted"]
    starts = counted(stored.starts, board.start_word)
    remarks = [told(starts)] + stored.remarks + remarks
    if not isinstance(unit, Unit):
        facts = Facts(board, vault, unit, stored.settings)
        desk = ConsoleDesk(facts, 1000 // settings.sample_rate_hz)
        return _made(board, unit, settings, (desk,)), remarks
    _tell_unit(unit, stored)
    log, problem = None, ""
    if log_files is not None:
        log, problem = _make_log(unit, settings, stored, board, log_files, say)
        remarks += [problem] if problem else []
    changed = unheard if log is None else log.changed
    keeper = Keeper(unit, vault, settings, stored.calibration, say, stored.anchor is not None,
                    changed)
    facts = Facts(board, vault, unit, stored.settings, log, problem, changed)
    checks = CheckDesk(unit, vault, settings.plumbing, say, changed)
    followers = [keeper, Narrator(unit, say), ZeroStory(unit, settings, stored.zero_dc, say),
                 Starts(unit, vault, starts, say), checks,
                 ConsoleDesk(facts, 1000 // settings.sample_rate_hz, checks)]
    if log is not None:
        followers.insert(0, log)  # a tick is logged before another follower changes the unit
    return _made(board, unit, settings, followers), remarks


def _made(board, unit, settings, followers):
    """The loop, and those who look at it told of it."""
    loop = assembly.make_loop(board, unit, settings, tuple(followers))
    for follower in followers:
        if hasattr(follower, "follow"):
            follower.follow(loop)
    return loop


def _tell_unit(unit, stored) -> None:
    """What the unit starts with beside settings, curve and zero."""
    if stored.reference_pm is not None:
        unit.adopt_reference(stored.reference_pm)
    if stored.amiss:
        unit.voice.announce(figures.AMISS)
    if stored.anchor is not None:
        unit.zero.adopt_anchor(stored.anchor["pitot_dpa"], stored.anchor["angled_dpa"])


def _make_log(unit, settings, stored, board, files, say) -> tuple:
    """(log, "") or (None, why there is none): the unit flies without a log, too."""
    try:
        head = head_of(stored, board.name, board.start_word)
        return LogKeeper(unit, files, head, 1000 // settings.sample_rate_hz, say), ""
    except Exception as error:
        return None, "log: none: %s %s" % (type(error).__name__, error)
