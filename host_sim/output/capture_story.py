"""What a stall capture went through in a run, as lines for people."""

import numpy as np

from host_sim.output.trace import column, time_text
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula.stall_capture import capture, refusals  # noqa: E402


def capture_story(out: np.ndarray) -> list[str]:
    """One line for each step of the capture; none where there was none."""
    state, verdicts = column(out, "capture"), column(out, "verdicts")
    lines = []
    for i in np.flatnonzero((np.diff(state) != 0) | (np.diff(verdicts) != 0)) + 1:
        time = time_text(int(column(out, "now_ms")[i]))
        if verdicts[i] != verdicts[i - 1]:
            lines.append(f"{time:>9}  capture: run {verdicts[i]}: {_verdict(out, int(i))}")
        if state[i] != state[i - 1]:
            saved = state[i - 1] == capture.READY or verdicts[i] != verdicts[i - 1]
            lines.append(f"{time:>9}  capture: {_step(int(state[i]), bool(saved))}")
    return lines


def _verdict(out: np.ndarray, i: int) -> str:
    word = int(column(out, "refusal")[i])
    if word == refusals.ACCEPTED:
        return f"accepted, stall at ratio {column(out, 'stall_bp')[i] / 10000:.4f}"
    return (f"{refusals.WORDS[word]} ({column(out, 'number')[i]}, {refusals.NUMBERS[word]}); "
            f"{refusals.REMEDIES[word]}")


def _step(after: int, saved: bool) -> str:
    if after == capture.IDLE:
        return "enough runs agree; stored, read back, in use" if saved else "cancelled"
    return {capture.STEADY: "hold steady", capture.SLOWING: "slow down, 1 kt a second",
            capture.RECOVERING: "recover now", capture.JUDGING: "judging the run",
            capture.READY: "enough runs agree; storing"}[after]
