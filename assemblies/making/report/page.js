// What the page does: sliders, cursors on the curves, lists and buttons beside the view.
"use strict";
const $ = id => document.getElementById(id);
const scene = data.scene, motion = scene && new Motion(scene.motion);
const reach = scene ? [motion.wheel[0], motion.wheel[motion.wheel.length - 1]] : data.x.length ? [data.x[0], data.x[data.x.length - 1]] : [0, 0];
const pose = { wheel: 0, rack: 0 };
const onPose = [];  // what else is drawn anew when the pose changes
let view = null, pair = null;

function minus(text) { return text.replace("-", "−"); }
function fixed(v, decimals) { return v === null || v === undefined ? "–" : minus(v.toFixed(decimals).replace(/^-(?=[0.]*$)/, "")); }
function floored(v, decimals) { return v === null ? v : Math.floor(v * 10 ** decimals + 1e-6) / 10 ** decimals; } // a gap is never told too large
function signed(v, decimals) { const t = fixed(v, decimals); return t.startsWith("−") || t === "–" || !/[1-9]/.test(t) ? t : "+" + t; }

// value of a curve at a wheel height; null where there is none
function read(y, wheel) {
  const [i, s] = place(data.x, wheel), a = y[i], b = y[Math.min(i + 1, y.length - 1)];
  if (a === null || b === null) return s < 1e-6 ? a : s > 1 - 1e-6 ? b : null;
  return a + s * (b - a);
}

// ---------------------------------------------------------------- curves

const figures = [...document.querySelectorAll("[data-figure]")].map(box => {
  const svg = box.querySelector("svg.plot"), told = data.figures[+box.dataset.figure], d = Object.fromEntries(Object.entries(svg.dataset).map(([k, v]) => [k, +v]));
  return { box, svg, told, d, cursor: svg.querySelector(".cursor"), outs: [...box.querySelectorAll("output")] };
});

function drawCursor(f, wheel) {
  const { d } = f, x = d.left + (wheel - d.x0) / (d.x1 - d.x0) * (d.right - d.left);
  f.cursor.querySelector("path").setAttribute("transform", `translate(${x} 0)`);
  f.told.curves.forEach((y, k) => {
    const v = read(y, wheel), dot = f.cursor.querySelectorAll("circle")[k];
    dot.setAttribute("visibility", v === null ? "hidden" : "visible");
    if (v !== null) { dot.setAttribute("cx", x); dot.setAttribute("cy", d.top + (d.y1 - v) / (d.y1 - d.y0) * (d.floor - d.top)); }
    f.outs[k].textContent = `${fixed(f.told.down ? floored(v, f.told.decimals) : v, f.told.decimals)} ${f.told.unit}`;
  });
}

function wheelUnder(f, event) {
  const box = f.svg.getBoundingClientRect(), share = (event.clientX - box.left) / box.width * f.svg.viewBox.baseVal.width;
  return Math.min(Math.max(f.d.x0 + (share - f.d.left) / (f.d.right - f.d.left) * (f.d.x1 - f.d.x0), reach[0]), reach[1]);
}

for (const f of figures) {
  f.svg.addEventListener("pointermove", e => {
    const wheel = wheelUnder(f, e);
    f.box.classList.add("reading");
    f.box.dataset.at = `at ${signed(wheel, 1)} mm`;
    drawCursor(f, wheel);
  });
  f.svg.addEventListener("pointerleave", () => { f.box.classList.remove("reading"); drawCursor(f, pose.wheel); });
  f.svg.addEventListener("click", e => setPose(wheelUnder(f, e), pose.rack));
}

// ---------------------------------------------------------------- pose

function setPose(wheel, rack, arriving) {
  pose.wheel = Math.min(Math.max(wheel, reach[0]), reach[1]);
  const ends = motion ? [motion.rack[0], motion.rack[motion.rack.length - 1]] : [0, 0];
  pose.rack = Math.min(Math.max(rack || 0, ends[0]), ends[1]);
  if (pair && !arriving) followPair();
  $("wheel").value = pose.wheel;
  $("wheel").setAttribute("aria-valuetext", `${signed(pose.wheel, 1)} millimetres`);
  $("wheel-out").textContent = `${signed(pose.wheel, 1)} mm`;
  if ($("rack")) {
    $("rack").value = pose.rack;
    $("rack").setAttribute("aria-valuetext", `${signed(pose.rack, 1)} millimetres`);
    $("rack-out").textContent = `${signed(pose.rack, 1)} mm`;
  }
  $("read").textContent = data.travel.map(t => `${t.label} ${fixed(read(t.y, pose.wheel), t.decimals)} ${t.unit}`.replace(" °", "°")).join("  ·  ") + (pose.rack ? "  ·  rack at 0" : "");
  figures.forEach(f => drawCursor(f, pose.wheel));
  if (view) view.pose(pose.wheel, pose.rack);
  onPose.forEach(draw => draw(pose));
  fillPoints();
}

