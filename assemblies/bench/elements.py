"""Solid finite elements beside the hand formulas of a bracket's foot, of the pivot's stub in its tube and of
the anchor's bolts: `uv run --group elements python -m assemblies.bench.elements`, some ten minutes. No room
of the program uses it; what it found stands where the formula stands.

Mesh by gmsh, ten-noded tetrahedra by scikit-fem. A line is a figure by hand, the same by elements, and hand
over elements: over 1 the hand is on the safe side.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from types import SimpleNamespace
from typing import Any

import numpy as np

from assemblies.strength.brackets import ALONG_FLAT, ENDS_LEGS, foot_weld
from parts.base.frozen import dataclass
from parts.base.stock import E_MPA, POISSON, STEELS
from parts.calc.bearings import tube_stress, two_supports
from parts.calc.bolts import torque_forces_n
from parts.calc.hollow import face_resistance, held_width_mm, round_resistance
from parts.calc.sections import corner_radii_mm
from parts.calc.welds import throat_mm, weld_resistance_n_per_mm

STRIP_MM = 3.0  # flows along a foot are means over a strip: about a fillet's leg
STANDS = (
    1.087 * 96**-0.65
)  # stretch that a fillet pulled square to its run stands, in legs: AISC 360 J2.4, from
# memory
SHEAR = E_MPA / (2 * (1 + POISSON))
FIRST = E_MPA * POISSON / ((1 + POISSON) * (1 - 2 * POISSON))  # Lamé's
Where = Callable[[np.ndarray], np.ndarray]  # points (3, n) -> which
Row = tuple[str, float, float]  # what, by hand, by elements


# ------------------------------------------------------------ mesh and solution


def meshed(
    build: Callable[[Any], None], size: Callable[[float, float, float], float]
) -> tuple[np.ndarray, np.ndarray]:
    """What `build(occ)` makes, as tetrahedra: points (3, n), corners (4, m)."""
    import gmsh

    gmsh.initialize(interruptible=False)
    try:
        gmsh.option.setNumber("General.Terminal", 0)
        for source in ("FromPoints", "FromCurvature", "ExtendFromBoundary"):
            gmsh.option.setNumber(f"Mesh.MeshSize{source}", 0)
        build(gmsh.model.occ)
        gmsh.model.occ.synchronize()
        gmsh.model.mesh.setSizeCallback(lambda dim, tag, x, y, z, lc: size(x, y, z))
        gmsh.model.mesh.generate(3)
        tags, flat, _ = gmsh.model.mesh.getNodes()
        place = np.zeros(int(tags.max()) + 1, int)
        place[tags] = np.arange(len(tags))
        _, nodes = gmsh.model.mesh.getElementsByType(4)
        used, corners = np.unique(place[nodes], return_inverse=True)
        points = np.ascontiguousarray(flat.reshape(-1, 3)[used].T)
        return points, np.ascontiguousarray(corners.reshape(-1, 4).T)
    finally:
        gmsh.finalize()


class HeldBody:
    """A body of steel, held; its stiffness is factorised once."""

    def __init__(self, points, corners, held=(), beds=()) -> None:
        """`held`: places on the skin that stay; `beds`: (place, N/mm³ square to the skin, N/mm³ any way)."""
        import skfem
        from scipy.sparse.linalg import splu
        from skfem.helpers import ddot, dot, sym_grad

        self.grid = skfem.MeshTet(points, corners)
        self.basis = skfem.Basis(self.grid, skfem.ElementVector(skfem.ElementTetP2()), intorder=2)
        self._work = skfem.LinearForm(lambda v, w: ddot(w["stress"], sym_grad(v)))
        k = skfem.BilinearForm(lambda u, v, w: ddot(_stress(sym_grad(u)), sym_grad(v))).assemble(self.basis)
        self.beds = []
        for where, square, any_way in beds:
            form = skfem.BilinearForm(
                lambda u, v, w, a=square, b=any_way: a * dot(u, w.n) * dot(v, w.n) + b * dot(u, v)
            )
            self.beds.append(form.assemble(self._skin(where)))
            k = k + self.beds[-1]
        fixed = [self.basis.get_dofs(self._facets(where)).all() for where in held]
        self.free = np.setdiff1d(np.arange(self.basis.N), np.concatenate(fixed) if fixed else [])
        self._solve = splu(
            k.tocsr()[self.free][:, self.free].tocsc(),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        ).solve
        self.middle = self.grid.p[:, self.grid.t].mean(1)
        self.way = np.zeros(self.basis.N, int)  # 0, 1, 2 of each unknown
        for dofs in (self.basis.nodal_dofs, self.basis.edge_dofs):
            for i in (1, 2):
                self.way[dofs[i]] = i

    def _facets(self, where: Where):
        found = self.grid.facets_satisfying(where, boundaries_only=True)
        if not len(found):
            raise ValueError("a load or a held place lies on no skin of the mesh")
        return found

    def _skin(self, where: Where):
        import skfem

        return skfem.FacetBasis(self.grid, self.basis.elem, facets=self._facets(where))

    def load(self, where: Where, traction) -> np.ndarray:
        """MPa on a place of the skin: (3,), or a function of points."""
        import skfem
        from skfem.helpers import dot

        def at(x):
            return traction(x) if callable(traction) else np.array(traction)[:, None, None] + 0 * x

        return skfem.LinearForm(lambda v, w: dot(at(w.x), v)).assemble(self._skin(where))

    def moved(self, load: np.ndarray) -> np.ndarray:
        u = np.zeros(self.basis.N)
        u[self.free] = self._solve(load[self.free])
        return u

    def strain(self, u: np.ndarray) -> np.ndarray:
        """(3, 3, elements, points in each)."""
        from skfem.helpers import sym_grad

        return np.asarray(sym_grad(self.basis.interpolate(u)))

    def von_mises_mpa(self, u: np.ndarray) -> np.ndarray:
        """Mean of each element."""
        s = _stress(self.strain(u)).mean(-1)
        deviator = s - np.eye(3)[:, :, None] * np.trace(s) / 3
        return np.sqrt(1.5 * (deviator**2).sum((0, 1)))

    def forces(self, stress: np.ndarray, elements: np.ndarray | None = None) -> np.ndarray:
        """Of all unknowns, N; of some elements: what the rest puts on them."""
        import skfem

        if elements is None:
            return self._work.assemble(self.basis, stress=stress)
        part = skfem.Basis(self.grid, self.basis.elem, elements=np.nonzero(elements)[0], intorder=2)
        return self._work.assemble(part, stress=stress[:, :, elements])

    def yielded(self, load: np.ndarray, yield_mpa: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Displacement and stress where each element yields (Hencky's total strains, next to no hardening),
        by the elastic stiffness again and again, Anderson's mixing of the last steps. Raises ValueError where
        the load is not carried."""
        u = np.zeros(self.basis.N)
        kept: list[tuple[np.ndarray, np.ndarray]] = []
        for _ in range(300):
            stress = _stress(self.strain(u), yield_mpa[:, None])
            left = load - self.forces(stress)
            if np.linalg.norm(left[self.free]) < 5e-3 * np.linalg.norm(load[self.free]):
                return u, stress
            step = self._solve(left[self.free])
            kept = [*kept, (u[self.free].copy(), step)][-7:]
            more = np.zeros_like(step)
            if len(kept) > 1:
                d_step = np.array([step - s for _, s in kept[:-1]]).T
                d_u = np.array([u[self.free] - x for x, _ in kept[:-1]]).T
                more = (d_u + d_step) @ np.linalg.lstsq(d_step, step, rcond=1e-10)[0]
            u[self.free] += step - more
        raise ValueError("the load is not carried")


