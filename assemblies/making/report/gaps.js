// Gaps that live: their maps over travel and rack, and what a gap is at the pose of the slider, from a table of poses.
"use strict";
class Gap {
  constructor(told) {
    Object.assign(this, told);
    this.table = new Float32Array(bytes(told.numbers));
  }

  row(i, j) { return 7 * (Math.min(i, this.wheel.length - 1) * this.rack.length + Math.min(j, this.rack.length - 1)); }

  // the gap at a pose, between the four of the table round it; null where one of them cannot be
  at(wheel, rack) {
    const [i, s] = place(this.wheel, wheel), [j, t] = place(this.rack, rack);
    let sum = 0;
    for (const [di, dj, w] of [[0, 0, (1 - s) * (1 - t)], [1, 0, s * (1 - t)], [0, 1, (1 - s) * t], [1, 1, s * t]]) if (w) sum += w * this.table[this.row(i + di, j + dj)];
    return Number.isFinite(sum) ? sum : null;
  }

  // the two points that are nearest at the table's nearest pose, carried to this one
  ends(wheel, rack) {
    const [i, s] = place(this.wheel, wheel), [j, t] = place(this.rack, rack);
    const k = Math.min(i + Math.round(s), this.wheel.length - 1) * this.rack.length + Math.min(j + Math.round(t), this.rack.length - 1);
    return [0, 1].map(n => motion.moved(this.carriers[+this.on[n][k]], [...this.table.slice(7 * k + 1 + 3 * n, 7 * k + 4 + 3 * n)], wheel, rack));
  }
}
const gaps = new Map((data.gaps || []).map(g => [g.pair, new Gap(g)]));

for (const svg of document.querySelectorAll(".gapmap")) {
  const d = Object.fromEntries(Object.entries(svg.dataset).map(([k, v]) => [k, +v])), gap = gaps.get(+svg.closest("[data-map]").dataset.map);
  const here = svg.querySelector(".here"), says = svg.closest("[data-map]").querySelector("output");
  svg.addEventListener("click", e => {
    const box = svg.getBoundingClientRect(), x = (e.clientX - box.left) / box.width * svg.viewBox.baseVal.width, y = (e.clientY - box.top) / box.height * svg.viewBox.baseVal.height;
    const share = (v, a, b) => Math.min(Math.max((v - a) / (b - a), 0), 1);
    const wheel = d.x0 + share(x, d.left, d.right) * (d.x1 - d.x0), rack = d.y1 - share(y, d.top, d.floor) * (d.y1 - d.y0);
    sweep(false);
    if (pair !== data.pairs[gap.pair]) showPair(gap.pair, { wheel, rack }); else setPose(wheel, rack);
  });
  const draw = ({ wheel, rack }) => {
    const x = d.left + (wheel - d.x0) / (d.x1 - d.x0) * (d.right - d.left), y = d.top + (d.y1 - rack) / (d.y1 - d.y0) * (d.floor - d.top), v = gap.at(wheel, rack);
    here.setAttribute("transform", `translate(${x.toFixed(1)} ${y.toFixed(1)})`);
    says.textContent = v === null ? "–" : v < 0 ? "clash here" : `about ${fixed(floored(v, 1), 1)} mm here`;
  };
  onPose.push(draw);
  draw(pose);
}
