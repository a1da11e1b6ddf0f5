"""A rig in the air whose log goes to a fake flash. Runs in both interpreters."""

from alula import log_layout
from alula.log_block import seal
from drivers.log_files import LogFiles
from host_sim.bench.fake_flash import FakeFlash
from log_keeper import LogKeeper, head_of
from tests.both.core_rig import Rig, record
from tests.both.log_rig import Random, Ticker

BLOCK = log_layout.BLOCK_BYTES
NOISY = 4000  # a word that leaps by so much takes six bytes a tick: a block a few seconds


class Found:
    """As `Stored`, of a unit with settings and nothing else."""

    settings = record()
    zero = {"pitot_dpa": 0, "angled_dpa": 0}
    anchor = calibration = reference_pm = None
    amiss = False


class Kept:
    """A rig in the air at a steady lift share, its log on a fake flash."""

    def __init__(self, flash=None, blocks: int = 4, rig=None) -> None:
        self.rig = Rig() if rig is None else rig
        self.flash = FakeFlash() if flash is None else flash
        self.files = LogFiles(self.flash, self.flash.open, "")
        self.said = []
        self.ticker = Ticker()
        self.ticker.sample = self.rig.sample
        self.keeper = LogKeeper(self.rig.unit, self.files, head_of(Found, "bench", "power"), 10,
                                self.said.append, blocks)
        self.keeper.follow(self.ticker)
        self.random = Random(1)
        self.touched = []  # times at which the flash was used

    def fly(self, lift_pm: int, ticks: int, q_dpa: int = 6000) -> None:
        """Fly; the accelerometer is the noise that fills blocks quickly."""
        for _ in range(ticks):
            self.rig.sample.nz_status = 0
            self.rig.sample.nz_mg = self.random.around(NOISY)
            calls = self.flash.calls
            self.ticker.now_ms = self.rig.now_ms
            self.rig.fly(lift_pm, 10, q_dpa)
            self.keeper.step()
            if self.flash.calls != calls:
                self.touched.append(self.rig.now_ms)

    def land(self, ticks: int) -> int:
        """Slow down to nothing within 15 s, and stand; returns the ticks until it had landed."""
        flown = 0
        for i in range(ticks):
            q = max(0, 6000 - 4 * i)
            self.ticker.now_ms = self.rig.now_ms
            self.rig.feel(q, q * 300 // 1000)
            self.keeper.step()
            flown += self.rig.unit.phase.flying
        return flown

    def blocks(self) -> list:
        """(kind, sequence) of the blocks on the flash, in the files' order; each must be whole."""
        found = []
        for name in self.files.logs():
            data = self.flash.files["/" + name]
            assert len(data) % BLOCK == 0, (name, len(data))
            for at in range(0, len(data), BLOCK):
                block = data[at:at + BLOCK]
                assert whole(block), (name, at)
                found.append((block[5], block[8] + 256 * block[9]))
        return found


def whole(block) -> bool:
    again = bytearray(block)
    seal(again)
    return bytes(again) == bytes(block) and block[:4] == log_layout.MAGIC
