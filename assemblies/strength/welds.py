"""Fillets of the rocker and of round joints: pivot tube to plates, box strips, tubes welded all round.

Simplified method: the vector sum of all stresses on the throat against f_vw,d, whatever their direction. Thin
plate lies outside the rules' scope and every row says so.
"""

from __future__ import annotations

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces, RockerForces
from assemblies.strength.rocker import Cuts
from assemblies.strength.row import Check, WeldStress, worst
from parts.base.stock import Steel
from parts.calc.torsion import closed_wall_flow_n_per_mm
from parts.calc.weld_lines import circle_flow
from parts.calc.welds import scope_notes, throat_mm, weld_resistance_n_per_mm
from parts.rocker import BoxedRocker
from parts.tab import MOST_LEG

RULE = "EN 1993-1-8:2005 4.5.3.3"


def weaker(*steels: Steel) -> Steel:
    return min(steels, key=lambda s: s.fu_mpa)


def round_weld(  # noqa: PLR0913  # a row of the table, by name
    f: Forces,
    item: str,
    diameter_mm: float,
    leg_mm: float,
    thinnest_mm: float,
    steel: Steel,
    in_plane_n=0.0,
    torque_nmm=0.0,
    axial_n=0.0,
    bending_nmm=0.0,
    check: str = "weld all round",
    cure: sizing.Cure | None = None,
) -> list[Check]:
    throat = throat_mm(leg_mm)
    twisted = not (np.any(in_plane_n) or np.any(axial_n) or np.any(bending_nmm))
    flow = circle_flow(diameter_mm, in_plane_n, torque_nmm, axial_n, bending_nmm)
    return worst(
        f,
        item,
        check,
        flow,
        weld_resistance_n_per_mm(throat, steel.fu_mpa, steel.beta_w),
        "N/mm",
        f"{RULE} on the weld as a line, throat {throat:.2g} mm, fu {steel.fu_mpa:g} MPa ({steel.fu_edition})",
        note="; ".join(scope_notes(thinnest_mm, throat)),
        cure=cure or (lambda u: ["more run of weld, or thicker walls for a larger leg"]),
        seam=WeldStress.along(throat) if twisted else WeldStress(throat),
    )


def checks(
    f: Forces,
    r: RockerForces,
    rocker: BoxedRocker,
    arms: dict[str, Cuts],
    steel: Steel,
    tube_steel: Steel,
) -> list[Check]:
    """Pivot tube to both plates, one outside fillet each; box strips, one outside fillet along each edge."""
    plate, leg = rocker.plate, rocker.plate.leg_mm
    spread = rocker.box_width_mm + plate.thickness_mm
    tilt = np.hypot(r.pivot_moment_nmm[:, 0], r.pivot_moment_nmm[:, 1]) / spread
    rows = round_weld(
        f,
        "pivot tube to rocker plates",
        plate.pivot_tube_outer_mm,
        leg,
        min(plate.thickness_mm, rocker.tube.wall_mm),
        weaker(steel, tube_steel),
        in_plane_n=np.hypot(r.pivot_n[:, 0], r.pivot_n[:, 1]) / 2 + tilt,
        torque_nmm=1e3 * r.spring_nm / 2,
        axial_n=r.pivot_n[:, 2] / 2,
        cure=sizing.leg("rocker.weld_leg", leg, MOST_LEG * min(plate.thickness_mm, rocker.tube.wall_mm)),
    )
    return rows + _strips(f, r, rocker, arms, steel)


def _strips(
    f: Forces, r: RockerForces, rocker: BoxedRocker, arms: dict[str, Cuts], steel: Steel
) -> list[Check]:
    """Flow along a strip's edge, q = V·Q/(2·I) of the whole box in its plane + T/(2·A_m) + F_z/(2·depth);
    beam theory and Bredt."""
    if not rocker.strips:
        return []
    strip, gap = rocker.strips[0].thickness_mm, rocker.box_width_mm
    worst_flow = np.zeros(len(f.case))
    for arm, c in arms.items():
        if not c.boxed.any():
            continue
        force, eye = (r.rod_n, r.rod_eye) if arm == "rod" else (r.damper_n, r.damper_eye)
        u = np.array([*rocker.plate.eye(arm), 0.0]) / rocker.plate.arm_mm(arm)
        v = np.array([-u[1], u[0], 0.0])
        depth = (c.high_mm - c.low_mm)[c.boxed]
        first = gap * strip * (depth - strip) / 2
        inertia = 2 * c.inertia_mm4[c.boxed] + 2 * gap * strip * ((depth - strip) / 2) ** 2
        twist = np.abs(force @ v) * abs(eye[2]) + np.abs(force[:, 2]) * float(
            np.abs(eye @ v - c.centre_mm[c.boxed]).max()
        )
        flow = (
            np.abs(force @ v)[:, None] * first / (2 * inertia)
            + closed_wall_flow_n_per_mm(twist[:, None], (gap + rocker.plate.thickness_mm) * (depth - strip))
            + np.abs(force[:, 2:3]) / (2 * depth)
        )
        worst_flow = np.maximum(worst_flow, flow.max(1))
    leg = min(rocker.plate.leg_mm, MOST_LEG * min(strip, rocker.plate.thickness_mm))
    throat = throat_mm(leg)
    return worst(
        f,
        "box strips to rocker plates",
        "weld along the edge",
        worst_flow,
        weld_resistance_n_per_mm(throat, steel.fu_mpa, steel.beta_w),
        "N/mm",
        f"{RULE}; shear flow by beam theory and Bredt, throat {throat:.2g} mm",
        note="; ".join(scope_notes(leg, throat)),
        cure=sizing.leg(
            "rocker.weld_leg",
            leg,
            MOST_LEG * strip,
            "a thicker rocker.plate_thickness, whose fillets are larger",
        ),
        seam=WeldStress.along(throat),
    )