def _stress(strain, yield_mpa=None):
    strain = np.asarray(strain)
    grown = np.eye(3).reshape(3, 3, *(1,) * (strain.ndim - 2)) * np.trace(strain)
    deviator = 2 * SHEAR * (strain - grown / 3)
    if yield_mpa is not None:
        size = np.sqrt(1.5 * (deviator**2).sum((0, 1)))
        deviator = deviator * np.minimum(
            1.0, (yield_mpa + 0.002 * np.maximum(size - yield_mpa, 0)) / np.maximum(size, 1e-9)
        )
    return deviator + (FIRST + 2 * SHEAR / 3) * grown


# ------------------------------------------------------------ a tab's foot on a tube


@dataclass(frozen=True)
class Foot:
    """A tab that stands on a tube along y, whose top is at z = 0; `turn_deg` from across it (0) to along it
    (90)."""

    name: str
    round: bool
    size_mm: float
    wall_mm: float
    tab_mm: float
    run_mm: float
    reach_mm: float
    turn_deg: float
    steels: tuple[str, str] = ("S235", "S235")  # of tube and tab
    long_mm: float = 140.0  # of tube, held at both ends

    @property
    def leg_mm(self) -> float:
        return min(self.wall_mm, self.tab_mm)

    def across(self, x, y) -> tuple[Any, Any]:
        """Along the run and square to it."""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        return x * c + y * s, -x * s + y * c

    def build(self, occ) -> None:
        s, w, long = self.size_mm, self.wall_mm, self.long_mm
        if self.round:
            full = occ.addCylinder(0, -long / 2, -s / 2, 0, long, 0, s / 2)
            bore = occ.addCylinder(0, -long, -s / 2, 0, 2 * long, 0, s / 2 - w)
        else:
            full, bore = (
                self._bar(occ, half, radius, length)
                for half, radius, length in zip(
                    (s / 2, s / 2 - w), corner_radii_mm(w), (long, 2 * long), strict=True
                )
            )
        tab = occ.addBox(
            -self.run_mm / 2, -self.tab_mm / 2, -s / 2, self.run_mm, self.tab_mm, s / 2 + self.reach_mm
        )
        occ.rotate([(3, tab)], 0, 0, 0, 0, 0, 1, math.radians(self.turn_deg))
        ((_, tab),), _ = occ.cut([(3, tab)], [(3, full)], removeTool=False)
        ((_, tube),), _ = occ.cut([(3, full)], [(3, bore)])
        occ.fragment([(3, tube)], [(3, tab)])

    def _bar(self, occ, half: float, radius: float, length: float) -> int:
        face = occ.addRectangle(-half, -half, 0, 2 * half, 2 * half, roundedRadius=radius)
        made = next(t for d, t in occ.extrude([(2, face)], 0, 0, length) if d == 3)
        occ.translate([(3, made)], 0, 0, -length / 2)
        occ.rotate([(3, made)], 0, 0, 0, 1, 0, 0, math.pi / 2)
        occ.translate([(3, made)], 0, 0, -self.size_mm / 2)
        return made

    def top_mm(self, x: np.ndarray) -> np.ndarray:
        """Height of the tube's outside at x."""
        r = self.size_mm / 2 if self.round else corner_radii_mm(self.wall_mm)[0]
        over = np.abs(x) - (0.0 if self.round else self.size_mm / 2 - r)
        return np.sqrt(np.maximum(r * r - np.maximum(over, 0.0) ** 2, 0.0)) - r

    def body(self, fine_mm: float) -> HeldBody:
        def near(x, y, z):
            s, n = self.across(x, y)
            out = max(abs(s) - self.run_mm / 2 - 1, 0), max(abs(n) - self.tab_mm / 2 - 1, 0)
            return math.hypot(*out, max(z - 3, 0, -z - self.wall_mm - self.size_mm / 8))

        mesh = meshed(self.build, lambda *q: fine_mm + min(6.0, 0.35 * near(*q)))
        return HeldBody(*mesh, held=[lambda q: np.abs(q[1]) > self.long_mm / 2 - 1e-3])

    def loads(self, b: HeldBody) -> dict[str, np.ndarray]:
        """1 N at the eye's height: off the tube, and along the run."""
        c, s = math.cos(math.radians(self.turn_deg)), math.sin(math.radians(self.turn_deg))
        area = self.run_mm * self.tab_mm
        ways = {"pull": (0, 0, 1 / area), "side": (c / area, s / area, 0)}
        return {k: b.load(lambda q: q[2] > self.reach_mm - 1e-3, v) for k, v in ways.items()}

    def tab(self, b: HeldBody) -> np.ndarray:
        s, n = self.across(*b.middle[:2])
        on = (np.abs(s) < self.run_mm / 2) & (np.abs(n) < self.tab_mm / 2)
        return on & (b.middle[2] > self.top_mm(b.middle[0]))

    def ends_n_per_mm(self, b: HeldBody, stress: np.ndarray) -> float:
        """The greater flow off the tube of the two end strips, both fillets together."""
        at, force = b.basis.doflocs, b.forces(stress, self.tab(b))
        s, n = self.across(at[0], at[1])
        on = (np.abs(at[2] - self.top_mm(at[0])) < 0.2) & (np.abs(n) < self.tab_mm / 2 + 1e-6) & (b.way == 2)
        wide = self.run_mm / max(round(self.run_mm / STRIP_MM), 4)
        ends = (np.abs(s - side * self.run_mm / 2) < wide + 1e-6 for side in (-1, 1))
        return max(abs(float(force[on & end].sum())) for end in ends) / wide

    def counts_mm(self) -> tuple[float, float]:
        """Run and what counts of it, as `assemblies.strength.brackets` has it for tubes under the foot."""
        full = self.run_mm - 2 * throat_mm(self.leg_mm)
        if self.round or self.turn_deg > 45:
            return full, full
        tube, tab = (STEELS[s] for s in self.steels)
        return full, held_width_mm(
            full, self.size_mm, self.wall_mm, tube.yield_mpa, self.tab_mm, tab.yield_mpa
        )

    def by_hand_n_per_mm(self, run_mm: float, counts_mm: float) -> dict[str, float]:
        like: Any = SimpleNamespace(
            thickness_mm=self.tab_mm, run_mm=run_mm, reach_mm=self.reach_mm, foot="butt"
        )
        flow = foot_weld(like, run_mm, counts_mm).worst_n_per_mm(
            np.eye(3)[:2], np.zeros((2, 3)), np.array([0, 0, self.tab_mm / 2])
        )
        return {"pull": 2 * flow[0], "side": 2 * math.sqrt(max(flow[1] ** 2 - (0.5 / counts_mm) ** 2, 0.0))}

    def allowed_n(self) -> dict[str, float]:
        """The most that the rows of weld and wall allow."""
        tube = STEELS[self.steels[0]]
        along = self.turn_deg > 45
        wide, long = (self.tab_mm, self.run_mm) if along else (self.run_mm, self.tab_mm)
        wall = (
            round_resistance(self.wall_mm, self.size_mm, wide, long, tube.yield_mpa, along)
            if self.round
            else face_resistance(self.wall_mm, self.size_mm, wide, long, tube.yield_mpa)
        )
        moment = wall.along_nmm if along else wall.across_nmm
        if along and not self.round:
            moment *= ALONG_FLAT
        flow, least = self.by_hand_n_per_mm(*self.counts_mm()), 2 * self.weld_n_per_mm()
        return {
            "pull": min(wall.force_n, least / flow["pull"]),
            "side": min(moment / self.reach_mm, least / flow["side"]),
        }

    def weld_n_per_mm(self) -> float:
        soft = min((STEELS[s] for s in self.steels), key=lambda s: s.fu_mpa)
        return float(weld_resistance_n_per_mm(throat_mm(self.leg_mm), soft.fu_mpa, soft.beta_w))


