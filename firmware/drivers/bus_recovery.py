"""Freeing an I2C bus whose data line a device holds low.

A device that was cut off in the middle of a read (reset, glitch, timeout) waits with its bit on
the data line for clocks that never come. NXP UM10204 (rev. 6, section 3.1.16, bus clear): send
nine clock pulses; the device that held the line should let go within them. Nine, and not "until
the line is high": a high line may be just a one bit, and only the ninth pulse reaches the
acknowledge slot, where the released line tells the device to stop.
"""

from micropython import const

CLOCKS = const(9)
_HALF_PERIOD_US = const(5)  # 100 kHz, the slowest standard bus speed


def free_bus(scl_pin, sda_pin, sleep_us) -> bool:
    """True when the data line is high, at once or after nine clocks and a STOP.

    scl_pin, sda_pin: open-drain pins with `value()` and `value(level)`, both left released.
    sleep_us: waits that many microseconds.
    False also when the clock line itself is held low: only the device's power helps then.
    About 0.1 ms at most; never raises by itself.
    """
    sda_pin.value(1)
    scl_pin.value(1)
    sleep_us(_HALF_PERIOD_US)
    if not scl_pin.value():
        return False
    if sda_pin.value():
        return True
    for _ in range(CLOCKS):
        scl_pin.value(0)
        sleep_us(_HALF_PERIOD_US)
        scl_pin.value(1)
        sleep_us(_HALF_PERIOD_US)
    _stop(scl_pin, sda_pin, sleep_us)
    return bool(sda_pin.value())


def _stop(scl_pin, sda_pin, sleep_us) -> None:
    """STOP: the data line rises while the clock is high."""
    scl_pin.value(0)
    sda_pin.value(0)
    sleep_us(_HALF_PERIOD_US)
    scl_pin.value(1)
    sleep_us(_HALF_PERIOD_US)
    sda_pin.value(1)
    sleep_us(_HALF_PERIOD_US)
