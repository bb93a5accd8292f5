// What one does with the view beside looking: names of hard points, ground and axes, colours of strength, rocker apart, measuring, thumbnails.
"use strict";
const SLOT_MM = 14, SNAP_PX = 12;

class Tools {
  constructor(view) {
    this.view = view;
    this.names = [];
    this.picked = [];
    this.rule = view.gapLine(INK);
    view.drawn = () => { placeLabel(); this.placeNames(); this.placeAxes(); };
  }

  // names of the hard points, each beside its point, with a line to it where there was no room
  showNames(on) {
    this.names.forEach(n => n.remove());
    this.names = !on ? [] : scene.points.map(p => this.mark("point", p.label));
    if (!on) $("leaders").replaceChildren();
    this.view.ask();
  }

  mark(kind, text) {
    const mark = document.createElement("span");
    mark.className = kind;
    mark.textContent = text;
    $("names").append(mark);
    return mark;
  }

  placeNames() {
    if (!this.names.length) return;
    const { clientWidth: wide, clientHeight: high } = this.view.element, taken = [], lines = [];
    const at = pointsNow().map((p, k) => [...this.view.seen(p.at), this.names[k]]).sort((a, b) => a[1] - b[1]);
    for (const [x, y, mark] of at) {
      mark.hidden = x < 0 || y < 0 || x > wide || y > high;
      if (mark.hidden) continue;
      const w = mark.offsetWidth, right = x + 14 + w < wide, left = right ? x + 14 : x - 14 - w;
      let level = y - 9;
      while (taken.some(([u, v, s]) => Math.abs(v - level) < 17 && u < left + w && left < u + s)) level += 3;
      taken.push([left, level, w]);
      mark.style.transform = `translate(${Math.round(left)}px, ${Math.round(level)}px)`;
      lines.push(this.drawn("path", { d: `M${x} ${y}L${right ? left - 2 : left + w + 2} ${level + 9}` }), this.drawn("circle", { cx: x, cy: y, r: 3.5 }));
    }
    $("leaders").replaceChildren(...lines);
  }

  drawn(kind, told) {
    const made = document.createElementNS("http://www.w3.org/2000/svg", kind);
    for (const [k, v] of Object.entries(told)) made.setAttribute(k, v);
    return made;
  }

  // squares of 100 mm on the ground round the corner, and the car's axes where the tyre touches it
  showGround(on) {
    if (!this.ground) {
      const { min, max } = this.view.all, at = scene.points.find(p => p.name === "contact").at, lines = [], axes = new THREE.Group();
      const [x0, x1, y0, y1] = [Math.floor(min.x / 100), Math.ceil(max.x / 100), Math.floor(min.y / 100), Math.ceil(max.y / 100)].map(v => 100 * v);
      for (let x = x0; x <= x1; x += 100) lines.push(x, y0, 0, x, y1, 0);
      for (let y = y0; y <= y1; y += 100) lines.push(x0, y, 0, x1, y, 0);
      const grid = new THREE.LineSegments(new THREE.BufferGeometry().setAttribute("position", new THREE.Float32BufferAttribute(lines, 3)), new THREE.LineBasicMaterial({ color: 0x9aa39c }));
      [[1, 0, 0, 0xb3261e], [0, 1, 0, 0x00785a], [0, 0, 1, 0x0072b2]].forEach(([x, y, z, color]) => axes.add(new THREE.Line(
        new THREE.BufferGeometry().setAttribute("position", new THREE.Float32BufferAttribute([at[0], at[1], 0, at[0] + 150 * x, at[1] + 150 * y, 150 * z], 3)), new THREE.LineBasicMaterial({ color, depthTest: false, transparent: true }))));
      this.ends = [["x, ahead", [at[0] + 150, at[1], 0]], ["y, left", [at[0], at[1] + 150, 0]], ["z, up", [at[0], at[1], 150]]];
      this.ground = new THREE.Group();
      this.ground.add(grid, axes);
      this.view.scene.add(this.ground);
    }
    this.ground.visible = on;
    this.axisNames = this.axisNames || this.ends.map(([text]) => this.mark("point axis", text));
    this.view.ask();
  }

  placeAxes() {
    (this.axisNames || []).forEach((mark, k) => {
      const [x, y] = this.view.seen(this.ends[k][1]);
      mark.hidden = !this.ground.visible || x < 0 || y < 0 || x > this.view.element.clientWidth || y > this.view.element.clientHeight;
      mark.style.transform = `translate(${Math.round(x + 4)}px, ${Math.round(y - 8)}px)`;
    });
  }

  // every part in the colour of its greatest use of strength
  showStrength(on) {
    for (const p of this.view.parts) p.skin.material.color.set(on && p.strength ? p.strength.colour : p.colour);
    this.view.ask();
  }