FEET = (
    Foot("square 30 x 3, across", False, 30, 3, 8, 24, 25, 0, ("S355", "S275")),
    Foot("square 30 x 2, across", False, 30, 2, 3, 24, 22, 0),
    Foot("square 30 x 3, aslant", False, 30, 3, 8, 44, 31, 57, ("S355", "S275")),
    Foot("square 40 x 3, along", False, 40, 3, 5, 40, 40, 90),
    Foot("square 30 x 2, along", False, 30, 2, 3, 40, 30, 90),
    Foot("round 60.3 x 2.9, across", True, 60.3, 2.9, 6, 30, 23, 0),
    Foot("round 60.3 x 2.9, aslant", True, 60.3, 2.9, 6, 36, 23, 50),
    Foot("round 48.3 x 2.6, along", True, 48.3, 2.6, 4, 40, 28, 90),
)


def feet(fine_mm: float = 2.0) -> Iterator[Row]:
    """Flow at a foot's ends where nothing yields, N/mm of 1000 N: what the fatigue row takes. Then, the weld
    a leg high yielding at what its row allows (times 0.6, for it cannot narrow) and the tube at its own
    yield: the stretch of the weld's ends at the load that the rows allow, against what a fillet stands."""
    for foot in FEET:
        b = foot.body(fine_mm)
        hand = foot.by_hand_n_per_mm(foot.run_mm, ENDS_LEGS * foot.leg_mm)
        loads = foot.loads(b)
        for way, load in loads.items():
            found = foot.ends_n_per_mm(b, _stress(b.strain(b.moved(load))))
            yield f"{foot.name}, {way}: flow at its ends, N/mm of 1 kN", 1e3 * hand[way], 1e3 * found
        tab = foot.tab(b)
        low = tab & (b.middle[2] < foot.top_mm(b.middle[0]) + foot.leg_mm)
        limit = np.where(tab, 1e6, STEELS[foot.steels[0]].yield_mpa)  # the tab has rows of its own
        limit[low] = 0.6 * 2 * foot.weld_n_per_mm() / foot.tab_mm
        ends = low & (np.abs(foot.across(*b.middle[:2])[0]) > foot.run_mm / 2 - STRIP_MM)
        for way, load in loads.items():
            most = foot.allowed_n()[way]
            u, stress = b.yielded(most * load, limit)
            stretch = float(np.abs(b.strain(u)[2, 2][ends].mean(-1)).max()) * foot.leg_mm
            name = f"{foot.name}, {way} of {most:.0f} N: stretch that a fillet stands and its ends have, mm"
            yield name, STANDS * foot.leg_mm, stretch
            flow = foot.ends_n_per_mm(b, stress)
            yield (
                f"{foot.name}, {way} of {most:.0f} N: flow then, weld yielding, N/mm",
                2 * foot.weld_n_per_mm(),
                flow,
            )


