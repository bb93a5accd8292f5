"""The rocker's pivot: what each bearing and each support bears, the shaft that bends, what holds it on the
frame.

Two supports share force and couple by statics, as vectors, pose by pose: half the resultant each is wrong as
soon as rod and damper do not pull in the middle plane, and next to an overhung rocker one support bears more
than the load.
"""

from __future__ import annotations

import numpy as np

from assemblies.layout.pivot_mount import PivotMount
from assemblies.strength import sizing
from assemblies.strength.fatigue import Detail
from assemblies.strength.forces import Forces, RockerForces
from assemblies.strength.row import Check, worst
from assemblies.strength.welds import round_weld
from parts.base.bearings import BUSH_MPA, STATIC_SAFETY, size
from parts.base.stock import WALLS_MM, Steel
from parts.base.stock import steel as steel_of
from parts.calc.bearings import (
    bush_pressure_mpa,
    life_revolutions,
    life_swings,
    static_load_n,
    tube_stress,
    two_supports,
)

TURNED = 125.0  # fatigue category of a turned shaft away from holes: Table 8.1 detail 5, from memory
PIN_BEARING = 1.5  # of yield over d·t, EN 1993-1-8:2005 Table 3.10


def loads(r: RockerForces) -> tuple[np.ndarray, np.ndarray]:
    """Force and couple of rod and damper on the rocker about the pivot, in its axes, N and N·mm."""
    return -r.pivot_n, -r.pivot_moment_nmm


def reactions(m: PivotMount, r: RockerForces) -> tuple[np.ndarray, np.ndarray]:
    """Of the two supports on the shaft, vectors in the rocker's axes, N."""
    return two_supports(*loads(r), *m.supports_mm)


def bearing_reactions(m: PivotMount, r: RockerForces) -> tuple[np.ndarray, np.ndarray]:
    """Of the two bearings on what turns, likewise."""
    return two_supports(*loads(r), *m.bearings_mm)


def bracket_force(m: PivotMount, r: RockerForces, force_n: np.ndarray) -> np.ndarray:
    """The force that, shared half and half, gives each tab what the worse of the two bears."""
    most = np.maximum(*(np.linalg.norm(v, axis=1) for v in reactions(m, r)))
    whole = np.linalg.norm(force_n, axis=1)
    return force_n * (2 * most / np.maximum(whole, 1e-9))[:, None]


def checks(f: Forces, job, m: PivotMount, r: RockerForces, steel: Steel, carrier) -> list[Check]:
    """`carrier`: the tube it stands on, its steel, and the station of the node nearest the rocker or None."""
    rows = _bearings(f, job, m, r)
    if m.kind == "stub":
        rows += _shaft(f, m, r, "pivot stub", steel, np.abs(r.spring_nm) * 1e3, "pivot.wall")
        rows += _spring_tube(f, m, r, carrier)
    elif m.kind == "cantilever":
        none = np.zeros(len(f.case))
        rows += _shaft(f, m, r, "pivot spindle", steel, none, "pivot.material")
        rows += _walls(f, m, r, steel)
    return rows


def missing(job, m: PivotMount) -> list[str]:
    """What the builder has to bring before it can be checked."""
    p, out = job.pivot, []
    if m.bearing.kind != "bush" and (p.static_rating is None or p.dynamic_rating is None):
        out.append(
            f"pivot bearings ({m.bearing.name}): no maker's ratings given (pivot.static_rating, "
            "pivot.dynamic_rating)"
        )
    out.append(
        "pivot: fretting under the bearings, the bearings' press fit and wear; grit and grease are "
        "the builder's"
    )
    return out


def details(m: PivotMount, one: RockerForces) -> list[Detail]:
    """Fatigue of the turned shaft at its near support, under one corner weight."""
    if m.kind == "spindle":
        return []
    moment, shear = _bending(m, one)
    s = tube_stress(m.shaft_mm, m.shaft_bore_mm, moment, 0.0, shear)
    item, stress = f"pivot {'stub' if m.kind == 'stub' else 'spindle'}", float(np.max(s.bending_mpa))
    return [Detail(item, "bending at the near support", TURNED, stress, "Table 8.1 detail 5, turned")]


