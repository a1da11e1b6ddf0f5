"""Promise 2: what should sound, sounds within a stated time; what should be quiet, is quiet."""

from hypothesis import given, settings
from hypothesis import strategies as st

from alula import figures
from alula.figures import FIGURES
from alula.sample import FRESH, NO_REPLY, SENSOR_FAULT, STALE, Sample
from alula.settings import load
from alula.states import CALM, FAULT, PRESSING, QUIET, STALLING, UNCALIBRATED
from alula.unit import Unit
from alula.voice import Voice
from tests.both.core_rig import POINTS, Rig, angled_for, settings_with
from tests.laws.inputs import settings_records

LONGEST_FIGURE_MS = max(sum(figure[1::2]) for figure in FIGURES)
REST_MS = max(figure[i + 1] for figure in FIGURES for i in range(0, len(figure), 2)
              if not figure[i])
TICKS_MS = st.sampled_from([5, 8, 10, 20])
STATES = st.sampled_from([QUIET, CALM, PRESSING, STALLING, FAULT, UNCALIBRATED])
REMARKS = st.sampled_from([figures.NOTHING, figures.ZERO_KEPT, figures.FLAP_UNKNOWN])


def longest_silence(levels) -> int:
    longest = run = 0
    for level in levels:
        run = 0 if level else run + 1
        longest = max(longest, run)
    return longest


def spoken(voice, chosen, state, ms, tick_ms, pulse) -> list[int]:
    """Levels of a stretch of one state."""
    found = []
    for _ in range(0, ms, tick_ms):
        if state == PRESSING:
            voice.step(tick_ms, state, pulse, chosen.pitch_low_hz)
        elif state == STALLING:
            voice.step(tick_ms, state, max(8000, chosen.pulse_high_millihz),
                       chosen.warble_high_hz)
        else:
            voice.step(tick_ms, state, 0, 900 if state >= FAULT else 0)
        found.append(voice.level)
    return found


def silence_allowed_ms(chosen, state, pulse, tick_ms) -> int:
    """The stated times, and a tick or two for the time grid."""
    if state == STALLING:
        return 0
    if state == PRESSING:
        return 500_000 // pulse + 2 * tick_ms  # half of a pulse
    # Between two figures; a remark or figure under way may come first.
    return max(chosen.fault_every_ms, chosen.fault_reminder_ms) + 2 * tick_ms


@settings(max_examples=150)
@given(settings_records(), TICKS_MS, st.data())
def test_no_warning_and_no_fault_is_ever_silent_for_long(record, tick_ms, data):
    chosen = load(record)[0]
    voice, state = Voice(chosen), QUIET
    for _ in range(data.draw(st.integers(1, 6))):
        before, state = state, data.draw(STATES)
        pulse = data.draw(st.integers(chosen.pulse_low_millihz, chosen.pulse_high_millihz))
        remark = data.draw(REMARKS)
        if remark != figures.NOTHING:
            voice.announce(remark)
        levels = spoken(voice, chosen, state, data.draw(st.integers(20, 6000)), tick_ms, pulse)
        if state >= PRESSING:
            # a new warning waits for nothing, a fault for the rest within a figure under way
            within = 1 if state <= STALLING else REST_MS // tick_ms + 3
            if state != before and len(levels) >= within:
                assert any(levels[:within])
            assert longest_silence(levels[1:]) * tick_ms <= silence_allowed_ms(
                chosen, state, pulse, tick_ms)


@given(settings_records(), TICKS_MS, st.lists(st.tuples(STATES, st.integers(1, 5)), max_size=60))
def test_states_that_change_every_few_ticks_cannot_choke_the_voice(record, tick_ms, stretches):
    """However states flicker among warnings and faults, half a second is never silent."""
    chosen = load(record)[0]
    voice = Voice(chosen)
    spoken(voice, chosen, QUIET, 1000, tick_ms, 2000)
    levels = []
    for state, ticks in stretches:
        state = state if state >= PRESSING else PRESSING + state
        levels += spoken(voice, chosen, state, ticks * tick_ms, tick_ms, 2000)
    assert longest_silence(levels) * tick_ms <= 500