# ------------------------------------------------------------ the stub in its tube


def stub(fine_mm: float = 5.0) -> Iterator[Row]:
    """A stub 40 x 6 in two bushes 20 wide, 47 and 180 mm from the rocker's middle, 6 kN across and 350 N·m;
    then the tube 60.3 x 2.9 with its rings under the bushes' forces, held round its node 63 mm on."""
    force, torque, near, far, wide = 6000.0, 350e3, 47.0, 180.0, 20.0
    outer, bore, end, half = 20.0, 14.0, 195.0, 20.0

    def tube(occ):
        full = occ.addCylinder(0, 0, -half, 0, 0, end + half, outer)
        occ.cut([(3, full)], [(3, occ.addCylinder(0, 0, -half - 1, 0, 0, end + half + 2, bore))])

    def skin(low, high):
        return lambda q: (np.hypot(q[0], q[1]) > outer - 0.4) & (q[2] > low) & (q[2] < high)

    def bush(at):
        return skin(at - wide / 2, at + wide / 2)

    b = HeldBody(
        *meshed(tube, lambda x, y, z: fine_mm),
        beds=[(bush(near), 2e3, 0.0), (bush(far), 2e3, 0.0), (lambda q: q[2] > end - 1e-3, 0.0, 1e-2)],
    )
    area, polar = 2 * math.pi * outer * 2 * half, 2 * math.pi * outer**2 * 2 * half
    last = math.pi / 2 * (outer**4 - bore**4)
    turn = b.load(skin(-half, half), lambda x: np.stack([-x[1], x[0], 0 * x[0]]) / outer * torque / polar)
    turn += b.load(lambda q: q[2] > end - 1e-3, lambda x: np.stack([x[1], -x[0], 0 * x[0]]) * torque / last)
    u = b.moved(b.load(skin(-half, half), (0, force / area, 0)) + turn)
    first, second = two_supports(np.array([[0, force, 0]]), np.array([[0.0, 0, 0]]), near, far)
    for name, hand, bed in (("near", first, b.beds[0]), ("far", second, b.beds[1])):
        taken = float((bed @ u)[b.way == 1].sum())
        yield f"stub: force of the {name} bush, N", float(np.abs(hand[0, 1])), abs(taken)
    moment = abs(float(second[0, 1])) * (far - near)
    by_hand = tube_stress(2 * outer, 2 * bore, moment, torque, force)
    at = (np.abs(b.middle[2] - near) < fine_mm) & (np.hypot(*b.middle[:2]) > outer - fine_mm)
    yield (
        "stub: von Mises at the near bush, MPa",
        float(by_hand.worst_mpa),
        float(b.von_mises_mpa(u)[at].max()),
    )
    yield from _spring_tube(force, near, far, wide, fine_mm)


