"""A board made of the VM: a flash file, a prompt on standard input and output, and the unit.

micropython vm_board.py JOB.json

The job: {"flash": path, "blocks": n, "cut_at", "rot", "maintenance": bool, "raw_paste": bool,
"sensors": bool (else they are silent), "start_word", "repository", "platform": what `sys.platform`
says, "hurry": the unit's time runs so much faster than the wall's, "person": None, or what
`tests.board.person.Person` is to find amiss: somebody does what the unit asks for, "plumbing": of
that person's hoses}. As a board does, it mounts the flash, runs /main.py, and then gives the
prompt. The program on the flash is the firmware itself; only the hardware below it is the bench's.
Exit codes: RESET, MAINTAIN (a reset with the mark set), CUT (no power).
"""

import json
import os
import sys
import time

import vfs
from vm_flash import FileFlash, PowerCut
from vm_repl import Repl, SoftReset, Terminal

RESET, MAINTAIN, CUT = 40, 41, 42
NOISE = (0, 1, 0, -1, 1, 2, 0, -1, 0, 1, -2)  # steps


class Leave(BaseException):
    """The board resets."""

    code = RESET


class LeaveToMaintain(Leave):
    """With the mark set."""

    code = MAINTAIN


class Machine:
    """`machine`, as far as `alula board` uses it on a board."""

    class WDT:
        def __init__(self, timeout):
            DOG[0] = time.ticks_add(time.ticks_ms(), timeout)
            self._timeout = timeout

        def feed(self):
            DOG[0] = time.ticks_add(time.ticks_ms(), self._timeout)

    class Timer:
        PERIODIC = 1

        def __init__(self, number, period, mode, callback):
            TIMERS.append([period, time.ticks_ms(), callback, self])

    maintained = False  # for the small unit of the tests: the mark, and how to set it

    @staticmethod
    def reset():
        raise Leave

    @staticmethod
    def maintain():
        raise LeaveToMaintain


DOG = [None]
TIMERS = []


def idle():
    """What a board does beside the prompt: the watchdog, timers."""
    now = time.ticks_ms()
    for timer in TIMERS:
        if time.ticks_diff(now, timer[1]) >= timer[0]:
            timer[1] = now
            timer[2](timer[3])
    if DOG[0] is not None and time.ticks_diff(now, DOG[0]) > 0:
        raise Leave


def make_clock_class(job):
    """A clock that keeps pace, and before each tick lets the sensors feel what is to be felt."""
    from host_sim.bench.virtual_clock import VirtualClock

    class PacedClock(VirtualClock):
        turns, sensors, person = 0, (), None

        def wait_until_ms(self, deadline_ms):
            before = self.elapsed_us()
            late = VirtualClock.wait_until_ms(self, deadline_ms)
            pause_us = (self.elapsed_us() - before) // job["hurry"]
            if pause_us:
                time.sleep_us(pause_us)
            self.turns += 1
            if self.person is not None:
                self.person.move()
            for sensor in self.sensors:  # still air, and the noise of a sensor
                sensor.refresh(8191 + NOISE[self.turns % len(NOISE)])
            return late

    return PacedClock


class Keys:
    """What the computer sends."""

    def readinto(self, buffer):
        count = sys.stdin.buffer.readinto(buffer)
        if count and buffer[0] == 3:
            raise KeyboardInterrupt  # as the board's USB driver does
        return count


def make_console(person):
    """On the real line; the person hears what is said."""
    import select

    from drivers.console import Console

    def poller(stream, what):
        found = select.poll()
        found.register(stream, what)
        return found

    class Heard(Console):
        def say(self, line):
            Console.say(self, line)
            if person is not None:
                person.hear(line)

    return Heard(sys.stdout, poller(sys.stdout, select.POLLOUT), Keys(),
                 poller(sys.stdin, select.POLLIN), sys.stdout.buffer)


def make_board_class(job):
    """The bench's board, with a console on the real line and a clock that keeps pace."""
    from host_sim.bench.bench_board import BenchBoard
    from tests.board.person import Person

    class Board(BenchBoard):
        def __init__(self):
            clock = make_clock_class(job)()
            BenchBoard.__init__(self, clock)
            if job["person"] is not None:
                clock.person = Person(job["plumbing"], job["person"], self)
            elif job["sensors"]:
                clock.sensors = (self.pitot_sensor, self.angled_sensor)
            self.console = make_console(clock.person)
            self.name = "rpi_pico"
            self.maintenance = job["maintenance"]
            self.start_word = job["start_word"]

        def restart(self):
            raise Leave

        def maintain(self):
            raise LeaveToMaintain

        def make_watchdog(self, timeout_ms):
            job["dog_ms"] = timeout_ms  # bites at the prompt; the running unit has the bench's
            return BenchBoard.make_watchdog(self, timeout_ms)

    return Board


class System:
    """`sys` of a board of another port."""

    def __init__(self, platform):
        self.platform = platform

    def __getattr__(self, name):
        return getattr(sys, name)


class BoardRoom:
    """A board file that lies on the flash, made of the bench when the firmware asks for it."""

    def __init__(self, job):
        self._job = job

    def __getattr__(self, name):
        return make_board_class(self._job)


def mount(job):
    """The flash as the root, made empty where there is no file system, as a board does."""
    flash = FileFlash(job["flash"], job["blocks"], job["cut_at"], job["rot"].encode())
    try:
        found = vfs.VfsLfs2(flash)
    except OSError:
        vfs.VfsLfs2.mkfs(flash)
        found = vfs.VfsLfs2(flash)
    vfs.umount("/")
    vfs.mount(found, "/")
    vfs.mount(vfs.VfsPosix(job["repository"]), "/repository")
    os.chdir("/")
    sys.path[:] = ["", "/lib", "/repository"]


def board_files():
    """Names of the board files that a program on the flash would find."""
    found = []
    for place in ["/boards"] + ["/" + name + "/boards" for name in os.listdir("/")]:
        try:
            names = os.listdir(place)
        except OSError:
            continue
        found += [name.split(".")[0] for name in names
                  if name.split(".")[0] in ("rpi_pico", "esp32", "this_board")]
    return found


def run_main(job, names):
    """Run /main.py, if there is one, as the board's start does."""
    try:
        with open("/main.py") as file:
            text = file.read()
    except OSError:
        return
    try:
        exec(text, names)
    except Exception as error:
        sys.print_exception(error)
    except KeyboardInterrupt as error:
        sys.print_exception(error)
        if job["dog_ms"]:
            DOG[0] = time.ticks_add(time.ticks_ms(), job["dog_ms"])


def main(path):
    with open(path) as file:
        job = json.load(file)
    job["dog_ms"] = 0
    mount(job)
    Machine.maintained = job["maintenance"]
    sys.modules["machine"] = Machine
    sys.modules["sys"] = System(job["platform"])
    for name in board_files():
        sys.modules["boards." + name] = BoardRoom(job)
    names = {"__name__": "__main__"}
    try:
        run_main(job, names)
        Repl(Terminal(idle), names, job["raw_paste"]).run()
    except Leave as leave:
        sys.exit(leave.code)
    except SoftReset:
        sys.exit(RESET)
    except PowerCut:
        sys.exit(CUT)


main(sys.argv[1])
