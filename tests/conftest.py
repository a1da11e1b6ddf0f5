"""Puts the firmware and its one shim on the path, as the desk tools do."""

from host_sim.runtimes.paths import use_firmware

use_firmware()
