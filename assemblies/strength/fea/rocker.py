"""Stress over one rocker plate by finite elements, in the load case that the hand formulas find worst, beside
those formulas.

Both plates share every force alike, so one plate of twice the thickness stands for the pair; it is held all
round the pivot tube (the weld), the pins push on half of each eye. Left out, as in the hand formulas: box
strips, gusset, forces out of the plane.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from assemblies.strength import rocker as hand
from assemblies.strength.fea.mesh import graded, mesh_outline
from assemblies.strength.fea.plane_stress import Solved, on_circle, pin, solve
from assemblies.strength.forces import corner_forces, rocker_forces
from assemblies.strength.load_cases import cases_of
from parts.base.frozen import dataclass
from parts.rocker import BoxedRocker
from parts.shape.outline import Outline

SIZE_MM = 3.0  # edge length away from holes


@dataclass(frozen=True)
class Compared:
    """Stress along an arm at one edge of a cut, MPa, positive in tension, by the hand formula and by finite
    elements."""

    arm: str
    at_mm: float
    edge: str
    hand_mpa: float
    elements_mpa: float


@dataclass(frozen=True)
class RockerField:
    case: str
    wheel_mm: float
    solved: Solved
    compared: tuple[Compared, ...]
    eyes_mpa: dict[str, float]  # peak of von Mises round each eye
    rod_n: tuple[float, float]
    damper_n: tuple[float, float]
    hollow_hand_mpa: float | None  # by the hand formula of the hollow's edge


def rocker_field(study, size_mm: float = SIZE_MM) -> RockerField:
    """Raises ValueError where the rocker could not be made, ImportError where scikit-fem is missing."""
    layout = study.layout
    if layout is None or layout.rocker is None:
        raise ValueError("the rocker could not be made, so there is no plate to mesh")
    f = corner_forces(study.job, study.mechanism, study.springing, cases_of(study.job, study.springing))
    r = rocker_forces(f, layout.eyes)
    made: BoxedRocker = layout.rocker
    pairs = ((r.rod_n, r.rod_eye), (r.damper_n, r.damper_eye))
    cuts = {arm: hand.cuts(made, arm) for arm in ("rod", "damper")}
    stress = {arm: hand.stresses(made, arm, c, pairs) for arm, c in cuts.items()}
    edge = hand.hollow_mpa(made, pairs)
    every = np.maximum(*(s.in_plane_mpa.max(1) for s in stress.values()))
    k = int(np.argmax(every if edge is None else np.maximum(every, edge)))
    rod, damper = ((float(v[k, 0]), float(v[k, 1])) for v in (r.rod_n, r.damper_n))
    solved = plate_under(made, rod, damper, size_mm)
    compared = [c for arm in cuts for c in _compare(made, arm, cuts[arm], stress[arm], k, solved)]
    eyes = {}
    for arm in cuts:
        x, y = made.plate.eye(arm)
        near = np.hypot(
            solved.mesh.points[:, 0] - x, solved.mesh.points[:, 1] - y
        ) < 0.75 * made.plate.hole_mm(arm)
        eyes[arm] = float(solved.von_mises_mpa[near].max())
    return RockerField(
        f.name(k),
        float(f.wheel_mm[k]),
        solved,
        tuple(compared),
        eyes,
        rod,
        damper,
        None if edge is None else float(edge[k]),
    )


def plate_under(
    made: BoxedRocker, rod_n: tuple[float, float], damper_n: tuple[float, float], size_mm: float = SIZE_MM
) -> Solved:
    """The pair of plates held at the pivot tube under in-plane forces at both eyes, N."""
    plate = made.plate
    both = 2 * plate.thickness_mm
    fine = [(*plate.eye(arm), plate.hole_mm(arm) / 2, size_mm / 3) for arm in ("rod", "damper")]
    fine += [(0.0, 0.0, plate.pivot_tube_outer_mm / 2, size_mm / 2)] + [
        (h.x, h.y, h.diameter_mm / 2, size_mm / 3) for h in plate.small_holes[0]
    ]
    outline = plate.outline()
    mesh = mesh_outline(Outline(outline.outer, outline.inner, outline.holes), graded(size_mm, fine))
    loads = [
        (
            on_circle(*plate.eye(arm), plate.hole_mm(arm) / 2),
            pin(*plate.eye(arm), plate.hole_mm(arm) / 2, force, both),
        )
        for arm, force in (("rod", rod_n), ("damper", damper_n))
        if np.hypot(*force) > 0
    ]
    return solve(mesh, both, loads, [(on_circle(0.0, 0.0, plate.pivot_tube_outer_mm / 2), (True, True))])


def _compare(
    made: BoxedRocker, arm: str, c: hand.Cuts, s: hand.Stresses, k: int, solved: Solved
) -> list[Compared]:
    """At the cuts that stand clear of pivot boss, eye boss and small holes, both edges."""
    plate = made.plate
    (ex, ey), length = plate.eye(arm), plate.arm_mm(arm)
    u = np.array([ex, ey]) / length
    v = np.array([-u[1], u[0]])
    rows = []
    for i, at in enumerate(c.at_mm):
        if not plate.pivot_boss.radius_mm <= at <= length - plate.eye_boss(arm).radius_mm:
            continue
        for edge, side, stress in (
            ("low", c.low_mm[i], s.low_mpa[k, i]),
            ("high", c.high_mm[i], s.high_mpa[k, i]),
        ):
            spot = solved.near(*(at * u + side * v))
            xx, yy, xy = solved.stress_mpa[spot]
            rows.append(
                Compared(
                    arm,
                    float(at),
                    edge,
                    float(stress),
                    float(xx * u[0] ** 2 + yy * u[1] ** 2 + 2 * xy * u[0] * u[1]),
                )
            )
    return rows


def edge_peaks(made: BoxedRocker, solved: Solved) -> dict[str, float]:
    """Largest von Mises stress on the plate's "outer" edge, and on its "hollow" where there is one; holes
    left out."""
    plate = made.plate
    count = solved.mesh.boundary
    points, stress = solved.mesh.points[:count], solved.von_mises_mpa[:count]
    outer = np.array([min(s.distance_mm(x, y) for s in plate.outer.segments) < 1e-3 for x, y in points])
    peaks = {"outer": float(stress[outer].max())}
    if plate.waist_arc is not None:
        peaks["hollow"] = float(
            stress[np.array([plate.waist_arc.distance_mm(x, y) < 1e-3 for x, y in points])].max()
        )
    return peaks


def convergence(study, sizes_mm: Sequence[float] = (6.0, 3.0, 1.5)) -> list[tuple[float, int, float]]:
    """(size, unknowns, largest stress on the outer edge) as the mesh gets finer."""
    fields = [(size, rocker_field(study, size).solved) for size in sizes_mm]
    return [(float(size), int(f.unknowns), edge_peaks(study.layout.rocker, f)["outer"]) for size, f in fields]


def picture(field: RockerField, path: Path, yield_mpa: float, safety: float) -> Path:
    """The plate coloured by von Mises stress, with the hand formulas' edge stresses beside the elements'."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot as plt
    from matplotlib.tri import Triangulation

    mesh = field.solved.mesh
    fig, (left, right) = plt.subplots(1, 2, figsize=(11, 5), width_ratios=(3, 2), layout="constrained")
    shown = left.tripcolor(
        Triangulation(mesh.points[:, 0], mesh.points[:, 1], mesh.triangles),
        field.solved.von_mises_mpa,
        shading="gouraud",
        cmap="viridis",
        vmin=0,
        vmax=yield_mpa / safety,
    )
    left.set_aspect("equal")
    left.set_title(
        f"von Mises, {field.case}, wheel {field.wheel_mm:+z.0f} mm; full colour at yield/{safety:g}",
        fontsize=9,
    )
    left.set_xlabel("mm")
    fig.colorbar(shown, ax=left, label="MPa", extend="max")
    for arm, style in (("rod", "o"), ("damper", "s")):
        rows = [c for c in field.compared if c.arm == arm]
        right.plot(
            [c.hand_mpa for c in rows], [c.elements_mpa for c in rows], style, ms=4, label=f"{arm} arm"
        )
    limits = right.get_xlim()
    right.plot(limits, limits, "k-", lw=0.6)
    right.set_xlabel("edge stress by hand, MPa")
    right.set_ylabel("by finite elements, MPa")
    right.legend(fontsize=8)
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, dpi=130)
    plt.close(fig)
    return path
