"""Eyes in pairs of plates and the bolt through them: bearing, metal round the hole, net section, tear-out,
bending of the pin.

One `EyeJoint` is a bolt in double shear: two outer plates alike, one eye between them, a gap each side of it.
"""

from __future__ import annotations

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, worst
from parts.base.frozen import dataclass
from parts.base.stock import Steel, hexagon, thread
from parts.calc.bolts import GAMMA_M2, Bolt, bearing_resistance, combined_use, grade, thread_strip_n
from parts.calc.lugs import lug
from parts.calc.pins import (
    contact_use,
    eye_force_n,
    pin_bearing_resistance_n,
    pin_moment_nmm,
    pin_moment_resistance_nmm,
    pin_use,
)

WEAR = "what wears a hole is the load it sees day by day"
BTH = "ASME BTH-1 pinned connections, design factor = the job's safety"


@dataclass(frozen=True)
class EyeJoint:
    """`radius_mm`: hole centre to the nearest plate edge. `plate_key`, `radius_key`: the job's keys of
    plate thickness and boss radius ("" where it has none)."""

    item: str
    plate_mm: float
    hole_mm: float
    radius_mm: float
    steel: Steel
    bolt: Bolt
    eye_mm: float  # width of what sits between
    gap_mm: float  # each side of it
    plate_key: str
    radius_key: str
    threads_in_plane: bool = True
    bolt_keys: tuple[str, ...] = ()  # the job's keys of the bolt's size

    @property
    def pin_mm(self) -> float:
        return min(thread(self.bolt.size).diameter_mm, self.hole_mm)


def checks(f: Forces, joint: EyeJoint, force_n: np.ndarray, along_n: np.ndarray) -> list[Check]:
    """All rows of one joint. `force_n`: square to the bolt, `along_n`: along it; both on the whole pair, one
    an entry of `f`."""
    return [*_plates(f, joint, force_n), *bolt_checks(f, joint, force_n, along_n)]


def bolt_checks(f: Forces, joint: EyeJoint, force_n: np.ndarray, along_n: np.ndarray) -> list[Check]:
    """The rows of the bolt alone."""
    return [*_pin(f, joint, force_n), *_bolt(f, joint, force_n, along_n)]


def _plates(f: Forces, j: EyeJoint, force: np.ndarray) -> list[Check]:
    t, d, d0, s = j.plate_mm, j.pin_mm, j.hole_mm, j.steel
    item, ec, most = j.item, "EN 1993-1-8:2005", float(np.max(force, initial=0.0))
    thicker = sizing.plate(j.plate_key, t, s)
    ring = _Ring(j)

    def wider(mode: str):
        if not j.radius_key:
            return lambda u: [*thicker(u), "or a larger boss"]
        return sizing.radius(j.radius_key, j.radius_mm, lambda r: most / ring.resistance_n(mode, r))

    bolt_bearing = bearing_resistance(
        d,
        d0,
        t,
        s.fu_mpa,
        j.bolt.bolt_class,
        end_mm=max(j.radius_mm, 1.2 * d0),
        edge_mm=max(j.radius_mm, 1.2 * d0),
    )
    rows = [
        *worst(
            f,
            item,
            "bearing of the pin",
            force,
            pin_bearing_resistance_n(d, 2 * t, s.yield_mpa),
            "N",
            f"{ec} Table 3.10: 1.5·t·d·fy",
            cure=thicker,
        ),
        *worst(
            f,
            item,
            "bearing in service",
            f.service(force),
            pin_bearing_resistance_n(d, 2 * t, s.yield_mpa, replaceable=True),
            "N",
            f"{ec} Table 3.10: 0.6·t·d·fy, a pin meant to be changed",
            usual=True,
            level="warn",
            service=WEAR,
            note="over 1 the hole wears oval: press in a bush",
            cure=lambda u: [*thicker(u), "or a bush welded or pressed in the hole"],
        ),
        *worst(
            f,
            item,
            "bolt bearing",
            force,
            2 * bolt_bearing.resistance_n,
            "N",
            f"{ec} Table 3.4, e1 = e2 = {j.radius_mm:.1f} mm",
            cure=thicker,
        ),
    ]
    if d0 > d:  # contact stress grows with the root of the force
        per_root = contact_use(1.0, d, d0, 2 * t, s.yield_mpa)
        rows += worst(
            f,
            item,
            "contact in service",
            np.sqrt(f.service(force)) * per_root,
            1.0,
            "-",
            f"{ec} 3.13.2, equations 3.14 to 3.16: 0.591·√(E·F·(d0 - d)/(d²·t)) <= 2.5·fy",
            usual=True,
            level="warn",
            service=WEAR,
            cure=lambda u: ["ream the hole to the bolt"],
        )
    for mode, check, source in (
        ("beyond", "metal beyond the hole", f"{ec} Table 3.9 type A"),
        ("tension", "net section beside the hole", f"{BTH}: tension"),
        ("splitting", "splitting behind the hole", f"{BTH}: splitting"),
        ("shear", "tear-out", f"{BTH}: double shear planes"),
    ):
        rows += worst(
            f,
            item,
            check,
            force,
            ring.resistance_n(mode, j.radius_mm),
            "N",
            source,
            cure=wider(mode),
        )
    return rows


