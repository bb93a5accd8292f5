// The rocker in its own plane, at the wheel height of the slider: places from the page's table, lengths from the results.
"use strict";
(() => {
  const svg = document.querySelector(".rockerplane"), told = data.rocker;
  if (!svg || !told) return;
  const one = q => svg.querySelector(q), [px, py] = told.pivot, box = svg.viewBox.baseVal;
  const plate = one(".turns");

  function at(rows, wheel) {
    const [i, s] = place(data.x, wheel), a = rows[i], b = rows[Math.min(i + 1, rows.length - 1)];
    return [a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1])];
  }
  const line = (...points) => "M" + points.map(p => p.map(v => v.toFixed(1)).join(" ")).join("L");

  let taken = [];
  const stops = () => [...svg.querySelectorAll("text.stop")].map(s => { const wide = s.getComputedTextLength(), x = +s.getAttribute("x"), end = s.getAttribute("text-anchor") === "end"; return [end ? x - wide : x, end ? x : x + wide, +s.getAttribute("y")]; });

  // a name beside the middle of an arm, off its own line, within the drawing, clear of other names
  function name(key, text, [x, y], [u, v]) {
    const mark = one(`.name.${key}`), n = Math.hypot(u, v) || 1, side = u < 0 ? "end" : "start";
    mark.textContent = text;
    mark.setAttribute("text-anchor", side);
    const wide = mark.getComputedTextLength(), left = x + 12 * u / n;
    const from = side === "start" ? Math.min(left, box.width - wide - 4) : Math.max(left, wide + 4) - wide, at = Math.min(Math.max(y + 12 * v / n + 5, 16), box.height - 6);
    const free = b => b >= 16 && b <= box.height - 6 && !taken.some(([l, r, line]) => from < r && l < from + wide && Math.abs(line - b) < 17);
    const line = [0, 1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6, 8, -8, 10, -10].map(k => at + 9 * k).find(free) ?? at;
    taken.push([from, from + wide, line]);
    mark.setAttribute("x", side === "start" ? from : from + wide);
    mark.setAttribute("y", line);
  }

  function draw({ wheel }) {
    taken = stops();
    const p = Object.fromEntries(["rod", "out", "eye", "chassis", "rodFoot", "eyeFoot"].map(k => [k, at(told[k], wheel)]));
    if (plate) plate.setAttribute("transform", `rotate(${read(told.turn, wheel)} ${px} ${py})`);
    for (const [key, far, foot] of [["rod", p.out, p.rodFoot], ["eye", p.chassis, p.eyeFoot]]) {
      const eye = p[key], arm = read(told.numbers[key + "Arm"], wheel), middle = [(px + foot[0]) / 2, (py + foot[1]) / 2];
      one(`.force.${key}`).setAttribute("d", line(eye, far));
      one(`.beyond.${key}`).setAttribute("d", line(eye, foot));
      one(`.arm.${key}`).setAttribute("d", line([px, py], foot));
      one(`.pin.${key}`).setAttribute("cx", eye[0]);
      one(`.pin.${key}`).setAttribute("cy", eye[1]);
      name(key + "Arm", `${key === "rod" ? "rod" : "damper"}: ${fixed(arm, 1)} mm`, middle, [middle[0] - (eye[0] + px) / 2, middle[1] - (eye[1] + py) / 2]);
    }
    // the angle between rod and arm, from the side of the line that is nearer to toggle
    const angle = read(told.numbers.toArm, wheel), [ex, ey] = p.rod, turned = angle > 90 ? -1 : 1;
    const a = Math.atan2(turned * (py - ey), turned * (px - ex)), b = Math.atan2(p.out[1] - ey, p.out[0] - ex), r = 34;
    const sweep = Math.sin(b - a) > 0 ? 1 : 0, on = t => [ex + r * Math.cos(t), ey + r * Math.sin(t)], m = (Math.cos(a) + Math.cos(b)), k = Math.sin(a) + Math.sin(b);
    one(".toggle").setAttribute("d", `${line([ex, ey], on(a))}A${r} ${r} 0 0 ${sweep} ${on(b).map(v => v.toFixed(1)).join(" ")}`);
    name("toggle", `${fixed(read(told.numbers.toggle, wheel), 1)}° to toggle`, [ex + r * m / Math.hypot(m, k), ey + r * k / Math.hypot(m, k)], [m, k]);
    for (const out of document.querySelectorAll("[data-rocker]")) {
      const [key, unit] = [out.dataset.rocker, out.dataset.unit];
      out.textContent = `${fixed(key === "rocker" ? read(data.travel[0].y, wheel) : read(told.numbers[key], wheel), 1)} ${unit}`;
    }
  }
  onPose.push(draw);
  draw(pose);
})();
