// The corner in three dimensions: meshes, light, camera, cut, gap line. Draws only when something has changed.
"use strict";
const FAINT = 0.16, OVERLAID = 0.42, PAPER = 0xf1f2ec, INK = 0x23282b, GAP = 0xb3261e;

class View {
  constructor(element, scene, motion) {
    this.element = element;
    this.motion = motion;
    this.told = scene;
    this.renderer = new THREE.WebGLRenderer({ antialias: true });
    this.renderer.setPixelRatio(Math.min(window.devicePixelRatio || 1, 2));
    this.renderer.localClippingEnabled = true;
    this.renderer.domElement.setAttribute("aria-hidden", "true");
    element.append(this.renderer.domElement);
    this.scene = new THREE.Scene();
    this.scene.background = new THREE.Color(PAPER);
    this.camera = this.deep = new THREE.PerspectiveCamera(28, 1, 10, 20000);
    this.flat = new THREE.OrthographicCamera(-1, 1, 1, -1, 10, 20000);
    this.lamp = new THREE.DirectionalLight(0xffffff, 1.9);
    this.lamp.position.set(0.5, 0.9, 1);
    for (const camera of [this.deep, this.flat]) camera.up.set(0, 0, 1);
    this.camera.add(this.lamp);
    this.scene.add(this.deep, this.flat, new THREE.HemisphereLight(0xffffff, 0xb9b3a6, 1.7));
    this.plane = new THREE.Plane(new THREE.Vector3(1, 0, 0), 0);
    this.cut = "";
    this.carriers = {};
    this.parts = [];
    this.twisted = [];
    this.build();
    this.controls = new THREE.OrbitControls(this.camera, this.renderer.domElement);
    this.renderer.domElement.style.touchAction = "pan-y";  // one finger up and down scrolls the page, sideways it turns the corner
    this.controls.addEventListener("change", () => this.ask());
    this.line = this.gapLine();
    this.zone = this.told.zone && this.zoneSheet(this.told.zone);
    new ResizeObserver(() => this.size()).observe(element);
    this.size();
  }

  build() {
    const shapes = this.told.meshes.map(m => {
      const raw = new Uint16Array(bytes(m.corners)), at = new Float32Array(raw.length);
      for (let i = 0; i < raw.length; i++) at[i] = m.low[i % 3] + m.step[i % 3] * raw[i];
      const solid = new THREE.BufferGeometry();
      solid.setAttribute("position", new THREE.BufferAttribute(at, 3));
      const faces = bytes(m.faces);
      solid.setIndex(new THREE.BufferAttribute(m.wide ? new Uint32Array(faces) : new Uint16Array(faces), 1));
      solid.computeVertexNormals();
      return { solid, edges: new THREE.EdgesGeometry(solid, 32) };
    });
    for (const part of this.told.parts) {
      if (!this.carriers[part.carrier]) {
        const group = this.carriers[part.carrier] = new THREE.Group();
        group.matrixAutoUpdate = false;
        this.scene.add(group);
      }
      const { solid, edges } = shapes[part.mesh], colour = new THREE.Color(part.colour);
      const skin = new THREE.Mesh(solid, new THREE.MeshLambertMaterial({ color: colour, polygonOffset: true, polygonOffsetFactor: 1, polygonOffsetUnits: 1 }));
      const inside = new THREE.Mesh(solid, new THREE.MeshBasicMaterial({ color: colour.clone().lerp(new THREE.Color(GAP), 0.45), side: THREE.BackSide }));
      const rim = new THREE.LineSegments(edges, new THREE.LineBasicMaterial({ color: INK, transparent: true, opacity: 0.55 }));
      inside.visible = false;
      const group = new THREE.Group();
      group.add(skin, inside, rim);
      group.matrixAutoUpdate = false;
      group.matrix.fromArray(part.frame);
      this.carriers[part.carrier].add(group);
      if (part.twist) for (const shape of [solid, edges]) this.twisted.push({ shape, rocker: part.before ? "before rocker" : "rocker", ...part.twist, straight: shape.attributes.position.array.slice() });
      skin.userData.part = this.parts.length;
      this.parts.push({ ...part, group, skin, inside, rim, shown: true, faint: part.body === "wheel" || !!part.before });
    }
    this.parts.forEach(p => this.dress(p));
    this.pose(0, 0);
    this.all = new THREE.Box3().setFromObject(this.scene);
  }

