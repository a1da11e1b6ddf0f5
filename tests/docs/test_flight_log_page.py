"""The example in hardware_notes/flight_log.md is what the writer writes and the reader reads."""

import re
import zlib
from pathlib import Path

import numpy as np

from alula import health, log_layout, states
from alula.flight_log import RING_BLOCKS
from alula.log_block import seal
from alula.log_ring import LogRing
from alula.log_writer import LogWriter
from alula.sample import FRESH, NO_REPLY, Sample
from host_sim.reading.unit_log import read_log
from host_sim.reading.unit_log_ticks import TICK_COLUMNS, read_ticks
from host_sim.runtimes.paths import ROOT
from host_sim.runtimes.session import OUT_COLUMNS, UNKNOWN
from log_store import PART_BLOCKS, RESERVE_BYTES
from tests.both.test_flight_log import decided
from tests.log_flight import flown

PAGE = (ROOT / "hardware_notes" / "flight_log.md").read_text()
ROW = re.compile(r"^\| `([0-9A-F ]+)` \| (\d+) \| (\d+) \| (\d+) \| (\d+) \|", re.MULTILINE)


def told(pattern: str) -> bytes:
    found = re.search(pattern, PAGE, re.DOTALL)
    assert found
    return bytes.fromhex(found.group(1))


def example() -> bytes:
    """The block that the page spells out."""
    ticks = b"".join(bytes.fromhex(row[0]) for row in ROW.findall(PAGE))
    begun = told(r"header of this block is `([0-9A-F ]+)`") + told(r"Context:\n\n```\n(.*?)```")
    block = (begun + ticks).ljust(log_layout.CRC_AT, b"\xff")
    return block + told(r"bytes 4092 to 4095\) `([0-9A-F ]+)`")


def test_the_reader_reads_the_example_as_the_page_says():
    block = example()
    assert int.from_bytes(block[4092:], "little") == zlib.crc32(block[:4092])
    (header,) = read_log(Path("x"), block).headers
    assert (header.session, header.sequence, header.first_ms, header.count) == (12, 3, 5000, 5)
    ticks = read_ticks(header, block)
    columns = [TICK_COLUMNS.index(name) for name in ("now_ms", "pitot_word", "angled_word",
                                                     "nz_mg")]
    rows = [tuple(map(int, row[1:])) for row in ROW.findall(PAGE)]
    assert [tuple(row) for row in ticks.rows[:, columns].tolist()] == rows and len(rows) == 5
    column = TICK_COLUMNS.index
    assert ticks.rows[:, column("state")].tolist() == [0, 0, 1, 1, 1]
    assert (states.CALM, health.OK) == (1, 0)
    assert ticks.rows[-1, [column("pitot_status"), column("angled_status"),
                           column("nz_status")]].tolist() == [NO_REPLY, FRESH, NO_REPLY]
    context = ticks.context
    assert context.zero() == {"pitot_dpa": -3, "angled_dpa": 250}
    assert (context.temperature_dc, context.period_ms, context.nz_mg) == (213, 10, 1003)


def test_the_writer_writes_the_example():
    ring = LogRing(2)
    writer = LogWriter(ring, 12, 10)
    writer.sequence = 3
    sample = Sample()
    writer.nz_status, writer.flap, writer.temperature_dc = FRESH, 0, 213
    writer.pitot_word, writer.angled_word, writer.nz_mg = 8572, 8210, 1003
    writer.begin(5000, -3, 250,
                 log_layout.ZERO_KNOWN | log_layout.FLYING | log_layout.HAS_FLOWN)
    sample.pitot_status = sample.angled_status = sample.nz_status = FRESH
    sample.flap, sample.temperature_dc = 0, 213
    unit = decided()
    for i, row in enumerate(ROW.findall(PAGE)):
        now_ms, sample.pitot_word, sample.angled_word, sample.nz_mg = map(int, row[1:])
        if i == 2:
            unit.state = states.CALM
        if i == 4:
            sample.pitot_status = sample.nz_status = NO_REPLY
        writer.tick(now_ms, sample, unit, 0)
    writer.close()
    block = ring.take()
    seal(block)
    assert bytes(block) == example()


def test_the_page_names_every_event_and_the_limits_of_the_store():
    for name in ("BOTH", "FLAP_BUTTON", "NZ_STATUS", "NZ", "TEMPERATURE", "INTERVAL", "DECISION",
                 "CAPTURE", "DIGEST", "MISSED"):
        assert f"\n| {getattr(log_layout, name):02X} |" in PAGE, name
    assert f"{RESERVE_BYTES // 1024} kB of the flash" in PAGE
    assert f"after {PART_BLOCKS} blocks" in PAGE
    assert f"{RING_BLOCKS} blocks and a spare one" in PAGE
    assert f"{(RING_BLOCKS + 1) * log_layout.BLOCK_BYTES // 1024} kB of the 239" in PAGE


def test_a_loop_that_is_held_up_costs_what_the_page_says(tmp_path):
    """Stalls every second; for how long there is no ratio after one, in ticks of 10 ms."""
    stated = re.search(r"no ratio for ([0-9.]+) s after it", PAGE)
    assert stated
    for held_up_ms, ticks in ((90, 0), (110, round(100 * float(stated.group(1))))):
        stalls = [[time_ms, held_up_ms] for time_ms in range(100000, 180000, 1000)]
        _, out = flown(tmp_path / str(held_up_ms), "tightened-turn", stalls=stalls)
        aloft = (out[:, 0] > 100000) & (out[:, 0] < 200000)
        unknown = (out[:, OUT_COLUMNS.index("ratio_bp")] == UNKNOWN) & aloft
        edges = np.flatnonzero(np.diff(np.r_[False, unknown, False].astype(np.int8)))
        assert max(edges[1::2] - edges[::2], default=0) == ticks
