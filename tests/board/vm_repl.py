"""MicroPython's prompt and raw REPL over standard input and output, written for the VM.

After shared/runtime/pyexec.c of MicroPython, as far as mpremote uses it: Ctrl-A raw, Ctrl-B back
with the banner, Ctrl-C drops the line, Ctrl-D runs it or, on an empty line, starts the program
again; Ctrl-E A Ctrl-A is raw paste, with a window. The code runs in this very interpreter.
"""

import io
import select
import sys

WINDOW = 128
BANNER = "%s; %s\r\nType \"help()\" for more information.\r\n"
PROMPT = ">>> "
RAW = "raw REPL; CTRL-B to exit\r\n"


class SoftReset(BaseException):
    """Ctrl-D on an empty line."""


class Terminal:
    """Bytes in and out. idle: called while nothing comes."""

    def __init__(self, idle):
        self._poll = select.poll()
        self._poll.register(sys.stdin, select.POLLIN)
        self._idle = idle

    def get(self):
        while not self._poll.poll(20):
            self._idle()
        byte = sys.stdin.buffer.read(1)
        if not byte:
            sys.exit(0)  # the other end of the line is gone for good
        return byte[0]

    def put(self, data):
        sys.stdout.buffer.write(data if isinstance(data, bytes) else data.encode())


class Repl:
    def __init__(self, terminal, names, raw_paste=True):
        self._terminal = terminal
        self._names = names
        self._raw_paste = raw_paste
        self._banner = BANNER % (sys.version.split("; ")[1], sys.implementation._machine)

    def run(self):
        """For ever; SoftReset, or whatever the board raises, ends it."""
        put = self._terminal.put
        put(self._banner + PROMPT)
        line = b""
        while True:
            byte = self._terminal.get()
            if byte == 1:
                self._raw()
                line = b""
                put("\r\n" + self._banner + PROMPT)
            elif byte == 2:
                line = b""
                put("\r\n" + self._banner + PROMPT)
            elif byte == 3:
                line = b""
                put("\r\n" + PROMPT)
            elif byte == 4:
                if not line:
                    put("\r\nMPY: soft reboot\r\n")
                    raise SoftReset
            elif byte == 13:
                put("\r\n")
                if line.strip():
                    self._execute(line, sys.stdout)
                line = b""
                put(PROMPT)
            elif 32 <= byte < 127:
                line += bytes([byte])
                put(bytes([byte]))  # the echo

    def _raw(self):
        put = self._terminal.put
        put(RAW)
        code = b""
        put(">")
        while True:
            byte = self._terminal.get()
            if byte == 1:
                code = b""
                put("\r\n" + RAW + ">")
            elif byte == 2:
                return
            elif byte == 3:
                code = b""
            elif byte == 4:
                if not code:
                    put("OK\r\nMPY: soft reboot\r\n")
                    raise SoftReset
                put("OK")
                self._answer(code)
                code = b""
            elif byte == 5 and not code:
                self._paste()
            else:
                code += bytes([byte])

    def _paste(self):
        put = self._terminal.put
        if self._terminal.get() != ord("A"):
            return
        self._terminal.get()
        if not self._raw_paste:
            put(b"R\x00")
            return
        put(b"R\x01" + bytes([WINDOW & 255, WINDOW >> 8]) + b"\x01")
        code = bytearray()
        left = 2 * WINDOW
        while True:
            byte = self._terminal.get()
            if byte == 4:
                break
            if byte == 3:
                put(b"\x04\x04>")
                return
            code.append(byte)
            left -= 1
            if left == WINDOW:
                put(b"\x01")
                left += WINDOW
        put(b"\x04")
        self._answer(bytes(code))

    def _answer(self, code):
        error = io.StringIO()
        self._execute(code, error)
        self._terminal.put(b"\x04" + error.getvalue().encode() + b"\x04>")

    def _execute(self, code, told):
        try:
            exec(str(code, "utf-8"), self._names)
        except Exception as error:
            sys.print_exception(error, told)
        except KeyboardInterrupt as error:
            sys.print_exception(error, told)
