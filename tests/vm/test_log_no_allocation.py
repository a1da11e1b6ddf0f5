"""The log's encoding allocates nothing: the storm that runs under a locked heap in the VM
(tests/both/test_flight_log.py) passes every line that a tick may pass in the log's rooms."""

from alula.flight_log import FlightLog
from alula.sample import NOT_FITTED, Sample
from tests.both.log_rig import Random, made_unit, storm
from tests.vm.test_no_allocation import START_ROOMS, TICK_ROOMS, Tracer, rooms_from

LOG_ROOMS = ("elapsed", "flight_log", "log_block", "log_digest", "log_layout", "log_ring",
             "log_writer")
# Between two ticks, while quiet: a change of records, and what the store does with a full block.
NOT_IN_TICK = ("change", "record", "take", "open_ticks", "seal", "_pad", "crc32")


def test_every_room_of_the_log_is_accounted_for():
    rooms = rooms_from("alula/flight_log.py") | {"flight_log"}
    assert rooms - set(START_ROOMS) - {"sample"} <= set(LOG_ROOMS) | set(TICK_ROOMS)
    assert set(LOG_ROOMS) <= rooms


def test_every_line_of_the_encoding_is_passed(monkeypatch):
    monkeypatch.setattr("tests.vm.test_no_allocation.NOT_IN_TICK",
                        {"__init__", *NOT_IN_TICK})
    tracer, log, unit = Tracer(), FlightLog(1, 10, 2), made_unit()
    sample, random, now_ms = Sample(), Random(3), 0  # the very storm of the locked heap
    sample.nz_status = NOT_FITTED

    def fly() -> None:
        nonlocal now_ms
        for i in range(5000):
            now_ms = storm(random, now_ms, sample)
            unit.tick(now_ms, sample)
            log.step(now_ms, sample, unit, i + 1)
            if (i + 1) % 997 == 0:
                log.end_block()
                log.end_block()

    tracer.run(fly)
    for room in LOG_ROOMS:
        count, missed = tracer.missed(f"alula.{room}")
        assert count and not missed, (room, missed)
