"""The torsion spring and what turns or holds its ends: stress, window, sleeve with its cross bolt, clocking
bolts, welds."""

from __future__ import annotations

import math

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, worst
from assemblies.strength.welds import round_weld
from parts.adjuster_sleeve import EDGE, AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.stock import WALLS_MM, Steel
from parts.calc.bolts import Bolt, bearing_resistance, cross_bolt
from parts.calc.sections import round_tube
from parts.spring_socket import SpringSocket

GUIDE_MPA, GUIDE_PRESET_MPA = (
    600.0,
    800.0,
)  # hardened, not pre-set and pre-set: low ends of the usual figures, from memory
KEYS = {"inner": "rocker.pivot_tube.wall", "outer": "spring.sleeve.wall"}
SHARE_OF_TENSILE = 0.5  # EN 13906-1, static limit of cold-coiled helical springs, as an analogue


def stress(f: Forces, spec, stress_mpa: dict[str, float], wheel_mm: dict[str, float]) -> list[Check]:
    """Peak shear of bar or leaves by their twist (no safety factor: the twist is fixed by the travel) against
    a guide.

    The guide is advice: 0.5·Rm where the tensile strength is given, else the usual figure."""
    at = max((k for k in stress_mpa if k != "damper_top_out"), key=lambda k: abs(stress_mpa[k]))
    if spec.tensile_strength:
        limit, source = SHARE_OF_TENSILE * spec.tensile_strength, "0.5·Rm, EN 13906-1 as an analogue"
    else:
        limit, source = (
            (GUIDE_PRESET_MPA, "guide for pre-set springs, from memory: advice")
            if spec.preset
            else (GUIDE_MPA, "guide for springs not pre-set, from memory: advice")
        )
    c = Check(
        "spring",
        "shear at the greatest twist",
        f"full {at}" if at != "ride" else "ride",
        abs(stress_mpa[at]),
        limit,
        "MPa",
        source,
        wheel_mm.get(at),
        0.0,
        "Saint-Venant torsion",
        level="warn",
    )
    cure = f"a spring {c.use:.2f} times as long, or thinner and more of it" if c.use > 1 else ""
    return [Check(**{**c.__dict__, "cure": cure})]


def ends(
    f: Forces,
    socket: SpringSocket,
    sleeve: AdjusterSleeve,
    anchor: AnchorPlates,
    steel: Steel,
    bolt_grade: str,
    threads_in_plane: bool,
    safety: float,
) -> list[Check]:
    """From the spring's torque T of every entry (N·m). See each row's source; the pressure in a window falls
    off linearly from each corner to the middle of its side: p = 6·T/(b²·depth), b the long side (or the
    hexagon's across flats)."""
    torque = np.abs(f.spring_nm) * 1e3
    b = socket.width_mm
    if not socket.is_hexagon:
        b = max(socket.width_mm, socket.height_mm)
    pressure = 6 * torque / (b * b * socket.depth_mm)
    rows = worst(
        f,
        "spring socket",
        "pressure in the window",
        pressure,
        steel.yield_mpa,
        "MPa",
        "6·T/(b²·depth), linear from the corner; yield",
        factor=safety,
        cure=lambda u: f"a socket {math.ceil(socket.depth_mm * u):g} mm deep instead of {socket.depth_mm:g}",
    )
    rows += _sleeve(f, sleeve, torque, steel, bolt_grade, threads_in_plane, safety)
    rows += round_weld(
        f,
        "spring socket",
        min(sleeve.outer_mm, socket.outer_diameter_mm),
        sleeve.outer_wall_mm,
        sleeve.outer_wall_mm,
        steel,
        safety,
        torque_nmm=torque,
        check="weld to the sleeve",
    )
    rows += round_weld(
        f,
        "anchor socket",
        socket.outer_diameter_mm,
        socket.plate_thickness_mm,
        socket.plate_thickness_mm,
        steel,
        safety,
        torque_nmm=torque,
        check="weld to the turning plate",
    )
    return rows + _anchor(f, anchor, torque, steel, bolt_grade, threads_in_plane, safety)