def _spring_tube(force, near, far, wide, fine_mm) -> Iterator[Row]:
    radius, wall, ring, node, start, end = 30.15, 2.9, 22.0, 63.0, 35.0, 330.0

    def build(occ):
        full = occ.addCylinder(0, 0, start, 0, 0, end - start, radius)
        ((_, made),), _ = occ.cut(
            [(3, full)], [(3, occ.addCylinder(0, 0, start - 1, 0, 0, end, radius - wall))]
        )
        rings = []
        for at in (near, far):
            solid = occ.addCylinder(0, 0, at - wide / 2, 0, 0, wide, radius - wall)
            ((_, r),), _ = occ.cut(
                [(3, solid)], [(3, occ.addCylinder(0, 0, at - wide, 0, 0, 2 * wide, ring))]
            )
            rings.append((3, r))
        occ.fuse([(3, made)], rings)

    def held(q):
        return (np.hypot(q[0], q[1]) > radius - 0.3) & (np.abs(q[2] - node) < 4)

    b = HeldBody(*meshed(build, lambda *q: fine_mm), held=[held, lambda q: q[2] > end - 1e-3])
    load = np.zeros(b.basis.N)
    for at, push in ((near, force * far / (far - near)), (far, -force * near / (far - near))):
        peak = 2 * abs(push) / (math.pi * ring * wide)

        def pressed(x, peak=peak, way=push):
            on = peak * np.maximum(np.sign(way) * x[1], 0) / np.hypot(x[0], x[1])
            return np.stack([x[0], x[1], 0 * x[0]]) / np.hypot(x[0], x[1]) * on

        def bed(q, at=at):
            return (np.hypot(q[0], q[1]) < ring + 0.2) & (np.abs(q[2] - at) < wide / 2)

        load += b.load(bed, pressed)
    u = b.moved(load)
    hand = tube_stress(2 * radius, 2 * (radius - wall), force * node, 0.0, force)
    tube = np.hypot(*b.middle[:2]) > radius - wall
    clear = np.abs(b.middle[2] - node) > 4 + fine_mm
    found = b.von_mises_mpa(u)
    yield (
        "spring tube: von Mises where its node holds it, MPa",
        float(hand.worst_mpa),
        float(found[tube & clear].max()),
    )


