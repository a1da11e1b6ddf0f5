"""Steps of the checks and rows of their table, in order; the numbers are stored in records."""

from micropython import const

OFF = const(0)
ZERO, NOISE, PUFF = const(1), const(2), const(3)
LEAK_PITOT, LEAK_STATIC, LEAK_ANGLED, LEAK_UPPER = const(4), const(5), const(6), const(7)
SOUNDS, LAMP, BUTTON, TIMING, FLASH = const(8), const(9), const(10), const(11), const(12)
VERDICT = const(13)
LAST = const(12)
STEP_WORDS = ("off", "zero", "noise", "puff", "leak pitot", "leak static", "leak angled",
              "leak upper", "sounds", "lamp", "button", "timing", "flash", "verdict")

# Rows: name, what its number counts. Limits stand beside each result.
ROWS = (
    ("zero", "0.1 Pa from the anchor"),
    ("noise-pitot", "0.1 Pa, standard deviation"),
    ("noise-angled", "0.1 Pa, standard deviation"),
    ("puff", "mistakes found"),
    ("leak-pitot", "per mille lost in a minute"),
    ("leak-static", "per mille lost in a minute"),
    ("leak-angled", "per mille lost in a minute"),
    ("leak-upper", "per mille lost in a minute"),
    ("sounds", "sounds played"),
    ("lamp", "flashes shown"),
    ("button", "changes of its contact in one press"),
    ("missed", "deadlines missed in 10 s"),
    ("longest", "ms, longest tick in 10 s"),
    ("flash", "bytes written and read back"),
    ("space", "kB free"),
)
(ROW_ZERO, ROW_NOISE_PITOT, ROW_NOISE_ANGLED, ROW_PUFF, ROW_LEAK, _, _, _, ROW_SOUNDS, ROW_LAMP,
 ROW_BUTTON, ROW_MISSED, ROW_LONGEST, ROW_FLASH, ROW_SPACE) = range(15)

NOT_DONE, PASSED, FAILED, SKIPPED = const(0), const(1), const(2), const(3)
VERDICT_WORDS = ("not done", "pass", "fail", "skipped")

# What the pilot is told: figures in `telling`, words in `check_words`
(NO_NEWS, STEP_BEGINS, ASK_PORT, TAKEN, TOO_STRONG, SILENT, UNSTILL, WRONG, RIGHT, PUSH, HOLDING,
 LET_GO, NOT_A_TEST, GIVEN_UP, OTHER_MOVES, TOO_MUCH, LEAK_RESULT, ROW_DONE, NEXT_SOUND, CONFIRM,
 PRESS_NOW, ENDED, LEFT, REFUSED, VERDICT_COMES, MOVING) = range(26)
NEWS_COUNT = 26
