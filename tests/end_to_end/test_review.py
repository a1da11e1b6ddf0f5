"""`alula review`, from logs to a page that a browser shows, plays and prints."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from host_sim.output.sound import RATE_HZ, render
from tests.end_to_end.browser import MISSING, Browser, there_is_none
from tests.end_to_end.command import (
    Done,
    alula,
    files,
    read_trace,
    refused,
    write_calibration,
    write_flight,
)
from tests.external.truth import PHASES, load

in_browser = pytest.mark.skipif(there_is_none(), reason=MISSING)
SET = "tp_capture3_prompt"
LOG = "first <b>&flight.csv"  # a name that must not become markup


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    """A review of three stalls, and the trace of the same log by `replay`."""
    folder = tmp_path_factory.mktemp("review")
    write_flight(folder / LOG, SET)
    write_calibration(folder / "cal.json")
    done = alula(folder, "review", LOG, "--calibration", "cal.json", "--out", "r", "--json",
                 "--sound")
    assert done.code == 0 and done.err == "", done
    replayed = alula(folder, "replay", LOG, "--calibration", "cal.json", "--no-picture",
                     "--trace", "trace.csv", "--sound", "sound.wav")
    assert replayed.code == 0, replayed
    return folder, done


def test_files_are_those_that_are_named(made: tuple[Path, Done]) -> None:
    folder, done = made
    there = {name for name in files(folder) if name.startswith("r/")}
    assert there == set(done.json()["files"]) == {
        "r/review.html", "r/overview.png", "r/sound.wav", *(f"r/stall-{i}.png" for i in (1, 2, 3))}
    for name in there - {"r/review.html", "r/sound.wav"}:
        assert (folder / name).read_bytes().startswith(b"\x89PNG\r\n\x1a\n")  # RFC 2083
    assert (folder / "r/sound.wav").read_bytes() == (folder / "sound.wav").read_bytes()


def test_json_agrees_with_truth_and_trace(made: tuple[Path, Done]) -> None:
    folder, done = made
    (log,) = done.json()["logs"]
    first_s = load(SET)["time_s"][0]
    truth_s = np.array(PHASES[SET]["stall_times_s"]) - first_s
    assert [stall["at_s"] for stall in log["stalls"]] == pytest.approx(truth_s, abs=1.0)
    assert all(stall["enough"] for stall in log["stalls"])
    (air,) = [event for event in log["events"] if event["kind"] == "in the air"]
    trace = read_trace(folder / "trace.csv")
    lift = np.array([float(v) if v else np.nan for v in trace["lift_pm"]]) / 1000
    assert air["speed"] == pytest.approx(np.nanmax(lift) ** -0.5 - 1)
    assert air["load"] == pytest.approx(1 / np.nanmax(lift))
    assert log["faults"] == []


def test_summary_is_for_people_and_warns(made: tuple[Path, Done]) -> None:
    folder, _ = made
    done = alula(folder, "review", LOG, "--calibration", "cal.json", "--out", "s", "--no-pictures")
    assert done.code == 0, done
    assert "never replaces, the primary stall warning" in done.out
    assert "proves nothing about an aeroplane" in done.out
    assert done.out.count("pressing 5 kt and 5 % before yes") == 3
    assert set(name for name in files(folder) if name.startswith("s/")) == {"s/review.html"}


def test_page_needs_nothing_else_and_carries_licence_and_cautions(
        made: tuple[Path, Done]) -> None:
    text = (made[0] / "r/review.html").read_text()
    body = re.sub(r"<script.*?</script>|<style>.*?</style>", "", text, flags=re.S)
    assert not re.search(r"(src|href)\s*=", body)
    assert "default-src 'none'" in text
    assert "Permission is hereby granted, free of charge" in body  # MIT: notice in all copies
    assert "proves nothing about an aeroplane" in body
    assert "the unit does not know the bank" in body
    assert "<b>" not in body and "first &lt;b&gt;&amp;flight.csv" in body


def test_twice_the_same_page(made: tuple[Path, Done]) -> None:
    folder, _ = made
    alula(folder, "review", LOG, "--calibration", "cal.json", "--out", "t", "--no-pictures")
    assert (folder / "t/review.html").read_bytes() == (folder / "r/review.html").read_bytes()


def test_without_calibration_the_page_says_so(tmp_path: Path) -> None:
    write_flight(tmp_path / "f.csv", SET)
    done = alula(tmp_path, "review", "f.csv", "--plumbing", "port-static")
    assert done.code == 0, done
    assert "NO CALIBRATION" in done.out
    assert "NO CALIBRATION" in (tmp_path / "f-review/review.html").read_text()


@pytest.mark.parametrize(("words", "says"), [
    (("none.csv",), ("none.csv", "check the name")),
    (("empty.csv",), ("empty.csv",)),
    (("f.csv", "--out", "f.csv"), ("--out f.csv", "is a file", "name a folder")),
    (("f.csv", "--out", "f.csv/deeper"), ("f.csv is a file", "name a folder")),
    (("f.csv", "g.csv", "f.csv"), ("3 logs given", "two of the same flight")),
    (("f.csv", "--settings", "s.json", "--settings", "s.json"), ("--settings is given 2 times",)),
    (("f.csv", "g.csv"), ("f.csv and g.csv do not overlap", "two logs of the same flight")),
    (("f.csv", "--calibration", "none.json"), ("none.json",)),
    (("two.csv",), ("two.csv", "2 sessions", "--session")),
    ((), ("LOG", "--help")),
])
def test_bad_input_is_one_line_and_no_file(tmp_path: Path, words: tuple[str, ...],
                                           says: tuple[str, ...]) -> None:
    write_flight(tmp_path / "f.csv", "tp_stall_1g")
    write_flight(tmp_path / "g.csv", "tp_pullups")
    (tmp_path / "empty.csv").write_text("")
    (tmp_path / "s.json").write_text('{"plumbing": "port-static"}')
    rows = (tmp_path / "f.csv").read_text().splitlines()
    (tmp_path / "two.csv").write_text("\n".join(rows[:900] + rows[1:900]) + "\n")
    refused(tmp_path, "review", *words, "--plumbing", "port-static", says=says)
    assert {path.name for path in tmp_path.iterdir()} == {
        "f.csv", "g.csv", "empty.csv", "s.json", "two.csv"}  # no folder either


# ---- two logs ----

@pytest.fixture(scope="module")
def pair(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Done]:
    """The same flight by two units: the second was switched on 9.5 s later, counts from 1000 s,
    samples at 25 Hz and presses sooner."""
    folder = tmp_path_factory.mktemp("pair")
    write_flight(folder / "one.csv", SET)
    head, *rows = (folder / "one.csv").read_text().splitlines()
    late = []
    for row in rows[475::2]:
        cells = row.split(",")
        cells[1] = f"{float(cells[1]) - 9.5 + 1000:.3f}"
        late.append(",".join(cells))
    (folder / "two.csv").write_text("\n".join([head, *late]) + "\n")
    write_calibration(folder / "cal.json")
    (folder / "s1.json").write_text('{"plumbing": "port-static"}')
    (folder / "s2.json").write_text('{"plumbing": "port-static", "pressing_pm": 600}')
    done = alula(folder, "review", "one.csv", "two.csv", "--calibration", "cal.json",
                 "--settings", "s1.json", "--settings", "s2.json", "--out", "r", "--json",
                 "--no-pictures")
    assert done.code == 0, done
    return folder, done


def test_two_logs_are_laid_on_one_axis(pair: tuple[Path, Done]) -> None:
    said = pair[1].json()
    assert said["comparison"]["offset_s"] == pytest.approx(9.5, abs=0.02)
    one, two = said["logs"]
    assert [s["at_s"] for s in two["stalls"]] == pytest.approx(
        [s["at_s"] for s in one["stalls"]], abs=0.1)
    # 0.600 of the lift is 1.29 Vs, 0.694 is 1.20 Vs: the second presses 9 % of Vs sooner; in the
    # first run it was switched on too late for that
    for a, b in list(zip(one["stalls"], two["stalls"], strict=True))[1:]:
        assert b["pressing"]["share"] - a["pressing"]["share"] == pytest.approx(0.09, abs=0.02)
    assert said["comparison"]["apart_s"] > 3


def test_page_of_two_says_what_differs(pair: tuple[Path, Done]) -> None:
    text = (pair[0] / "r/review.html").read_text()
    assert "two.csv is laid +9.50 s on the time of one.csv" in text
    assert "Where the two said different things" in text


# ---- in a browser ----

@pytest.fixture(scope="module")
def shown(made: tuple[Path, Done], tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with Browser(tmp_path_factory.mktemp("chromium")) as browser:
        open_page(browser, made[0] / "r/review.html")
        yield browser


def open_page(browser: Browser, path: Path) -> None:
    browser.open(path)
    browser.wait_for("document.body && document.body.dataset.ready === 'yes'")


def view(browser: Browser) -> list[float]:
    found = browser.value("review.view")
    assert isinstance(found, list)
    return found


@in_browser
def test_page_opens_without_complaint_and_without_network(shown: Browser) -> None:
    assert shown.errors == []
    assert [url for url in shown.requests if not url.startswith("file:")] == []
    assert shown.value("review.charts.length") == 5  # with load factor, without differences


@in_browser
def test_numbers_on_the_page_are_those_of_the_trace(made: tuple[Path, Done],
                                                    shown: Browser) -> None:
    trace = read_trace(made[0] / "trace.csv")
    for name, column, scale in (("lift", "lift_pm", 1000), ("ratio", "ratio_bp", 10000)):
        there = shown.value(f"review.logs[0].{name}")
        assert [None if v is None else round(v * scale) for v in there] == [
            int(v) if v else None for v in trace[column]]
    times = shown.value("review.logs[0].time_s")
    assert times == pytest.approx(trace["time_s"].astype(float) - float(trace["time_s"][0]))
    load_g = shown.value("review.logs[0].load_g")
    assert load_g == pytest.approx(load(SET)["nz_g"], abs=6e-4)


@in_browser
def test_keys_zoom_pan_and_move(shown: Browser) -> None:
    shown.key("0")
    whole = view(shown)
    shown.key("+")
    near = view(shown)
    assert near[1] - near[0] == pytest.approx((whole[1] - whole[0]) / 1.6, rel=1e-6)
    shown.key("ArrowRight", shift=True)
    assert view(shown)[0] == pytest.approx(near[0] + 0.25 * (near[1] - near[0]))
    before = shown.value("review.at_s")
    shown.key("ArrowRight")
    assert shown.value("review.at_s") == pytest.approx(before + 1)
    shown.key("-")
    shown.key("0")
    assert view(shown) == whole
    shown.key("Home")
    assert shown.value("review.at_s") == 0


@in_browser
def test_playhead_stands_at_its_time(shown: Browser) -> None:
    shown.value("review.show(40, 60), review.moveTo(55), 0")
    shown.value("new Promise((done) => setTimeout(done, 100))")
    share = shown.value("""(() => { const { chart, playhead } = review.charts[0];
        const inner = chart.over.getBoundingClientRect();
        return (playhead.getBoundingClientRect().left + 1.5 - inner.left) / inner.width })()""")
    assert share == pytest.approx((55 - 40) / (60 - 40), abs=0.005)
    lift = shown.value("review.logs[0].lift[lastUpTo(review.logs[0].time_s, 55)]")
    assert shown.value("document.getElementById('lift').textContent") == f"{lift:.2f}"


@in_browser
def test_dragging_zooms_all_charts_to_the_span(shown: Browser) -> None:
    shown.key("0")
    shown.value("window.scrollTo(0, 0), new Promise((done) => setTimeout(done, 100))")
    box = shown.value("""(() => { const b = review.charts[0].chart.over.getBoundingClientRect();
        return [b.left, b.top, b.width, b.height] })()""")
    left, top, width, height = box
    shown.drag(left + 0.25 * width, top + height / 2, left + 0.5 * width, top + height / 2)
    end_s = shown.value("review.data.to_s")
    assert view(shown) == pytest.approx([0.25 * end_s, 0.5 * end_s], abs=0.01 * end_s)
    shown.value("new Promise((done) => setTimeout(done, 100))")
    scales = shown.value("review.charts.map((c) => [c.chart.scales.x.min, c.chart.scales.x.max])")
    assert all(scale == pytest.approx(view(shown)) for scale in scales)


@in_browser
def test_row_button_shows_its_stall(made: tuple[Path, Done], shown: Browser) -> None:
    shown.value("document.querySelectorAll('button[data-from]')[1].click()")
    stall_s = made[1].json()["logs"][0]["stalls"][1]["at_s"]
    from_s, to_s = view(shown)
    assert from_s < stall_s < to_s and to_s - from_s < 40


@in_browser
def test_space_plays_with_the_cursor_running_and_stops(shown: Browser) -> None:
    shown.value("review.moveTo(10), document.activeElement.blur()")
    shown.key(" ")
    assert shown.value("document.getElementById('play').textContent") == "Pause"
    shown.wait_for("review.at_s > 10.5")
    shown.key(" ")
    stopped = shown.value("review.at_s")
    shown.value("new Promise((done) => setTimeout(done, 300))")
    assert shown.value("review.at_s") == stopped
    assert shown.value("review.playing") is False
    assert shown.errors == []


@in_browser
def test_sound_on_the_page_is_that_of_the_wav(made: tuple[Path, Done], shown: Browser) -> None:
    # From the page's events, rendered by the page; and by the WAV's renderer from the same ones.
    begin_s, seconds = 12.0, 9.0  # the first entry: calm, pressing, stalling
    shown.value("window.wave = review.logs[0].player.wave, wave.phase = 0")
    count = round((begin_s + seconds) * RATE_HZ)
    ours = np.array(json.loads(str(shown.value(
        f"JSON.stringify(Array.from(wave.render(0, {count}, {RATE_HZ})).map("
        "(v) => Math.round(v * 1e4)))")))) / 1e4
    events = shown.value("Array.from(wave.times_us).map((t, i) => [t, wave.hz[i], wave.duty[i]])")
    theirs = render([(int(t), int(hz), int(duty)) for t, hz, duty in events], begin_s + seconds)
    assert np.abs(theirs[int(begin_s * RATE_HZ):]).max() > 0.3  # something sounds there
    assert ours == pytest.approx(theirs, abs=1e-3)


@in_browser
def test_sound_in_pieces_has_no_seam(shown: Browser) -> None:
    seam = shown.value(f"""(() => {{ const wave = review.logs[0].player.wave;
        wave.phase = 0;
        const whole = wave.render(0, 400000, {RATE_HZ});
        wave.phase = 0;
        let most = 0;
        for (let at = 0; at < 400000; at += 5512) {{
          const piece = wave.render(at, Math.min(5512, 400000 - at), {RATE_HZ});
          piece.forEach((v, k) => {{ most = Math.max(most, Math.abs(v - whole[at + k])); }});
        }}
        return most }})()""")
    assert seam < 1e-3


@in_browser
def test_thinned_table_loses_no_peak_and_no_gap(shown: Browser) -> None:
    # What a far view is drawn from: random walks with single spikes and gaps.
    rng = np.random.default_rng(4)
    values: list = np.cumsum(rng.standard_normal(5000)).round(3).tolist()
    spikes = rng.choice(5000, 40, replace=False)
    for i in spikes:
        values[i] += 100 * (-1) ** int(i)
    for first in (0, 777, 2048, 4990):
        values[first:first + 9] = [None] * 9
    thin = shown.value(f"thin([{list(range(5000))}, {json.dumps(values)}], 32)")
    assert isinstance(thin, list)
    x, y = thin
    assert len(x) < 5000 / 5 and x == sorted(set(x)) and x[0] == 0 and x[-1] == 4999
    assert all(values[at] == value for at, value in zip(x, y, strict=True))
    for i in spikes:
        if values[i] is not None:
            bucket = [value for at, value in zip(x, y, strict=True)
                      if at // 32 == i // 32 and value is not None]
            alike = [v for v in values[i // 32 * 32:i // 32 * 32 + 32] if v is not None]
            assert (max(bucket), min(bucket)) == (max(alike), min(alike))
    kept = dict(zip(x, y, strict=True))
    for first in (777, 2048, 4990):  # a gap is as long as it was
        assert kept[first - 1] is not None and kept[first] is None
    assert kept[777 + 8] is None and kept[777 + 9] is not None


@in_browser
def test_print_leaves_out_controls_and_keeps_cautions(shown: Browser) -> None:
    shown.key("0")
    assert shown.pdf().startswith(b"%PDF-")  # ISO 32000
    shown.say("Emulation.setEmulatedMedia", media="print")
    look = """((s) => getComputedStyle(document.querySelector(s)).display)"""
    assert shown.value(f"{look}('#controls')") == "none"
    assert shown.value(f"{look}('.caution')") != "none"
    assert shown.value(f"{look}('table')") != "none"
    shown.say("Emulation.setEmulatedMedia", media="")
    assert shown.errors == []


@in_browser
def test_page_of_two_logs_works(pair: tuple[Path, Done], shown: Browser) -> None:
    open_page(shown, pair[0] / "r/review.html")
    assert shown.value("review.charts.length") == 6  # with the difference
    data = shown.value("review.joined('lift').map((column) => column.length)")
    assert len(data) == 3 and len(set(data)) == 1
    # the second log's highest lift is on the chart, at the time of the first's
    peak = shown.value("""(() => { const [x, one, two] = review.joined("lift");
        const at = (c) => x[c.reduce((b, v, i) => v > (c[b] ?? -1) ? i : b, 0)];
        return [at(one), at(two)] })()""")
    assert peak[1] == pytest.approx(peak[0], abs=0.2)
    shown.value("review.moveTo(20), document.activeElement.blur()")
    shown.value("""(() => { const w = document.getElementById("which"); w.value = "1";
        w.dispatchEvent(new Event("change")) })()""")
    shown.key(" ")
    shown.wait_for("review.logs[1].player.playing && review.at_s > 20.3")
    shown.key(" ")
    assert shown.errors == []
