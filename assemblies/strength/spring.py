"""The torsion spring and what turns or holds its ends: stress, window, sleeve with its cross bolt, clocking
bolts, welds."""

from __future__ import annotations

import math

import numpy as np

from assemblies.job.joint_names import ANCHOR_PLATES
from assemblies.strength import sizing
from assemblies.strength.fatigue import Detail
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, WeldStress, with_cure, worst
from assemblies.strength.welds import round_weld
from parts.adjuster_sleeve import EDGE, AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.base.stock import PLATES_MM, ROUND_PRECISION_TUBES_MM, SPRING_E_MPA, WALLS_MM, Steel, thread
from parts.calc.bolts import Bolt, bearing_resistance, cross_bolt
from parts.calc.sections import round_tube
from parts.calc.torsion import edge_guide_mpa, leaf_edge_stress_mpa, shear_guide_mpa
from parts.calc.weld_lines import circle_flow
from parts.calc.welds import scope_notes, weld_resistance_n_per_mm
from parts.spring_socket import SpringSocket


def stress(f: Forces, spec, stress_mpa: dict[str, float], wheel_mm: dict[str, float]) -> list[Check]:
    """Peak shear of bar or leaves by their twist, at service, against a guide.

    The guide is advice: 0.5·Rm where the tensile strength is given, else the usual figure."""
    at = max((k for k in stress_mpa if k != "damper_top_out"), key=lambda k: abs(stress_mpa[k]))
    limit, source = shear_guide_mpa(spec.tensile_strength, spec.preset)
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
        service="the twist is fixed by the travel",
    )
    return [with_cure(c, _longer(spec, "or thinner and more of it"))]


def leaf_edges(spec, twist_deg: dict[str, float], wheel_mm: dict[str, float]) -> list[Check]:
    """Edges of the leaves where their ends cannot warp, at the greatest twist: a bound and advice, as the
    shear is."""
    at = max((k for k in twist_deg if k != "damper_top_out"), key=lambda k: abs(twist_deg[k]))
    stress = leaf_edge_stress_mpa(
        math.radians(twist_deg[at]),
        spec.leaf_width,
        spec.leaf_thickness,
        spec.length,
        spec.shear_modulus,
        SPRING_E_MPA,
    )
    limit, source = edge_guide_mpa(spec.tensile_strength)
    c = Check(
        "spring",
        "leaves' edges at the sockets' mouths",
        f"full {at}" if at != "ride" else "ride",
        float(stress),
        limit,
        "MPa",
        f"E·(b/2)·(t/2)·φ'', restrained warping (Vlasov); {source}",
        wheel_mm.get(at),
        0.0,
        "an upper bound: clearance in the sockets lets much of it go; round their mouths",
        level="warn",
        service="the twist is fixed by the travel",
    )
    return [with_cure(c, _longer(spec, "or thinner or narrower leaves and more of them"))]


def _longer(spec, *otherwise: str) -> sizing.Cure:
    """A longer spring is twisted less a mm; leaves more in the same measure keep its rate."""

    def cure(use: float) -> list[sizing.Option | str]:
        found: list[sizing.Option | str] = []
        for power in (1, 2, 3):  # a longer one is softer too: its twist at ride grows
            long = math.ceil(spec.length * use**power * 1.02 / 10) * 10.0
            if spec.kind == "leaf-pack":
                more = math.ceil(spec.leaves * long / spec.length - 1e-9)
                words = f"{sizing.put('spring.length', long, spec.length).words}, spring.leaves = {more}"
                found.append(sizing.Option(words, {"spring.length": long, "spring.leaves": more}))
            else:
                found.append(sizing.put("spring.length", long, spec.length))
        return [*found, *otherwise]

    return cure


def leaf_ends_tire(spec, twist_rad: float) -> str:
    """What is left open of the leaves' ends, with the edges' stress of `leaf_edges` under one corner weight's
    twist."""
    size = leaf_edge_stress_mpa(
        twist_rad, spec.leaf_width, spec.leaf_thickness, spec.length, spec.shear_modulus, SPRING_E_MPA
    )
    return (
        "fatigue of the leaves' ends in their sockets: no curve of spring steel that the window's corners "
        f"fret; the edges at the mouths bear {size:.0f} MPa a corner weight at most: leaves break there, so "
        "look at them with every service"
    )