function pointsNow() {
  return scene.points.map(p => ({ name: p.name, label: p.label, carrier: p.carrier, at: motion.moved(p.carrier, p.at, pose.wheel, pose.rack) }));
}

function fillPoints() {
  if (!scene || !$("point-panel").open) return;
  const rows = pointsNow().map(p => {
    const row = document.createElement("tr"), head = document.createElement("th");
    head.scope = "row";
    head.textContent = p.label;
    row.append(head, ...p.at.map(v => { const cell = document.createElement("td"); cell.textContent = fixed(v, 1); return cell; }));
    return row;
  });
  $("points").replaceChildren(...rows);
}

function startPose() {
  const bar = $("posebar");
  if (!bar) return;
  bar.addEventListener("submit", e => e.preventDefault());
  for (const [id, ends] of [["wheel", reach], ["rack", motion && [motion.rack[0], motion.rack[motion.rack.length - 1]]]]) {
    if (!$(id)) continue;
    [$(id).min, $(id).max] = ends;
    $(id).addEventListener("input", () => { sweep(false); setPose(+$("wheel").value, $("rack") ? +$("rack").value : 0); });
    $(id).addEventListener("keydown", e => {
      const by = { ArrowLeft: -1, ArrowDown: -1, ArrowRight: 1, ArrowUp: 1, PageDown: -10, PageUp: 10 }[e.key];
      if (!by) return;
      e.preventDefault();
      sweep(false);
      const to = id === "wheel" ? [Math.round(pose.wheel) + by, pose.rack] : [pose.wheel, Math.round(pose.rack) + by];
      setPose(...to);
    });
  }
  $("ride").addEventListener("click", () => { sweep(false); setPose(0, 0); });
  $("sweep").addEventListener("click", () => sweep(!sweeping));
  setPose(0, 0);
}

let sweeping = 0;
function sweep(on) {
  cancelAnimationFrame(sweeping);
  sweeping = 0;
  if (!$("sweep")) return;
  $("sweep").setAttribute("aria-pressed", String(!!on));
  $("sweep").textContent = on ? "Hold" : "Move";
  if (!on) return;
  const middle = (reach[0] + reach[1]) / 2, half = (reach[1] - reach[0]) / 2, start = Math.asin(Math.min(Math.max((pose.wheel - middle) / half, -1), 1));
  let from = null;
  const step = now => {
    from = from ?? now;
    setPose(middle + half * Math.sin(start + (now - from) / 800), pose.rack);
    sweeping = requestAnimationFrame(step);
  };
  sweeping = requestAnimationFrame(step);
}

// ---------------------------------------------------------------- view

// light two bodies and draw their gap: at its least, or at the pose given
function showPair(which, at) {
  pair = which === null ? null : data.pairs[which];
  sweep(false);
  for (const b of document.querySelectorAll(".pairs [data-pair]")) b.setAttribute("aria-pressed", String(which !== null && +b.dataset.pair === which));
  if ($("no-pair")) $("no-pair").hidden = !pair;
  if (view && $("apart-switch").getAttribute("aria-pressed") === "true") $("apart-switch").click();
  if (view) view.light(pair ? p => p.body === pair.a || p.body === pair.b : null);
  if (!pair) { if (view) view.gap(null); placeLabel(); return; }
  pair.now = null;
  setPose(at ? at.wheel : pair.wheel, at ? at.rack : pair.rack, !at);
  if (view && pair.from && pair.to) view.showGap(...(pair.now ? pair.now.ends : [pair.from, pair.to]), [pair.a, pair.b]);
  placeLabel();
}

