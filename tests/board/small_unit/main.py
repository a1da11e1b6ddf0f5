"""A unit of few files for the tests of copying: it answers by what each of its parts says."""

import sys

import machine
from parts import ear, tail, voice
from starter import says

ANSWER = '{"ok": true, "firmware": "%s", "board": "rpi_pico", "flying": false, "parts": "%s"}'


def answer(words):
    """One line of JSON; the names are the protocol's."""
    if words == "status":
        print(ANSWER % (says.strip(), "".join([says[0], ear.SAYS[0], voice.SAYS[0],
                                               tail.SAYS[0]])))
    elif words in ("maintain", "restart"):
        print('{"ok": true, "restarting": "%s"}' % words)
        machine.maintain() if words == "maintain" else machine.reset()
    else:
        print('{"ok": false, "why": "unknown", "do": "ask for status"}')


if __name__ == "__main__":
    if machine.maintained:
        print("maintenance: alula not started")
    else:
        print("alula: small")
        while True:
            line = sys.stdin.readline()
            if "\x03" in line:
                raise KeyboardInterrupt
            if line.strip():
                answer(line.strip())
