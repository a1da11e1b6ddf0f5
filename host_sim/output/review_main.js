"use strict";
// Wires the page: data, charts, view, playhead, sound, keys.

const FAR = 40000;  // more rows in view than this are drawn from a thinned table
const BUCKET = 32;
const $ = (id) => document.getElementById(id);

class Review {
  constructor(data) {
    this.data = data;
    this.charts = [];
    this.view = [data.from_s, data.to_s];
    this.at_s = data.from_s;
    this.heard = 0;  // which log's sound
  }

  async load() {
    this.logs = await Promise.all(this.data.logs.map(async (log) => ({
      ...log,
      time_s: (await unpackScaled(log.time_ms, 0.001)).map((t) => t + log.offset_s),
      ias_kt: await unpackScaled(log.ias_ckt, 0.01),
      ratio: await unpackScaled(log.ratio_bp, 0.0001),
      lift: await unpackScaled(log.lift_pm, 0.001),
      begins: log.states.map((run) => run[0]),
      load_g: log.load_mg ? await unpackScaled(log.load_mg, 0.001) : null,
      player: new Player(new PulseWave(
        (await unpackScaled(log.sound.time_ms, 1000)), await unpack(log.sound.hz),
        await unpack(log.sound.duty), this.data.sound), this.data.sound.rate_hz),
    })));
    this.difference = this.data.difference
      ? await unpackScaled(this.data.difference.lift_pm, 0.001) : null;
  }

  // Columns of all logs on one time axis; what a log does not have at a time is left out.
  joined(name) {
    const tables = this.logs.filter((log) => log[name]).map((log) => [log.time_s, log[name]]);
    return tables.length === 1 ? tables[0] : uPlot.join(tables, tables.map(() => [0, 2]));
  }

  specs() {
    const names = this.logs.map((log) => log.name);
    const lines = [
      { title: "Indicated airspeed, kt (from pitot minus static; no position error taken off)", data: this.joined("ias_kt"), height: 200, range: (u, low, high) => [0, Math.max(60, (high || 0) * 1.05)] },
      { title: "Pressure ratio", data: this.joined("ratio"), height: 170 },
      { title: "Lift in use, CL/CLmax (left), and V/Vs (right)", data: this.joined("lift"), height: 330, range: () => [0, 1.3], bands: this.data.bands, right: true },
    ];
    if (this.difference) lines.push({ title: `Difference of lift in use: ${names[1]} less ${names[0]}`, data: [this.logs[0].time_s, this.difference], names: ["difference"], height: 170 });
    if (this.logs.some((log) => log.load_g)) lines.push({ title: "Load factor, g", data: this.joined("load_g"), height: 170, names: this.logs.filter((log) => log.load_g).map((log) => log.name) });
    const strips = this.logs.map((log) => log.states.slice().sort(
      (a, b) => URGENCY.indexOf(a[2]) - URGENCY.indexOf(b[2])));
    lines.push({ title: "What the unit said" + (names.length > 1 ? `: ${names[0]} above, ${names[1]} below` : ""), data: [[this.data.from_s, this.data.to_s], [null, null]], names: ["state"], strips, height: 110 + 45 * strips.length, range: () => [0, 1] });
    return lines.map((line) => ({ names, ...line }));
  }

  draw() {
    const shared = { view: this.view, marks: this.data.marks, select: (u) => this.select(u), drawn: () => this.placePlayhead() };
    for (const spec of this.specs()) {
      const place = document.createElement("div");
      place.className = "chart";
      $("charts").append(place);
      const chart = makeChart(spec, place, shared);
      const playhead = document.createElement("div");
      playhead.className = "playhead";
      chart.over.append(playhead);
      chart.over.addEventListener("wheel", (event) => this.wheel(event, chart), { passive: false });
      chart.over.addEventListener("click", (event) => this.moveTo(chart.posToVal(event.offsetX, "x")));
      chart.over.addEventListener("dblclick", () => this.whole());
      const coarse = spec.data[0].length > FAR ? thin(spec.data, BUCKET) : spec.data;
      this.charts.push({ chart, place, playhead, full: spec.data, coarse, shown: spec.data });
    }
    this.moveTo(this.data.from_s);
  }

  select(u) {
    if (u.select.width < 4) return;
    const from = u.posToVal(u.select.left, "x"), to = u.posToVal(u.select.left + u.select.width, "x");
    u.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
    this.show(from, to);
  }

  // Show a span of time in every chart; at least half a second, within the flight.
  show(from, to) {
    const first = this.data.from_s, last = this.data.to_s;
    const wide = Math.min(last - first, Math.max(0.5, to - from));
    from = Math.min(Math.max(first, from), last - wide);
    this.view = [from, from + wide];
    for (const one of this.charts) this.showIn(one, from, from + wide);
    $("span").textContent = `${clock(from, 1)} to ${clock(from + wide, 1)}`;
  }