def ends(
    f: Forces,
    socket: SpringSocket,
    sleeve: AdjusterSleeve,
    anchor: AnchorPlates,
    steel: Steel,
    bolt_grade: str,
    threads_in_plane: bool,
    stub: bool = False,
) -> list[Check]:
    """From the spring's torque T of every entry (N·m); `stub`: the sleeve's inner tube carries the socket,
    its outer one is the rocker's. See each row's source; the pressure in a window falls
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
        cure=lambda u: [
            *(
                [sizing.put("rocker.plate_material", sizing.STRONG.name)]
                if u * steel.yield_mpa <= sizing.STRONG.yield_mpa
                else []
            ),
            "a wider spring, or a socket of more plates",
        ],
    )
    rows += _sleeve(f, sleeve, torque, steel, bolt_grade, threads_in_plane, stub)
    over, wall = (sleeve.inner_mm, sleeve.inner_wall_mm) if stub else (sleeve.outer_mm, sleeve.outer_wall_mm)
    leg = min(wall, socket.plate_thickness_mm) if stub else wall
    rows += round_weld(
        f,
        "spring socket",
        min(over, socket.outer_diameter_mm),
        leg,
        leg,
        steel,
        torque_nmm=torque,
        check="weld to the sleeve",
        cure=_thicker(sleeve, "inner" if stub else "outer", stub),
    )
    rows += round_weld(
        f,
        "anchor socket",
        socket.outer_diameter_mm,
        socket.plate_thickness_mm,
        socket.plate_thickness_mm,
        steel,
        torque_nmm=torque,
        check="weld to the turning plate",
        cure=sizing.grown("spring.socket_plate", socket.plate_thickness_mm, PLATES_MM),
    )
    if socket.plates > 1:
        rows += _seams(f, socket, torque, steel)
    return rows + _anchor(f, anchor, torque, steel, bolt_grade, threads_in_plane)


def _seams(f: Forces, s: SpringSocket, torque: np.ndarray, steel: Steel) -> list[Check]:
    """Seams between the stacked plates: a V ground round each and welded all round, τ = T/(2·π·r²·a) at the
    middle of its depth a. The seam next to what holds the stack carries the torque of all plates beyond it:
    all of it is taken. The depth counts as throat (EN 1993-1-8:2005 4.7.2, partial penetration)."""
    ring = s.outer_diameter_mm - s.seam_mm

    def use(depth: float) -> float:
        least = weld_resistance_n_per_mm(depth, steel.fu_mpa, steel.beta_w)
        flow = circle_flow(s.outer_diameter_mm - depth, 0.0, torque, 0.0, 0.0)
        return float(flow.max()) / least

    deeper = (
        (
            sizing.put("spring.socket_seam", d, s.seam_mm)
            if 2 * d <= s.plate_thickness_mm
            else sizing.put("spring.socket_seam", d, s.seam_mm, spring__socket_plate=2 * d),
            lambda d=d: use(d),
        )
        for d in (n / 2 for n in range(2, 17))
        if d > s.seam_mm
    )
    notes = (
        "all of the torque in the first seam; the anchor's socket alike",
        *scope_notes(s.plate_thickness_mm, s.seam_mm),
    )
    return worst(
        f,
        "spring socket",
        "weld between its plates",
        circle_flow(ring, 0.0, torque, 0.0, 0.0),
        weld_resistance_n_per_mm(s.seam_mm, steel.fu_mpa, steel.beta_w),
        "N/mm",
        f"EN 1993-1-8:2005 4.7.2 and 4.5.3.3, a V {s.seam_mm:g} mm deep round each of {s.plates - 1} seams, "
        f"fu {steel.fu_mpa:g} MPa",
        note="; ".join(notes),
        cure=lambda u: sizing.passing(deeper, "a larger tube round the spring"),
        seam=WeldStress.along(s.seam_mm),
    )


def _sleeve(
    f: Forces,
    s: AdjusterSleeve,
    torque: np.ndarray,
    steel: Steel,
    bolt_grade: str,
    threads: bool,
    stub: bool = False,
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
        cure=sizing.bolt(
            s.bolt,
            bolt_grade,
            lambda b: float(force.max()) / b.shear_n(1, threads),
            ("spring.sleeve_bolt",),
        ),
    )
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
            cure=_thicker(s, tube, stub),
        )
        tau, left = _torsion_at_holes_mpa(s, tube, torque)
        rows += worst(
            f,
            "sleeve",
            f"torsion at the holes, {tube} tube",
            tau,
            steel.yield_mpa / math.sqrt(3),
            "MPa",
            f"T/W_t over the {100 * left:.0f} % of the wall that a row of holes leaves",
            cure=_thicker(s, tube, stub),
        )
    return rows


def _thicker(s: AdjusterSleeve, tube: str, stub: bool) -> sizing.Cure:
    """A thicker wall: of the pivot tube inwards, of the sleeve outwards, for its bore slides on the other. A
    stub goes inwards, the rocker's tube over it outwards."""
    if stub and tube == "inner":
        return sizing.grown("pivot.wall", s.inner_wall_mm, WALLS_MM)
    if stub:
        return sizing.grown("rocker.pivot_tube.outer", s.outer_mm, ROUND_PRECISION_TUBES_MM)
    if tube == "inner":
        return sizing.grown("rocker.pivot_tube.wall", s.inner_wall_mm, WALLS_MM)
    bore = s.outer_mm - 2 * s.outer_wall_mm

    def cure(use: float) -> list[sizing.Option | str]:
        need = s.outer_wall_mm * use * 1.1
        found = [
            sizing.put("spring.sleeve.wall", w, s.outer_wall_mm, spring__sleeve__outer=round(bore + 2 * w, 2))
            for w in WALLS_MM
            if w >= need
        ]
        return [*found[: sizing.MOST], "a larger pivot tube and sleeve"]

    return cure


