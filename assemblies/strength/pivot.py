"""The rocker's pivot: what each bearing and each support bears, the shaft that bends, what holds it on the
frame.

Two supports share force and couple by statics, as vectors, pose by pose: half the resultant each is wrong as
soon as rod and damper do not pull in the middle plane, and next to an overhung rocker one support bears more
than the load.
"""

from __future__ import annotations

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES
from assemblies.layout.pivot_mount import PivotMount
from assemblies.layout.stub import PLUG_MM, PLUGS
from assemblies.strength import sizing
from assemblies.strength.fatigue import Detail
from assemblies.strength.forces import Forces, RockerForces
from assemblies.strength.row import Check, worst
from assemblies.strength.welds import round_weld, weaker
from parts.base.bearings import BUSH_MPA, STATIC_SAFETY, in_bore, size
from parts.base.stock import ROUND_PRECISION_TUBES_MM, WALLS_MM, Steel
from parts.base.stock import steel as steel_of
from parts.calc.bearings import (
    bush_pressure_mpa,
    dynamic_load_n,
    life_revolutions,
    life_swings,
    static_load_n,
    tube_stress,
    two_supports,
)
from parts.calc.welds import weld_strength_mpa

TURNED = 125.0  # fatigue category of a turned shaft away from holes: Table 8.1 detail 5, from memory
WELDED = 71.0  # of a shaft at the toe of a weld round it: Table 8.5 detail 1, attachment of 50 to 80 mm
LARGER = (
    "a larger rocker.pivot_tube than is stocked, for a thicker shaft, or the rocker nearer to its supports"
)
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
    """The force that, shared half and half, gives each tab what the worse of the two bears square to the
    bolt."""
    most = np.maximum(*(np.linalg.norm(v, axis=1) for v in reactions(m, r)))
    whole = np.hypot(*r.pivot_n[:, :2].T)
    return force_n * (2 * most / np.maximum(whole, 1e-9))[:, None]


def checks(f: Forces, job, m: PivotMount, r: RockerForces, steel: Steel, carrier) -> list[Check]:
    """`carrier`: the tube it stands on, its steel, and the station of the node nearest the rocker or None."""
    rows = _bearings(f, job, m, r)
    if m.kind == "stub":
        rows += _shaft(f, m, r, "pivot stub", steel, np.abs(r.spring_nm) * 1e3, job)
        rows += _spring_tube(f, m, r, carrier) + _plugs(f, m, r, weaker(steel, carrier[1]))
    elif m.kind == "cantilever":
        rows += _shaft(f, m, r, "pivot spindle", steel, np.zeros(len(f.case)), job)
        rows += _walls(f, m, r, weaker(steel, carrier[1]))
    return rows


def missing(job, m: PivotMount, node: float | None = 0.0, most_n: float = 0.0) -> list[str]:
    """What the builder has to bring before it can be checked. `node`: as in `checks`; `most_n`: the pivot's
    largest force, before any safety factor."""
    p, out = job.pivot, []
    if m.kind == "stub" and node is None:
        out.append(
            f"{m.member} where the frame holds it: no other tube of the job meets it, so its bending is not "
            f"known; it bears {most_n:.0f} N of the rocker's before any safety factor"
        )
    if m.bearing.kind != "bush" and (p.static_rating is None or p.dynamic_rating is None):
        out.append(
            f"pivot bearings ({m.bearing.name}): no maker's ratings given (pivot.static_rating, "
            "pivot.dynamic_rating)"
        )
    out.append("pivot's press fit and wear, fretting under the bearings: grit and grease are the builder's")
    return out


