"""From a board and a vault to a loop that is ready to run; the bench starts the same way."""

from starts import Starts, counted, told

import assembly
from alula import figures
from alula.refusal import Refusal
from alula.settings import Settings
from alula.unit import Unit
from keeper import Keeper
from narrator import Narrator
from stored import Stored
from zero_story import ZeroStory


def prepare(board, vault, say) -> tuple:
    """(loop, remarks): the loop ready to run, and a line for all that is amiss."""
    stored = Stored(vault)
    unit, settings, remarks = assembly.make_unit(stored.settings, stored.plain, stored.zero)
    if isinstance(unit, Unit) and "direct" in (
            settings.word("pitot_output"), settings.word("angled_output")):
        unit, settings = Refusal(), Settings()
        remarks = ["settings: pitot_output and angled_output: direct is for replays only; name "
                   "the sensors that are fitted"]
    starts = counted(stored.starts, board.start_word)
    followers: tuple = ()
    if isinstance(unit, Unit):
        if stored.reference_pm is not None:
            unit.adopt_reference(stored.reference_pm)
        if stored.amiss:
            unit.voice.announce(figures.AMISS)
        if stored.anchor is not None:
            unit.zero.adopt_anchor(stored.anchor["pitot_dpa"], stored.anchor["angled_dpa"])
        keeper = Keeper(unit, vault, settings, stored.calibration, say, stored.anchor is not None)
        followers = (keeper, Narrator(unit, say),
                     ZeroStory(unit, settings, stored.zero_dc, say),
                     Starts(unit, vault, starts, say))
    remarks = [told(starts)] + stored.remarks + remarks
    return assembly.make_loop(board, unit, settings, followers), remarks
