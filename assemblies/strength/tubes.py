"""Round tubes that carry: the rocker's pivot tube, and the tubes of the arms with the welds at their ends."""

from __future__ import annotations

import math

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces, RockerForces
from assemblies.strength.row import Check, worst
from assemblies.strength.welds import round_weld
from parts.arm import Arm
from parts.base.stock import WALLS_MM, Steel
from parts.calc.columns import amplified_moment_nmm, buckling_resistance, tube_class
from parts.calc.sections import round_tube
from parts.rocker import BoxedRocker

YIELD = "beam theory, von Mises, yield with the job's safety"


def pivot_tube(f: Forces, r: RockerForces, rocker: BoxedRocker, steel: Steel) -> list[Check]:
    """Pivot tube in bending and torsion: σ = M/W, τ = T/(2W), √(σ² + 3τ²).

    M = R·(gap + t)/4 + the moment square to the axis: both plates push at their places and the bushes bear in
    the middle, an upper bound wherever they sit inside the tube. T: all of the spring's torque, beyond the
    plate on its side."""
    tube = rocker.tube
    lever = (rocker.box_width_mm + rocker.plate.thickness_mm) / 4
    moment = np.hypot(r.pivot_n[:, 0], r.pivot_n[:, 1]) * lever + np.hypot(
        r.pivot_moment_nmm[:, 0], r.pivot_moment_nmm[:, 1]
    )

    def stress(outer: float, wall: float) -> np.ndarray:
        s = round_tube(outer, wall)
        return np.sqrt((moment / s.w_el_y_mm3) ** 2 + 3 * (1e3 * np.abs(r.spring_nm) / s.c_t_mm3) ** 2)

    fy = steel.yield_at(tube.wall_mm)
    cure = sizing.tube(
        "rocker.pivot_tube.wall",
        "rocker.pivot_tube.outer",
        tube.outer_mm,
        tube.wall_mm,
        lambda d, w, y: float(stress(d, w).max()) / y,
        fy,
        "rocker.plate_material",
    )
    return worst(
        f,
        "pivot tube",
        "bending and torsion",
        stress(tube.outer_mm, tube.wall_mm),
        fy,
        "MPa",
        YIELD,
        note="bushes taken in the middle, an upper bound",
        cure=cure,
    )


def arm(f: Forces, which: str, part: Arm, axes: np.ndarray, steel: Steel, rod_here: bool) -> list[Check]:
    """Both tubes of one arm: strut or tie, bending where a rod stands on the arm, and the welds at housing
    and boss.

    Each tube takes its pivot's force: along it N; across it in the plane and out of it it bends as a lever
    from the pivot to where the rod's force comes in (the boss where there is none). N/N_b,Rd + M/M_el,Rd with
    the moment grown by 1/(1 - N/N_cr): EN 1993-1-1:2005 6.3.3 in its plain form. Cold-formed tube, curve c,
    ends pinned, length joint to pivot."""
    a, diameter, wall = f.arm(which), part.tube_diameter_mm, part.tube_wall_mm
    fy, name = steel.yield_at(wall), which.replace("_", " ")
    spot = f.in_body(f.points["rod_outboard"] - f.points[f"{which.removesuffix('_arm')}_outer"], which, axes)
    found: list[Check] = []
    welds: list[Check] = []
    for end, pivot, force in (("front", part.front_pivot, a.front_n), ("rear", part.rear_pivot, a.rear_n)):
        length = math.hypot(*pivot)
        u = np.array([*pivot, 0.0]) / length
        local = f.in_body(force, which, axes)
        pull = local @ u  # outward from the joint: tension
        side, lift = np.hypot(*(local - pull[:, None] * u)[:, :2].T), np.abs(local[:, 2])
        lever = length - (np.clip(spot @ u, 0.0, length) if rod_here else 0.0)
        moment = (side + (lift if rod_here else 0.0)) * lever

        def use(
            outer: float, thick: float, yield_mpa: float, length=length, pull=pull, moment=moment
        ) -> np.ndarray:
            s = round_tube(outer, thick)
            resist = buckling_resistance(s.area_mm2, s.i_y_mm4, length, yield_mpa, "c")
            push = np.maximum(-pull, 0.0)
            grown = amplified_moment_nmm(moment, push, resist.euler_n)
            return (
                push / resist.resistance_n
                + np.maximum(pull, 0.0) / (s.area_mm2 * yield_mpa)
                + grown / (s.w_el_y_mm3 * yield_mpa)
            )

        cure = sizing.tube(
            f"{which}.tube_wall",
            f"{which}.tube_diameter",
            diameter,
            wall,
            lambda outer, thick, yield_mpa, use=use: float(use(outer, thick, yield_mpa).max()),
            fy,
            f"{which}.material",
        )
        item = f"{name}, {end} tube"
        found += worst(
            f,
            item,
            "strut or tie with bending",
            use(diameter, wall, fy),
            1.0,
            "-",
            "EN 1993-1-1:2005 6.3.1 curve c, 6.3.3 plain form",
            note=f"section class {tube_class(diameter, wall, fy).number}, {length:.0f} mm"
            + (", the rod's force bends it" if rod_here else ""),
            cure=cure,
        )
        across = np.hypot(side, lift)
        thicker = sizing.grown(
            f"{which}.tube_wall", wall, WALLS_MM, 1.0, f"or a larger {which}.tube_diameter"
        )
        welds += round_weld(
            f,
            item,
            diameter,
            wall,
            wall,
            steel,
            in_plane_n=across,
            axial_n=pull,
            check="weld at the pivot's housing",
            bending_nmm=across * part.housing_mm / 2,
            cure=thicker,
        )
        if rod_here:
            joint = f.in_body(a.outer_n, which, axes)
            across, bending = (
                np.hypot(joint[:, 1], joint[:, 2]) / 2,
                np.abs(joint[:, 2]) * part.boss_mm / 4 + side * lever,
            )
        else:
            bending = side * lever
        welds += round_weld(
            f,
            item,
            diameter,
            wall,
            wall,
            steel,
            in_plane_n=across,
            axial_n=pull,
            check="weld at the joint's boss",
            bending_nmm=bending,
            cure=thicker,
        )
    return found + welds
