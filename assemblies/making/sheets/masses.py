"""Mass of a corner's own parts, its share by sprung and unsprung, its centre of gravity, and the same corner
with a plain coil-over.

Masses kg, lengths mm, car axes. What is bought or not laid out has no mass here and is named.
"""

from __future__ import annotations

import math

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES, CROSS_BOLT, DAMPER_EYE, ROD_EYE
from assemblies.layout.fasteners import Fastener, spacer_kg, spacers
from assemblies.layout.placing import Layout
from assemblies.motion.springing import Springing
from parts.base.frozen import dataclass
from parts.base.stock import DENSITY_KG_M3
from parts.files.imported import Imported
from parts.shape.form import vector

HALF_UNSPRUNG = (
    "upper_arm",
    "lower_arm",
    "rod",
    "tie_rod",
)  # about half of arms, rod, tie rod is unsprung; common practice
WHOLE_UNSPRUNG = ("upright", "wheel")
COIL_STRESS_MPA = (
    700.0  # shear at full bump of a usual cold-coiled spring; from memory, shown as an assumption
)
COIL_DEAD_SHARE = 0.35  # dead coils and ends over the active ones; from memory
USUAL_DIFFERENCE_KG = (
    4.0  # an inboard torsion-leaf corner over a plain coil-over one, a side; common practice, no source
)
NEAR_KG = 1.0


@dataclass(frozen=True)
class Weighed:
    """One thing with a mass and a place; `unsprung` share 0 to 1."""

    name: str
    body: str
    mass_kg: float
    centre_mm: tuple[float, float, float]
    unsprung: float


@dataclass(frozen=True)
class Masses:
    """Sums over the corner's own parts; the frame's members are weighed apart."""

    parts: tuple[Weighed, ...]
    frame_members_kg: float
    missing: tuple[str, ...]

    @property
    def total_kg(self) -> float:
        return sum(p.mass_kg for p in self.parts)

    @property
    def unsprung_kg(self) -> float:
        return sum(p.mass_kg * p.unsprung for p in self.parts)

    @property
    def sprung_kg(self) -> float:
        return self.total_kg - self.unsprung_kg

    @property
    def centre_of_gravity_mm(self) -> tuple[float, float, float]:
        return centre(self.parts)


def centre(parts) -> tuple[float, float, float]:
    """Mass-weighed mean place; NaN where nothing weighs."""
    total = sum(p.mass_kg for p in parts)
    return (
        tuple(sum(p.mass_kg * p.centre_mm[i] for p in parts) / total for i in range(3))
        if total
        else (math.nan,) * 3
    )


def weigh(layout: Layout, bolted: list[Fastener], open_: list[str]) -> Masses:
    """Every placed part with a mass that is no member of the frame, and the fasteners at their joints."""
    parts = [
        Weighed(p.name, p.body, p.mass_kg, p.centre_of_gravity_mm, _unsprung(p.carrier))
        for p in layout.placed
        if p.mass_kg is not None and p.name not in layout.members
    ]
    parts += [
        Weighed(
            f"fasteners, {f.joint.name}",
            "fasteners",
            f.mass_kg * f.joint.count,
            f.joint.point,
            _unsprung(f.joint.carrier),
        )
        for f in bolted
    ]
    parts += [
        Weighed(
            f"{layer.what}s of {layer.thickness_mm:.2f} mm, {j.name}",
            "fasteners",
            spacer_kg(j, layer) * count,
            j.point,
            _unsprung(j.carrier),
        )
        for j, layer, count in spacers(layout)
    ]
    missing = [
        p.name
        for p in layout.placed
        if p.mass_kg is None and p.body in ("damper", "spring", "tie_rod", "wheel")
    ]
    missing += [p.name for p in layout.placed if isinstance(p.form, Imported)]
    return Masses(
        tuple(parts),
        sum(layout.junctions.tubes.get(name, m).mass_kg for name, m in layout.members.items()),
        (*missing, "bushes of the arms" if layout.pivot else "bushes, spindle, bearings", *open_),
    )


def _unsprung(carrier: str) -> float:
    return 1.0 if carrier in WHOLE_UNSPRUNG else 0.5 if carrier in HALF_UNSPRUNG else 0.0


# ------------------------------------------------------------ against a plain coil-over


@dataclass(frozen=True)
class BesideCoil:
    """This corner's inboard parts against a coil-over from the arm straight to the frame: what each side of
    the sum holds."""

    inboard: tuple[Weighed, ...]
    plain: tuple[Weighed, ...]
    notes: tuple[str, ...]

    @property
    def difference_kg(self) -> float:
        """Inboard over plain; the damper is in neither: both have it."""
        return sum(p.mass_kg for p in self.inboard) - sum(p.mass_kg for p in self.plain)

    @property
    def height_difference_mm(self) -> float:
        """Centre of gravity of the inboard parts over that of the plain ones, + is higher."""
        return centre(self.inboard)[2] - centre(self.plain)[2]


INBOARD = (
    "rocker",
    "rod",
    "spring",
    "spring anchor",
    "spring housing",
    "damper bracket",
    "pivot bearings",
    "pivot spindle",
    "pivot bracket",
)
INBOARD_JOINTS = (
    "pivot bracket",
    ROD_EYE,
    DAMPER_EYE,
    "damper bracket",
    CROSS_BOLT,
    ANCHOR_PLATES,
)


