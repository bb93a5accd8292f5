"""The rod's lug on its arm: the two sleeves of its outboard bolt, their welds, the arm's tubes under them.

Each sleeve bears half of the rod's force at its end beside the ball and carries it to its tube as a
cantilever; what lies along the bolt one sleeve bears alone. Any such share that is in equilibrium and borne
everywhere is on the safe side for ductile steel.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

import numpy as np

from assemblies.strength import eyes_pins, sizing
from assemblies.strength.eyes_pins import EyeJoint
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, WeldStress, worst
from parts.arm import Arm
from parts.base.stock import PLATES_MM, ROUND_PRECISION_TUBES_MM, Steel
from parts.calc.bolts import Bolt
from parts.calc.pins import pin_bearing_resistance_n
from parts.calc.sections import round_tube
from parts.calc.weld_lines import LineWeld
from parts.calc.welds import scope_notes, throat_mm, weld_resistance_n_per_mm
from parts.rod_lug import LugSleeve, RodLug

ITEM = "rod lug"


def checks(  # noqa: PLR0913  # what a lug joins
    f: Forces,
    which: str,
    arm: Arm,
    lug: RodLug,
    axes: np.ndarray,
    bolt: Bolt,
    eye_mm: float,
    steel: Steel,
    fin_steel: Steel,
    threads_in_plane: bool,
    drilled: Callable[..., Drilled] | None = None,
) -> list[Check]:
    """All rows of a lug. `axes`: the arm's own in the car's at ride (3, 3; columns); `eye_mm` the rod end's
    ball; `drilled`: `drilled_section`, where some are known."""
    line = f.points["rod_inboard"] - f.points["rod_outboard"]
    local = f.in_body(f.rod_n[:, None] * line / np.linalg.norm(line, axis=1, keepdims=True), which, axes)
    first = lug.sleeves[0]
    along = local @ np.asarray(lug.frames[0].z)
    square = np.sqrt(np.maximum((local**2).sum(1) - along**2, 0.0))
    bears = min(
        first.bore_mm, *(s.length_mm for s in lug.sleeves)
    )  # of a sleeve's length, one diameter at its end
    joint = EyeJoint(
        ITEM,
        bears,
        first.bore_mm,
        first.outer_mm / 2,
        steel,
        bolt,
        eye_mm,
        (lug.gap_mm - eye_mm) / 2,
        "rod.lug_diameter",
        "rod.lug_diameter",
        threads_in_plane,
        ("rod.thread", "rocker.rod_hole"),
    )
    rows = _bearing(f, joint, square, f"{which}.material") + eyes_pins.bolt_checks(f, joint, square, along)
    for i, (sleeve, frame, tube) in enumerate(zip(lug.sleeves, lug.frames, lug.tubes, strict=True)):
        force = local @ frame.matrix()[:3, :3] * (0.5, 0.5, 1.0)
        rows += [
            *_sleeve(f, sleeve, force, steel, f"{which}.material"),
            *_weld(f, which, arm, sleeve, force, tube, axes, steel),
            *_tube(f, which, arm, sleeve, force, steel),
        ]
        if sleeve.through:
            rows += _net(f, which, arm, lug, i, axes, steel, fin_steel, drilled)
    return list(_worse(rows))


def _worse(rows: list[Check]) -> Iterator[Check]:
    """Of the same check of both sleeves the one used more."""
    for name in dict.fromkeys(r.check for r in rows):
        yield max((r for r in rows if r.check == name), key=lambda r: r.use)


def _bearing(f: Forces, j: EyeJoint, force: np.ndarray, steel_key: str) -> list[Check]:
    d, t, fy, rule = j.pin_mm, j.plate_mm, j.steel.yield_mpa, "EN 1993-1-8:2005"
    note = f"one diameter, {t:g} mm, of each sleeve counted to bear"

    def stronger(use: float) -> list[sizing.Option | str]:
        enough = use * fy <= sizing.STRONG.yield_mpa and fy < sizing.STRONG.yield_mpa
        return [*([sizing.put(steel_key, sizing.STRONG.name)] if enough else []), "a larger bolt and rod end"]

    wall = (2 * j.radius_mm - j.hole_mm) / 2
    return [
        *worst(
            f,
            ITEM,
            "bearing of the pin",
            force,
            pin_bearing_resistance_n(d, 2 * t, fy),
            "N",
            f"{rule} Table 3.10: 1.5·t·d·fy",
            note=note,
            cure=stronger,
        ),
        *worst(
            f,
            ITEM,
            "bearing in service",
            f.service(force),
            pin_bearing_resistance_n(d, 2 * t, fy, replaceable=True),
            "N",
            f"{rule} Table 3.10: 0.6·t·d·fy, a pin meant to be changed",
            usual=True,
            level="warn",
            service=eyes_pins.WEAR,
            note=note,
            cure=lambda u: [
                "ream the sleeves to a fit without play and keep the bolt tight, or a larger bolt"
            ],
        ),
        *worst(
            f,
            ITEM,
            "wall beside the bolt",
            force,
            4 * wall * t * fy,
            "N",
            "equilibrium: F/2 = 2·wall·length·fy in each sleeve",
            note=note,
            cure=sizing.sizes(
                "rod.lug_diameter",
                2 * j.radius_mm,
                range(math.ceil(2 * j.radius_mm), math.ceil(6 * j.radius_mm)),
                lambda d: float(force.max()) / (2 * (d - j.hole_mm) * t * fy),
            ),
        ),
    ]


def _sleeve(f: Forces, s: LugSleeve, force: np.ndarray, steel: Steel, steel_key: str = "") -> list[Check]:
    across = np.hypot(force[:, 0], force[:, 1])

    def stress(outer: float) -> np.ndarray:
        ring = round_tube(outer, (outer - s.bore_mm) / 2)
        return np.sqrt(
            (across * s.lever_mm / ring.w_el_y_mm3 + np.abs(force[:, 2]) / ring.area_mm2) ** 2
            + 3 * (2 * across / ring.area_mm2) ** 2
        )

    larger = sizing.sizes(
        "rod.lug_diameter",
        s.outer_mm,
        [n / 2 for n in range(math.floor(2 * s.outer_mm) + 1, math.ceil(6 * s.outer_mm))],
        lambda d: float(stress(d).max()) / steel.yield_mpa,
        "rod.outboard nearer to the arm's tubes",
    )

    def cure(use: float) -> list[sizing.Option | str]:
        enough = steel_key and use * steel.yield_mpa <= sizing.STRONG.yield_mpa
        return [*([sizing.put(steel_key, sizing.STRONG.name)] if enough else []), *larger(use)]

    return worst(
        f,
        ITEM,
        "sleeve as a cantilever",
        stress(s.outer_mm),
        steel.yield_at((s.outer_mm - s.bore_mm) / 2),
        "MPa",
        "beam theory, von Mises, peaks added, yield with the job's safety",
        note=f"half of the force {s.lever_mm:.1f} mm before the "
        + ("tube's near wall" if s.through else "middle of the saddle"),
        cure=cure,
    )


def _weld(
    f: Forces,
    which: str,
    arm: Arm,
    s: LugSleeve,
    force: np.ndarray,
    tube: int,
    axes: np.ndarray,
    steel: Steel,
) -> list[Check]:
    """Elastic line weld round the saddle, a fillet; round both sides of a hole, welded through a bevelled
    edge, which also lead round the hole what its wall would carry, σ·t·|dz/ds| at the height z of each point
    of the edge, peaks added."""
    leg = min((s.outer_mm - s.bore_mm) / 2, arm.tube_wall_mm)
    throat = arm.tube_wall_mm if s.through else throat_mm(leg)
    weld = LineWeld(np.concatenate([np.stack([p[:-1], p[1:]], 1) for p in s.seams]))
    flow = weld.worst_n_per_mm(force, np.zeros_like(force), np.zeros(3))
    if s.through:
        pull, flat, upright = _at_the_lug(f, which, arm, tube, axes)
        own = round_tube(arm.tube_diameter_mm, arm.tube_wall_mm)
        edge = s.seams[0]
        step = np.abs(np.diff(edge[:, 0])) / np.linalg.norm(np.diff(edge, axis=0), axis=1)
        height = np.abs((edge[1:, 0] + edge[:-1, 0]) / 2 - s.offset_mm)
        flow = flow + arm.tube_wall_mm * (
            (np.abs(pull) / own.area_mm2 + flat / own.w_el_y_mm3)[:, None] * step
            + upright[:, None] / own.i_y_mm4 * height * step
        ).max(1)
    how = (
        "bevelled and welded through on both sides of the tube"
        if s.through
        else "a fillet all round the saddle"
    )
    return worst(
        f,
        ITEM,
        "weld of the sleeve",
        flow,
        weld_resistance_n_per_mm(throat, steel.fu_mpa, steel.beta_w),
        "N/mm",
        f"EN 1993-1-8:2005 4.5.3.3 on the elastic line weld, {weld.length_mm:.0f} mm a sleeve, throat "
        f"{throat:.1f} mm, fu {steel.fu_mpa:g} MPa",
        note="; ".join((how, *scope_notes(leg, throat))),
        cure=lambda u: [
            *sizing.grown(f"{which}.tube_wall", arm.tube_wall_mm, sizing.WALLS_MM)(u),
            "or a larger rod.lug_diameter for more run",
        ],
        seam=WeldStress(throat),
    )


def _tube(f: Forces, which: str, arm: Arm, s: LugSleeve, force: np.ndarray, steel: Steel) -> list[Check]:
    """Twist of the tube by the half force off its middle; under a saddle also its wall, taken as a plate
    across a round tube."""
    d, t, fy = arm.tube_diameter_mm, arm.tube_wall_mm, steel.yield_at(arm.tube_wall_mm)
    a = math.radians(s.angle_deg)
    sine, cosine = math.sin(a), abs(math.cos(a))  # of either hand: what adds up is bounded by its parts
    normal, flat, bolt = np.abs(force).T
    along, across = flat * sine + bolt * cosine, flat * cosine + bolt * sine
    twist = normal * s.along_mm * sine + across * s.offset_mm

    def shear(outer: float, wall: float, yield_mpa: float) -> float:
        return float(twist.max()) / round_tube(outer, wall).c_t_mm3 / (yield_mpa / math.sqrt(3))

    cure = sizing.tube(f"{which}.tube_wall", f"{which}.tube_diameter", d, t, shear, fy, f"{which}.material")
    rows = worst(
        f,
        ITEM,
        "twist of the arm's tube",
        twist / round_tube(d, t).c_t_mm3,
        fy / math.sqrt(3),
        "MPa",
        "St Venant torsion of the tube, yield in shear with the job's safety",
        note="the bolt and both sleeves as one beam between the tubes would take most of it",
        cure=cure,
    )
    if s.through:
        return rows
    wide, long = _footprint(s)
    unit = fy * t * t * (4 + 20 * min(wide / d, 1.0) ** 2)
    lengthwise = fy * t * t * 5 * (1 + 0.25 * min(long / d, 4.0))
    use = (
        normal / unit
        + (normal * s.along_mm * sine + across * (s.offset_mm - d / 2)) / (0.5 * wide * unit)
        + along * (s.offset_mm - d / 2) / (0.5 * long * lengthwise)
    )
    return rows + worst(
        f,
        ITEM,
        "wall of the arm's tube under the saddle",
        use,
        1.0,
        "-",
        "EN 1993-1-8:2005 Table 7.3, plate on a round tube (from memory)",
        note=f"saddle {wide:.1f} mm across and {long:.1f} mm along the tube; "
        "the tube's own load is not added",
        cure=sizing.grown(
            f"{which}.tube_wall", t, sizing.WALLS_MM, 2.0, "or a larger rod.lug_diameter for a wider saddle"
        ),
    )


def _footprint(s: LugSleeve) -> tuple[float, float]:
    """Extent of a saddle's seam across and along the tube, mm."""
    a, seam = math.radians(s.angle_deg), s.seams[0]
    u, v = np.array([math.sin(a), math.cos(a)]), np.array([-math.cos(a), math.sin(a)])
    return float(np.ptp(seam[:, 1:] @ v)), float(np.ptp(seam[:, 1:] @ u))


