"""What one tick of the loop brings in: raw words, and what each sensor said of its word."""

# What a driver says of its latest word. Public: drivers, logs and tests share these numbers.
FRESH = 0  # a new word
STALE = 1  # the sensor answered, but with the word that was fetched before
NO_REPLY = 2  # the bus call failed or ran out of time
SENSOR_FAULT = 3  # the sensor reports a fault of its own, or is in command mode
NOT_FITTED = 4  # no such sensor in this unit

# Flap settings are 0 and up; these two say that there is none to tell.
FLAP_NOT_WIRED = -1  # no flap switches, or no flaps
FLAP_UNCLEAR = -2  # switches are fitted, but show no setting or several

NO_TEMPERATURE = -9999  # no sensor has told one


class Sample:
    """Raw words of one tick; the loop overwrites one and the same object.

    Pressure words are as the sensor sent them (14 bit), or the pressure itself in 0.1 Pa for
    `direct` and for the 24-bit family. Sign, zero and scale come later, in `transfer`
    and `conditioning`.
    """

    def __init__(self) -> None:
        self.pitot_status = NO_REPLY
        self.pitot_word = 0
        self.angled_status = NO_REPLY
        self.angled_word = 0
        self.nz_status = NOT_FITTED
        self.nz_mg = 0  # wing-normal acceleration in 1/1000 g, +1000 in level flight
        self.flap = FLAP_NOT_WIRED
        self.button = 0  # 1 while the button is held
        self.temperature_dc = NO_TEMPERATURE  # of the sensors, 0.1 degC; now and then is enough