def coil_mass_kg(
    energy_j: float, shear_modulus_mpa: float = 79_300.0, stress_mpa: float = COIL_STRESS_MPA
) -> float:
    """Steel of a round-wire coil that stores `energy_j` at a wire shear stress: V = 4·G·U/τ² (closed form),
    dead coils added.

    >>> round(coil_mass_kg(100.0), 3)
    0.686
    """
    return (
        4 * shear_modulus_mpa * energy_j * 1e3 / stress_mpa**2 * DENSITY_KG_M3 * 1e-9 * (1 + COIL_DEAD_SHARE)
    )


def stored_j(s: Springing) -> float:
    """Energy in the spring at full bump, from its own rate and its torque or force there."""
    last = -1
    if s.spring.linear:
        return float(s.curves.force_n[last]) ** 2 / (2 * s.spring.rate) / 1e3
    return float(s.curves.torque_nm[last]) ** 2 / (2 * s.spring.rate)


def compare(layout: Layout, sprung: Springing, masses: Masses) -> BesideCoil:
    """The plain corner: the same damper with a coil on it between the rod's place on the arm and a bracket
    pair straight above the upper inner pivots' line; two bracket pairs like the damper's, two of its bolts.
    It keeps the wheel's energy at full bump. Where the job's own spring is a coil, the coil is in both and so
    in neither."""
    inboard = tuple(
        p
        for p in masses.parts
        if p.body in INBOARD or (p.body == "fasteners" and p.name.partition(", ")[2] in INBOARD_JOINTS)
    )
    job = layout.job
    low = np.array(job.rod.outboard if job.rod.on != "upright" else job.lower_arm.outer_joint, float)
    low = (
        low
        if low[2] < job.wheel.centre[2]
        else np.array(job.lower_arm.outer_joint, float) * 0.75
        + np.array(job.lower_arm.front_pivot, float) * 0.25
    )
    mean = (job.damper.longest + job.damper.shortest) / 2
    inward = np.array([0.0, job.upper_arm.front_pivot[1] - low[1], 0.0])
    across = min(abs(inward[1]), 0.5 * mean)
    high = low + np.array([0.0, math.copysign(across, inward[1]), math.sqrt(max(mean**2 - across**2, 0.0))])
    bracket = [p for p in masses.parts if p.body == "damper bracket"]
    bolt = next((p for p in masses.parts if p.name == "fasteners, damper bracket"), None)
    coil = coil_mass_kg(stored_j(sprung), getattr(job.spring, "shear_modulus", 79_300.0))
    plain = [] if sprung.spring.linear else [Weighed("coil", "spring", coil, vector((low + high) / 2), 0.5)]
    for end, at in (("arm", low), ("frame", high)):
        plain.append(
            Weighed(
                f"bracket pair at the {end}",
                "bracket",
                sum(p.mass_kg for p in bracket),
                vector(at),
                0.0,
            )
        )
        if bolt is not None:
            plain.append(Weighed(f"fasteners at the {end}", "fasteners", bolt.mass_kg, vector(at), 0.0))
    found = BesideCoil(inboard, tuple(plain), ())
    return BesideCoil(inboard, tuple(plain), _notes(found))


def _notes(c: BesideCoil) -> tuple[str, ...]:
    """What the figure holds, and, where it is not near the usual 4 kg, which parts make the difference."""
    d = c.difference_kg
    out = [
        f"Inboard parts {sum(p.mass_kg for p in c.inboard):.2f} kg, plain coil-over parts "
        f"{sum(p.mass_kg for p in c.plain):.2f} kg: {d:+z.2f} kg a side, "
        f"their centre of gravity {abs(c.height_difference_mm):.0f} mm "
        f"{'higher' if c.height_difference_mm > 0 else 'lower'}.",
        (
            "The plain coil is sized for the same energy at full bump, "
            f"{COIL_STRESS_MPA:g} MPa and {100 * COIL_DEAD_SHARE:.0f} % dead coils (from memory); the damper "
            f"is in both and so in neither sum."
            if any(p.name == "coil" for p in c.plain)
            else "Damper and coil are in both and so in neither sum."
        ),
    ]
    by_body: dict[str, float] = {}
    for p in c.inboard:
        by_body[p.body] = by_body.get(p.body, 0.0) + p.mass_kg
    heaviest = ", ".join(
        f"{body} {mass:.2f} kg" for body, mass in sorted(by_body.items(), key=lambda i: -i[1])[:4]
    )
    if "spring housing" in by_body or any(p.name == "leaf pack" for p in c.inboard):
        housing = by_body.get("spring housing", 0.0)
        if abs(d - USUAL_DIFFERENCE_KG) <= NEAR_KG:
            out.append(
                f"Common practice says about {USUAL_DIFFERENCE_KG:g} kg a side over plain coil-overs for a "
                f"torsion-leaf corner: this one lands there."
            )
        else:
            out.append(
                f"Common practice says about {USUAL_DIFFERENCE_KG:g} kg a side; this one is {d:+z.2f} kg "
                f"because of: {heaviest}. "
                f"Where the housing ({housing:.2f} kg) takes the place of a frame tube that would be there "
                f"anyway, {d - housing:+z.2f} kg remain."
            )
    else:
        out.append(f"Heaviest: {heaviest}.")
    return tuple(out)
