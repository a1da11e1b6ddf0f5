"""The checks' other half: takes commands, writes news out, tries the flash, stores the table."""

import gc

from alula import states
from alula.ground_check import steps
from alula.ground_check.checks import ALL
from alula.ground_check.wiring import PORT_WORDS
from alula.log_layout import ASKED, ASKED_END, ASKED_NEXT, FLASH_FAILED
from alula.record_checks import is_date
from alula.record_payloads import CHECKS
from check_words import mistakes, told
from console.replies import ready, refused
from keeper import unheard

TRIED_BYTES = 4096
STEPS = {"zero": steps.ZERO, "noise": steps.NOISE, "puff": steps.PUFF, "sounds": steps.SOUNDS,
         "lamp": steps.LAMP, "button": steps.BUTTON, "timing": steps.TIMING, "flash": steps.FLASH}
USE = ("check %s | leak LINE | all | next | end | table; behind each: date YYYY-MM-DD"
       % " | ".join(sorted(STEPS)))


class CheckDesk:
    """One of the loop's followers; call `step` once a tick.

    plumbing: index. asked: called with (ASKED, code) when a command has changed what the unit
    does: whoever logs must know it.
    """

    def __init__(self, unit, vault, plumbing: int, say, asked=unheard) -> None:
        self._unit = unit
        self._vault = vault
        self._plumbing = plumbing
        self._say = say
        self._asked = asked
        self._told = 0
        self._row_count = 0
        self._saved_count = 0
        self._step = steps.OFF
        self._date = None
        self._kept = vault.load(CHECKS)[0] or []

    def step(self) -> None:
        """No allocation while nothing is new."""
        checks = self._unit.checks
        if self._told != checks.telling.told:
            self._tell(checks)
        if checks.step == self._step:
            return
        self._step = checks.step
        if checks.step == steps.OFF or checks.step == steps.VERDICT:
            self._save()

    def _tell(self, checks) -> None:
        telling = checks.telling
        first = max(self._told, telling.told - 8) if telling.told >= self._told else 0
        for number in range(first, telling.told):
            if telling.news(number) == steps.ROW_DONE:
                self._tell_rows(checks.results)
                continue
            line = told(checks, self._plumbing, telling.news(number))
            if line:
                self._say(line)
        self._told = telling.told
        if checks.step == steps.FLASH and telling.news(self._told - 1) == steps.STEP_BEGINS:
            self._try_flash(checks)

    def _tell_rows(self, results) -> None:
        for row in range(len(steps.ROWS)):
            if results.stamps[row] > self._row_count:
                self._say("check %s: %s" % (steps.ROWS[row][0], row_text(results, row)))
        self._row_count = results.count

    def _try_flash(self, checks) -> None:
        """Between two ticks, on the ground."""
        kept, problem = self._vault.try_flash(TRIED_BYTES)
        if problem:
            self._say("check flash: " + problem)
        checks.results.put(steps.ROW_FLASH, not problem, kept, TRIED_BYTES)
        free, least = self._vault.free_bytes(), self._vault.reserve_bytes // 1024
        free = -1 if free is None else free // 1024
        checks.results.put(steps.ROW_SPACE, free >= least, free, least)
        if problem or free < least:
            self._asked(ASKED, FLASH_FAILED)
        checks.telling.tell(steps.ROW_DONE)
        gc.collect()

    def _save(self) -> None:
        """What is new since the last time, over what is stored; on the ground only."""
        unit, results = self._unit, self._unit.checks.results
        if unit.phase.flying or results.count == self._saved_count:
            return
        fresh = []
        for row in range(len(steps.ROWS)):
            if results.stamps[row] and results.verdicts[row] != steps.NOT_DONE:
                fresh.append({"row": row, "verdict": results.verdicts[row],
                              "number": results.numbers[row], "limit": results.limits[row],
                              "date": self._date})
        new = [one["row"] for one in fresh]
        value = sorted([one for one in self._kept if one["row"] not in new] + fresh,
                       key=lambda one: one["row"])
        problem = self._vault.save(CHECKS, value)
        if problem:
            self._say(problem)
            return
        self._kept = value
        self._saved_count = results.count

    def command(self, words: list) -> dict:
        """`check ...`, without its first word; the answer."""
        if "date" in words:
            at = words.index("date")
            dates, words = words[at + 1:], words[:at]
            if len(dates) != 1 or not is_date(dates[0]):
                return refused("a date is YYYY-MM-DD", "send it so, or none")
            self._date = dates[0]
            self._saved_count = -1  # what was done without a date gets it
            if self._unit.checks.step == steps.OFF:
                self._save()
        name = words[0] if words else "help"
        if name == "table" and len(words) < 2:
            return self.table()
        if name in ("next", "end") and len(words) < 2:
            return self._go(name)
        if name == "all" and len(words) < 2:
            return self._begin(ALL, "all")
        code = self._code(words)
        if code == steps.OFF:
            return refused("there is no such check" if name != "help" else "a check must be named",
                           USE)
        return self._begin(code, " ".join(words))

    def _code(self, words: list) -> int:
        if words[:1] == ["leak"] and len(words) == 2:
            lines = PORT_WORDS[self._plumbing]
            return steps.LEAK_PITOT + lines.index(words[1]) if words[1] in lines else steps.OFF
        return STEPS.get(words[0], steps.OFF) if len(words) == 1 else steps.OFF

    def _begin(self, code: int, name: str) -> dict:
        unit = self._unit
        if not unit.can_check():
            return refused("the unit is not on the ground and quiet: it says %s"
                           % states.WORDS[unit.state], "mend that first")
        unit.check(code)
        self._asked(ASKED, code)
        return ready(check=name, hint="lines that follow say what to do; `check table` at the end")

    def _go(self, name: str) -> dict:
        checks = self._unit.checks
        if checks.step == steps.OFF:
            return refused("no check runs", USE)
        before = steps.STEP_WORDS[checks.step]
        if name == "next":
            checks.go_on()
        else:
            checks.end()
        self._asked(ASKED, ASKED_NEXT if name == "next" else ASKED_END)
        return ready(was=before, now=steps.STEP_WORDS[checks.step])

    def table(self) -> dict:
        """Every row: what was done now, else what is stored."""
        results, rows = self._unit.checks.results, []
        stored = {one["row"]: one for one in self._kept}
        passed = True
        for row in range(len(steps.ROWS)):
            verdict, number, limit = (results.verdicts[row], results.numbers[row],
                                      results.limits[row])
            date = self._date
            if not results.stamps[row] and row in stored:
                one = stored[row]
                verdict, number, limit, date = (one["verdict"], one["number"], one["limit"],
                                                one["date"])
            passed = passed and verdict != steps.FAILED
            rows.append({"check": steps.ROWS[row][0], "verdict": steps.VERDICT_WORDS[verdict],
                         "number": number, "limit": limit, "unit": steps.ROWS[row][1],
                         "date": date if verdict else None, "now": results.stamps[row] > 0})
        wiring = self._unit.checks.puff.wiring
        wrong = mistakes(wiring, self._plumbing) if (
            results.verdicts[steps.ROW_PUFF] == steps.FAILED) else []
        return ready(table=rows, failed=not passed, hoses=wrong,
                     running=steps.STEP_WORDS[self._unit.checks.step])


def row_text(results, row: int) -> str:
    """Verdict, number, unit, limit of a row."""
    return "%s, %d (%s; limit %d)" % (
        steps.VERDICT_WORDS[results.verdicts[row]], results.numbers[row], steps.ROWS[row][1],
        results.limits[row])
