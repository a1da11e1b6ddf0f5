"""`set NAME VALUE`: one value into the stored settings, the old or the new, never half."""

from alula.record_payloads import SETTINGS
from alula.settings import TABLE, load
from console.replies import ready, refused

_DIGITS_MOST = 9


def set_one(facts, name: str, text: str) -> dict:
    """Check the whole record with the new value, store it, read it back; the answer."""
    row = _row(name)
    if row is None:
        return refused("%s is not a setting" % name, "see the settings reference")
    value = _value(row, text)
    record = dict(facts.record) if isinstance(facts.record, dict) else {}
    record[name] = value
    problems = load(record)[1]
    if problems:
        return refused("%s %s" % problems[0], "nothing is stored; correct it and send it again")
    problem = facts.vault.save(SETTINGS, record)
    if problem:
        return refused(problem, "ask for settings to see what is stored")
    facts.record = facts.vault.load(SETTINGS)[0]
    return ready(set=name, value=value, effect="at the next start")


def _row(name: str):
    for row in TABLE:
        if row[0] == name:
            return row
    return None


def _value(row: tuple, text: str):
    """A word for a word setting; a number where it is one. What is neither stays text, and the
    loader says what is wrong with it."""
    digits = text[1:] if text[0] == "-" else text
    if isinstance(row[4], tuple) or len(digits) > _DIGITS_MOST or not digits or not all(
            "0" <= c <= "9" for c in digits):
        return text
    return int(text)