def _sleeve(
    f: Forces,
    s: AdjusterSleeve,
    torque: np.ndarray,
    steel: Steel,
    bolt_grade: str,
    threads: bool,
    safety: float,
) -> list[Check]:
    """Cross bolt in two planes at the tubes' meeting, F = T/D; bearing on both walls; each tube's shear on
    what its row of holes leaves."""
    bolt, d = Bolt(s.bolt, bolt_grade), s.hole_mm
    forces = cross_bolt(torque, s.inner_mm, s.inner_wall_mm, s.outer_mm, s.outer_wall_mm)
    force = forces.shear_n
    where = f"{s.bolt} {bolt_grade}, F = T/D at {s.inner_mm:g} mm"
    rows = worst(
        f,
        "sleeve",
        "cross bolt in shear",
        force,
        bolt.shear_n(1, threads),
        "N",
        f"EN 1993-1-8:2005 Table 3.4; {where}",
        factor=safety,
        cure=sizing.bolt(s.bolt, bolt_grade, lambda b: float(force.max()) * safety / b.shear_n(1, threads)),
    )
    holes = {"inner": max(len(r.first) for r in s.rows), "outer": max(len(r.second) for r in s.rows)}
    for tube, outer, wall, bears in (
        ("inner", s.inner_mm, s.inner_wall_mm, forces.inner_bearing_n),
        ("outer", s.outer_mm, s.outer_wall_mm, forces.outer_bearing_n),
    ):
        middle = outer / 2 - wall / 2
        ahead = _clear_ahead_mm(s, tube, middle)
        bearing = bearing_resistance(
            d, d, wall, steel.fu_mpa, bolt_grade, end_mm=max(ahead, 1.2 * d), edge_mm=EDGE * d
        )
        rows += worst(
            f,
            "sleeve",
            f"bearing of the cross bolt, {tube} tube",
            bears,
            bearing.resistance_n,
            "N",
            f"EN 1993-1-8:2005 Table 3.4, {wall:g} mm wall, {ahead:.0f} mm round the tube to the next hole's "
            f"edge",
            factor=safety,
            cure=lambda u, tube=tube, wall=wall: (
                f"{KEYS[tube]} = {sizing.next_up(wall * u * 1.1, WALLS_MM):g} mm instead of {wall:g}"
            ),
        )
        around = math.pi * (outer - wall)
        left = 1 - 2 * holes[tube] * d / around
        tau = torque / round_tube(outer, wall).c_t_mm3 / max(left, 1e-6)
        rows += worst(
            f,
            "sleeve",
            f"torsion at the holes, {tube} tube",
            tau,
            steel.yield_mpa / math.sqrt(3),
            "MPa",
            f"T/W_t over the {100 * left:.0f} % of the wall that a row of holes leaves",
            factor=safety,
            cure=lambda u, tube=tube, wall=wall: (
                f"{KEYS[tube]} = {sizing.next_up(wall * u * 1.1, WALLS_MM):g} mm instead of {wall:g}"
            ),
        )
    return rows


def _clear_ahead_mm(s: AdjusterSleeve, tube: str, radius_mm: float) -> float:
    """Round the tube from a hole's centre to the edge of the next one in its row, the nearest of all rows:
    the metal the bolt pushes against, for it pushes round the tube. A hole goes straight across, so it has
    two places."""
    nearest = 180.0
    for ring in s.rows:
        angles = np.sort(
            [
                (a + half) % 360
                for a in (ring.first if tube == "inner" else ring.second)
                for half in (0.0, 180.0)
            ]
        )
        nearest = min(nearest, float(np.diff([*angles, angles[0] + 360]).min()))
    return math.radians(nearest) * radius_mm - s.hole_mm / 2


def _anchor(
    f: Forces,
    a: AnchorPlates,
    torque: np.ndarray,
    steel: Steel,
    bolt_grade: str,
    threads: bool,
    safety: float,
) -> list[Check]:
    """Clocking bolts in single shear about their own centroid at the worst of all settings, and their bearing
    on the plates."""
    bolt, d = Bolt(a.bolt, bolt_grade), a.hole_mm
    setting, share = a.worst
    radius = a.circles_mm[a.bolts(setting)[0][0] - 1]
    force = torque * share
    bearing = bearing_resistance(
        d, d, a.thickness_mm, steel.fu_mpa, bolt_grade, end_mm=1.5 * d, edge_mm=1.5 * d, single_lap=True
    )
    return [
        *worst(
            f,
            "anchor plates",
            "clocking bolts in shear",
            force,
            bolt.shear_n(1, threads),
            "N",
            f"EN 1993-1-8:2005 Table 3.4; {len(a.bolts(setting))} x {a.bolt} {bolt_grade} about their own "
            f"centroid, the worst of {a.positions} settings: straight across at {radius:.4g} mm",
            factor=safety,
            cure=sizing.bolt(
                a.bolt, bolt_grade, lambda b: float(force.max()) * safety / b.shear_n(1, threads)
            ),
        ),
        *worst(
            f,
            "anchor plates",
            "bearing of the clocking bolts",
            force,
            bearing.resistance_n,
            "N",
            f"EN 1993-1-8:2005 Table 3.4, {a.thickness_mm:g} mm, single lap",
            factor=safety,
            cure=sizing.plate("the anchor plates' thickness", a.thickness_mm),
        ),
    ]
