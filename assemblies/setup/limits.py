"""What a spring wound to another setting goes beyond: the guides of its stress, those of `check`, and slack
at droop. A few words beside the setting, none where nothing speaks against it."""

from __future__ import annotations

import math

from assemblies.motion.springing import Springing
from parts.base.stock import SPRING_E_MPA
from parts.calc.torsion import edge_guide_mpa, leaf_edge_stress_mpa, shear_guide_mpa

LEAST_DROOP_TWIST_DEG = 3.0  # trade practice: strips must never unload


def beyond(spec, s: Springing, wound_deg: float, thicker: float = 1.0) -> str:
    """Of a rotary spring of the job's table `spec` wound by `wound_deg` from the design setting; `thicker`:
    its strip or bar over the job's (the stress grows in proportion)."""
    if s.spring.linear or not math.isfinite(wound_deg):
        return ""
    bump, droop = (s.twist_deg[k] + wound_deg for k in ("bump", "droop"))
    most, at = max((abs(bump), "bump"), (abs(droop), "droop"))
    if not math.isfinite(most):
        return ""
    said = []
    shear = math.radians(most) * s.spring.stress_mpa_per_rad * thicker
    guide, _ = shear_guide_mpa(spec.tensile_strength, spec.preset)
    if shear > guide:
        said.append(f"{shear:.0f} MPa at full {at}, guide {guide:g}")
    if spec.kind == "leaf-pack":
        edge = float(
            leaf_edge_stress_mpa(
                math.radians(most),
                spec.leaf_width,
                spec.leaf_thickness * thicker,
                spec.length,
                spec.shear_modulus,
                SPRING_E_MPA,
            )
        )
        guide, _ = edge_guide_mpa(spec.tensile_strength)
        if edge > guide:
            said.append(f"leaves' edges up to {edge:.0f} MPa, guide {guide:g}")
    if droop < 0:
        said.append("slack at full droop")
    elif droop < LEAST_DROOP_TWIST_DEG:
        said.append(f"{droop:.1f} deg left at full droop, keep {LEAST_DROOP_TWIST_DEG:g}")
    return "; ".join(said)