def details(job, m: PivotMount, one: RockerForces) -> list[Detail]:
    """Fatigue of the turned shaft at its near support, under one corner weight."""
    if m.kind == "spindle":
        return []
    moment, shear = _bending(m, one)
    s = tube_stress(m.shaft_mm, m.shaft_bore_mm, moment, 0.0, shear)
    stress = float(np.max(s.bending_mpa))
    if m.kind == "stub":
        wall = (m.shaft_mm - m.shaft_bore_mm) / 2

        def thicker(use: float) -> list[sizing.Option | str]:
            walls = np.arange(wall + 0.5, m.shaft_mm / 2, 0.5)
            bent = (tube_stress(m.shaft_mm, m.shaft_mm - 2 * w, moment, 0.0, shear) for w in walls)
            enough = [
                w for w, b in zip(walls, bent, strict=True) if float(np.max(b.bending_mpa)) * use <= stress
            ]
            put = [sizing.put("pivot.wall", float(w), wall) for w in enough[:1]]
            return [*put, *_larger(job, m.shaft_mm * use ** (1 / 3)), LARGER]

        return [
            Detail(
                "pivot stub",
                "bending at the near support",
                TURNED,
                stress,
                "Table 8.1 detail 5 (from memory)",
                cure=thicker,
            )
        ]
    source = "Table 8.5 detail 1, toe, attachment of 50 to 80 mm"

    def larger(use: float) -> list[sizing.Option | str]:
        return list(_larger(job, m.shaft_mm * use ** (1 / 3)))

    return [Detail("pivot spindle", "toe of the weld to the near wall", WELDED, stress, source, cure=larger)]


# ------------------------------------------------------------ what turns


def _bearings(f: Forces, job, m: PivotMount, r: RockerForces) -> list[Check]:
    near, far = (np.linalg.norm(v, axis=1) for v in bearing_reactions(m, r))
    radial, d, b = f.service(np.maximum(near, far)), m.bearing.bore_mm, m.width_mm
    where = f"{m.bearing.name} x {b:g}, {abs(m.bearings_mm[1] - m.bearings_mm[0]):.0f} mm apart"
    if m.bearing.kind == "bush":
        pressure = bush_pressure_mpa(radial, d, b)

        def cure(use: float) -> list[sizing.Option | str]:
            wide = [w for w in size("bush", d).widths_mm if w >= b * use]
            return [*(sizing.put("pivot.bearing_width", w, b) for w in wide), *_larger(job, d * use)]

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
            cure=lambda u: [sizing.rated("pivot.static_rating", job.pivot.static_rating * u)],
        )
    return rows


def life(job, m: PivotMount, one: RockerForces, sweep_deg: float) -> list[Check]:
    """Miner's sum of the job's spectrum on the basic life of ISO 281, each range a swing over the whole
    travel at its greatest load: a range stands about one corner weight or goes up from nothing, whichever
    is more. The safe side. Below a roller's pitch it says nothing."""
    if m.bearing.kind == "bush" or job.pivot.dynamic_rating is None:
        return []
    kind, rating = m.bearing.kind, job.pivot.dynamic_rating
    radial = max(float(np.linalg.norm(v, axis=1).max()) for v in bearing_reactions(m, one))
    unit = float(dynamic_load_n(kind, radial, float(np.abs(one.pivot_n[:, 2]).max())))
    damage = 0.0
    for weights, count in job.fatigue.ranges:
        turns = life_revolutions(kind, rating, unit * max(weights, 1 + weights / 2))
        damage += count / life_swings(turns, sweep_deg)
    power = {"ball": 3.0, "needle": 10 / 3}[kind]
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
            options=(sizing.rated("pivot.dynamic_rating", rating * damage ** (1 / power)),)
            if damage > 1
            else (),
        )
    ]


def _larger(job, least_mm: float) -> list[sizing.Option]:
    """Stocked pivot tubes whose bore takes a bush or bearing of at least this bore, or is that of a stub's
    bearing; the smallest first."""
    tube, found, kind = job.rocker.pivot_tube, [], job.pivot.bearing
    for outer in (d for d in ROUND_PRECISION_TUBES_MM if d > tube.outer):
        for wall in (w for w in WALLS_MM if w >= 2):
            try:
                bore = outer - 2 * wall
                fits = (size if job.pivot.kind == "stub" else in_bore)(kind, bore).bore_mm >= least_mm
            except ValueError:
                continue
            if fits:
                words = f"rocker.pivot_tube.outer = {outer:g} mm, rocker.pivot_tube.wall = {wall:g} mm"
                changes = {"rocker.pivot_tube.outer": float(outer), "rocker.pivot_tube.wall": float(wall)}
                found.append(sizing.Option(words, changes))
                break
    return found[: sizing.MOST]


# ------------------------------------------------------------ the shaft


