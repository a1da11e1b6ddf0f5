"""A board on a USB cable: the MicroPython VM behind a pseudo-terminal, with a flash that stays.

The port is a link to the pseudo-terminal; while the board restarts, it is gone for a moment, as on
USB. The cable can be pulled, the power cut, and files laid on the flash or looked at meanwhile.
"""

import json
import os
import pty
import select
import subprocess
import threading
import time
import tty
from pathlib import Path

from littlefs import LittleFS
from littlefs.context import UserContext

from host_sim.runtimes.paths import ROOT
from host_sim.runtimes.run import find_vm
from tests.board.vm_flash import BLOCK_BYTES

HERE = Path(__file__).parent
RESET, MAINTAIN, CUT = 40, 41, 42  # exit codes of vm_board.py
GONE_S = 0.05
UP_S = 20.0  # on a busy machine


class VmBoard:
    """Off at first; every program on it says something when it starts.

    port: the path to hand to --port. codes: how the VM has ended each time."""

    def __init__(self, folder: Path, name: str = "board", blocks: int = 352) -> None:
        self.port = str(folder / name)
        self.codes: list[int] = []
        self.job = {"flash": str(folder / (name + ".flash")), "blocks": blocks, "cut_at": 0,
                    "rot": "", "sensors": False, "raw_paste": True, "repository": str(ROOT),
                    "maintenance": False, "start_word": "power", "platform": "rp2",
                    "person": None, "plumbing": "port-static", "hurry": 20}
        self._folder = folder
        self._process: subprocess.Popen | None = None
        self._slave = -1
        self._thread: threading.Thread | None = None
        self._on = False
        self._lock = threading.Lock()
        self.blank()

    def blank(self) -> None:
        """A flash that was never written."""
        Path(self.job["flash"]).write_bytes(b"\xff" * BLOCK_BYTES * self.job["blocks"])

    def power_on(self) -> None:
        """Power up, and be there until `power_off`, through every restart."""
        self._on = True
        self.job.update(maintenance=False, start_word="power")
        self._start()
        select.select([self._slave], [], [], UP_S)  # it has something to say
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def power_off(self) -> None:
        """As pulling the plug."""
        with self._lock:
            self._on = False
            if self._process is not None:
                self._process.kill()
        if self._thread is not None:
            self._thread.join()

    def put(self, files: dict[str, bytes]) -> None:
        """Lay files on the flash of a board that is off."""
        lfs, context = self._mounted()
        for name, data in files.items():
            lfs.makedirs(str(Path(name).parent), exist_ok=True)
            with lfs.open(name, "wb") as file:
                file.write(data)
        lfs.unmount()
        Path(self.job["flash"]).write_bytes(bytes(context.buffer))

    def files(self) -> dict[str, bytes]:
        """Every file on the flash."""
        lfs, _ = self._mounted()
        found = {}
        for folder, _, names in lfs.walk("/"):
            for name in names:
                path = folder.rstrip("/") + "/" + name
                with lfs.open(path, "rb") as file:
                    found[path] = file.read()
        return found

    def _mounted(self) -> tuple[LittleFS, UserContext]:
        """The flash, as a board finds it: made empty where it has no file system."""
        data = bytearray(Path(self.job["flash"]).read_bytes())
        context = UserContext(buffer=data)
        lfs = LittleFS(context=context, block_size=BLOCK_BYTES, block_count=self.job["blocks"],
                       mount=False)
        if data == b"\xff" * len(data):
            lfs.format()
        lfs.mount()
        return lfs, context

    def _start(self) -> None:
        master, self._slave = pty.openpty()
        tty.setraw(self._slave)
        job = self._folder / "job.json"
        job = job.with_name(Path(self.port).name + ".job")
        job.write_text(json.dumps(self.job))
        self._process = subprocess.Popen(
            [find_vm(), str(HERE / "vm_board.py"), str(job)], stdin=master, stdout=master,
            env={**os.environ, "MICROPYPATH": str(HERE)})
        os.close(master)
        link = Path(self.port + ".new")
        link.symlink_to(os.ttyname(self._slave))
        os.replace(link, self.port)

    def _watch(self) -> None:
        while True:
            assert self._process is not None
            code = self._process.wait()
            self.codes.append(code)
            Path(self.port).unlink(missing_ok=True)
            os.close(self._slave)
            if not self._on or code not in (RESET, MAINTAIN):
                self._process = None
                return
            self.job.update(maintenance=code == MAINTAIN, start_word="restart")
            time.sleep(GONE_S)
            with self._lock:
                if not self._on:
                    self._process = None
                    return
                self._start()