  // the rocker's parts drawn out along its axis, side by side where they lie side by side; the rest gone
  showApart(on) {
    const own = this.view.parts.filter(p => p.carrier === "rocker" || p.body === "pivot bearings"), axis = new THREE.Vector3(...scene.axis).normalize();
    const across = new THREE.Vector3().crossVectors(axis, Math.abs(axis.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0)).normalize(), ways = [axis, across, new THREE.Vector3().crossVectors(axis, across)];
    const wheel = pose.wheel, rack = pose.rack;
    this.view.pose(0, 0);
    const span = new Map(own.map(p => { const c = this.view.corners(p); return [p, ways.map(w => [Math.min(...c.map(v => v.dot(w))), Math.max(...c.map(v => v.dot(w)))])]; }));
    this.view.pose(wheel, rack);
    const middle = p => (span.get(p)[0][0] + span.get(p)[0][1]) / 2, beside = (p, q) => [1, 2].some(k => span.get(p)[k][0] > span.get(q)[k][1] || span.get(q)[k][0] > span.get(p)[k][1]);
    const slots = [];
    for (const p of [...own].sort((a, b) => middle(a) - middle(b))) {
      const last = slots[slots.length - 1];
      if (last && Math.abs(middle(last[0]) - middle(p)) < 2 && last.every(q => beside(p, q))) last.push(p); else slots.push([p]);
    }
    const long = s => Math.max(...s.map(p => span.get(p)[0][1] - span.get(p)[0][0])), whole = slots.reduce((sum, s) => sum + long(s) + SLOT_MM, -SLOT_MM);
    let at = own.reduce((sum, p) => sum + middle(p), 0) / own.length - whole / 2;
    for (const s of slots) {
      for (const p of s) {
        p.group.matrix.fromArray(p.frame);
        if (on) p.group.matrix.premultiply(new THREE.Matrix4().makeTranslation(...axis.clone().multiplyScalar(at + long(s) / 2 - middle(p)).toArray()));
      }
      at += long(s) + SLOT_MM;
    }
    this.view.light(on ? p => own.includes(p) : null, true);
    this.view.fit(null, on ? own : null);
  }

  // two picked points: on a hard point or a part's corner where one is near, else on its surface; they ride with their parts
  pick(x, y) {
    const hit = this.view.hit(x, y), box = this.view.renderer.domElement.getBoundingClientRect(), near = at => { const [u, v] = this.view.seen(at); return Math.hypot(u - (x - box.left), v - (y - box.top)); };
    let best = SNAP_PX, found = null;
    for (const p of pointsNow()) if (near(p.at) < best) { best = near(p.at); found = { what: p.label, at: p.at, carrier: p.carrier }; }
    if (!found && hit) {
      const corners = hit.part.rim.geometry.attributes.position, v = new THREE.Vector3();
      for (let k = 0; k < corners.count; k++) {
        v.fromBufferAttribute(corners, k).applyMatrix4(hit.part.rim.matrixWorld);
        const d = v.distanceTo(hit.point) < 40 ? near(v.toArray()) : Infinity;
        if (d < best) { best = d; found = { what: `edge of ${hit.part.name}`, at: v.toArray(), carrier: hit.part.carrier }; }
      }
      found = found || { what: `face of ${hit.part.name}`, at: hit.point.toArray(), carrier: hit.part.carrier };
    }
    if (!found) return;
    const back = new THREE.Matrix4().fromArray(motion.matrix(found.carrier, pose.wheel, pose.rack)).invert();
    found.ride = new THREE.Vector3(...found.at).applyMatrix4(back).toArray();
    this.picked = [...(this.picked.length > 1 ? [] : this.picked), found];
    this.showRule();
  }

  showRule() {
    const label = $("rule-label"), ends = this.picked.map(p => motion.moved(p.carrier, p.ride, pose.wheel, pose.rack));
    label.hidden = !this.measuring;
    this.rule.visible = this.measuring && ends.length > 0;
    if (!ends.length) label.textContent = "Press two points. They catch on hard points and edges.";
    else {
      this.view.span(this.rule, ends[0], ends[1] || ends[0]);
      const by = [0, 1, 2].map(k => (ends[1] || ends[0])[k] - ends[0][k]), told = this.picked.map(p => p.what).join(" to ");
      label.textContent = ends.length < 2 ? `From ${told}: press the second point` : `${told}: ${fixed(Math.hypot(...by), 1)} mm (x ${signed(by[0], 1)}, y ${signed(by[1], 1)}, z ${signed(by[2], 1)})`;
    }
    this.view.ask();
  }

  measure(on) {
    this.measuring = on;
    this.picked = [];
    this.showRule();
  }

