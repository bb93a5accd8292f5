"""What the finite elements say of a rocker, in words, as a table and as a picture."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from assemblies.results.table_file import write_table
from assemblies.strength.fea.rocker import SIZE_MM, convergence, edge_peaks, picture, rocker_field
from parts.base.stock import steel


def account(study, folder: Path, size_mm: float = SIZE_MM) -> tuple[str, Path]:
    """Writes rocker-stress.png and rocker-stress.csv; returns the words and the folder."""
    job = study.job
    field = rocker_field(study, size_mm)
    metal, safety = steel(job.rocker.plate_material), job.loads.safety
    folder.mkdir(parents=True, exist_ok=True)
    picture(field, folder / "rocker-stress.png", metal.yield_mpa, safety)
    write_table(
        folder / "rocker-stress.csv",
        ["arm", "mm from the pivot", "edge", "by hand, MPa", "finite elements, MPa"],
        [
            [c.arm, f"{c.at_mm:.1f}", c.edge, f"{c.hand_mpa:.1f}", f"{c.elements_mpa:.1f}"]
            for c in field.compared
        ],
    )
    peaks = edge_peaks(study.layout.rocker, field.solved)
    lines = [
        f"{job.name}: rocker plates in {field.case}, wheel {field.wheel_mm:+z.1f} mm; "
        f"{field.solved.unknowns} unknowns, mesh {size_mm:g} mm",
        f"  outer edge, largest: {peaks['outer']:.0f} MPa, {peaks['outer'] * safety / metal.yield_mpa:.2f} "
        f"of yield with the factor {safety:g} (steel {metal.name})",
    ]
    if "hollow" in peaks:
        lines.append(
            f"  hollow between the arms: {peaks['hollow']:.0f} MPa; by hand {field.hollow_hand_mpa:.0f} MPa"
        )
    lines += [
        f"  {arm} eye, at the hole's edge: {v:.0f} MPa, a local peak that yields and spreads; bearing and "
        f"tear-out decide"
        for arm, v in field.eyes_mpa.items()
    ]
    if field.compared:
        low = max(field.compared, key=lambda c: abs(c.elements_mpa))
        lines.append(
            f"  along the arms, largest: {low.elements_mpa:+z.0f} MPa, by hand {low.hand_mpa:+z.0f} MPa "
            f"({low.arm} arm, {low.at_mm:.0f} mm from the pivot)"
        )
    lines += [
        f"  mesh {size:g} mm: {unknowns} unknowns, outer edge {edge:.1f} MPa"
        for size, unknowns, edge in convergence(study, tuple(np.array([4, 2, 1]) * size_mm / 2))
    ]
    return "\n".join(lines), folder
