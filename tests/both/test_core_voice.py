"""From state to tone request: edges, pulses, the warble, fault figures and their rhythm."""

from alula import figures
from alula.figures import FIGURES, FigurePlayer
from alula.sample import NO_REPLY
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING, UNCALIBRATED
from alula.voice import Voice
from tests.both.core_rig import airborne, settings_with, starts_of_sound

FULL = 8


def spoken(voice: Voice, state: int, pulse_millihz: int, hz: int, ms: int, step_ms: int = 10):
    """(level, hz) of each tick."""
    rows = []
    for _ in range(0, ms, step_ms):
        voice.step(step_ms, state, pulse_millihz, hz)
        rows.append((voice.level, voice.hz))
    return rows


def ready_voice(**changes) -> Voice:
    """A voice whose start-up figure is over."""
    voice = Voice(settings_with(**changes))
    spoken(voice, QUIET, 0, 0, 1000)
    return voice


def onsets(rows, step_ms: int = 10) -> list:
    """Times in ms at which sound begins."""
    found = []
    for i in range(len(rows)):
        if rows[i][0] and (i == 0 or not rows[i - 1][0]):
            found.append(i * step_ms)
    return found


def test_h6_every_start_tests_its_voice():
    rows = spoken(Voice(settings_with()), QUIET, 0, 0, 1500)
    assert max(level for level, _ in rows) == FULL
    assert [hz for level, hz in rows if level == FULL][0] == FIGURES[figures.STARTED][0]
    assert not any(level for level, _ in rows[60:])


def test_edges_take_their_time():
    # facts: 10 to 25 ms edges; no step from silence to full in one 10 ms tick at edge_ms 20
    for edge_ms in (11, 15, 20, 25):
        rows = spoken(ready_voice(edge_ms=edge_ms), PRESSING, 8000, 900, 3000)
        levels = [0] + [level for level, _ in rows]
        steps = [abs(levels[i] - levels[i - 1]) for i in range(1, len(levels))]
        # in one tick no more than the share of the edge that fits into it, and the rounding
        assert max(steps) <= FULL * 10 // edge_ms + 1 < FULL + 1
        assert max(levels) == FULL and min(levels) == 0
    rows = spoken(ready_voice(edge_ms=20), PRESSING, 1500, 900, 50)
    assert [level for level, _ in rows] == [4, 8, 8, 8, 8]


def test_an_edge_is_never_longer_than_asked_or_two_ticks():
    for edge_ms in (10, 20, 25):
        rows = spoken(ready_voice(edge_ms=edge_ms), PRESSING, 1500, 900, 60, step_ms=5)
        reached = [level for level, _ in rows].index(FULL)
        assert (reached + 1) * 5 <= (max(edge_ms, 20) + 4) // 5 * 5


