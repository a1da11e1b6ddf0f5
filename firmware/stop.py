"""When the program stops by itself: a sound, the reason kept, and a clean restart."""

from alula.record_payloads import STOP, STOP_MOST
from drivers.tone_pwm import TonePwm
from loop import STOPPED_HZ


def stop_and_restart(board, vault, error) -> None:
    """Sound, say and store why, then restart the board, whatever fails on the way. Never raises.

    The tone is a steady low note until the heartbeat or the restart takes over. A stop that is
    stored already is not written again: one that repeats must not wear the flash out.
    """
    try:
        TonePwm(board.pwm).apply(STOPPED_HZ, 8)
        text = printable(board.describe(error))
        board.console.say(text)
        if vault.load(STOP)[0] != text:
            problem = vault.save(STOP, text)
            if problem:
                board.console.say(problem)
    except Exception:
        pass  # no words: out of memory, even these could not be put together
    finally:
        board.restart()


def printable(text: str) -> str:
    """The end of a text, as the record takes it: printable ASCII and line ends."""
    kept = [c if c == "\n" or " " <= c <= "~" else "?" for c in text[-STOP_MOST:]]
    return "".join(kept)