def _bending(m: PivotMount, r: RockerForces) -> tuple[np.ndarray, np.ndarray]:
    """Moment at the support nearer to the rocker, and the greater shear beside it."""
    first, second = reactions(m, r)
    near, far = (first, second) if abs(m.supports_mm[0]) < abs(m.supports_mm[1]) else (second, first)
    span = abs(m.supports_mm[1] - m.supports_mm[0])
    away = np.linalg.norm(far, axis=1)
    return away * span, np.maximum(away, np.linalg.norm(near + far, axis=1))


def _shaft(f: Forces, m: PivotMount, r, item, steel: Steel, torque, job) -> list[Check]:
    moment, shear = _bending(m, r)

    def stress(outer: float, bore: float) -> float:
        return float(tube_stress(outer, bore, moment, torque, shear).worst_mpa.max())

    def cure(use: float) -> list[sizing.Option | str]:
        stronger = [
            sizing.put("pivot.material", name)
            for name in ("S275", "S355")
            if steel_of(name).yield_mpa >= steel.yield_mpa * use
        ]
        if m.kind != "stub":
            return [*stronger[:1], *_larger(job, m.shaft_mm * use ** (1 / 3)), LARGER]
        wall = (m.shaft_mm - m.shaft_bore_mm) / 2
        thicker = [
            sizing.put("pivot.wall", float(w), wall)
            for w in np.arange(wall + 0.5, m.shaft_mm / 2, 0.5)
            if stress(m.shaft_mm, m.shaft_mm - 2 * w) <= steel.yield_mpa
        ]
        return [*stronger[:1], *thicker[:1], *_larger(job, m.shaft_mm), LARGER]

    return worst(
        f,
        item,
        "bending, torsion and shear at the near support",
        tube_stress(m.shaft_mm, m.shaft_bore_mm, moment, torque, shear).worst_mpa,
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


def _plugs(f: Forces, m: PivotMount, r, steel: Steel) -> list[Check]:
    """A bearing's ring in the spring tube: across it bears on the bore; what runs along the axis one ring's
    plug welds take, F/(n·π·d²/4)."""
    area = PLUGS * np.pi / 4 * PLUG_MM**2
    return worst(
        f,
        "pivot bearing rings",
        "plug welds into the spring tube",
        r.pivot_n[:, 2],
        area * weld_strength_mpa(steel.fu_mpa, steel.beta_w),
        "N",
        f"EN 1993-1-8:2005 4.3.5 and 4.5.3.3, {PLUGS} plugs of {PLUG_MM:g} mm, all that runs along the "
        "axis on one ring",
        cure=lambda u: [
            *([sizing.put("pivot.material", sizing.STRONG.name)] if steel.fu_mpa * u <= 430 else []),
            "the rod's and the damper's eyes nearer to the rocker's plane, or more plugs than are drawn",
        ],
    )


def on_member(f: Forces, m: PivotMount, r: RockerForces, axes: np.ndarray) -> list[np.ndarray]:
    """Forces of a bar's two walls on the tube it goes through, car axes (k, 3), the near wall first with what
    runs along the axis. `axes`: the rocker's at ride (3, 3; columns)."""
    first, second = (-v for v in reactions(m, r))
    first[:, 2] -= r.pivot_n[:, 2]
    return [np.einsum("kij,kj->ki", f.turns["rocker"], v @ axes.T) for v in (first, second)]


def anchor_weld(
    f: Forces, tube, steel: Steel, thickness_mm: float, leg_mm: float, member: str = ""
) -> list[Check]:
    """The fixed clocking plate round the spring tube's end: all of the spring's torque in one round seam."""
    wall = tube.section.wall_mm
    leg = min(leg_mm, 1.2 * wall)
    larger = f"a larger tube '{member}': the leg is {leg_mm:g} mm at most"

    def cure(use: float) -> list[sizing.Option | str]:
        walls = [w for w in WALLS_MM if w > wall and min(leg_mm, 1.2 * w) >= leg * use]
        return [*(sizing.put(f"member.{member}.wall", w, wall) for w in walls[: sizing.MOST]), larger]

    return round_weld(
        f,
        ANCHOR_PLATES,
        tube.section.width_mm,
        leg,
        min(thickness_mm, wall),
        steel,
        torque_nmm=np.abs(f.spring_nm) * 1e3,
        check="weld of the fixed plate to the spring tube",
        cure=cure,
    )