// the gap at another pose than its least: from the table where there is one, else it is let go
function followPair() {
  const gap = gaps.get(data.pairs.indexOf(pair));
  if (!gap) { showPair(null); return; }
  pair.now = { mm: gap.at(pose.wheel, pose.rack), ends: gap.ends(pose.wheel, pose.rack) };
  if (view) view.gap(...pair.now.ends);
  placeLabel();
}

function placeLabel() {
  const label = $("gap-label");
  if (!label) return;
  label.hidden = !(view && view.line.visible && pair);
  if (label.hidden) return;
  const here = pair.now && pair.now.mm, names = `${pair.a} – ${pair.b}`.replaceAll("_", " ");
  label.textContent = !pair.now ? `${names}: ${pair.gap} mm, the least` : `${names}: ${here === null ? "–" : here < 0 ? "clash" : `about ${fixed(floored(here, 1), 1)} mm`} here, ${pair.gap} at the least`;
}

function namePart(part) {
  $("part-label").hidden = !part;
  if (part) $("part-label").textContent = part.name + (part.mass_kg ? `, ${fixed(part.mass_kg, 2)} kg` : "") + (part.material ? `, ${part.material}` : "") + (part.strength ? `; ${part.strength.said}` : "");
}

function partList() {
  const bodies = [...new Set(view.parts.map(p => p.body))], rows = [];
  const button = (text, label, act) => {
    const b = document.createElement("button");
    b.type = "button";
    b.textContent = text;
    b.setAttribute("aria-label", label);
    b.addEventListener("click", act);
    return b;
  };
  const row = (name, own, head) => {
    const item = document.createElement("li"), label = document.createElement("label"), box = document.createElement("input"), chip = document.createElement("i"), text = document.createElement("span");
    box.type = "checkbox";
    box.addEventListener("change", () => { own.forEach(p => { p.shown = box.checked; }); changed(); });
    chip.style.background = own[0].colour;
    text.textContent = name;
    label.append(box, chip, text);
    const faint = button("faint", `${name}: see through`, () => { const to = !own.every(p => p.faint); own.forEach(p => { p.faint = to; }); changed(); });
    const only = button("only", `${name}: hide all else`, () => { view.parts.forEach(p => { p.shown = own.includes(p); }); changed(); });
    item.className = head ? "body" : "piece";
    item.append(label, faint, only);
    rows.push({ box, faint, own });
    return item;
  };
  const changed = () => {
    view.redress();
    for (const r of rows) {
      const shown = r.own.filter(p => p.shown).length;
      r.box.checked = shown > 0;
      r.box.indeterminate = shown > 0 && shown < r.own.length;
      r.faint.setAttribute("aria-pressed", String(r.own.every(p => p.faint)));
    }
  };
  for (const body of bodies) {
    const own = view.parts.filter(p => p.body === body);
    $("partlist").append(row(body.replaceAll("_", " "), own, true));
    if (own.length > 1) $("partlist").append(...own.map(p => row(p.name, [p], false)));
  }
  $("all-parts").addEventListener("click", () => { view.parts.forEach(p => { p.shown = true; p.faint = p.body === "wheel" || !!p.before; }); changed(); });
  $("no-frame").addEventListener("click", () => { view.parts.forEach(p => { p.shown = p.carrier !== "frame"; }); changed(); });
  changed();
}