  // with perspective or without, from where the eye now is
  setFlat(on) {
    const to = on ? this.flat : this.deep;
    if (to === this.camera) return;
    to.position.copy(this.camera.position);
    to.quaternion.copy(this.camera.quaternion);
    this.camera = this.controls.object = to;
    to.add(this.lamp);
    this.frame();
  }

  // the camera's window to the shape of the element; without perspective `half` is half its height in mm
  frame() {
    const aspect = this.element.clientWidth / this.element.clientHeight, half = this.half || 500;
    this.deep.aspect = aspect;
    [this.flat.top, this.flat.bottom, this.flat.left, this.flat.right] = [half, -half, -half * aspect, half * aspect];
    this.camera.updateProjectionMatrix();
  }

  // height in mm of what is seen at a point
  tall(at) {
    return this.camera === this.flat ? 2 * this.half / this.camera.zoom : 2 * Math.tan(this.deep.fov * Math.PI / 360) * this.camera.position.distanceTo(at);
  }

  gapLine(colour = GAP) {
    const ends = new THREE.BufferGeometry().setAttribute("position", new THREE.BufferAttribute(new Float32Array(6), 3));
    const line = new THREE.Line(ends, new THREE.LineBasicMaterial({ color: colour, depthTest: false, transparent: true }));
    const dot = new THREE.SphereGeometry(1, 16, 12), paint = new THREE.MeshBasicMaterial({ color: colour, depthTest: false, transparent: true });
    const group = new THREE.Group();
    line.renderOrder = 10;
    line.frustumCulled = false;
    group.add(line, new THREE.Mesh(dot, paint), new THREE.Mesh(dot, paint));
    group.children.forEach(c => { c.renderOrder = 10; });
    group.visible = false;
    this.scene.add(group);
    this.lines = [...(this.lines || []), group];
    return group;
  }

  // where the tie rod's inner joint may stand: a cell round each place, in the plane of its fore-aft, seen through metal
  zoneSheet(z) {
    const at = [], paint = [], rim = [], dy = (z.y[1] - z.y[0]) / 2, dz = (z.z[1] - z.z[0]) / 2;
    const inside = (k, i) => ((z.levels[k] || [])[i] ?? -1) >= 0;
    z.levels.forEach((row, k) => row.forEach((level, i) => {
      if (level < 0) return;
      const [a, b, c, d] = [[-1, -1], [1, -1], [1, 1], [-1, 1]].map(([s, t]) => [z.x, z.y[i] + s * dy, z.z[k] + t * dz]);
      for (const p of [a, b, c, a, c, d]) { at.push(...p); paint.push(...new THREE.Color(z.colours[level]).toArray()); }
      for (const [beside, p, q] of [[inside(k - 1, i), a, b], [inside(k, i + 1), b, c], [inside(k + 1, i), c, d], [inside(k, i - 1), d, a]]) if (!beside) rim.push(...p, ...q);
    }));
    const made = (numbers, colours) => {
      const g = new THREE.BufferGeometry().setAttribute("position", new THREE.Float32BufferAttribute(numbers, 3));
      return colours ? g.setAttribute("color", new THREE.Float32BufferAttribute(colours, 3)) : g;
    };
    const over = { color: INK, depthTest: false, transparent: true, side: THREE.DoubleSide };
    const sheet = new THREE.Mesh(made(at, paint), new THREE.MeshBasicMaterial({ vertexColors: true, side: THREE.DoubleSide, transparent: true, opacity: 0.75, depthTest: false }));
    const edge = new THREE.LineSegments(made(rim), new THREE.LineBasicMaterial(over)), black = new THREE.MeshBasicMaterial(over);
    const quad = (a, b, c, d) => [a, b, c, a, c, d].flat(), on = (r, k) => [r * Math.cos(k * Math.PI / 20), r * Math.sin(k * Math.PI / 20), 0];
    const bar = (w, h) => quad([-w, -h, 0], [w, -h, 0], [w, h, 0], [-w, h, 0]);
    const ring = new THREE.Mesh(made([...Array(40).keys()].flatMap(k => quad(on(0.75, k), on(1, k), on(1, k + 1), on(0.75, k + 1)))), black);
    const cross = new THREE.Mesh(made([...bar(1.2, 0.14), ...bar(0.14, 1.2)]), black);
    ring.position.set(...z.present);
    cross.position.set(...z.best);
    const group = new THREE.Group();
    group.add(sheet, edge, ring, cross);
    [sheet, edge, ring, cross].forEach((c, n) => { c.renderOrder = 6 + n; });
    group.visible = false;
    this.scene.add(group);
    return { group, sheet, marks: [ring, cross] };
  }

