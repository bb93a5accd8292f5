"""Crushing by a bolt's preload: what each joint's stack bears, and the torque to tighten to.

Every sheet prints the torque of here: the less of the bolt's class and what is clamped.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

from assemblies.job.joint_names import CROSS_BOLT
from assemblies.layout.fasteners import SLEEVE, SPACER_WALL_MM, BoltedJoint, joints
from assemblies.layout.placing import Layout, needed
from assemblies.strength.row import Check
from assemblies.strength.sizing import STRONG, Option, put
from parts.base.frozen import dataclass
from parts.base.stock import WALLS_MM, steel, thread, washer
from parts.calc.clamping import class_preload_n, sleeve_squash_n, torque_nm, tube_squeeze_n

RING = "yield of the ring along its axis"
ACROSS = "half the chord face of an X joint, EN 1993-1-8:2005 Table 7.2: hole and slide, first cut"
RINGS = "bolted sleeves and spacers"


class Clamped(NamedTuple):
    """A made part in a stack: what it bears, by which law, and changes of the job with which it bears the
    class's preload (None where no key does)."""

    what: str
    bears_n: float
    law: str
    changes: dict[str, Any] | None


@dataclass(frozen=True)
class Tightening:
    """Of one joint: preload of its bolt's class, and what is clamped but for plates and bought parts."""

    joint: BoltedJoint
    class_n: float
    parts: tuple[Clamped, ...]

    @property
    def weakest(self) -> Clamped | None:
        return min(self.parts, key=lambda p: p.bears_n, default=None)

    @property
    def limited(self) -> bool:
        return self.weakest is not None and self.weakest.bears_n < self.class_n

    @property
    def torque_nm(self) -> int:
        """The less of both."""
        return torque_nm(self.joint.size, min([self.class_n, *(p.bears_n for p in self.parts)]))

    @property
    def options(self) -> tuple[Option | str, ...]:
        """One change for every part that is too weak, then the lower torque."""
        if not self.limited:
            return ()
        low = f"tighten to {self.torque_nm} N·m at most, dry, as the set-up sheet says"
        changes: dict[str, Any] = {}
        for p in self.parts:
            if p.bears_n < self.class_n:
                if p.changes is None:
                    return (low,)
                changes |= p.changes
        said = [put(k, v).words for k, v in changes.items()]
        return Option(", ".join(said), changes), low


def tightenings(layout: Layout) -> list[Tightening]:
    """One of each joint that is laid out, in their order."""
    out = []
    for j in joints(layout)[0]:
        class_n = class_preload_n(j.size, layout.job.bolts.grade)
        layers = dict.fromkeys(x.what for x in j.layers if x.thickness_mm > 1e-6)
        parts = (_clamped(layout, j, what, class_n) for what in layers)
        out.append(Tightening(j, class_n, tuple(p for p in parts if p is not None)))
    return out


def checks(layout: Layout) -> list[Check]:
    """A row of each joint that clamps a made sleeve, spacer or tube: a warning, for the torque told is
    lower."""
    out = []
    for t in tightenings(layout):
        if (weak := t.weakest) is None:
            continue
        told = [o if isinstance(o, str) else o.words for o in t.options]
        across = t.joint.name == CROSS_BOLT
        out.append(
            Check(
                "sleeve" if across else RINGS,
                "cross bolt at class preload" if across else f"{t.joint.name} at class preload",
                "tightening",
                t.class_n,
                weak.bears_n,
                "N",
                f"{t.joint.size}, 0.7·fub·As of 8.8 at most; {weak.what}: {weak.law}",
                cure=told[0] if told else "",
                note=f"tighten to {t.torque_nm} N·m" if t.limited else "",
                level="warn",
                service="a preload, not a load",
                options=t.options,
            )
        )
    return out


def _clamped(layout: Layout, j: BoltedJoint, what: str, class_n: float) -> Clamped | None:
    job, bore = layout.job, thread(j.size).diameter_mm
    if what in ("spacer", SLEEVE):
        key, named, outer = "bolts.sleeve_material", job.bolts.sleeve_material, bore + 2 * SPACER_WALL_MM
    elif what == "pivot sleeve" and layout.pivot is not None:
        key, named, outer = "pivot.material", layout.pivot.material, layout.pivot.bearing.bore_mm
    elif what == "sleeve" and layout.lug is not None:
        thin = min((p.part for p in layout.lug_sleeves), key=lambda s: s.outer_mm**2 - s.bore_mm**2)
        key, named, outer, bore = (
            "rocker.plate_material",
            job.rocker.plate_material,
            thin.outer_mm,
            thin.bore_mm,
        )
        what = "lug sleeve"
    elif what == "sleeve's wall" and layout.sleeve is not None:
        return _tube(layout, washer(j.size).outer_mm, class_n)
    else:
        return None

    def bears(yield_mpa: float) -> float:
        return sleeve_squash_n(outer, bore, yield_mpa)

    return Clamped(what, bears(steel(named).yield_mpa), RING, _stronger(key, bears, class_n))


def _stronger(key: str, bears: Callable[[float], float], class_n: float) -> dict[str, Any] | None:
    """One steel for all, as one key of the job serves many joints."""
    return {key: STRONG.name} if bears(STRONG.yield_mpa) >= class_n else None


def _tube(layout: Layout, pad_mm: float, class_n: float) -> Clamped:
    """The sleeve's outer tube between head and nut; its next wall that bears it goes outwards, for the bore
    slides on the tube inside."""
    s, fy = needed(layout.sleeve), steel(layout.job.rocker.plate_material).yield_mpa
    bears = tube_squeeze_n(s.outer_mm, s.outer_wall_mm, pad_mm, fy)
    bore = s.outer_mm - 2 * s.outer_wall_mm
    walls = [w for w in WALLS_MM if tube_squeeze_n(bore + 2 * w, w, pad_mm, fy) >= class_n]
    changes = None
    if walls and layout.job.pivot.kind != "stub":  # there the outer tube is the rocker's own
        changes = {"spring.sleeve.wall": walls[0], "spring.sleeve.outer": round(bore + 2 * walls[0], 2)}
    return Clamped("sleeve's tube, across", bears, ACROSS, changes)