function startView() {
  if (!scene || typeof THREE === "undefined" || !document.createElement("canvas").getContext("webgl2")) return;  // the pictures stay
  try {
    $("stage").hidden = false;
    view = new View($("canvas"), scene, motion);
  } catch (e) {
    $("stage").hidden = true;
    return;
  }
  document.body.classList.add("has-view");
  view.drawn = placeLabel;
  partList();
  for (const b of document.querySelectorAll("[data-view]")) b.addEventListener("click", () => view.look(b.dataset.view));
  const cut = () => {
    const at = view.setCut($("cut").value, +$("cut-at").value), name = { rocker: "from the pivot along the axis" }[$("cut").value] || $("cut").value;
    $("cut-at").hidden = $("cut-out").hidden = at === null;
    if (at !== null) $("cut-out").textContent = `${name} ${signed(at, 1)} mm`;
  };
  $("cut").addEventListener("change", cut);
  $("cut-at").addEventListener("input", cut);
  if ($("zone-switch")) $("zone-switch").addEventListener("click", () => {
    const on = $("zone-switch").getAttribute("aria-pressed") !== "true";
    $("zone-switch").setAttribute("aria-pressed", String(on));
    $("zone-label").hidden = !on;
    view.showZone(on);
  });
  $("point-panel").addEventListener("toggle", fillPoints);
  let down = null;
  $("canvas").addEventListener("pointerdown", e => { down = [e.clientX, e.clientY]; });
  $("canvas").addEventListener("pointerup", e => {
    if (down && Math.hypot(e.clientX - down[0], e.clientY - down[1]) < 5) { if (view.tools && view.tools.measuring) view.tools.pick(e.clientX, e.clientY); else namePart(view.pick(e.clientX, e.clientY)); }
  });
  $("canvas").addEventListener("keydown", e => {
    const act = { ArrowLeft: () => view.turn(0.12, 0), ArrowRight: () => view.turn(-0.12, 0), ArrowUp: () => view.turn(0, -0.1), ArrowDown: () => view.turn(0, 0.1),
      "+": () => view.zoom(0.88), "=": () => view.zoom(0.88), "-": () => view.zoom(1.14), Home: () => view.fit() }[e.key];
    if (act) { e.preventDefault(); act(); }
  });
}

function toStage() {
  $(view ? "stage" : "corner").scrollIntoView({ block: "start", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
}

// the page's parts in the bar that is always there
function startGo() {
  const go = $("go");
  if (!go) return;
  const places = [...document.querySelectorAll("main > section[id] > h2")];
  go.append(new Option("Go to ...", ""), ...places.map(h => new Option(h.textContent, h.id)));
  go.addEventListener("change", () => {
    const to = $(go.value);
    go.value = "";
    if (!to) return;
    to.tabIndex = -1;
    to.scrollIntoView({ block: "start" });
    to.focus({ preventScroll: true });
  });
}

// what a narrow screen says before each cell, where a row is a card
for (const table of document.querySelectorAll(".scroll > table:not(.fill)")) {
  const heads = [...table.querySelectorAll("thead th")].map(h => h.textContent.trim());
  table.classList.add("labelled");
  for (const row of table.querySelectorAll("tbody tr")) [...row.cells].forEach((c, k) => { if (c.tagName === "TD") c.dataset.label = heads[k] || ""; });
}

startView();
startPose();
startGo();
for (const b of document.querySelectorAll("[data-pair]")) b.addEventListener("click", () => { showPair(b.getAttribute("aria-pressed") === "true" ? null : +b.dataset.pair); if (!b.closest("#stage")) toStage(); });
for (const b of document.querySelectorAll("button[data-wheel]")) b.addEventListener("click", () => { setPose(+b.dataset.wheel, +b.dataset.rack); toStage(); });
if ($("no-pair")) $("no-pair").addEventListener("click", () => { showPair(null); if (view) view.fit(); });
window.addEventListener("beforeprint", () => document.querySelectorAll("details:not(.long, .fold)").forEach(d => { d.dataset.was = d.open ? "1" : ""; d.open = true; }));
window.addEventListener("afterprint", () => document.querySelectorAll("details:not(.long, .fold)").forEach(d => { d.open = !!d.dataset.was; }));

// for measuring from a script: poses in mm, points in car axes
window.corner = {
  pose: () => ({ ...pose }), setPose,
  point: name => pointsNow().find(p => p.name === name).at,
  matrix: carrier => motion.matrix(carrier, pose.wheel, pose.rack),
  gap: () => view && view.line.visible && [...view.line.children[0].geometry.attributes.position.array].reduce((two, v, k) => { two[k / 3 | 0].push(v); return two; }, [[], []]),
  rule: () => $("rule-label").textContent,
  seen: at => view.seen(at),
  eye: told => view && view.eye(told),
  drawn: () => view && view.frames,
  zone: () => ({ shown: view.zone.group.visible, corners: [...view.zone.sheet.geometry.attributes.position.array], marks: view.zone.marks.map(m => m.position.toArray()) }),
  spring: () => view.twisted.map(t => [...t.shape.attributes.position.array]),
  parts: () => view.parts.map(p => ({ name: p.name, body: p.body, shown: p.group.visible, opacity: p.skin.material.opacity, colour: p.skin.material.color.getHexString(), matrix: p.group.updateWorldMatrix(true, false) || p.group.matrixWorld.toArray() })),
};
