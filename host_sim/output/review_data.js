"use strict";
// Turns packed columns (see review_pack.py) back into numbers.

const NOTHING = -0x80000000;

async function inflate(text) {
  const bytes = Uint8Array.from(atob(text), (c) => c.charCodeAt(0));
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("deflate"));
  return new Uint8Array(await new Response(stream).arrayBuffer());
}

// One column as 32-bit numbers.
async function unpack(text) {
  const planes = await inflate(text);
  const n = planes.length / 4;
  const values = new Int32Array(n);
  let sum = 0;
  for (let i = 0; i < n; i++) {
    const zigzag = planes[i] | planes[n + i] << 8 | planes[2 * n + i] << 16 | planes[3 * n + i] << 24;
    sum = sum + ((zigzag >>> 1) ^ -(zigzag & 1)) | 0;
    values[i] = sum;
  }
  return values;
}

// The same, scaled, with null where there is no number.
async function unpackScaled(text, scale) {
  const values = await unpack(text);
  return Array.from(values, (v) => v === NOTHING ? null : v * scale);
}

// Index of the last number that is not above x, -1 if all are.
function lastUpTo(sorted, x) {
  let low = -1, high = sorted.length;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (sorted[middle] <= x) low = middle; else high = middle;
  }
  return low;
}

// Fewer rows for a view of hours: of every `size` rows the first, the last and each series' lowest
// and highest stay, at their own times, so that no peak is lost; and both rows at each end of
// a gap.
function thin(table, size) {
  const [x, ...columns] = table;
  const kept = [];
  for (let from = 0; from < x.length; from += size) {
    const to = Math.min(x.length, from + size);
    const rows = new Set([from, to - 1]);
    for (const column of columns) keepOf(column, from, to, rows);
    kept.push(...[...rows].sort((a, b) => a - b));
  }
  return table.map((column) => kept.map((row) => column[row]));
}

function keepOf(column, from, to, rows) {
  let low = -1, high = -1;
  for (let i = from; i < to; i++) {
    const value = column[i];
    if (i > from && (value === null) !== (column[i - 1] === null)) rows.add(i - 1).add(i);
    if (value === null || value === undefined) continue;
    if (low < 0 || value < column[low]) low = i;
    if (high < 0 || value > column[high]) high = i;
  }
  if (low >= 0) rows.add(low).add(high);
}