@dataclass(frozen=True)
class _Ring:
    """Metal round a joint's hole at any boss radius: force of both plates, N."""

    joint: EyeJoint

    def resistance_n(self, mode: str, radius_mm: float) -> float:
        j = self.joint
        edge = radius_mm - j.hole_mm / 2
        if mode == "beyond":
            return eye_force_n(edge, edge, 2 * j.plate_mm, j.steel.yield_mpa, j.hole_mm)
        eye = lug(
            j.plate_mm,
            j.pin_mm,
            j.hole_mm,
            edge,
            radius_mm,
            j.steel.yield_mpa,
            j.steel.fu_mpa,
            1.0,
            end_radius_mm=radius_mm,
        )
        return 2 * eye.by_mode[mode]


def _pin(f: Forces, j: EyeJoint, force: np.ndarray) -> list[Check]:
    def uses(b: Bolt):
        planes = b.shear_n(2, j.threads_in_plane)
        return pin_use(force, j.plate_mm, j.eye_mm, j.gap_mm, _moment_nmm(b), planes)

    note = (
        f"the bolt taken as bare over {j.gap_mm:.1f} mm each side of the eye: solid spacers clamped there "
        f"carry part of it"
        if j.gap_mm > 0
        else ""
    )
    return [
        *worst(
            f,
            j.item,
            "bending of the bolt",
            force * pin_moment_nmm(1.0, j.plate_mm, j.eye_mm, j.gap_mm) / 1e3,
            _moment_nmm(j.bolt) / 1e3,
            "N·m",
            f"EN 1993-1-8:2005 3.13: F/8·(b + 4c + 2a), b = {j.eye_mm:g}, c = {j.gap_mm:.1f}, a = "
            f"{j.plate_mm:g} mm; 1.5·W·fy",
            note=note,
            cure=sizing.bolt(
                j.bolt.size, j.bolt.bolt_class, lambda b: float(uses(b).bending.max()), j.bolt_keys
            ),
        ),
        *worst(
            f,
            j.item,
            "bending and shear of the bolt",
            uses(j.bolt).together,
            1.0,
            "-",
            "EN 1993-1-8:2005 Table 3.10: (M/M_Rd)² + (F_v/F_v,Rd)²",
            note=note,
            cure=sizing.bolt(
                j.bolt.size, j.bolt.bolt_class, lambda b: float(uses(b).together.max()), j.bolt_keys
            ),
        ),
    ]


def _moment_nmm(b: Bolt) -> float:
    return pin_moment_resistance_nmm(b.thread.diameter_mm, grade(b.bolt_class).fyb_mpa)


def _bolt(f: Forces, j: EyeJoint, force: np.ndarray, along: np.ndarray) -> list[Check]:
    strip = grade(j.bolt.bolt_class).fub_mpa / 2 / GAMMA_M2
    shear, pull, along = j.bolt.shear_n(2, j.threads_in_plane), j.bolt.tension_n(), np.abs(along)
    where = (
        f"{j.bolt.size} {j.bolt.bolt_class}, two planes, threads "
        f"{'in' if j.threads_in_plane else 'clear of'} the plane"
    )

    def both(b: Bolt):
        planes = b.shear_n(2, j.threads_in_plane)
        return combined_use(force, along, planes, b.tension_n())

    cure = sizing.bolt(
        j.bolt.size,
        j.bolt.bolt_class,
        lambda b: float(np.max(np.maximum(both(b), along / b.tension_n()))),
        j.bolt_keys,
    )
    return [
        *worst(
            f,
            j.item,
            "shear of the bolt",
            force,
            shear,
            "N",
            f"EN 1993-1-8:2005 Table 3.4; {where}",
            cure=cure,
        ),
        *worst(
            f,
            j.item,
            "pull in the bolt",
            along,
            pull,
            "N",
            "EN 1993-1-8:2005 Table 3.4: 0.9·fub·As/1.25; tightening not counted",
            cure=cure,
        ),
        *worst(
            f,
            j.item,
            "thread of the nut",
            along,
            thread_strip_n(
                j.bolt.thread, hexagon(j.bolt.size).nut_mm - 2 * j.bolt.thread.pitch_mm, strip, strip
            ),
            "N",
            f"{hexagon(j.bolt.size).nut_mm:g} mm nut of the bolt's class, two pitches left out; fub/2/1.25 "
            "in shear, Machinery's Handbook",
            cure=cure,
        ),
        *worst(
            f,
            j.item,
            "shear and pull of the bolt",
            both(j.bolt),
            1.0,
            "-",
            "EN 1993-1-8:2005 Table 3.4: F_v/F_v,Rd + F_t/(1.4·F_t,Rd)",
            cure=cure,
        ),
    ]