# ------------------------------------------------------------ what turns


def _bearings(f: Forces, job, m: PivotMount, r: RockerForces) -> list[Check]:
    near, far = (np.linalg.norm(v, axis=1) for v in bearing_reactions(m, r))
    radial, d, b = f.service(np.maximum(near, far)), m.bearing.bore_mm, m.width_mm
    where = f"{m.bearing.name} x {b:g}, {abs(m.bearings_mm[1] - m.bearings_mm[0]):.0f} mm apart"
    if m.bearing.kind == "bush":
        pressure = bush_pressure_mpa(radial, d, b)

        def cure(use: float) -> list[sizing.Option | str]:
            wide = [w for w in size("bush", d).widths_mm if w >= b * use]
            return [sizing.put("pivot.bearing_width", w, b) for w in wide] or ["a larger pivot tube and bush"]

        source = f"F/(d·b) of the worse of two, {where}; {BUSH_MPA:g} MPa of a dry bush, common practice"
        return worst(
            f,
            "pivot bearings",
            "pressure of the bush",
            pressure,
            BUSH_MPA,
            "MPa",
            source,
            cure=cure,
            level="warn",
            service="a limit of wear",
        )
    axial = f.service(np.abs(r.pivot_n[:, 2]))
    p0 = static_load_n(m.bearing.kind, radial, axial)
    rows: list[Check] = []
    if job.pivot.static_rating is not None:
        s0 = STATIC_SAFETY[m.bearing.kind]
        source = f"ISO 76, P0 of the worse of two, {where}; s0 {s0:g} under shock, common practice"
        rows += worst(
            f,
            "pivot bearings",
            "static rating",
            p0 * s0,
            job.pivot.static_rating,
            "N",
            source,
            service="the maker's s0 is in it",
            cure=lambda u: ["a wider or larger bearing: pivot.static_rating from its maker"],
        )
    return rows


def life(job, m: PivotMount, one: RockerForces, sweep_deg: float) -> list[Check]:
    """Miner's sum of the job's spectrum on the basic life of ISO 281, each range a swing over the whole
    travel: the safe side. Below a roller's pitch it says nothing."""
    if m.bearing.kind == "bush" or job.pivot.dynamic_rating is None:
        return []
    unit = max(float(np.linalg.norm(v, axis=1).max()) for v in bearing_reactions(m, one))
    damage = 0.0
    for weights, count in job.fatigue.ranges:
        turns = life_revolutions(m.bearing.kind, job.pivot.dynamic_rating, unit * weights)
        damage += count / life_swings(turns, sweep_deg)
    return [
        Check(
            "pivot bearings",
            "life under the spectrum",
            "spectrum",
            damage,
            1.0,
            "-",
            f"ISO 281, swings of {sweep_deg:.0f} deg, ranges of [fatigue]",
            level="warn",
            note="under a roller's pitch of swing each spot is rubbed by one roller: grease often",
            options=("a wider or larger bearing: pivot.dynamic_rating from its maker",) if damage > 1 else (),
        )
    ]


# ------------------------------------------------------------ the shaft


def _bending(m: PivotMount, r: RockerForces) -> tuple[np.ndarray, np.ndarray]:
    """Moment at the support nearer to the rocker, and the greater shear beside it."""
    first, second = reactions(m, r)
    near, far = (first, second) if abs(m.supports_mm[0]) < abs(m.supports_mm[1]) else (second, first)
    span = abs(m.supports_mm[1] - m.supports_mm[0])
    away = np.linalg.norm(far, axis=1)
    return away * span, np.maximum(away, np.linalg.norm(near + far, axis=1))