  showIn(one, from, to) {
    const inView = lastUpTo(one.full[0], to) - lastUpTo(one.full[0], from);
    const table = inView > FAR ? one.coarse : one.full;
    if (table !== one.shown) one.chart.setData(table, false);
    one.shown = table;
    one.chart.setScale("x", { min: from, max: to });
  }

  whole() { this.show(this.data.from_s, this.data.to_s); }

  zoom(factor, middle = this.at_s) {
    const [from, to] = this.view;
    const held = middle < from || middle > to ? (from + to) / 2 : middle;
    this.show(held - (held - from) * factor, held + (to - held) * factor);
  }

  pan(share) {
    const step = (this.view[1] - this.view[0]) * share;
    this.show(this.view[0] + step, this.view[1] + step);
  }

  wheel(event, chart) {
    if (!event.ctrlKey && !event.shiftKey) return;  // a bare wheel scrolls the page
    event.preventDefault();
    const turned = event.deltaY || event.deltaX;
    if (event.shiftKey) this.pan(Math.sign(turned) * 0.15);
    else this.zoom(turned > 0 ? 1.3 : 1 / 1.3, chart.posToVal(event.offsetX, "x"));
  }

  moveTo(seconds, restart = true) {
    this.at_s = Math.min(Math.max(this.data.from_s, seconds), this.data.to_s);
    if (restart && this.playing) this.play(true);
    const [from, to] = this.view, wide = to - from;
    if (this.at_s < from || this.at_s > to) this.show(this.at_s - wide * 0.1, this.at_s + wide * 0.9);
    this.placePlayhead();
    this.tell();
  }

  placePlayhead() {
    for (const { chart, playhead } of this.charts) {
      playhead.style.transform = `translateX(${chart.valToPos(this.at_s, "x")}px)`;
      playhead.hidden = this.at_s < this.view[0] || this.at_s > this.view[1];
    }
  }

  // The numbers under the playhead, of the log that is heard.
  tell() {
    const log = this.logs[this.heard], i = lastUpTo(log.time_s, this.at_s);
    const text = (value, digits) => value === null || value === undefined ? "–" : value.toFixed(digits);
    const lift = i < 0 ? null : log.lift[i], ias = i < 0 ? null : log.ias_kt[i];
    const margin = lift > 0 ? (lift ** -0.5 - 1) * 100 : null;
    const run = log.states[lastUpTo(log.begins, this.at_s)];
    $("time").textContent = clock(this.at_s, 1);
    $("ias").textContent = text(ias, 0) + " kt";
    $("lift").textContent = text(lift, 2);
    $("margin").textContent = margin === null ? "–" : `${text(margin, 0)} %, ${text(ias * (1 - lift ** 0.5), 0)} kt`;
    $("load").textContent = log.load_g && i >= 0 ? text(log.load_g[i], 2) : "not known";
    $("state").textContent = run ? run[2] + (run[3] && run[3] !== "ok" ? ` (${run[3]})` : "") : "–";
  }

  get player() { return this.logs[this.heard].player; }

  get playing() { return this.logs.some((log) => log.player.playing); }

  play(on) {
    for (const log of this.logs) if (log.player.playing) log.player.stop();
    cancelAnimationFrame(this.frame);
    if (on && this.at_s >= this.data.to_s - 0.05) this.moveTo(this.data.from_s);
    if (on) {
      const offset = this.logs[this.heard].offset_s;
      this.player.setVolume(Number($("volume").value) / 100);
      this.player.start(this.at_s - offset);
      const step = () => {
        this.moveTo(this.player.now() + offset, false);
        $("mute").hidden = !this.player.mute;
        if (this.at_s >= this.data.to_s) this.play(false);
        else this.frame = requestAnimationFrame(step);
      };
      this.frame = requestAnimationFrame(step);
    }
    $("play").textContent = on ? "Pause" : "Play";
    $("play").setAttribute("aria-pressed", String(on));
  }

  setVolume(percent) {
    $("volume").value = Math.min(100, Math.max(0, percent));
    this.player.setVolume(Number($("volume").value) / 100);
  }

  // The next or the previous stall, approach, turn or fault.
  jump(way) {
    const times = this.data.stops;
    const next = way > 0 ? times.find((t) => t > this.at_s + 0.05) : times.findLast((t) => t < this.at_s - 0.05);
    if (next !== undefined) { this.moveTo(next); this.show(next - 15, next + 10); }
  }

  resize(width) {
    for (const { chart, place } of this.charts) chart.setSize({ width: width || place.clientWidth, height: chart.height });
    this.placePlayhead();
  }
}