def _at_the_lug(
    f: Forces, which: str, arm: Arm, tube: int, axes: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Tension of one tube of the arm and its bending moments in the arm's plane and square to it where the
    rod's force comes in, from the force at its pivot as `tubes.arm` takes them; N, N·mm."""
    pivot = (arm.front_pivot, arm.rear_pivot)[tube]
    force = f.in_body(getattr(f.arm(which), ("front_n", "rear_n")[tube]), which, axes)
    spot = f.in_body(f.points["rod_outboard"] - f.points[f"{which.removesuffix('_arm')}_outer"], which, axes)
    length = math.hypot(*pivot)
    u = np.array([*pivot, 0.0]) / length
    pull, lever = force @ u, length - np.clip(spot @ u, 0.0, length)
    return pull, np.hypot(*(force - pull[:, None] * u)[:, :2].T) * lever, np.abs(force[:, 2]) * lever


def _net(
    f: Forces,
    which: str,
    arm: Arm,
    lug: RodLug,
    i: int,
    axes: np.ndarray,
    steel: Steel,
    fin_steel: Steel,
    drilled: Callable[..., Drilled] | None = None,
) -> list[Check]:
    """The tube where it is drilled, with the sleeve and the fin that are welded to it: N/A + M/W of both
    ways, the least of each beside the hole; and the fin's welds, which bring its force in from its end to the
    hole's middle."""
    pull, flat, upright = _at_the_lug(f, which, arm, lug.tubes[i], axes)
    s, fin = lug.sleeves[i], lug.fins[i][0]

    def section(
        diameter: float = arm.tube_diameter_mm,
        wall: float = arm.tube_wall_mm,
        thickness: float = fin.thickness_mm,
    ) -> Drilled:
        cut = drilled or drilled_section
        return cut(diameter, wall, s.outer_mm, s.bore_mm, lug.height_mm, thickness, fin.height_mm)

    def use(diameter: float, wall: float, yield_mpa: float) -> np.ndarray:
        d = section(diameter, wall)
        return (np.abs(pull) / d.area_mm2 + flat / d.flat_mm3 + upright / d.tube_mm3) / yield_mpa

    def tip(d: Drilled) -> np.ndarray:
        return np.abs(pull) / d.area_mm2 + upright / d.fin_mm3

    here, fy = section(), steel.yield_at(arm.tube_wall_mm)
    own = round_tube(arm.tube_diameter_mm, arm.tube_wall_mm)
    src, fin_fy = (
        "beam theory on the section with welded sleeve and fin, yield with the job's safety",
        fin_steel.yield_at(fin.thickness_mm),
    )
    throat, soft = (
        throat_mm(min(fin.thickness_mm, arm.tube_wall_mm)),
        min((steel, fin_steel), key=lambda x: x.fu_mpa),
    )
    return [
        *worst(
            f,
            ITEM,
            "arm's tube at its hole",
            use(arm.tube_diameter_mm, arm.tube_wall_mm, fy),
            1.0,
            "-",
            src,
            note=f"section modulus upright {here.tube_mm3:.0f} and sideways {here.flat_mm3:.0f} mm³, "
            f"{own.w_el_y_mm3:.0f} of the whole tube; drilled where the tube bends most: "
            "it counts on welds through the wall all round: saw a trial piece open and look",
            cure=sizing.tube(
                f"{which}.tube_wall",
                f"{which}.tube_diameter",
                arm.tube_diameter_mm,
                arm.tube_wall_mm,
                lambda *o: float(use(*o).max()),
                fy,
                f"{which}.material",
            ),
        ),
        *worst(
            f,
            ITEM,
            "fin beside the hole, its tip",
            tip(here),
            fin_fy,
            "MPa",
            src,
            cure=lambda u: [
                *sizing.sizes(
                    "rod.lug_thickness",
                    fin.thickness_mm,
                    PLATES_MM,
                    lambda t: float(tip(section(thickness=t)).max()) / fin_steel.yield_at(t),
                )(u),
                *sizing.sizes(
                    f"{which}.tube_diameter",
                    arm.tube_diameter_mm,
                    ROUND_PRECISION_TUBES_MM,
                    lambda d: float(tip(section(d)).max()) / fin_fy,
                    "a larger tube of the arm",
                )(u),
            ],
        ),
        *worst(
            f,
            ITEM,
            "weld of the fin",
            tip(here) * fin.thickness_mm * fin.height_mm / fin.length_mm,
            weld_resistance_n_per_mm(throat, soft.fu_mpa, soft.beta_w),
            "N/mm",
            f"EN 1993-1-8:2005 4.5.3.3, all of the fin at its tip's stress over half of two runs of "
            f"{fin.length_mm:.0f} mm, throat {throat:.1f} mm",
            note="; ".join(scope_notes(min(fin.thickness_mm, arm.tube_wall_mm), throat)),
            cure=sizing.grown(f"{which}.tube_wall", arm.tube_wall_mm, sizing.WALLS_MM),
            seam=WeldStress(throat),
        ),
    ]


class Drilled(NamedTuple):
    """Least area, mm², and least section moduli, mm³: sideways, upright to the tube's outermost metal,
    upright to the fin's tip."""

    area_mm2: float
    flat_mm3: float
    tube_mm3: float
    fin_mm3: float


@lru_cache(maxsize=64)
def drilled_section(
    diameter_mm: float,
    wall_mm: float,
    sleeve_mm: float,
    bore_mm: float,
    height_mm: float,
    fin_mm: float,
    fin_height_mm: float,
) -> Drilled:
    """A round tube cross-drilled `height_mm` off its middle, a sleeve welded into the hole and a fin on its
    top: the least values over all sections square to the tube from the hole's middle to its edge. Counted in
    squares of a 220th of the diameter: within 1 per cent.

    >>> d = drilled_section(22, 3, 0.1, 0.0, 0.0, 0.0, 10.0)  # next to no hole and no fin: A 179.1, W 752.9
    >>> 178 < d.area_mm2 < 181, 745 < d.flat_mm3 < 760, 745 < d.tube_mm3 < 760
    (True, True, True)
    """
    size = diameter_mm / 220
    y, z = np.meshgrid(
        (np.arange(220) + 0.5) * size - diameter_mm / 2,
        (np.arange(220 + math.ceil(fin_height_mm / size)) + 0.5) * size - diameter_mm / 2,
    )
    within = y**2 + z**2 <= diameter_mm**2 / 4
    wall = within & (y**2 + z**2 >= (diameter_mm / 2 - wall_mm) ** 2)
    fin = (abs(y) < fin_mm / 2) & (z > 0) & ~within & (z <= diameter_mm / 2 + fin_height_mm)
    some = within | fin  # elsewhere there is no metal
    y, z, within, wall, fin = y[some], z[some], within[some], wall[some], fin[some]
    off, found = abs(z - height_mm), []
    for share in np.linspace(0.0, 0.999, 25):
        hole, bore = (
            math.sqrt(max((d / 2) ** 2 - (share * sleeve_mm / 2) ** 2, 0.0)) for d in (sleeve_mm, bore_mm)
        )
        tube = (wall & (off >= hole)) | (within & (off < hole) & (off >= bore))
        metal = tube | fin
        middle = z[metal].mean()
        second, sideways = ((z[metal] - middle) ** 2).sum() * size**2, (y[metal] ** 2).sum() * size**2
        found.append(
            (
                metal.sum() * size**2,
                sideways / (diameter_mm / 2),
                second / abs(z[tube] - middle).max(),
                second / (diameter_mm / 2 + fin_height_mm - middle),
            )
        )
    return Drilled(*map(float, np.min(found, axis=0)))
