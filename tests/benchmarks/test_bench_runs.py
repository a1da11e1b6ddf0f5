"""`make bench` measures and asserts nothing; that it still runs is asserted here, on a minute."""

from tests.benchmarks import __main__ as bench
from tests.benchmarks import tune_bench
from tests.benchmarks.target_cost import usual_and_worst


def test_every_row_is_measured(monkeypatch, capsys):
    for module, name, value in ((bench, "HOUR_S", 60), (bench, "RUNS", 1),
                                (tune_bench, "CANDIDATES", 4), (tune_bench, "SIDE_BY_SIDE", 2),
                                (tune_bench, "HOUR_TICKS", 6000)):
        monkeypatch.setattr(module, name, value)
    monkeypatch.setattr(bench, "usual_and_worst",
                        lambda session, rows: usual_and_worst(session, rows[:40]))
    bench.main()
    rows = capsys.readouterr().out.splitlines()
    assert len(rows) > 15
    assert all(any(letter.isdigit() for letter in row) for row in rows)
    for begin in ("replay of", "allocated in that loop", "logic of a tick", "4 candidates",
                  "firmware as .mpy for armv6m", "firmware as .mpy for xtensawin"):
        assert any(row.startswith(begin) for row in rows), begin
