"""What a spring wound to another setting goes beyond: the guides of `check` for its stress or its coil, and
slack at droop. A few words beside the setting, none where nothing speaks against it."""

from __future__ import annotations

import math

from assemblies.motion.springing import Springing
from parts.base.stock import SPRING_E_MPA
from parts.calc.torsion import edge_guide_mpa, leaf_edge_stress_mpa, shear_guide_mpa

LEAST_DROOP_TWIST_DEG = 3.0  # trade practice: strips must never unload
MOST_PRESSED = 0.75  # of its free length: about where a coil is solid, common practice


def beyond(spec, s: Springing, wound_deg: float, thicker: float = 1.0) -> str:
    """Of a spring of the job's table `spec` wound by `wound_deg` (coil-over: mm of collar) from the design
    setting; `thicker`: its strip or bar over the job's (the stress grows in proportion)."""
    if not math.isfinite(wound_deg):
        return ""
    if s.spring.linear:
        return _coil(spec, s, wound_deg)
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


def _coil(spec, s: Springing, wound_mm: float) -> str:
    bump, droop = (s.compression_mm[k] + wound_mm for k in ("bump", "droop"))
    said = []
    if bump >= MOST_PRESSED * spec.free_length:
        said.append(
            f"coil pressed {bump:.0f} mm at full bump, most {MOST_PRESSED * spec.free_length:.0f} before it "
            f"is solid"
        )
    if droop < 0:
        said.append(f"coil loose by {-droop:.1f} mm at full droop")
    return "; ".join(said)
