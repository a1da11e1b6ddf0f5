"""A headless Chromium, told what to do over its own debugging protocol, through a pipe.

Two file descriptors, JSON messages that end with a zero byte (Chrome DevTools Protocol,
`--remote-debugging-pipe`): no driver, no package, no port.
"""

import base64
import json
import os
import select
import shutil
import subprocess
import sys
import time
from pathlib import Path

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
MISSING = f"no Chromium found ({', '.join(NAMES)}): page not tried; apt-get install chromium"
WAIT_S = 60.0
# The browser reads from descriptor 3 and writes to 4; ours may be any, those two included.
_AS_3_AND_4 = """import fcntl, os, sys
high = [fcntl.fcntl(int(word), fcntl.F_DUPFD, 20) for word in sys.argv[1:3]]
os.dup2(high[0], 3)
os.dup2(high[1], 4)
os.execv(sys.argv[3], sys.argv[3:])
"""


def find_browser() -> str:
    """Path of a Chromium. AssertionError with the remedy where there is none."""
    found = next((path for name in NAMES if (path := shutil.which(name))), None)
    assert found, MISSING
    return found


def there_is_none() -> bool:
    """Whether this machine has no Chromium; tests that need one then say so and are skipped."""
    return not any(shutil.which(name) for name in NAMES)


class Browser:
    """One page in one browser. `errors`: what its console complained about."""

    def __init__(self, folder: Path, width: int = 1400, height: int = 1000) -> None:
        self.errors: list[str] = []
        self._number = 0
        self._buffer = b""
        self._events: list[dict] = []
        ours_in, theirs_out = os.pipe()
        theirs_in, ours_out = os.pipe()
        self._in, self._out = ours_in, ours_out
        command = [find_browser(), "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
                   "--remote-debugging-pipe", f"--user-data-dir={folder / 'browser'}",
                   f"--window-size={width},{height}", "--disable-dev-shm-usage", "about:blank"]
        self._process = subprocess.Popen(
            [sys.executable, "-c", _AS_3_AND_4, str(theirs_in), str(theirs_out), *command],
            pass_fds=(theirs_in, theirs_out), stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL)
        os.close(theirs_in)
        os.close(theirs_out)
        self._session = ""
        page = next(t for t in self.say("Target.getTargets")["targetInfos"] if t["type"] == "page")
        self._session = self.say("Target.attachToTarget", targetId=page["targetId"],
                                 flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.say(f"{domain}.enable")
        self.requests: list[str] = []

    def __enter__(self) -> "Browser":
        return self

    def __exit__(self, *_: object) -> None:
        os.close(self._out)
        os.close(self._in)
        self._process.kill()
        self._process.wait()

    def say(self, method: str, **params: object) -> dict:
        """One command; its result."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._out, json.dumps(message).encode() + b"\0")
        until = time.monotonic() + WAIT_S
        while True:
            answer = self._read(until)
            if answer.get("id") == self._number:
                assert "error" not in answer, answer
                return answer["result"]
            self._note(answer)

    def _read(self, until: float) -> dict:
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._in], [], [], max(0.0, until - time.monotonic()))
            assert ready, "the browser does not answer"
            piece = os.read(self._in, 1 << 20)
            assert piece, "the browser has gone"
            self._buffer += piece
        message, self._buffer = self._buffer.split(b"\0", 1)
        return json.loads(message)

    def _note(self, event: dict) -> None:
        method, params = event.get("method"), event.get("params", {})
        if method == "Runtime.exceptionThrown":
            self.errors.append(json.dumps(params["exceptionDetails"]))
        elif method == "Log.entryAdded" and params["entry"]["level"] in ("error", "warning"):
            self.errors.append(json.dumps(params["entry"]))
        elif method == "Runtime.consoleAPICalled" and params["type"] in ("error", "warning"):
            self.errors.append(json.dumps(params["args"]))
        elif method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])

    def open(self, path: Path) -> None:
        """Load a file."""
        self.say("Page.navigate", url=path.resolve().as_uri())

    def value(self, expression: str) -> object:
        """What a JavaScript expression gives, awaited."""
        answer = self.say("Runtime.evaluate", expression=expression, returnByValue=True,
                          awaitPromise=True, userGesture=True)
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def wait_for(self, expression: str) -> None:
        """Until an expression is true."""
        until = time.monotonic() + WAIT_S
        while not self.value(expression):
            assert time.monotonic() < until, f"never true: {expression}; {self.errors}"
            time.sleep(0.05)

    def key(self, key: str, shift: bool = False) -> None:
        """Press and release a key."""
        text = {"text": key} if len(key) == 1 else {}
        for kind in ("keyDown", "keyUp"):
            self.say("Input.dispatchKeyEvent", type=kind, key=key,
                     modifiers=8 if shift else 0, **(text if kind == "keyDown" else {}))

    def drag(self, x1: float, y1: float, x2: float, y2: float) -> None:
        """Drag with the left button."""
        for kind, x, y, held in (("mouseMoved", x1, y1, 0), ("mousePressed", x1, y1, 1),
                                 ("mouseMoved", (x1 + x2) / 2, y2, 1), ("mouseMoved", x2, y2, 1),
                                 ("mouseReleased", x2, y2, 0)):
            self.say("Input.dispatchMouseEvent", type=kind, x=x, y=y, buttons=held,
                     button="none" if kind == "mouseMoved" else "left", clickCount=1)

    def picture(self, path: Path, whole: bool = False) -> None:
        """A screenshot, PNG; whole: of the whole page."""
        path.write_bytes(base64.b64decode(self.say(
            "Page.captureScreenshot", captureBeyondViewport=whole, format="png")["data"]))

    def pdf(self) -> bytes:
        """What the printer would get."""
        return base64.b64decode(self.say("Page.printToPDF", preferCSSPageSize=True,
                                         printBackground=True)["data"])
