"""Bracket pairs on the frame: the tabs as plates, their feet's welds, the wall of the tube under them.

The pair shares a force half and half: the bolt, tightened over the eye's sleeve, makes the tabs the legs of a
frame, so a force along the bolt bends each tab with the point of no moment half way up, and pulls one and
presses the other.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from assemblies.strength import eyes_pins, sizing
from assemblies.strength.eyes_pins import EyeJoint
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, WeldStress, worst
from parts.base.frozen import dataclass
from parts.base.stock import PLATES_MM, ROUND_TUBES_MM, SQUARE_TUBES_MM, WALLS_MM, Steel
from parts.calc.bolts import Bolt
from parts.calc.hollow import face_resistance, held_width_mm, round_resistance
from parts.calc.plate_section import cut
from parts.calc.weld_lines import LineWeld, polyline
from parts.calc.welds import scope_notes, throat_mm, weld_resistance_n_per_mm
from parts.member import Member
from parts.tab import LAP_CORNER_MM, LEG_MM, MOST_LEG, Tab, fillet_leg_mm

# By solid elements (`assemblies.bench.elements`): of a flat face's yield lines under a plate along it, bent
# in its plane, beyond which the face gives way so far that the weld's ends tear; legs of a standing foot's
# run that bear all before anything yields, the least of eight feet
ALONG_FLAT, ENDS_LEGS = 0.7, 2.25
SHORT_MM = 0.25  # the last cut this much before the foot, where the whole tab still stands


@dataclass(frozen=True)
class LoadedBracket:
    """A bracket as it stands: its two tabs, the member, and the force of the eye on it, car axes, one an
    entry."""

    item: str
    tabs: tuple[Tab, Tab]
    member: Member
    force_n: np.ndarray
    bolt: Bolt
    eye_mm: float
    steel: Steel
    member_steel: Steel
    key: str  # the job's key of the tabs' thickness
    member_name: str = ""
    threads_in_plane: bool = True
    leg_mm: float | None = None  # of the foot's fillets as asked; None: the thinner of tab and wall
    bolt_keys: tuple[str, ...] = ()

    @property
    def table(self) -> str:
        """The job's table of the bracket."""
        return self.key.rpartition(".")[0]

    @property
    def spacing_mm(self) -> float:
        """Between the tabs' middles."""
        low, high = (np.array(t.frame.origin) for t in self.tabs)
        return float(abs((high - low) @ np.array(self.tabs[0].frame.z)))

    def local(self, tab: Tab) -> np.ndarray:
        """The force in a tab's axes: x to the member, y in the tab's plane across, z along the bolt."""
        return self.force_n @ tab.frame.matrix()[:3, :3]


def checks(f: Forces, pair: LoadedBracket) -> list[Check]:
    if f.welds_only:
        return _foot(f, pair)
    tab = max(pair.tabs, key=lambda t: t.reach_mm)
    t = tab.thickness_mm
    hole = tab.outline().holes[0].diameter_mm
    edge = min(s.distance_mm(0.0, 0.0) for s in tab.outline().outer.segments)
    force = pair.local(tab)
    gap = max((pair.spacing_mm - t - pair.eye_mm) / 2, 0.0)
    joint = EyeJoint(
        pair.item,
        t,
        hole,
        edge,
        pair.steel,
        pair.bolt,
        pair.eye_mm,
        gap,
        pair.key,
        "",
        pair.threads_in_plane,
        pair.bolt_keys,
    )
    rows = eyes_pins.checks(f, joint, np.hypot(force[:, 0], force[:, 1]), force[:, 2])
    rows += _plate(f, pair, tab, force)
    rows += _foot(f, pair)
    return rows + _wall(f, pair, tab, force)


