"""The rocker's plates as arms: every cut from the pivot tube to the eyes under tension, bending both ways,
shear and twist.

A cut square to an arm's line through both plates; what stands beyond it (one eye, or both where no hollow
parts the arms) is balanced on it. In the plane only the plates' net section counts (holes and window out,
strips left out: the safe side). Out of the plane a cut with strips on both edges works as a box; where the
strips make room for the joint the two plates work as the legs of a frame, held by the box at one end and by
the tightened bolt, spacers and ball at the other.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces, RockerForces
from assemblies.strength.row import Check, worst
from parts.base.distinct import distinct
from parts.base.frozen import dataclass
from parts.base.stock import E_MPA, Steel
from parts.calc.columns import reduction_factor
from parts.calc.plate_section import crossings, cut
from parts.calc.torsion import closed_wall_flow_n_per_mm
from parts.rocker import BoxedRocker
from parts.rocker_plate import ARMS

CUTS = 25  # along an arm; the weakest lies at a boss's or a hole's edge, both among them
HOLLOW_CUTS = 13
# what the stiff tube beside a cut adds, by the angle between the arms: set by finite elements on plates of
# many shapes (see the tests)
BESIDE_TUBE, BESIDE_TUBE_NARROW, NARROW_DEG = 1.3, 1.7, 75.0
BEAM = "beam theory, elastic, yield with the job's safety"


@dataclass(frozen=True)
class Cuts:
    """Sections of one arm, arrays (cuts,): of one plate unless named otherwise."""

    at_mm: np.ndarray
    area_mm2: np.ndarray
    centre_mm: np.ndarray
    inertia_mm4: np.ndarray
    low_mm: np.ndarray
    high_mm: np.ndarray
    whole: np.ndarray  # the cut parts the whole plate: both eyes may stand beyond it
    boxed: np.ndarray  # strips on both edges
    strip_low: np.ndarray
    strip_high: np.ndarray
    # length of the open stretch between box and eye, or between pivot tube and box; all of it without a box
    open_mm: np.ndarray
    inner: np.ndarray  # open, and nearer to the pivot than the box


def cuts(rocker: BoxedRocker, arm: str) -> Cuts:
    plate = rocker.plate
    (ex, ey), length = plate.eye(arm), plate.arm_mm(arm)
    u = (ex / length, ey / length)
    holes = [h.x * u[0] + h.y * u[1] for h in plate.small_holes[0]]
    low, high = plate.pivot_tube_outer_mm / 2, length - plate.hole_mm(arm) / 2
    at = distinct([*np.linspace(low, high, CUTS), low + plate.leg_mm, *(h for h in holes if low < h < high)])
    outline, feet = plate.outline(), [(a * u[0], a * u[1]) for a in at.tolist()]
    sections = [cut(outline, plate.thickness_mm, f, u, a) for f, a in zip(feet, at.tolist(), strict=True)]
    whole = np.array([len(crossings(outline.outer, *f, -u[1], u[0])) <= 2 for f in feet])

    def strip(side: float, a: float) -> bool:
        x, y = a * u[0] - side * u[1], a * u[1] + side * u[0]
        return any(s.distance_mm(x, y) < 1e-3 for b in rocker.strips for s in b.path)

    strip_low, strip_high = (
        np.array([strip(getattr(s, k), s.at_mm) for s in sections]) for k in ("low_mm", "high_mm")
    )
    boxed = strip_low & strip_high
    first, last = (at[boxed].min(), at[boxed].max()) if boxed.any() else (low, low)
    inner = at < first
    pick = lambda k: np.array([getattr(s, k) for s in sections])  # noqa: E731
    return Cuts(
        at,
        pick("area_mm2"),
        pick("centre_mm"),
        pick("inertia_mm4"),
        pick("low_mm"),
        pick("high_mm"),
        whole,
        boxed,
        strip_low,
        strip_high,
        np.where(inner, first - low, length - last),
        inner,
    )


@dataclass(frozen=True)
class Stresses:
    """Of one arm, MPa, without any factor: (entries, cuts)."""

    low_mpa: np.ndarray  # in the plane, tension positive, at the two edges
    high_mpa: np.ndarray
    shear_mpa: np.ndarray  # in the plane, peak over the depth
    out_mpa: np.ndarray  # bending out of the plane
    twist_mpa: np.ndarray

    @property
    def in_plane_mpa(self) -> np.ndarray:
        return np.maximum(np.abs(self.low_mpa), np.abs(self.high_mpa))

    @property
    def combined_mpa(self) -> np.ndarray:
        """von Mises with every peak taken at one point: an upper bound."""
        return np.sqrt((self.in_plane_mpa + self.out_mpa) ** 2 + 3 * (self.shear_mpa + self.twist_mpa) ** 2)


@dataclass(frozen=True)
class Carried:
    """What a cut through both plates carries, (entries, cuts), in the arm's own axes: along it, square to it
    in the plates' plane, and out of that plane. N, N·mm."""

    along_n: np.ndarray | float = 0.0
    shear_n: np.ndarray | float = 0.0
    out_n: np.ndarray | float = 0.0
    bend_nmm: np.ndarray | float = 0.0  # in the plane, about the plates' own centre
    bend_out_nmm: np.ndarray | float = 0.0
    twist_nmm: np.ndarray | float = 0.0


