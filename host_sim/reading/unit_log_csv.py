"""A unit's log as CSV, one row a tick; `unit_log_pack` makes the same bytes of it again.

Lines that begin with `#block` say what a row cannot:
`#block,KIND,SESSION,SEQUENCE,FIRST_MS,COUNT,HEX`. HEX is a data block's context, or the whole
payload of another one. A row belongs to the block before it; blocks stand as in the file.
"""

from collections.abc import Iterator

from host_sim.output.trace import time_text
from host_sim.reading.unit_log import CSV_TITLE, UnitLog, block_times
from host_sim.reading.unit_log_blocks import Header
from host_sim.reading.unit_log_ticks import TICK_COLUMNS, BadBlock, Ticks, read_ticks
from host_sim.runtimes.paths import use_firmware

use_firmware()

from alula import health, states  # noqa: E402
from alula import log_layout as layout  # noqa: E402
from alula.sample import NO_TEMPERATURE  # noqa: E402

TITLE = (CSV_TITLE.decode()
         + ", format 1; made by `alula unpack`, read by `alula unpack --back`")
COLUMNS = ("session", "time_s", "counter_ms", *TICK_COLUMNS[1:], "digest")
STATUSWORDS = ("fresh", "stale", "no-reply", "sensor-fault", "not-fitted")
KINDS = ("head", "data", "change")
WORDS = {"pitot_status": STATUSWORDS, "angled_status": STATUSWORDS, "nz_status": STATUSWORDS,
          "state": states.WORDS, "health": health.WORDS}


def csv_lines(log: UnitLog) -> Iterator[str]:
    """The whole log as lines; blocks that break a rule are left out, with a note in the log."""
    yield TITLE
    yield ",".join(COLUMNS)
    starts = {}
    for session in log.sessions:
        starts.update(session.starts(log.content))
    for header in log.headers:
        if header.kind != layout.DATA:
            yield _block_line(header, header.payload(log.content))
            continue
        try:
            ticks = read_ticks(header, log.content)
        except BadBlock:
            continue  # `session.starts` has noted it
        yield _block_line(header, header.payload(log.content)[:layout.CONTEXT_BYTES])
        yield from _tick_lines(ticks, starts.get((header.session, header.sequence), 0))


def _block_line(header: Header, data: bytes) -> str:
    return f"#block,{KINDS[header.kind]},{header.session},{header.sequence}," \
           f"{header.first_ms},{header.count},{data.hex()}"


def _tick_lines(ticks: Ticks, start_ms: int) -> Iterator[str]:
    digests = {end: str(value) for end, value in ticks.digests}
    times = block_times(ticks, start_ms).tolist()
    for i, row in enumerate(ticks.rows.tolist()):
        cells = [str(ticks.header.session), time_text(times[i])]
        for name, value in zip(TICK_COLUMNS, row, strict=True):
            words = WORDS.get(name, ())
            cells.append(words[value] if 0 <= value < len(words) else
                         "" if (name, value) == ("temperature_dc", NO_TEMPERATURE) else str(value))
        yield ",".join([*cells, digests.get(i + 1, "")])
