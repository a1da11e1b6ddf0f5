"""Started inside the MicroPython VM: the blocks of a storm, as hexadecimal text, a line each.

    micropython log_bytes_main.py SEED TICKS
"""

import binascii
import sys

from tests.both.log_rig import stormy

logged = stormy(int(sys.argv[1]), int(sys.argv[2]))
logged.end()
for block in logged.blocks:
    print(str(binascii.hexlify(block), "ascii"))