def carried(rocker: BoxedRocker, arm: str, c: Cuts, forces) -> Carried:
    """Balance of what stands beyond each cut. `forces` as in `stresses`."""
    plate = rocker.plate
    along = np.array([*plate.eye(arm), 0.0]) / plate.arm_mm(arm)
    square, axis = np.array([-along[1], along[0], 0.0]), np.array([0.0, 0.0, 1.0])
    total = Carried()
    for force, eye in forces:
        own = abs(eye[:2] @ square[:2]) < 1e-6 and eye[:2] @ along[:2] > 0
        beyond = np.ones(len(c.at_mm)) if own else (c.whole & (eye @ along > c.at_mm)).astype(float)
        pull, side, lift = ((force @ way)[:, None] * beyond for way in (along, square, axis))
        reach, off = eye @ along - c.at_mm, eye @ square - c.centre_mm
        total = Carried(
            total.along_n + pull,
            total.shear_n + side,
            total.out_n + lift,
            total.bend_nmm + reach * side - off * pull,
            total.bend_out_nmm + reach * lift - eye[2] * pull,
            total.twist_nmm + off * lift - eye[2] * side,
        )
    return total


def stresses(rocker: BoxedRocker, arm: str, c: Cuts, forces) -> Stresses:
    """σ = N/A - M·(v - v0)/I at both edges, τ = 1.5·V/A (rectangle), both plates together; out of the plane
    by box or frame.

    `forces`: (force (k, 3), eye (3,)) pairs in the rocker's axes, rod and damper. Validity: a slender bar;
    close to the pivot tube and the eyes the finite-element model is the better guide. Source: beam theory;
    Bredt for the closed box."""
    by = carried(rocker, arm, c, forces)
    axial, per_mm = by.along_n / (2 * c.area_mm2), by.bend_nmm / (2 * c.inertia_mm4)
    (out_box, twist_box), (out_open, twist_open) = _as_a_box(rocker, c, by), _as_a_frame(rocker, arm, c, by)
    return Stresses(
        axial - per_mm * (c.low_mm - c.centre_mm),
        axial - per_mm * (c.high_mm - c.centre_mm),
        1.5 * np.abs(by.shear_n) / (2 * c.area_mm2),
        np.where(c.boxed, out_box, out_open),
        np.where(c.boxed, twist_box, twist_open),
    )


def _as_a_box(rocker: BoxedRocker, c: Cuts, by: Carried) -> tuple[np.ndarray, np.ndarray]:
    """Bending out of the plane with the plates as flanges, and shear of the twist that flows round the box
    with that of the force across in the strips, MPa."""
    t, gap = rocker.plate.thickness_mm, rocker.box_width_mm
    strip = rocker.strips[0].thickness_mm if rocker.strips else t
    depth, spread = c.area_mm2 / t, (gap + t) / 2
    inertia = 2 * (c.area_mm2 * spread**2 + depth * t**3 / 12)
    enclosed = (gap + t) * np.maximum(c.high_mm - c.low_mm - strip, 1e-9)
    flow = closed_wall_flow_n_per_mm(np.abs(by.twist_nmm), enclosed)
    in_strips = np.abs(by.out_n) / (2 * gap * strip)
    return np.abs(by.bend_out_nmm) * (gap / 2 + t) / inertia, flow / min(t, strip) + in_strips