  // a part alone, drawn small beside its line of the cut list
  thumb(canvas, parts) {
    this.small = this.small || new THREE.WebGLRenderer({ antialias: true, alpha: true });
    const stage = new THREE.Scene(), eye = new THREE.OrthographicCamera(-1, 1, 1, -1, -1e5, 1e5), box = new THREE.Box3(), [w, h] = [canvas.width, canvas.height];
    const group = new THREE.Group(), lamp = new THREE.DirectionalLight(0xffffff, 1.9), [p] = parts;
    group.add(new THREE.Mesh(p.skin.geometry, new THREE.MeshLambertMaterial({ color: p.colour })), new THREE.LineSegments(p.rim.geometry, new THREE.LineBasicMaterial({ color: INK })));
    stage.add(group, lamp, new THREE.HemisphereLight(0xffffff, 0xb9b3a6, 1.7));
    box.setFromObject(group);
    const size = box.getSize(new THREE.Vector3()), thin = ["x", "y", "z"].reduce((a, b) => size[a] <= size[b] ? a : b), way = { x: new THREE.Vector3(1, 0.45, 0.35), y: new THREE.Vector3(0.45, 1, 0.35), z: new THREE.Vector3(0.35, 0.45, 1) }[thin].normalize();
    const long = ["x", "y", "z"].reduce((a, b) => size[a] >= size[b] ? a : b);
    eye.up.set(+(long !== "x" && thin !== "x"), +(long === "x" && thin !== "y"), +(thin === "x" || (long === "x" && thin === "y")));
    if (long === "z" && thin === "x") eye.up.set(0, 1, 0);
    lamp.position.copy(way).add(new THREE.Vector3(0.3, 0.2, 0.6));
    const at = box.getCenter(new THREE.Vector3());
    eye.position.copy(at).add(way);
    eye.lookAt(at);
    eye.updateMatrixWorld();
    const back = eye.matrixWorldInverse, flat = [0, 1, 2, 3, 4, 5, 6, 7].map(k => new THREE.Vector3(k & 1 ? box.max.x : box.min.x, k & 2 ? box.max.y : box.min.y, k & 4 ? box.max.z : box.min.z).applyMatrix4(back));
    const reach = Math.max(...flat.map(v => Math.abs(v.x) * h / w), ...flat.map(v => Math.abs(v.y))) * 1.06;
    [eye.top, eye.bottom, eye.left, eye.right] = [reach, -reach, -reach * w / h, reach * w / h];
    eye.updateProjectionMatrix();
    this.small.setSize(w, h, false);
    this.small.render(stage, eye);
    canvas.getContext("2d").drawImage(this.small.domElement, 0, 0);
  }

  start() {
    const toggles = { "names-switch": on => this.showNames(on), "ground-switch": on => this.showGround(on), "strength-switch": on => { $("strength-key").hidden = !on; this.showStrength(on); }, "apart-switch": on => this.showApart(on), "measure-switch": on => this.measure(on) };
    for (const [id, act] of Object.entries(toggles)) if ($(id)) $(id).addEventListener("click", () => {
      const on = $(id).getAttribute("aria-pressed") !== "true";
      for (const other of ["apart-switch", "measure-switch"]) if (on && other !== id && ["apart-switch", "measure-switch"].includes(id) && $(other).getAttribute("aria-pressed") === "true") $(other).click();
      $(id).setAttribute("aria-pressed", String(on));
      act(on);
    });
    for (const b of document.querySelectorAll("[data-side]")) b.addEventListener("click", () => {
      const side = b.dataset.side;
      for (const other of document.querySelectorAll("[data-side]")) other.setAttribute("aria-pressed", String(other === b));
      for (const p of this.view.parts) {
        p.shown = side === "both" || !!p.alike || (side === "before") === !!p.before;
        p.faint = p.body.endsWith("wheel") || (side === "both" && !!p.before);
      }
      this.view.redress();
    });
    onPose.push(() => { if (this.measuring) this.showRule(); });
    for (const b of document.querySelectorAll("[data-parts]")) b.addEventListener("click", () => {
      const names = b.dataset.parts.split("|"), own = this.view.parts.filter(p => names.includes(p.name));
      if ($("apart-switch").getAttribute("aria-pressed") === "true") $("apart-switch").click();
      showPair(null);
      this.view.light(p => own.includes(p));
      this.view.fit(null, own);
      namePart(own[0]);
      if ($("no-pair")) $("no-pair").hidden = false;
      toStage();
    });
    const list = document.querySelector("#cut-list > details");
    if (list) list.addEventListener("toggle", () => {
      for (const canvas of list.querySelectorAll("canvas:not([data-drawn])")) {
        canvas.dataset.drawn = "1";
        const names = canvas.closest("[data-parts]").dataset.parts.split("|");
        this.thumb(canvas, this.view.parts.filter(p => names.includes(p.name)));
      }
    });
  }
}
if (view) {
  view.tools = new Tools(view);
  view.tools.start();
}