def details(unit: Forces, s: AdjusterSleeve, threads: bool, stub: bool = False) -> list[Detail]:
    """Holes of both tubes and the bolts under one corner weight. In torsion a hole's edge sees 4·τ where
    under a pull it sees 3·σ (theory of elasticity): the shear counts 4/3 at the category for a pull."""
    torque = float(np.abs(unit.spring_nm).max()) * 1e3
    area = thread(s.bolt).stress_area_mm2 if threads else thread(s.bolt).shank_area_mm2
    across = float(cross_bolt(torque, s.inner_mm, s.inner_wall_mm, s.outer_mm, s.outer_wall_mm).shear_n)
    found = [
        Detail(
            "sleeve",
            f"holes of the {tube} tube",
            90.0,
            4 / 3 * float(tau),
            "Table 8.1 detail 11 (from memory), reamed",
            cure=_thicker(s, tube, stub),
        )
        for tube, tau in (
            ("inner", _torsion_at_holes_mpa(s, "inner", torque)[0]),
            ("outer", _torsion_at_holes_mpa(s, "outer", torque)[0]),
        )
    ]
    source = "Table 8.1 detail 15 (from memory), bolt in shear"
    return [
        *found,
        Detail(
            "sleeve",
            "cross bolt",
            100.0,
            across / area,
            source,
            True,
            larger_bolt(s.bolt, ("spring.sleeve_bolt",)),
        ),
    ]


def larger_bolt(size: str, keys: tuple[str, ...]) -> sizing.Cure:
    """The next sizes whose stress area is as much larger: a stronger class tires no later."""
    area = thread(size).stress_area_mm2

    def cure(use: float) -> list[sizing.Option | str]:
        sizes = sizing.bolt(size, "10.9", lambda b: use * area / b.thread.stress_area_mm2, keys)(use)
        return [
            *(o for o in sizes if not isinstance(o, str)),
            "a larger thread than is listed, or less force",
        ]

    return cure


def _torsion_at_holes_mpa(s: AdjusterSleeve, tube: str, torque):
    """T/W_t over the share of the wall that a row of holes leaves, and that share."""
    outer, wall, holes = (
        (s.inner_mm, s.inner_wall_mm, max(len(r.first) for r in s.rows))
        if tube == "inner"
        else (s.outer_mm, s.outer_wall_mm, max(len(r.second) for r in s.rows))
    )
    left = 1 - 2 * holes * s.hole_mm / (math.pi * (outer - wall))
    return torque / round_tube(outer, wall).c_t_mm3 / max(left, 1e-6), left


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
            ANCHOR_PLATES,
            "clocking bolts in shear",
            force,
            bolt.shear_n(1, threads),
            "N",
            f"EN 1993-1-8:2005 Table 3.4; {len(a.bolts(setting))} x {a.bolt} {bolt_grade} about their own "
            f"centroid, the worst of {a.positions} settings: straight across at {radius:.4g} mm",
            cure=sizing.bolt(
                a.bolt,
                bolt_grade,
                lambda b: float(force.max()) / b.shear_n(1, threads),
                ("spring.anchor_bolt",),
            ),
        ),
        *worst(
            f,
            ANCHOR_PLATES,
            "bearing of the clocking bolts",
            force,
            bearing.resistance_n,
            "N",
            f"EN 1993-1-8:2005 Table 3.4, {a.thickness_mm:g} mm, single lap",
            cure=sizing.plate("spring.anchor_plate", a.thickness_mm),
        ),
    ]