# ------------------------------------------------------------ the anchor's bolts


def anchor(fine_mm: float = 5.0) -> Iterator[Row]:
    """Turning plate 149 x 6 on a socket of 42.5, 500 N·m, M8 on a circle of 62.7: the greatest bolt force of
    bolts straight across, of two 60 deg apart and of three that stand unevenly, in their own holes alone; the
    plate's stress beside them."""
    outer, inner, t, r, hole, torque = 74.65, 21.25, 6.0, 62.66, 4.0, 500e3
    for name, angles in (
        ("two straight across", (0, 180)),
        ("two 60 deg apart", (0, 60)),
        ("three at 0, 100 and 200 deg", (0, 100, 200)),
    ):
        at = r * np.array([(math.cos(math.radians(a)), math.sin(math.radians(a))) for a in angles])

        def build(occ, at=at):
            plate = occ.addCylinder(0, 0, 0, 0, 0, t, outer)
            cuts = [(3, occ.addCylinder(0, 0, -1, 0, 0, t + 2, inner))]
            cuts += [(3, occ.addCylinder(*p, -1, 0, 0, t + 2, hole)) for p in at]
            occ.cut([(3, plate)], cuts)

        def near(p):
            return lambda q: np.hypot(q[0] - p[0], q[1] - p[1]) < hole + 0.2

        def size(x, y, z, at=at):
            return min(fine_mm, 1.3 + 0.25 * max(min(math.hypot(x - p[0], y - p[1]) for p in at) - hole, 0))

        b = HeldBody(
            *meshed(build, size),
            beds=[*((near(p), 1e4, 0.0) for p in at), (lambda q: q[2] < 1e-6, 0.0, 1e-4)],
        )
        spread = torque / (2 * math.pi * inner**2 * t)
        u = b.moved(
            b.load(
                lambda q: np.hypot(q[0], q[1]) < inner + 0.2,
                lambda x, s=spread: np.stack([-x[1], x[0], 0 * x[0]]) / np.hypot(x[0], x[1]) * s,
            )
        )
        found = [np.hypot(*((bed @ u)[b.way == i].sum() for i in (0, 1))) for bed in b.beds[: len(at)]]
        hand = np.hypot(*torque_forces_n(at, torque)[0].T)
        yield f"anchor, {name}: greatest bolt force, N", float(hand.max()), float(max(found))
        if len(at) == 2:
            far = np.min([np.hypot(b.middle[0] - p[0], b.middle[1] - p[1]) for p in at], axis=0) > 2 * hole
            yield (
                f"anchor, {name}: von Mises of the plate two radii off, of 235 MPa",
                235.0,
                float(b.von_mises_mpa(u)[far].max()),
            )


def main() -> None:
    try:
        import gmsh  # noqa: F401
        import skfem  # noqa: F401
    except ImportError as e:
        raise SystemExit(f"{e}: uv run --group elements python -m assemblies.bench.elements") from None
    for source in (anchor, stub, feet):
        for name, hand, elements in source():
            print(f"{hand:10.4g} {elements:10.4g} {hand / elements:8.3f}  {name}", flush=True)


if __name__ == "__main__":
    main()
