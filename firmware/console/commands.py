"""The one table of commands: `help` and the reference page are made from it."""

# name, what follows it, what it does
COMMANDS = (
    ("status", "", "what the unit is, what it measures, what amiss"),
    ("settings", "", "every setting that is set, by name"),
    ("set", "NAME VALUE", "stores one setting; it takes effect at the next start"),
    ("zero", "", "asks for a new first zero, as the button held at power-up does"),
    ("records", "", "the records that are stored, their version and size"),
    ("check", "STEP [...]", "ground checks: `check help`"),
    ("maintain", "", "restarts into maintenance: the unit is not started, files can be copied"),
    ("restart", "", "restarts the unit"),
    ("help", "", "these commands"),
)
IN_AIR = ("status", "settings")  # and these only while quiet; all else is refused
