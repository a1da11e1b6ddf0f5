"use strict";
// The charts: one below the other on one time axis, drawn by uPlot.

// Okabe and Ito's colours, which colour-blind eyes tell apart; styles and words say the same again.
const INK = "#000000", SECOND = "#0072b2", MARK = "#d55e00";
const AXIS_FONT = "15px system-ui, sans-serif";
const URGENCY = ["quiet", "calm", "uncalibrated", "fault", "pressing", "stalling"];
const STEPS_S = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200];
const MARGIN_TICKS = [1, 1.1, 1.2, 1.3, 1.4, 1.6, 2, 3];  // V/Vs

function clock(seconds, digits = 0) {
  const scale = 10 ** digits;
  const whole = Math.round(Math.abs(seconds) * scale);
  const minutes = Math.floor(whole / scale / 60);
  const rest = (whole / scale - 60 * minutes).toFixed(digits).padStart(digits ? digits + 3 : 2, "0");
  return (seconds < 0 ? "-" : "") + minutes + ":" + rest;
}

// Fill styles of the states: a colour and a hatch each. Patterns are made once a canvas.
const LOOKS = {
  quiet: null,
  calm: { colour: "#bfe3f7", hatch: "dots" },
  pressing: { colour: "#f5c05a", hatch: "rising" },
  stalling: { colour: "#e08a4f", hatch: "crossed" },
  fault: { colour: "#b5b5b5", hatch: "falling" },
  uncalibrated: { colour: "#e3d3e0", hatch: "level" },
};
const patterns = new Map();

function fillOf(context, word) {
  if (!LOOKS[word]) return null;
  if (!patterns.has(word)) patterns.set(word, context.createPattern(tile(LOOKS[word]), "repeat"));
  return patterns.get(word);
}

function tile(look) {
  const size = 12, canvas = document.createElement("canvas");
  canvas.width = canvas.height = size;
  const pen = canvas.getContext("2d");
  pen.fillStyle = look.colour;
  pen.fillRect(0, 0, size, size);
  pen.strokeStyle = pen.fillStyle = "rgba(0,0,0,0.45)";
  pen.lineWidth = 1.3;
  const line = (x1, y1, x2, y2) => { pen.beginPath(); pen.moveTo(x1, y1); pen.lineTo(x2, y2); pen.stroke(); };
  if (look.hatch === "dots") pen.fillRect(5, 5, 2, 2);
  if (look.hatch === "level") line(0, 6, size, 6);
  if (look.hatch === "rising" || look.hatch === "crossed") line(0, size, size, 0);
  if (look.hatch === "falling" || look.hatch === "crossed") line(0, 0, size, size);
  return canvas;
}

// Horizontal bands of the cue settings behind the lift.
function drawBands(bands) {
  return (u) => {
    const { left, top, width, height } = u.bbox;
    bands.forEach(([word, from, to]) => {
      const high = Math.max(top, u.valToPos(to, "y", true));
      const low = Math.min(top + height, u.valToPos(from, "y", true));
      const fill = fillOf(u.ctx, word);
      if (fill && low > high) {
        u.ctx.globalAlpha = 0.5;  // the line in front of it counts
        u.ctx.fillStyle = fill;
        u.ctx.fillRect(left, high, width, low - high);
        u.ctx.globalAlpha = 1;
      }
    });
  };
}

// One strip a log: what the unit said, hatched and, where there is room, in words.
function drawStrip(strips) {
  return (u) => {
    const { left, top, width, height } = u.bbox, each = height / strips.length;
    strips.forEach((strip, row) => strip.forEach(([from, to, word]) => {  // the most urgent last
      if (to < u.scales.x.min || from > u.scales.x.max) return;
      const x1 = Math.max(left, u.valToPos(from, "x", true));
      const x2 = Math.min(left + width, u.valToPos(to, "x", true));
      const y = top + row * each, fill = fillOf(u.ctx, word);
      if (fill) { u.ctx.fillStyle = fill; u.ctx.fillRect(x1, y + 2, Math.max(2 * devicePixelRatio, x2 - x1), each - 4); }
      label(u.ctx, word, x1, x2, y + each / 2);
    }));
  };
}