def legs(pair: LoadedBracket, tab: Tab, force: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Moment at the foot of one tab out of its plane, N·mm, and the pull and push of the two, N, from the
    force along the bolt."""
    across = np.abs(force[:, 2])
    return across / 2 * tab.reach_mm / 2, across * tab.reach_mm / 2 / pair.spacing_mm


def _plate(f: Forces, pair: LoadedBracket, tab: Tab, force: np.ndarray) -> list[Check]:
    """Cuts from the hole to the foot: N/A + M/W in the plane, legs of a frame out of it, 1.5·V/A, von Mises;
    beam theory."""
    t, fy = tab.thickness_mm, pair.steel.yield_at(tab.thickness_mm)
    hole = tab.outline().holes[0].diameter_mm / 2
    stations = np.linspace(hole, tab.reach_mm - SHORT_MM, 7)
    sections = [cut(tab.outline(), t, (x, 0.0), (1.0, 0.0), x) for x in stations]
    area, w = (np.array([getattr(s, k) for s in sections]) for k in ("area_mm2", "modulus_mm3"))
    centre = np.array([s.centre_mm for s in sections])
    foot_moment, couple = legs(pair, tab, force)
    share = np.abs(
        2 * stations / tab.reach_mm - 1
    )  # of the foot's moment: full at hole and foot, none half way
    fx, side = force[:, :1] / 2, force[:, 1:2] / 2
    plane = (np.abs(fx) + couple[:, None]) / area + np.abs(side * stations - fx * centre) / w
    across = foot_moment[:, None] * share / (area * t / 6)
    shear = 1.5 * np.abs(side) / area

    def together(thickness: float) -> np.ndarray:
        k = t / thickness
        return np.sqrt((plane * k + across * k**2) ** 2 + 3 * (shear * k) ** 2)

    src = "beam theory, yield with the job's safety"
    note = f"tab {tab.reach_mm:.0f} mm from bolt to tube; needs the bolt tight on the eye's sleeve"
    cure = sizing.plate_tried(pair.key, t, lambda thickness: float(together(thickness).max()) / fy)
    return [
        *worst(f, pair.item, "tabs, in their plane", plane.max(1), fy, "MPa", src, cure=cure),
        *worst(
            f,
            pair.item,
            "tabs, out of their plane",
            across.max(1),
            fy,
            "MPa",
            f"{src}; legs of a frame",
            note=note,
            cure=cure,
        ),
        *worst(
            f,
            pair.item,
            "tabs, all together",
            together(t).max(1),
            fy,
            "MPa",
            f"{src}; von Mises, peaks added",
            note=note,
            cure=cure,
        ),
    ]


def _on_the_member(pair: LoadedBracket, tab: Tab) -> tuple[float, bool]:
    """Width of the member's face under a tab, mm, and whether the foot's run lies along the member."""
    s, axes, own = (
        pair.member.section,
        tab.frame.matrix()[:3, :3],
        pair.member.frame.matrix()[:3, :3],
    )
    normal = np.abs(own.T @ axes[:, 2 if tab.foot == "lap" else 0])
    face = s.height_mm if normal[0] > normal[1] else s.width_mm
    return face, bool(abs(own[:, 2] @ axes[:, 1]) > math.sqrt(0.5))


def foot_weld(tab: Tab, run_mm: float | None = None, counts_mm: float = math.inf) -> LineWeld:
    """The fillets of one tab in its axes: both faces of a standing foot, both faces of a saddle's two legs,
    the rim of a lapped foot. `run_mm`: of a standing foot, its own unless given; `counts_mm`: what counts
    of it, half at each end."""
    t, run, x = tab.thickness_mm, run_mm or tab.run_mm, tab.reach_mm
    if tab.foot == "lap":
        edge = [s.at(k / 12) for s in tab.outline().outer.segments for k in range(12)]
        turn = next((i for i in range(len(edge)) if edge[i - 1][0] <= x < edge[i][0]), 0)
        edge = [p for p in edge[turn:] + edge[:turn] if p[0] > x]
        return polyline(np.array([(*p, 0.0) for p in edge]))
    if tab.foot == "saddle":
        low, high = tab.outline().outer.bounds[1] + LEG_MM, tab.outline().outer.bounds[3] - LEG_MM
        lines = [
            ((x + LAP_CORNER_MM / 2, y, z), (x + LAP_CORNER_MM / 2 + run, y, z))
            for y in (low, high)
            for z in (0.0, t)
        ]
    else:
        half = min(counts_mm, run) / 2
        ends = [(-run / 2, -run / 2 + half), (run / 2 - half, run / 2)]
        lines = [((x, a, z), (x, b, z)) for a, b in ends for z in (0.0, t)]
    return LineWeld(np.array(lines))


def _counts_mm(pair: LoadedBracket, tab: Tab, throat: float) -> tuple[float | None, float, tuple[str, ...]]:
    """Run of a standing foot, what counts of it, and why: its length less two throats (EN 1993-1-8:2005
    4.5.1), across a flat face what the side walls hold of it (Table 7.13)."""
    s = pair.member.section
    if tab.foot != "butt":
        return None, math.inf, ()
    face, lengthwise = _on_the_member(pair, tab)
    full = max(tab.run_mm - 2 * throat, 1.0)
    if s.is_round or not s.wall_mm or lengthwise:
        return full, full, ()
    held = held_width_mm(
        full,
        face,
        s.wall_mm,
        pair.member_steel.yield_at(s.wall_mm),
        tab.thickness_mm,
        pair.steel.yield_at(tab.thickness_mm),
    )
    if held >= full - 1e-9:
        return full, full, ()
    return (
        full,
        held,
        (f"{held:.0f} of {full:.0f} mm count: the {s.wall_mm:g} mm face holds a foot across it at its ends",),
    )


def _foot(f: Forces, pair: LoadedBracket) -> list[Check]:
    """Elastic line weld, throat leg/√2 with the leg as the thinner of tab and wall; each tab with its half
    and the pull of the frame.

    The wall gives way under the middle of a standing foot, along a tube as across it, flat or round: before
    anything yields its ends bear nearly all, over about a leg each (solid elements,
    `assemblies.bench.elements`). At the load that these rows allow the ends yield and pass it on, stretched
    half as far as a fillet stands. Fatigue knows no yielding: there `ENDS_LEGS` of the run count."""
    rows: list[Check] = []
    steel = min((pair.steel, pair.member_steel), key=lambda s: s.fu_mpa)
    for tab in pair.tabs:
        thin = min(tab.thickness_mm, pair.member.section.wall_mm or tab.thickness_mm)
        leg = fillet_leg_mm(tab.thickness_mm, pair.member.section.wall_mm, pair.leg_mm)
        throat, force = throat_mm(leg), pair.local(tab)
        run, counts, why = _counts_mm(pair, tab, throat)
        weld = foot_weld(tab, run, counts)
        couple = legs(pair, tab, force)[1]
        load = force / 2
        load[:, 0] += np.where(load[:, 0] < 0, -couple, couple)
        # moment about the bolt's point at the eye so that at the foot only half the lever of the side force
        # is left
        top = np.zeros_like(load)
        top[:, 1] = -load[:, 2] * tab.reach_mm / 2
        about = np.array([0.0, 0.0, tab.thickness_mm / 2 if tab.foot != "lap" else 0.0])
        flow, peak = weld.worst_n_per_mm(load, top, about), 1.0
        if tab.foot == "butt":
            ends = foot_weld(tab, None, ENDS_LEGS * leg).worst_n_per_mm(load, top, about)
            peak = max(float(np.max(ends / np.maximum(flow, 1e-9))), 1.0)
        notes = "; ".join((*why, *scope_notes(thin, throat, weld.length_mm)))
        rows += worst(
            f,
            pair.item,
            "weld of the foot",
            flow,
            weld_resistance_n_per_mm(throat, steel.fu_mpa, steel.beta_w),
            "N/mm",
            f"EN 1993-1-8:2005 4.5.3.3 on the elastic line weld, {weld.length_mm:.0f} mm a tab, throat "
            f"{throat:.1f} mm, fu {steel.fu_mpa:g} MPa",
            note=notes,
            cure=_larger_fillet(pair, tab, leg, MOST_LEG * thin),
            seam=WeldStress(throat, peak=peak),
        )
    return [max(rows, key=lambda r: r.use)] if rows else []


def _wall(f: Forces, pair: LoadedBracket, tab: Tab, force: np.ndarray) -> list[Check]:
    """Wall of a hollow member under one tab's foot: yield lines of the face (EN 1993-1-8:2005 Tables 7.11 and
    7.14), a round member by Table 7.3; from memory. N/N_Rd + M_ip/M_ip,Rd + M_op/M_op,Rd <= 1 (7.15). Half of
    each force; a saddle's and a lap's forces in the tab's plane go into the side walls and are left out
    here."""
    s = pair.member.section
    if not s.wall_mm or tab.foot == "saddle":
        return []
    wall, t, fy = s.wall_mm, tab.thickness_mm, pair.member_steel.yield_at(s.wall_mm)
    moment, couple = legs(pair, tab, force)
    push, side = np.abs(force[:, 0]) / 2 + couple, np.abs(force[:, 1]) / 2 * tab.reach_mm
    lapped = tab.foot == "lap"
    face, lengthwise = _on_the_member(pair, tab)
    if lapped:  # the force along the bolt alone bends the side wall
        push, side = np.abs(force[:, 2]) / 2, 0.0 * side
        rim = foot_weld(tab).runs.reshape(-1, 3)
        long_mm, wide_mm = (float(np.ptp(rim[:, 1])), float(np.ptp(rim[:, 0])))
    else:
        long_mm, wide_mm = (tab.run_mm, t) if lengthwise else (t, max(tab.cross_share * face, t))
    if s.is_round:
        wide_mm = max(wide_mm, t)
        n_rd, m_along, m_across = round_resistance(wall, s.width_mm, wide_mm, long_mm, fy, lengthwise)
        source = "EN 1993-1-8:2005 Table 7.3, plate on a round tube (from memory)"
    else:
        n_rd, m_along, m_across = face_resistance(wall, face, wide_mm, long_mm, fy)
        if lengthwise and not lapped:
            m_along *= ALONG_FLAT
        source = "EN 1993-1-8:2005 Tables 7.11 and 7.14, yielding of the face (from memory)"
    in_plane, out_plane = (m_along, m_across) if lengthwise or lapped else (m_across, m_along)
    use = push / n_rd + side / in_plane + moment / out_plane
    return worst(
        f,
        pair.item,
        "wall of the member at the foot",
        use,
        1.0,
        "-",
        source,
        note=f"{wall:g} mm wall; the member's own load is not known and not added",
        cure=lambda u: [
            *_walls(pair, wall)(math.sqrt(u)),
            *(
                [sizing.put(f"member.{pair.member_name}.material", sizing.STRONG.name)]
                if u * fy <= sizing.STRONG.yield_mpa
                else []
            ),
            "or a larger member, or the bracket nearer to a node",
        ],
    )


def _walls(pair: LoadedBracket, wall: float) -> sizing.Cure:
    return sizing.grown(f"member.{pair.member_name}.wall", wall, WALLS_MM)


def _larger_fillet(pair: LoadedBracket, tab: Tab, leg: float, most: float) -> sizing.Cure:
    """A larger leg as far as the thinner part bears it, then that part thicker, then both."""
    wall, asked = pair.member.section.wall_mm, sizing.leg(f"{pair.table}.bracket_weld", leg, most)
    plate = sizing.plate(pair.key, tab.thickness_mm)

    def cure(use: float) -> list[sizing.Option | str]:
        legs = [o for o in asked(use) if not isinstance(o, str)]
        if not wall:
            return [*legs, *plate(use), "or a wider foot"]
        key, need = f"member.{pair.member_name}.wall", leg * use
        thin = _walls(pair, wall)(need / wall)[:1] if wall < tab.thickness_mm else plate(use)[:1]
        tab_mm = sizing.next_up(max(need, tab.thickness_mm), sizing.PLATES_MM)
        wall_mm = sizing.next_up(max(need, wall), WALLS_MM)
        words = f"{key} = {wall_mm:g} mm with {pair.key} = {tab_mm:g} mm"
        both = sizing.Option(words, {key: wall_mm, pair.key: tab_mm})
        most_mm = min(pair.member.section.width_mm, pair.member.section.height_mm) / 4
        made = [o for o in (*thin, both) if isinstance(o, str) or o.changes.get(key, 0.0) < most_mm]
        return [*legs, *made, *_larger_member(pair, wall_mm, min(tab_mm, PLATES_MM[-1])), "or a wider foot"]

    return cure


def _larger_member(pair: LoadedBracket, wall_mm: float, tab_mm: float) -> list[sizing.Option | str]:
    """The next square or round tubes of stock with as thick a wall as asked or as there is, and the largest
    fillets: the trial on the whole job says whether that is enough."""
    s, key = pair.member.section, f"member.{pair.member_name}"
    wall, stock = min(wall_mm, max(WALLS_MM)), ROUND_TUBES_MM if s.is_round else SQUARE_TUBES_MM
    sizes = [n for n in stock if n > s.width_mm and n > 4 * wall and s.width_mm == s.height_mm]
    found: list[sizing.Option | str] = []
    for size in sizes[:2]:
        changes: dict[str, Any] = {f"{key}.size": size, f"{key}.wall": wall, pair.key: tab_mm}
        changes[f"{pair.table}.bracket_weld"] = round(MOST_LEG * min(wall, tab_mm), 1)
        found.append(sizing.Option(", ".join(sizing.put(k, v).words for k, v in changes.items()), changes))
    return [*found, f"a larger member '{pair.member_name}', whose wall can be thicker"]
