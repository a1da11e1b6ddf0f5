"""Case C1, C2: the zero told in Pa and in knots; a refusal with its reason; warmth."""

from alula.intmath import airspeed_ckt
from tests.both.core_rig import Rig, settings_with
from zero_story import ZeroStory, knots, tenths


class Told(Rig):
    """A rig whose zero is told; lines: what was said."""

    def __init__(self, stored_dc=None, **changes) -> None:
        super().__init__(**changes)
        self.lines = []
        self._story = ZeroStory(self.unit, settings_with(), stored_dc, self.lines.append)

    def stand(self, q_dpa: int, angled_dpa: int, ms: int) -> None:
        for _ in range(0, ms, 100):
            self.feel(q_dpa, angled_dpa, 100)
            self._story.step()


def test_a_zero_is_told_in_pascals_and_knots():
    rig = Told(zero=(150, -110))
    rig.stand(182, -115, 4000)
    assert len(rig.lines) == 1
    # 3.2 Pa is the dynamic pressure of 4.4 kt: sqrt(2 * 3.2 / 1.225) m/s
    assert "18.2 Pa" in rig.lines[0] and "-11.5 Pa" in rig.lines[0]
    assert "3.2 Pa (4.4 kt)" in rig.lines[0] and "-0.5 Pa" in rig.lines[0]


def test_a_refusal_says_why_what_is_allowed_and_what_to_do():
    rig = Told(zero=(0, 0))
    rig.stand(360, 0, 9000)  # 15 kt of wind is 36 Pa
    assert len(rig.lines) == 1
    line = rig.lines[0]
    assert "36.0 Pa (14.9 kt)" in line and "11.5 Pa" in line and "7 %" in line
    assert "stays in use" in line and "button" in line


def test_unquiet_air_is_told_apart():
    rig = Told(zero=(0, 0))
    for at in range(60):
        rig.stand(100 if at % 10 < 5 else 0, 0, 100)
    assert rig.lines and "not still" in rig.lines[0]


def test_warmth_is_told_once():
    rig = Told(stored_dc=200, zero=(0, 0))
    rig.sample.temperature_dc = 349
    rig.stand(900, 0, 500)
    assert not [line for line in rig.lines if "degC" in line]
    rig.sample.temperature_dc = 351
    rig.stand(900, 0, 3000)
    told = [line for line in rig.lines if "degC" in line]
    assert len(told) == 1 and "20.0 degC" in told[0] and "35.1" in told[0]
    silent = Told(stored_dc=None, zero=(0, 0))
    silent.sample.temperature_dc = 500
    silent.stand(900, 0, 1000)
    assert not [line for line in silent.lines if "degC" in line]


def test_numbers_keep_their_signs():
    assert tenths(-5) == "-0.5" and tenths(0) == "0.0" and tenths(-110) == "-11.0"
    assert knots(-160).startswith("-16.0 Pa (9.9 kt") and airspeed_ckt(160) == 993