  showZone(on) {
    this.zone.group.visible = on;
    const z = this.told.zone, wide = Math.max(...[z.y, z.z].map(v => Math.abs(v[v.length - 1] - v[0])));
    if (on) this.aim(new THREE.Vector3(...z.best), Math.max(40, 2.5 * wide));
    this.ask();
  }

  // how a part is seen: there or not, solid or faint, cut or whole
  dress(p) {
    const faint = p.faint || (this.lit && !this.lit(p));
    p.group.visible = p.shown && !(this.alone && this.lit && !this.lit(p));
    p.skin.material.transparent = faint;
    p.skin.material.opacity = !faint ? 1 : p.before && !this.lit ? OVERLAID : FAINT;
    p.skin.material.depthWrite = !faint;
    p.rim.material.opacity = faint ? 0.2 : 0.55;
    p.inside.visible = !!this.cut && !faint;
    for (const m of [p.skin.material, p.inside.material, p.rim.material]) {
      m.clippingPlanes = this.cut ? [this.plane] : null;
      m.needsUpdate = true;
    }
  }

  redress() {
    this.parts.forEach(p => this.dress(p));
    this.ask();
  }

  // only some parts stay solid, the rest faint, or gone where those stand alone; null lights all
  light(which, alone = false) {
    this.lit = which;
    this.alone = alone;
    this.redress();
  }

  pose(wheel, rack) {
    for (const [name, group] of Object.entries(this.carriers)) group.matrix.fromArray(this.motion.matrix(name, wheel, rack));
    for (const t of this.twisted) this.twist(t, t.ride_deg + t.per_rocker_deg * this.rockerDeg(t.rocker, wheel, rack));
    this.ask();
  }

  rockerDeg(rocker, wheel, rack) {
    const m = this.motion.matrix(rocker, wheel, rack), axis = new THREE.Vector3(...this.told.axis).normalize();
    const turn = new THREE.Vector3(m[6] - m[9], m[8] - m[2], m[1] - m[4]).dot(axis);
    return Math.atan2(turn, m[0] + m[5] + m[10] - 1) * 180 / Math.PI;
  }

  // a spring's points from where they lie without twist: its rocker's end turned by so much, its far end held
  twist({ shape, straight, length_mm }, degrees) {
    const at = shape.attributes.position;
    for (let i = 0; i < straight.length; i += 3) {
      const turn = degrees * Math.PI / 180 * Math.min(Math.max(1 - straight[i + 2] / length_mm, 0), 1), c = Math.cos(turn), s = Math.sin(turn);
      at.array[i] = c * straight[i] - s * straight[i + 1];
      at.array[i + 1] = s * straight[i] + c * straight[i + 1];
    }
    at.needsUpdate = true;
    if (shape.index) shape.computeVertexNormals();
  }

  // the line of a gap between two points in car axes; null: none
  gap(from, to) {
    this.line.visible = !!from;
    if (from) this.span(this.line, from, to);
    this.ask();
  }

  // a line with its two dots from point to point
  span({ children: [line, a, b] }, from, to) {
    line.geometry.attributes.position.array.set([...from, ...to]);
    line.geometry.attributes.position.needsUpdate = true;
    a.position.set(...from);
    b.position.set(...to);
  }

  // the same, and the camera turned to where it is seen
  showGap(from, to, bodies) {
    this.gap(from, to);
    const a = new THREE.Vector3(...from), b = new THREE.Vector3(...to);
    this.aim(a.clone().lerp(b, 0.5), Math.max(260, 14 * a.distanceTo(b)), this.clearWay(a, b, bodies));
  }

