"""Nothing that is typed changes what is heard in the air. Both interpreters."""

from alula import states
from console.commands import COMMANDS
from console.desk import ConsoleDesk
from console.facts import Facts
from drivers.console import PATIENCE, Console
from host_sim.bench.fake_console import FakeKeys, FakePoller, FakeStream
from host_sim.bench.locked_heap import run_with_locked_heap
from tests.both.console_rig import Talk
from tests.both.log_rig import Random
from tests.both.start_rig import stored

HARMFUL = ("mute", "volume 0", "off", "set calm_sound off", "set stalling_pm 990",
           "set fault_every_ms 10000", "set pressing_pm 900", "check sounds", "check all",
           "check end", "check next", "\x03", "\x04", "\x01", "\x1b[A", "{}", "", " ")
CHECKS = ("all", "puff", "leak pitot", "leak static", "noise", "sounds", "lamp", "button", "next",
          "timing", "flash", "end", "table date 2026-11-25")
LEGS = (  # ticks, lift
    (150, 300), (150, 560), (150, 750), (100, 860), (150, 1000), (100, 700), (250, 300),
    (120, 1000), (200, 300))


def typed(random: Random, air: bool, checks: bool = False) -> str:
    """A command, garbage, or a command with a few characters changed. On the ground none that is
    meant to change the unit that runs: zero, restarts, and checks only where they are wanted."""
    kind = random.below(4)
    if kind == 0:
        return "".join([chr(random.below(256)) for _ in range(random.below(200))])
    name = COMMANDS[random.below(len(COMMANDS))][0]
    if checks and random.below(2):
        return "check %s\n" % CHECKS[random.below(len(CHECKS))]
    if kind == 1:
        name = HARMFUL[random.below(len(HARMFUL))]
    if not air and (name in ("zero", "restart", "maintain") or name.startswith("check")):
        name = "status"
    if kind == 2 and name:
        at = random.below(len(name))
        name = name[:at] + chr(random.below(128)) + name[at + 1:]
    return name + "\r\n"[random.below(2):]


def flown(seed: int, checks: bool = False) -> Talk:
    """A flight with a storm of commands; without one where the seed is 0."""
    talk, random = Talk(), Random(seed)
    for _ in range(60):
        if seed:
            talk.type(typed(random, False, checks))
        talk.run(10)
    for ticks, lift_pm in LEGS:
        for _ in range(ticks // 10):
            if seed:
                for _ in range(random.below(4)):
                    talk.type(typed(random, True))
                talk.board.console._poller.listening = random.below(5) > 0
            talk.fly(10, lift_pm)
    talk.heard_states = {row[0] for row in talk.heard}
    return talk


def test_a_storm_of_commands_leaves_every_tone_as_it_is():
    calm = flown(0)
    assert {states.CALM, states.PRESSING, states.STALLING} <= calm.heard_states
    for seed in (1, 2, 3):
        stormy = flown(seed)
        assert stormy.heard == calm.heard, seed
        assert stormy.board.restarts == stormy.board.maintains == 0
        assert stormy.board.watchdog.bites == 0 and stormy.unit.loop.missed == 0


def test_checks_on_the_ground_leave_every_tone_in_the_air_as_it_is():
    ground = 320 + 600
    calm = flown(0)
    for seed in (4, 5, 6, 7):
        stormy = flown(seed, True)
        begun = stormy.unit.loop.unit.checks.telling.told
        assert begun > 0 and stormy.unit.loop.unit.checks.step == 0
        settled = ground + 100  # flying_ms and the end of a figure
        assert stormy.heard[settled:] == calm.heard[settled:], seed


def test_a_storm_while_the_unit_cannot_know_leaves_the_fault_sound():
    def heard(seed: int) -> list:
        talk, random = Talk(), Random(seed)
        talk.fly(200, 300)
        talk.board.pitot_i2c.lines.hold_for_ever()
        for _ in range(60):
            if seed:
                talk.type(typed(random, True))
            talk.fly(10)
        assert talk.unit.loop.unit.state == states.FAULT
        return talk.heard

    assert heard(0) == heard(7)


class Still:
    """A console desk on a unit that does not change."""

    def __init__(self, flying: bool) -> None:
        self.stream, self.poller, self.keys = FakeStream(), FakePoller(), FakeKeys()
        talk = Talk()
        self.board = talk.board
        self.board.console = Console(self.stream, self.poller, self.keys, self.keys,
                                     self.stream.buffer)
        unit = talk.unit.loop.unit
        if flying:
            unit.phase.flying, unit.state = True, states.PRESSING
        self.desk = ConsoleDesk(Facts(self.board, stored()[0], unit, None), 10)

    def step(self) -> None:
        self.desk.step()


def test_nothing_is_allocated_while_nothing_comes():
    still = Still(False)
    still.step()
    run_with_locked_heap(still.step, 500)


def test_nothing_is_allocated_in_the_air_while_a_warning_sounds_whatever_comes():
    still = Still(True)
    still.keys.type(b"status\nset window_ms 100\n\xff\n" + bytes(300) + b"\n" + 200 * b"x" + b"\n")
    still.step()
    run_with_locked_heap(still.step, 500)
    told = still.stream.lines()
    assert len(told) == 5 and len(set(told)) == 1 and '"ok": false' in told[0]


def test_nothing_is_allocated_while_nobody_takes_the_answer():
    still = Still(False)
    still.keys.type("status\n")
    still.step()
    still.poller.listening = False
    still.step()
    run_with_locked_heap(still.step, PATIENCE + 10)
    assert not still.board.console.answering()