@given(settings_records(), TICKS_MS, st.sampled_from([QUIET, CALM]))
def test_quiet_stays_silent(record, tick_ms, state):
    chosen = load(record)[0]
    voice = Voice(chosen)
    spoken(voice, chosen, state, LONGEST_FIGURE_MS + 200, tick_ms, 0)
    assert not any(spoken(voice, chosen, state, 20000, tick_ms, 0))


@given(settings_records(), TICKS_MS)
def test_a_warning_turns_quiet_within_its_edge(record, tick_ms):
    chosen = load(record)[0]
    voice = Voice(chosen)
    for state in (PRESSING, STALLING):
        spoken(voice, chosen, state, 1000, tick_ms, 2000)
        levels = spoken(voice, chosen, QUIET, 1000, tick_ms, 0)
        edge_ms = max(chosen.edge_ms, 2000 // chosen.sample_rate_hz)  # two ticks at least
        assert not any(levels[-(-edge_ms // tick_ms):])


@given(settings_records(), TICKS_MS, st.lists(st.tuples(STATES, st.integers(1, 40)), max_size=30))
def test_levels_never_step_faster_than_the_edge(record, tick_ms, stretches):
    chosen = load(record)[0]
    voice = Voice(chosen)
    levels = [0]
    for state, ticks in stretches:
        levels += spoken(voice, chosen, state, ticks * tick_ms, tick_ms, 5000)
    most = min(8, 8 * tick_ms // chosen.edge_ms + 1)  # 1: levels are whole eighths
    assert all(abs(b - a) <= most for a, b in zip(levels, levels[1:], strict=False))
    assert all(0 <= level <= 8 for level in levels)


BLIND = st.sampled_from([(NO_REPLY, FRESH), (FRESH, NO_REPLY), (STALE, STALE),
                         (SENSOR_FAULT, FRESH), (NO_REPLY, NO_REPLY)])


@settings(max_examples=60)
@given(st.integers(694, 1500), BLIND, st.integers(10, 12000))
def test_lost_data_never_turn_a_warning_into_silence(lift, statuses, ms):
    """cases H3: fault_every_ms of silence at most in the first 15 s, whatever was lost when."""
    rig = Rig()
    rig.fly(300, 2500)
    rig.fly(lift, 1500)
    warned = rig.unit.state
    assert warned >= PRESSING
    rows = rig.blind(ms, *statuses)
    assert all(row[1] >= PRESSING for row in rows)
    assert longest_silence([row[3] for row in rows]) * 10 <= 3000
    if warned == STALLING:
        held = [row[3] for row in rows if row[0] - rows[0][0] < 9500]
        assert all(held)


@settings(max_examples=60)
@given(st.integers(1320, 90000), st.integers(-30000, 30000),
       st.lists(st.tuples(st.integers(1, 60), st.sampled_from([FRESH, STALE, NO_REPLY])),
                min_size=1, max_size=12))
def test_airborne_without_data_the_unit_is_never_quiet_for_long(q, ratio, gaps):
    """No ratio for longer than fault_after_ms, and a window: then it says that it cannot know."""
    rig = Rig()
    angled = max(-99999, min(99999, q * ratio // 10000))
    rig.feel(q, angled, 1000)
    assert rig.unit.phase.flying
    unknown_ms = 0
    for ticks, status in gaps:
        for _ in range(ticks):
            rig.feel(q, angled, pitot=status)
            unknown_ms = 0 if rig.unit.lift_known else unknown_ms + 10
            if unknown_ms > 500 + 10:
                assert rig.unit.state >= PRESSING


@given(st.integers(200, 500), st.integers(1500, 90000))
def test_ordinary_flight_is_silent_after_the_first_remarks(lift, q):
    rig = Rig()
    angled = angled_for(lift, q)
    rig.feel(q, angled, 3000)
    assert not any(row[3] for row in rig.feel(q, angled, 3000))


@given(st.one_of(st.none(), st.just(((0, POINTS),))), st.integers(-5000, 5000))
def test_on_the_ground_only_faults_speak(curves, wind):
    """Any steady pressure below flying_q on the ground: no margin sound, ever."""
    unit = Unit(settings_with(), curves, (0, 0))
    sample = Sample()
    sample.pitot_status = sample.angled_status = FRESH
    sample.pitot_word, sample.angled_word = min(wind, 900), wind
    for now_ms in range(0, 4000, 10):
        unit.tick(now_ms, sample)
        assert unit.state in (QUIET, FAULT, UNCALIBRATED)
