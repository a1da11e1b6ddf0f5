"""Case H1: a lift share at a limit with noise, ramps through it, spikes beyond it, and one code step
of a sensor at 30 kt: how often the state may change, and how late it may.

A band ends at most once in its release time and a window, so in 10 s there are at most 2 * 10 000 /
(release_ms 500) = 40 changes; with a hysteresis of 20 per mille, 0.5 % of noise (5 per mille) may
not even reach its end: at most 2 changes in all (in, and out at the end).
"""

from alula.sample import FRESH
from alula.settings import load
from alula.states import CALM, PRESSING, QUIET, STALLING
from alula.unit import Unit
from tests.both.core_rig import POINTS, airborne, angled_for
from tests.both.test_core_pair_watch import SETTINGS

LIMITS = ((510, CALM), (694, PRESSING), (907, STALLING))
Q_DPA = 6000


def wave(at_ms: int, period_ms: int) -> int:
    """A triangle of +-1000."""
    phase = at_ms % period_ms * 4000 // period_ms
    return 1000 - abs(phase - 2000)


def changes(rows) -> int:
    return sum(1 for i in range(1, len(rows)) if rows[i][1] != rows[i - 1][1])


def test_h1_noise_of_half_a_percent_at_a_limit_cannot_chatter():
    for limit, band in LIMITS:
        for period_ms in (200, 500, 1000, 5000):  # 5 to 0.2 Hz
            rig = airborne(limit - 60)
            begin = len(rig.heard)
            for at in range(0, 60000, 10):
                rig.feel(Q_DPA, angled_for(limit, Q_DPA) + 5 * wave(at, period_ms) * 6 // 1000)
            rows = rig.heard[begin:]
            assert changes(rows) <= 1 and rows[-1][1] == band, (limit, period_ms, changes(rows))


def test_h1_noise_beyond_the_hysteresis_changes_no_oftener_than_the_release():
    """+-5 %: it may come and go, at most once each way in a release time."""
    for limit, _ in LIMITS[1:]:
        for period_ms in (200, 500, 1000, 5000):
            rig = airborne(limit - 60)
            begin = len(rig.heard)
            for at in range(0, 60000, 10):
                rig.feel(Q_DPA, angled_for(limit, Q_DPA) + 50 * wave(at, period_ms) * 6 // 1000)
            rows = rig.heard[begin:]
            most = max(changes(rows[i:i + 1000]) for i in range(0, 5000, 250))
            assert most <= 40, (limit, period_ms, most)


def test_h1_a_slow_ramp_passes_each_limit_once_up_and_once_down():
    rig = airborne(400)
    begin = len(rig.heard)
    rig.glide(Q_DPA, Q_DPA, angled_for(400, Q_DPA), angled_for(1000, Q_DPA), 40000)
    assert changes(rig.heard[begin:]) == 3
    begin = len(rig.heard)
    rig.glide(Q_DPA, Q_DPA, angled_for(1000, Q_DPA), angled_for(400, Q_DPA), 40000)
    rig.fly(400, 4000)
    assert changes(rig.heard[begin:]) == 3 and rig.unit.state == QUIET


def test_h1_the_onset_is_not_late():
    """A ramp of 100 per mille a second: at the limit within the despiker and a tick; and no later
    than one window, 200 ms, after a step."""
    for limit, band in LIMITS:
        rig = airborne(limit - 100)
        rows = rig.glide(Q_DPA, Q_DPA, angled_for(limit - 100, Q_DPA),
                         angled_for(limit + 50, Q_DPA), 1500)
        first = [row[0] for row in rows if row[1] >= band][0] - rows[0][0]
        assert first <= 1000 + 30, (limit, first)
        rig = airborne(limit - 100)
        rows = rig.fly(limit + 20, 400)
        assert [row[0] for row in rows if row[1] >= band][0] - rows[0][0] <= 200


def test_h1_a_spike_past_the_stall_of_150_ms_is_heard():
    for lift_pm in (1000, 1100):
        rig = airborne(600)
        rows = rig.fly(lift_pm, 150) + rig.fly(600, 600)
        assert STALLING in {row[1] for row in rows}
        assert sum(1 for row in rows if row[1] == STALLING and row[3] > 0) * 10 >= 400


class Coarse:
    """Two sensors of a wide range at 30 kt (146 Pa): one code step is a jump of the lift."""

    def __init__(self, range_dpa: int, plumbing: str) -> None:
        record = dict(SETTINGS, plumbing=plumbing)
        for name in ("pitot", "angled"):
            record[name + "_low_dpa"], record[name + "_high_dpa"] = -range_dpa, range_dpa
        settings, found = load(record)
        assert not found
        self.code_dpa = 2 * range_dpa / 13108
        self.unit = Unit(settings, ((0, POINTS),), (0, 0))
        self.plumbing = plumbing
        self.now_ms = 0

    def angled_dpa(self, ratio: float, q_dpa: float) -> float:
        return (1 - ratio) * q_dpa if self.plumbing == "pitot-port" else ratio * q_dpa

    def toggled(self, limit: int, ms: int, pattern) -> list:
        """Lift at a limit, the angled word one code up or down as the pattern says."""
        from alula.sample import Sample
        sample = Sample()
        sample.pitot_status = sample.angled_status = FRESH
        q_code = round(1460 / self.code_dpa)
        q_dpa = q_code * self.code_dpa
        code = round(self.angled_dpa((limit - 200) / 1000, q_dpa) / self.code_dpa)
        found = []
        for at in range(0, ms, 10):
            sample.pitot_word = 8192 + q_code
            sample.angled_word = 8192 + code + pattern(at // 10)
            self.unit.tick(self.now_ms, sample)
            found.append((self.now_ms, self.unit.state))
            self.now_ms += 10
        return found


def noise(i: int) -> int:
    return (i * 7919 >> 3) % 2


def slow(i: int) -> int:
    return i // 37 % 2


def test_one_code_step_at_30_kt_cannot_chatter():
    """Bands end two sensor steps below their start, where that is more than the hysteresis."""
    for range_dpa in (24909, 68948, 200000 // 2):
        for plumbing in ("port-static", "pitot-port", "opposed"):
            for limit, _ in LIMITS:
                for pattern in (noise, slow, lambda i: i % 2):
                    rig = Coarse(range_dpa, plumbing)
                    rig.toggled(limit, 3000, pattern)
                    rows = rig.toggled(limit, 20000, pattern)
                    assert changes(rows) <= 1, (range_dpa, plumbing, limit, changes(rows))


def test_h1_the_edges_of_flying_do_not_chatter_either():
    """q round flying_q_dpa, min_q_dpa and ground_q_dpa with noise: no stall sound, few changes."""
    for q_dpa in (1300, 650, 100):
        rig = airborne(ms=100, zero=(0, 0))
        rig.glide(Q_DPA, q_dpa, 600, q_dpa // 10, 15000)
        begin = len(rig.heard)
        for at in range(0, 30000, 10):
            rig.feel(q_dpa + 7 * wave(at, 400) * q_dpa // 100000, q_dpa // 10)
        rows = rig.heard[begin:]
        assert STALLING not in {row[1] for row in rows}
        assert changes(rows) <= 4, (q_dpa, changes(rows))