def _as_a_frame(rocker: BoxedRocker, arm: str, c: Cuts, by: Carried) -> tuple[np.ndarray, np.ndarray]:
    """Without strips the plates are the legs of a frame with a point of contraflexure half way: each leg's
    own bending with the couple of the two, MPa; and twist as Saint-Venant shear of both plates."""
    t, length = rocker.plate.thickness_mm, rocker.plate.arm_mm(arm)
    depth, spread = c.area_mm2 / t, (rocker.box_width_mm + t) / 2
    sway = np.abs(by.out_n) * c.open_mm / 2
    at_box = np.abs(by.bend_out_nmm - by.out_n * (length - c.at_mm)) + sway
    couple = np.where(c.inner, np.abs(by.bend_out_nmm), at_box)
    leg = np.abs(by.out_n) / 2 * c.open_mm / 2
    bending = leg / (depth * t**2 / 6) + couple / (2 * spread * c.area_mm2)
    return bending, np.abs(by.twist_nmm) / (2 * (depth * t**2 / 3))


def checks(
    f: Forces,
    r: RockerForces,
    rocker: BoxedRocker,
    arms: dict[str, Cuts],
    steel: Steel,
    moved: sizing.Option | None = None,
) -> list[Check]:
    """`moved`: what brings an eye that stands out of the plates' middle plane into it: the first cure of what
    bends them out of it."""
    out: list[Check] = []
    t = rocker.plate.thickness_mm
    key, fy = "rocker.plate_thickness", steel.yield_at(t)
    for arm, c in arms.items():
        s = stresses(rocker, arm, c, ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)))
        item = f"rocker plates, {arm} arm"

        def at(stress: np.ndarray, c=c, arm=arm) -> str:
            return f"{c.at_mm[int(np.argmax(stress.max(0)))]:.0f} mm from the pivot"

        thicker = sizing.plate(key, t, steel)
        straight = (lambda u, thicker=thicker: [moved, *thicker(u)]) if moved else thicker
        out += worst(
            f,
            item,
            "tension and bending in the plane",
            s.in_plane_mpa.max(1),
            fy,
            "MPa",
            BEAM,
            note=at(s.in_plane_mpa),
            cure=thicker,
        )
        out += worst(
            f,
            item,
            "shear in the plane",
            s.shear_mpa.max(1),
            fy / math.sqrt(3),
            "MPa",
            f"{BEAM}; 1.5·V/A, fy/√3",
            note=at(s.shear_mpa),
            cure=thicker,
        )
        out += worst(
            f,
            item,
            "bending out of the plane",
            s.out_mpa.max(1),
            fy,
            "MPa",
            f"{BEAM}; box, or legs of a frame where no strips are",
            note=f"{at(s.out_mpa)}; needs the eye's bolt tight",
            cure=straight,
        )
        out += worst(
            f,
            item,
            "twist",
            s.twist_mpa.max(1),
            fy / math.sqrt(3),
            "MPa",
            f"{BEAM}; Bredt in the box, Saint-Venant beside it",
            note=at(s.twist_mpa),
            cure=straight,
        )
        out += worst(
            f,
            item,
            "all together",
            s.combined_mpa.max(1),
            fy,
            "MPa",
            f"{BEAM}; von Mises, peaks added",
            note=at(s.combined_mpa),
            cure=straight,
        )
        out += _free_edge(f, item, c, s, t, fy)
    edge = hollow_mpa(rocker, ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)))
    if edge is not None:
        out += worst(
            f,
            "rocker plates, hollow between the arms",
            "edge stress",
            edge,
            fy,
            "MPa",
            f"curved bar (Winkler and Bach), times {beside_tube(rocker):g} beside the stiff pivot tube",
            note="the factor is bounded by the finite-element model",
            cure=_shallower(r, rocker, thicker, fy),
        )
    return out


def _shallower(r: RockerForces, rocker: BoxedRocker, thicker: sizing.Cure, fy: float) -> sizing.Cure:
    """A larger waist radius leaves more metal in the hollow: the first of a few that passes, tried; or a
    thicker plate."""

    waist = rocker.plate.waist_mm

    def use_at(w: float) -> float:
        edge = hollow_mpa(
            replace(rocker, plate=replace(rocker.plate, waist_radius_mm=w)),
            ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye)),
        )
        return 0.0 if edge is None else float(edge.max()) / fy

    radii = [math.ceil(waist * k / 10) * 10.0 for k in (1.1, 1.25, 1.5, 2, 3)]
    shallower = sizing.sizes("rocker.waist_radius", waist, radii, use_at)
    return lambda use: [*shallower(use), *thicker(use)]