def test_pulses_come_at_their_rate():
    for millihz in (1000, 1500, 2700, 8000, 10000):
        rows = spoken(ready_voice(), PRESSING, millihz, 900, 60000)
        assert abs(len(onsets(rows)) - 60 * millihz // 1000) <= 1


def test_a_warning_sounds_in_its_first_tick():
    for state in (PRESSING, STALLING):
        assert spoken(ready_voice(), state, 1500, 900, 10)[0][0] > 0
    for state in (FAULT, UNCALIBRATED):
        assert spoken(ready_voice(), state, 0, 900, 10)[0][0] > 0


def test_the_warble_has_two_pitches_and_no_gap():
    rows = spoken(ready_voice(), STALLING, 8000, 1400, 5000)
    assert all(level == FULL for level, _ in rows[2:])
    pitches = [hz for _, hz in rows]
    assert set(pitches) == {1000, 1400}
    changes = sum(1 for i in range(1, len(pitches)) if pitches[i] != pitches[i - 1])
    assert abs(changes - 40) <= 1  # 8 notes a second for 5 s


def test_the_warble_takes_over_from_anything_without_a_gap():
    voice = ready_voice()
    spoken(voice, PRESSING, 1500, 900, 340)  # the level has just begun to fall, or is low
    rows = spoken(voice, STALLING, 8000, 1400, 1000)
    assert rows[0][0] > 0 and rows[1][0] == FULL
    assert all(level for level, _ in rows)


def test_the_calm_tick_is_soft_and_short():
    rows = spoken(ready_voice(), CALM, 1000, 500, 5000)
    assert len(onsets(rows)) == 5
    assert 0 < max(level for level, _ in rows) < FULL
    sounding = sum(1 for level, _ in rows if level) * 10
    assert sounding <= 5 * 100  # 60 ms and its edge, each second


def test_quiet_is_quiet():
    assert not any(level for level, _ in spoken(ready_voice(), QUIET, 0, 0, 60000))


def test_fault_figures_come_every_3_s_and_then_as_a_reminder():
    times = onsets_of_figures(spoken(ready_voice(), FAULT, 0, 900, 100000), 900)
    gaps = [times[i] - times[i - 1] for i in range(1, len(times))]
    assert gaps[:5] == [3000] * 5
    assert len(gaps) >= 8 and set(gaps[5:]) == {20000}


def onsets_of_figures(rows, first_hz: int) -> list:
    """Onsets of the first note only."""
    return [t for t in onsets(rows) if rows[t // 10][1] == first_hz]


def test_a_new_fault_after_a_warning_is_said_at_once():
    voice = ready_voice()
    spoken(voice, FAULT, 0, 900, 60000)  # by now only a reminder
    spoken(voice, PRESSING, 2000, 900, 500)
    rows = spoken(voice, FAULT, 0, 900, 9000)
    assert len(onsets_of_figures(rows, 900)) >= 3


def test_the_two_fault_figures_fall_and_differ():
    fault, uncalibrated = FIGURES[figures.CANNOT_KNOW], FIGURES[figures.UNCALIBRATED]
    for figure in (fault, uncalibrated):
        notes = [figure[i] for i in range(0, len(figure), 2) if figure[i]]
        assert notes == sorted(notes, reverse=True) and len(notes) >= 2
    assert fault != uncalibrated


def test_each_figure_is_played_note_by_note():
    for k in range(len(FIGURES)):
        figure = FIGURES[k]
        player = FigurePlayer()
        player.start(k)
        heard = []
        while player.playing:
            heard.append(player.hz)
            player.step(1)
        wanted = []
        for i in range(0, len(figure), 2):
            wanted += [figure[i]] * figure[i + 1]
        assert heard == wanted and player.hz == 0


def test_a_remark_is_said_once_and_waits_for_its_turn():
    voice = ready_voice()
    voice.announce(figures.ZERO_KEPT)
    rows = spoken(voice, QUIET, 0, 0, 5000)
    assert onsets(rows) == [0, 250]  # two level notes: 150 ms, rest of 100 ms
    assert {hz for level, hz in rows if level} == {750}
    voice.announce(figures.FLAP_UNKNOWN)
    assert len(onsets(spoken(voice, CALM, 1000, 500, 900))) >= 3


def test_h10_a_warning_drops_a_remark_and_cuts_one_short():
    voice = ready_voice()
    voice.announce(figures.AIR_START)
    spoken(voice, QUIET, 0, 0, 100)  # in its first note
    rows = spoken(voice, STALLING, 8000, 1400, 2000)
    assert {hz for _, hz in rows[1:]} == {1000, 1400}
    voice.announce(figures.AIR_START)
    spoken(voice, PRESSING, 8000, 900, 100)
    voice.announce(figures.ZERO_KEPT)
    spoken(voice, STALLING, 8000, 1400, 100)
    rows = spoken(voice, QUIET, 0, 0, 3000)
    assert onsets(rows[3:]) == []  # a warning is not followed by an old remark


def test_a_long_tick_is_no_more_than_a_second():
    voice = ready_voice()
    voice.step(1 << 29, STALLING, 8000, 1400)
    assert voice.level == FULL
    voice.step(1 << 29, FAULT, 0, 900)
    assert 0 <= voice.level <= FULL


def test_h3_a_stall_whose_data_were_lost_is_never_thinned_out_to_a_reminder():
    """After hold_ms the fault figure, every fault_every_ms, as long as it lasts; another fault
    becomes a reminder after fault_repeats."""
    rig = airborne(950)
    rig.blind(11000, NO_REPLY, NO_REPLY)
    begins = figure_starts(rig.blind(60000, NO_REPLY, NO_REPLY))
    gaps = [begins[i] - begins[i - 1] for i in range(1, len(begins))]
    assert len(begins) >= 19 and max(gaps) <= 3010
    rig = airborne(300)
    rig.blind(20000, NO_REPLY, NO_REPLY)
    begins = figure_starts(rig.blind(60000, NO_REPLY, NO_REPLY))
    assert len(begins) == 3


def figure_starts(rows) -> list:
    """When the first note of the fault figure began, ms."""
    return [at for at in starts_of_sound(rows)
            if [row for row in rows if row[0] == at][0][4] == 900]