  // of the directions across a gap the one with the least of its two bodies before it; of equals the nearest to the present one
  clearWay(a, b, bodies) {
    const along = b.clone().sub(a), now = this.camera.position.clone().sub(this.controls.target).normalize();
    if (along.length() < 1e-3) return now;
    along.normalize();
    const first = new THREE.Vector3().crossVectors(along, Math.abs(along.z) < 0.9 ? new THREE.Vector3(0, 0, 1) : new THREE.Vector3(1, 0, 0)).normalize(), second = new THREE.Vector3().crossVectors(along, first);
    const skins = this.parts.filter(p => bodies.includes(p.body) && p.shown).map(p => p.skin), ray = new THREE.Raycaster();
    this.scene.updateMatrixWorld();
    let best = now, least = Infinity;
    for (let k = 0; k < 24; k++) {
      const way = first.clone().multiplyScalar(Math.cos(k * Math.PI / 12)).addScaledVector(second, Math.sin(k * Math.PI / 12));
      let hidden = 0;
      for (const share of [0.2, 0.5, 0.8]) {
        ray.set(a.clone().lerp(b, share), way);
        ray.near = 0.2;
        hidden += ray.intersectObjects(skins, false).length;
      }
      if (hidden - 0.5 * way.dot(now) < least) { least = hidden - 0.5 * way.dot(now); best = way; }
    }
    return best;
  }

  // turn the camera to a point, from where it now is or from a given way
  aim(at, far, way) {
    const back = way || this.camera.position.clone().sub(this.controls.target).normalize();
    this.controls.target.copy(at);
    this.camera.position.copy(at).addScaledVector(back, this.camera === this.flat ? 5000 : far * 2.4);
    if (this.camera === this.flat) { this.half = 0.6 * far; this.camera.zoom = 1; this.frame(); }
    this.controls.update();
  }

  look(name) {
    const out = this.told.side === "left" ? 1 : -1, axis = new THREE.Vector3(...this.told.axis).normalize();
    if (Math.abs(axis.x) > 0.3 && axis.x < 0) axis.negate();
    const from = { "three-quarter": new THREE.Vector3(0.9, 0.75 * out, 0.45), outside: new THREE.Vector3(0, out, 0), front: new THREE.Vector3(1, 0, 0),
      above: new THREE.Vector3(0.0, -1e-4 * out, 1), axis }[name];
    this.setFlat(name !== "three-quarter");
    this.fit(from);
  }

  // all parts in the window, seen from a direction (else from where the camera now is)
  fit(from, parts) {
    const toEye = (from || this.camera.position.clone().sub(this.controls.target)).clone().normalize();
    const right = new THREE.Vector3().crossVectors(this.camera.up, toEye).normalize(), up = new THREE.Vector3().crossVectors(toEye, right);
    const corners = (parts || this.parts.filter(p => p.shown)).flatMap(p => this.corners(p)).map(c => [c.dot(right), c.dot(up), c.dot(toEye)]);
    if (!corners.length) return;
    const [mx, my, mz] = [0, 1, 2].map(k => (Math.min(...corners.map(c => c[k])) + Math.max(...corners.map(c => c[k]))) / 2);
    const ty = Math.tan(this.deep.fov * Math.PI / 360), tx = ty * this.deep.aspect;
    const far = Math.max(...corners.map(c => Math.max(Math.abs(c[0] - mx) / tx, Math.abs(c[1] - my) / ty) + c[2] - mz));
    this.controls.target.copy(right).multiplyScalar(mx).addScaledVector(up, my).addScaledVector(toEye, mz);
    this.half = 1.04 * Math.max(...corners.map(c => Math.max(Math.abs(c[0] - mx) / this.deep.aspect, Math.abs(c[1] - my))));
    this.camera.position.copy(this.controls.target).addScaledVector(toEye, this.camera === this.flat ? 5000 : 1.04 * far);
    this.flat.zoom = 1;
    this.frame();
    this.controls.update();
    this.ask();
  }

  // the eight corners of a part's box, where it now stands
  corners(p) {
    const { min, max } = p.skin.geometry.boundingBox || (p.skin.geometry.computeBoundingBox(), p.skin.geometry.boundingBox);
    p.group.updateWorldMatrix(true, false);
    return [0, 1, 2, 3, 4, 5, 6, 7].map(k => new THREE.Vector3(k & 1 ? max.x : min.x, k & 2 ? max.y : min.y, k & 4 ? max.z : min.z).applyMatrix4(p.group.matrixWorld));
  }

  turn(across, up) {
    const s = this.camera.position.clone().sub(this.controls.target), r = s.length();
    let polar = Math.acos(s.z / r) - up, around = Math.atan2(s.y, s.x) + across;
    polar = Math.min(Math.max(polar, 0.02), Math.PI - 0.02);
    this.camera.position.copy(this.controls.target).add(new THREE.Vector3(r * Math.sin(polar) * Math.cos(around), r * Math.sin(polar) * Math.sin(around), r * Math.cos(polar)));
    this.controls.update();
    this.ask();
  }