def curved_bar_factor(inner_radius_mm, depth_mm):
    """Bending stress at the inner edge of a curved rectangular bar over that of a straight one, k = (r_n -
    r_i)·h/(6·e·r_i).

    r_n = h/ln(r_o/r_i), e = r_c - r_n. Winkler and Bach; strength-of-materials texts.

    >>> round(float(curved_bar_factor(10.0, 20.0)), 4), round(float(curved_bar_factor(1e4, 20.0)), 3)
    (1.5235, 1.001)
    """
    outer = inner_radius_mm + depth_mm
    neutral = depth_mm / np.log(outer / inner_radius_mm)
    e = inner_radius_mm + depth_mm / 2 - neutral
    return (neutral - inner_radius_mm) * depth_mm / (6 * e * inner_radius_mm)


def beside_tube(rocker: BoxedRocker) -> float:
    """1.3, or 1.7 where the arms are less than 75 degrees apart; a bound of finite-element results, not
    theory."""
    rod, damper = (np.array(rocker.plate.eye(arm)) / rocker.plate.arm_mm(arm) for arm in ARMS)
    return (
        BESIDE_TUBE
        if math.degrees(math.acos(float(np.clip(rod @ damper, -1, 1)))) >= NARROW_DEG
        else BESIDE_TUBE_NARROW
    )


def hollow_mpa(rocker: BoxedRocker, forces) -> np.ndarray | None:
    """Stress at the edge of the hollow between the arms, MPa, an entry each; None where there is no hollow.

    Cuts square to the hollow's edge that part one eye from the other and from the pivot tube: |N/A - k·M·c/I|
    of both plates with the curved bar's factor k, all times `beside_tube`: the stiff tube beside the cut
    keeps its far end from carrying its share."""
    plate, arc = rocker.plate, rocker.plate.waist_arc
    if arc is None:
        return None
    t, tube, worst_stress = plate.thickness_mm, plate.pivot_tube_outer_mm / 2, None
    (force_a, eye_a), (force_b, eye_b) = forces
    for share in np.linspace(0.02, 0.98, HOLLOW_CUTS):
        p, centre = np.array(arc.at(float(share))), np.array(arc.centre)
        into = (p - centre) / np.linalg.norm(p - centre)
        for force, eye, other in ((force_a, eye_a, eye_b), (force_b, eye_b, eye_a)):
            u = np.array([-into[1], into[0]])
            u = u if (eye[:2] - p) @ u > 0 else -u
            if p @ u < tube or (other[:2] - p) @ u > 0:
                continue
            foot, v = p + 1e-3 * into, np.array([-u[1], u[0]])
            s = cut(plate.outline(), t, tuple(foot), tuple(u), 0.0)
            reach = eye[:2] - foot
            n = force[:, :2] @ u
            bend = (reach @ u) * (force[:, :2] @ v) - (reach @ v - s.centre_mm) * n
            side = s.low_mm if abs(s.low_mm) < abs(s.high_mm) else s.high_mm
            k = float(curved_bar_factor(arc.radius, s.high_mm - s.low_mm))
            stress = beside_tube(rocker) * np.abs(
                n / (2 * s.area_mm2) - k * bend * (side - s.centre_mm) / (2 * s.inertia_mm4)
            )
            worst_stress = stress if worst_stress is None else np.maximum(worst_stress, stress)
    return worst_stress


def _free_edge(f: Forces, item: str, c: Cuts, s: Stresses, t: float, fy: float) -> list[Check]:
    """Edge strip without a box strip, pressed along its length: a pinned column of the plate's thickness as
    long as the gap.

    λ = L/(t/√12), χ by curve c; demand is the edge's peak pressure. Source: EN 1993-1-1:2005 6.3.1 on a strip
    of unit width; the rest of the plate beside it helps, so it is on the safe side."""
    found: list[Check] = []
    for has, stress in ((c.strip_low, s.low_mpa), (c.strip_high, s.high_mpa)):
        bare = ~has
        if not bare.any():
            continue
        runs = np.split(np.arange(len(bare)), np.nonzero(np.diff(bare.astype(int)))[0] + 1)
        length = max(float(c.at_mm[r[-1]] - c.at_mm[r[0]]) for r in runs if bare[r[0]])
        slender = length / (t / math.sqrt(12)) * math.sqrt(fy / E_MPA) / math.pi
        found += worst(
            f,
            item,
            "buckling of a free edge",
            np.maximum(-stress[:, bare], 0.0).max(1),
            reduction_factor(slender, "c") * fy,
            "MPa",
            "EN 1993-1-1:2005 6.3.1 curve c on a strip of the edge",
            note=f"{length:.0f} mm of edge without a strip",
            cure=sizing.plate("rocker.plate_thickness", t),
        )
    return [max(found, key=lambda x: x.use)] if found else []
