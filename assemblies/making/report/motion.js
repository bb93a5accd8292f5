// The motion of the corner: rigid motions of its bodies between the poses of a table. Needs no 3D library.
"use strict";
const data = JSON.parse(document.getElementById("data").textContent);

function bytes(text) {
  const raw = atob(text), out = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) out[i] = raw.charCodeAt(i);
  return out.buffer;
}

// where `value` lies in a rising grid: the place to its left and the share of the way to the next
function place(grid, value) {
  if (grid.length < 2) return [0, 0];
  let low = 0, high = grid.length - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (grid[middle] <= value) low = middle; else high = middle;
  }
  return [low, Math.min(Math.max((value - grid[low]) / (grid[high] - grid[low]), 0), 1)];
}

class Motion {
  constructor(told) {
    this.wheel = told.wheel_mm;
    this.rack = told.rack_mm;
    this.bodies = {};
    for (const [name, b] of Object.entries(told.bodies)) this.bodies[name] = { from: b.from, steered: b.steered, poses: new Float32Array(bytes(b.poses)) };
  }

  // 4 x 4, column by column, from ride to the pose, car axes
  matrix(carrier, wheel, rack) {
    if (carrier === "frame" || !this.bodies[carrier]) return [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
    const b = this.bodies[carrier], [i, s] = place(this.wheel, wheel), [j, t] = b.steered ? place(this.rack, rack) : [0, 0];
    const wide = b.steered ? this.rack.length : 1, p = b.poses, sum = [0, 0, 0, 0, 0, 0, 0];
    const first = 7 * (i * wide + j);
    for (const [di, dj, w] of [[0, 0, (1 - s) * (1 - t)], [1, 0, s * (1 - t)], [0, 1, (1 - s) * t], [1, 1, s * t]]) {
      if (!w) continue;
      const at = 7 * ((i + di) * wide + j + dj);
      let dot = 0;
      for (let k = 3; k < 7; k++) dot += p[first + k] * p[at + k];
      for (let k = 0; k < 7; k++) sum[k] += (k > 2 && dot < 0 ? -w : w) * p[at + k];
    }
    const n = Math.hypot(sum[3], sum[4], sum[5], sum[6]), [x, y, z, w] = sum.slice(3).map(v => v / n);
    const r = [[1 - 2 * (y * y + z * z), 2 * (x * y - z * w), 2 * (x * z + y * w)], [2 * (x * y + z * w), 1 - 2 * (x * x + z * z), 2 * (y * z - x * w)],
      [2 * (x * z - y * w), 2 * (y * z + x * w), 1 - 2 * (x * x + y * y)]];
    const o = r.map((row, k) => sum[k] - row[0] * b.from[0] - row[1] * b.from[1] - row[2] * b.from[2]);
    return [r[0][0], r[1][0], r[2][0], 0, r[0][1], r[1][1], r[2][1], 0, r[0][2], r[1][2], r[2][2], 0, o[0], o[1], o[2], 1];
  }

  moved(carrier, at, wheel, rack) {
    const m = this.matrix(carrier, wheel, rack);
    return [0, 1, 2].map(k => m[k] * at[0] + m[4 + k] * at[1] + m[8 + k] * at[2] + m[12 + k]);
  }
}