  zoom(by) {
    if (this.camera === this.flat) { this.camera.zoom /= by; this.camera.updateProjectionMatrix(); this.ask(); return; }
    this.camera.position.sub(this.controls.target).multiplyScalar(by).add(this.controls.target);
    this.controls.update();
    this.ask();
  }

  setCut(kind, share) {
    this.cut = kind;
    const way = { x: [-1, 0, 0], y: [0, this.told.side === "left" ? -1 : 1, 0], z: [0, 0, -1], rocker: this.told.axis }[kind];
    if (way) {
      const n = new THREE.Vector3(...way).normalize(), c = this.all.getCenter(new THREE.Vector3()), half = this.all.getSize(new THREE.Vector3());
      let middle = n.dot(c), reach = (Math.abs(n.x) * half.x + Math.abs(n.y) * half.y + Math.abs(n.z) * half.z) / 2;
      if (kind === "rocker") { middle = n.dot(new THREE.Vector3(...this.told.points.find(p => p.name === "pivot").at)); reach = 90; }
      this.plane.normal.copy(n);
      this.plane.constant = -(middle + (2 * share - 1) * reach);
    }
    this.redress();
    // where it is: in the car's axes, or along the rocker's axis from its pivot
    const sign = kind === "rocker" ? 1 : way ? Math.sign(way[{ x: 0, y: 1, z: 2 }[kind]]) : 0;
    const pivot = new THREE.Vector3(...this.told.points.find(p => p.name === "pivot").at);
    return way ? sign * -this.plane.constant - (kind === "rocker" ? this.plane.normal.dot(pivot) : 0) : null;
  }

  // the part under a place of the screen, and where on it: solid parts before faint ones
  hit(x, y) {
    const box = this.renderer.domElement.getBoundingClientRect(), ray = new THREE.Raycaster();
    ray.setFromCamera(new THREE.Vector2(2 * (x - box.left) / box.width - 1, 1 - 2 * (y - box.top) / box.height), this.camera);
    const hits = ray.intersectObjects(this.parts.filter(p => p.shown).map(p => p.skin), false)
      .filter(h => !this.cut || this.plane.distanceToPoint(h.point) >= 0).map(h => ({ part: this.parts[h.object.userData.part], point: h.point }));
    return hits.find(h => h.part.skin.material.opacity === 1) || hits[0] || null;
  }

  pick(x, y) {
    const found = this.hit(x, y);
    return found && found.part;
  }

  // where a point of the car is in the window, in its own pixels
  // where the eye stands; given one that was told before, it stands there again
  eye(told) {
    if (told && !this.sized) { this.first = told; return told; }
    if (told) {
      this.setFlat(told.flat);
      this.controls.target.fromArray(told.target);
      this.camera.position.fromArray(told.from);
      this.half = told.half;
      this.camera.zoom = told.zoom;
      this.frame();
      this.controls.update();
      this.ask();
    }
    return { flat: this.camera === this.flat, target: this.controls.target.toArray(), from: this.camera.position.toArray(), half: this.half, zoom: this.camera.zoom };
  }

  seen(at) {
    this.camera.updateMatrixWorld();
    const v = new THREE.Vector3(...at).project(this.camera), box = this.renderer.domElement;
    return [(v.x + 1) / 2 * box.clientWidth, (1 - v.y) / 2 * box.clientHeight];
  }

  size() {
    const w = this.element.clientWidth, h = this.element.clientHeight;
    if (!w || !h) return;
    this.renderer.setSize(w, h, false);
    this.frame();
    if (!this.sized) { this.sized = true; this.look("three-quarter"); if (this.first) this.eye(this.first); }
    this.ask();
  }

  ask() {
    if (this.asked) return;
    this.asked = true;
    requestAnimationFrame(() => {
      this.asked = false;
      for (const { children: [, a, b] } of this.lines) for (const dot of [a, b]) dot.scale.setScalar(this.tall(dot.position) * 0.009);
      for (const mark of this.zone ? this.zone.marks : []) {
        mark.scale.setScalar(this.tall(mark.position) * 0.012);
        mark.quaternion.copy(this.camera.quaternion);
      }
      this.renderer.render(this.scene, this.camera);
      this.frames = (this.frames || 0) + 1;
      if (this.drawn) this.drawn();
    });
  }
}
