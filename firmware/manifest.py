# ruff: noqa: F821
# mypy: disable-error-code="name-defined"
"""For a kit maker who builds MicroPython with the firmware inside, instead of copying files.

    make -C ports/rp2 BOARD=RPI_PICO FROZEN_MANIFEST=PATH/firmware/manifest.py
    make -C ports/esp32 BOARD=ESP32_GENERIC FROZEN_MANIFEST=PATH/firmware/manifest.py

(MicroPython documentation, "MicroPython manifest files".) The build reads this file; it is no
part of the firmware and never runs on a board. Remove old copies from the flash: its root comes
before `.frozen` in sys.path (MicroPython commit aac5a97), so they would be taken instead. A board
file of your own goes into boards/ before the build, as `this_board.py`. Not tried: no image has
been built from it; a test checks that no file is left out.
"""

include("$(PORT_DIR)/boards/manifest.py")  # what the port itself needs, its boot among it

package("alula", opt=2)
package("boards", opt=2)
package("console", opt=2)
package("drivers", opt=2)
module("assembly.py", opt=2)
module("check_desk.py", opt=2)
module("check_words.py", opt=2)
module("keeper.py", opt=2)
module("log_keeper.py", opt=2)
module("log_store.py", opt=2)
module("loop.py", opt=2)
module("main.py", opt=2)
module("maintenance.py", opt=2)
module("narrator.py", opt=2)
module("starts.py", opt=2)
module("startup.py", opt=2)
module("stop.py", opt=2)
module("stored.py", opt=2)
module("zero_story.py", opt=2)