def _shaft(f: Forces, m: PivotMount, r, item, steel: Steel, torque, key: str) -> list[Check]:
    moment, shear = _bending(m, r)

    def stress(bore: float) -> np.ndarray:
        return tube_stress(m.shaft_mm, bore, moment, torque, shear).worst_mpa

    def cure(use: float) -> list[sizing.Option | str]:
        wall = (m.shaft_mm - m.shaft_bore_mm) / 2
        thicker = [
            sizing.put("pivot.wall", float(w), wall)
            for w in np.arange(wall + 0.5, m.shaft_mm / 2, 0.5)
            if key == "pivot.wall" and float(stress(m.shaft_mm - 2 * w).max()) <= steel.yield_mpa
        ]
        stronger = [
            sizing.put("pivot.material", name)
            for name in ("S275", "S355")
            if steel_of(name).yield_mpa >= steel.yield_mpa * use
        ]
        return [*stronger[:1], *thicker[:1], "a larger pivot tube, for a thicker shaft"]

    return worst(
        f,
        item,
        "bending, torsion and shear at the near support",
        stress(m.shaft_bore_mm),
        steel.yield_mpa,
        "MPa",
        f"statics of two supports {abs(m.supports_mm[1] - m.supports_mm[0]):.0f} mm apart, the rocker "
        f"{min(map(abs, m.supports_mm)):.0f} mm from the near one; von Mises at the fibre and the "
        f"neutral axis",
        cure=cure,
    )


# ------------------------------------------------------------ what holds it on the frame


def _walls(f: Forces, m: PivotMount, r, steel: Steel) -> list[Check]:
    """A spindle through a tube: each wall bears one reaction in its own plane, through metal and weld."""
    force = np.maximum(*(np.linalg.norm(v, axis=1) for v in reactions(m, r)))
    axial = np.abs(r.pivot_n[:, 2])
    leg = 1.2 * m.wall_mm
    return [
        *worst(
            f,
            "pivot spindle",
            "bearing on the wall it goes through",
            force,
            PIN_BEARING * m.shaft_mm * m.wall_mm * steel.yield_mpa,
            "N",
            f"1.5·d·t·fy, EN 1993-1-8:2005 Table 3.10, {m.wall_mm:g} mm wall",
            cure=sizing.grown(f"member.{m.member}.wall", m.wall_mm, WALLS_MM),
        ),
        *round_weld(
            f,
            "pivot spindle",
            m.shaft_mm,
            leg,
            m.wall_mm,
            steel,
            in_plane_n=force,
            axial_n=axial,
            check="weld to the wall",
            cure=sizing.grown(f"member.{m.member}.wall", m.wall_mm, WALLS_MM),
        ),
    ]


def _spring_tube(f: Forces, m: PivotMount, r, members) -> list[Check]:
    """The spring tube where the frame holds it: at the node next to the stub it bears all of the rocker's
    force at its arm, and the spring's torque, as if no other node helped."""
    tube, steel, node = members
    if node is None:
        return []
    force, couple = loads(r)
    about = np.cross((0.0, 0.0, -node), force) + couple  # about the node, force at the rocker's middle
    moment = np.hypot(about[:, 0], about[:, 1])
    bore = tube.section.width_mm - 2 * tube.section.wall_mm
    stress = tube_stress(
        tube.section.width_mm, bore, moment, np.abs(r.spring_nm) * 1e3, np.hypot(*force[:, :2].T)
    ).worst_mpa
    return worst(
        f,
        m.member,
        "bending and torsion where the frame holds it",
        stress,
        steel.yield_mpa,
        "MPa",
        f"statics, the whole force {abs(node):.0f} mm from the node nearest the rocker",
        cure=sizing.grown(
            f"member.{m.member}.wall", tube.section.wall_mm, WALLS_MM, 1.0, "a node nearer the rocker"
        ),
    )


def anchor_weld(f: Forces, tube, steel: Steel, thickness_mm: float, leg_mm: float) -> list[Check]:
    """The fixed clocking plate round the spring tube's end: all of the spring's torque in one round seam."""
    wall = tube.section.wall_mm
    leg = min(leg_mm, 1.2 * wall)
    return round_weld(
        f,
        "anchor plates",
        tube.section.width_mm,
        leg,
        min(thickness_mm, wall),
        steel,
        torque_nmm=np.abs(f.spring_nm) * 1e3,
        check="weld of the fixed plate to the spring tube",
    )