function label(pen, word, x1, x2, y) {
  pen.save();
  pen.font = `bold ${15 * devicePixelRatio}px system-ui, sans-serif`;
  const wide = pen.measureText(word).width;
  if (wide + 14 <= x2 - x1) {
    pen.textBaseline = "middle";
    pen.textAlign = "left";
    pen.fillStyle = "#ffffff";
    pen.fillRect(x1 + 3, y - 11 * devicePixelRatio, wide + 8, 22 * devicePixelRatio);
    pen.fillStyle = INK;
    pen.fillText(word, x1 + 7, y);
  }
  pen.restore();
}

// Upright lines: stalls (solid, with a triangle) and faults (dotted; named: with their words, where
// there is room until the next).
function drawMarks(marks, named) {
  return (u) => {
    const pen = u.ctx, { left, top, width, height } = u.bbox;
    let free = left;
    for (const mark of marks) {
      const x = u.valToPos(mark.t, "x", true);
      if (x < left || x > left + width) continue;
      pen.save();
      pen.strokeStyle = pen.fillStyle = mark.stall ? MARK : INK;
      pen.lineWidth = 2 * devicePixelRatio;
      if (!mark.stall) pen.setLineDash([2 * devicePixelRatio, 4 * devicePixelRatio]);
      pen.beginPath(); pen.moveTo(x, top); pen.lineTo(x, top + height); pen.stroke();
      if (mark.stall) {
        const s = 7 * devicePixelRatio;
        pen.beginPath(); pen.moveTo(x - s, top); pen.lineTo(x + s, top); pen.lineTo(x, top + 1.6 * s); pen.fill();
      }
      pen.restore();
      if (named && mark.word && x >= free) {
        label(pen, mark.word, x, left + width, top + height - 13 * devicePixelRatio);
        free = x + (mark.word.length * 10 + 16) * devicePixelRatio;
      }
    }
  };
}

function series(names) {
  return [{}, ...names.map((name, i) => ({
    label: name, stroke: i ? SECOND : INK, width: 2, dash: i ? [8, 5] : undefined,
    points: { show: false }, spanGaps: false,
  }))];
}

function digitsFor(ticks) {
  const step = ticks.length > 1 ? ticks[1] - ticks[0] : 1;
  return step >= 1 ? 0 : step >= 0.1 ? 1 : 2;
}

// One chart. spec: title, data (x first), names, range, height, bands, strips, right, ticks.
function makeChart(spec, place, shared) {
  const axis = { font: AXIS_FONT, stroke: INK, grid: { stroke: "#d0d0d0", width: 1 } };
  const axes = [
    { ...axis, values: (u, ticks) => ticks.map((t) => clock(t, digitsFor(ticks))), incrs: STEPS_S, size: 34 },
    { ...axis, size: 62, splits: spec.strips ? () => [] : spec.ticks },
  ];
  if (spec.right) {
    axes.push({ ...axis, side: 1, scale: "y", size: 62, grid: { show: false },
      splits: () => MARGIN_TICKS.map((v) => v ** -2), values: () => MARGIN_TICKS.map(String) });
  } else {
    axes.push({ ...axis, side: 1, scale: "y", size: 62, grid: { show: false }, ticks: { show: false }, values: (u, t) => t.map(() => "") });
  }
  const before = spec.bands ? [drawBands(spec.bands)] : [];
  if (spec.strips) before.push(drawStrip(spec.strips));
  return new uPlot({
    width: place.clientWidth, height: spec.height, title: spec.title, axes,
    scales: { x: { time: false, auto: false, min: shared.view[0], max: shared.view[1] }, y: { range: spec.range } },
    series: series(spec.names), legend: { show: false },
    cursor: { sync: { key: "review" }, drag: { x: true, y: false, setScale: false }, points: { show: false }, y: false },
    hooks: { drawClear: before, draw: [drawMarks(shared.marks, spec.strips), shared.drawn], setSelect: [(u) => shared.select(u)] },
  }, spec.data, place);
}
