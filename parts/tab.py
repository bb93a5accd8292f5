"""Plate tabs that carry a bolt from a frame member: one builder for damper brackets, pick-ups and lugs on
arms.

A tab is a boss round the bolt hole joined by tangent lines to a foot. The foot either stands on the member,
cut to the line in which the tab's plane meets the member's outer surface ("butt"), or lies flat on the
member's side wall ("lap"). Tab outline: origin at the bolt's centre, x toward the member, z along the bolt.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cached_property

import numpy as np

from parts.base import require
from parts.base.frozen import dataclass
from parts.member import Member
from parts.member_shadow import nearest, region
from parts.part import Flat
from parts.shape.arcs import arced
from parts.shape.belt import Boss, hull
from parts.shape.form import Form, Frame, Prism, unit, vector
from parts.shape.outline import Hole, Loop, Mark, Outline, Point, Segment, Vertex
from parts.shape.rising import at_height, between, rising, within_x
from parts.shape.shapes import boss_on_foot

ARC_MM = 0.012  # of a foot whose fine steps became arcs, towards the bolt
LEAST_RUN_MM = 30.0  # a shorter fillet run counts for nothing, EN 1993-1-8 4.5.1(2)
FIT_UP_MM = 0.5  # gap for a fillet, common practice
TOE_DEG = (35.0, 150.0)  # room for a torch outside the toe, and metal left at its tip; common practice
CROSS_SHARE = 0.8  # of a flat face's width that a cross weld may take; common practice
LEG_MM = 9.0  # breadth of a notched tab's legs beside the member; common practice
LAP_CORNER_MM = 8.0  # radius of a lapped foot's corners
MOST_LEG = 1.2  # of a fillet, in thicknesses of the thinner part; common practice


class NoSeat(ValueError):
    """A tab that cannot sit on this member; the text says which value breaks which limit."""


def fillet_leg_mm(thickness_mm: float, wall_mm: float | None, asked_mm: float | None = None) -> float:
    """Leg of a foot's fillets: the thinner of tab and wall unless asked otherwise, at most 1.2 of it.

    >>> fillet_leg_mm(5, 3), fillet_leg_mm(5, 3, 3.5), fillet_leg_mm(5, 3, 6)
    (3, 3.5, 3.5999999999999996)
    """
    thin = min(thickness_mm, wall_mm or thickness_mm)
    return thin if asked_mm is None else min(asked_mm, MOST_LEG * thin)


@dataclass(frozen=True)
class Tab(Flat):
    """One plate: its shape, its thickness, its place (`frame`, z along the bolt) in the axes its member is
    given in.

    `reach_mm` bolt centre to the member's surface in the tab's plane; `run_mm` length of one weld run along
    the foot; `stand_off_mm` the largest gap left on the face that touches last; `cross_share` the largest
    share of a flat face's width that the foot crosses."""

    shape: Outline
    thickness_mm: float
    frame: Frame
    foot: str
    reach_mm: float
    run_mm: float
    stand_off_mm: float = 0.0
    cross_share: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(thickness_mm=self.thickness_mm, reach_mm=self.reach_mm, run_mm=self.run_mm)
        require.not_negative(stand_off_mm=self.stand_off_mm, cross_share=self.cross_share)

    def outline(self) -> Outline:
        return self.shape

    def form(self) -> Form:
        return Form((Prism(self.shape, self.thickness_mm),))

    @cached_property
    def prism(self) -> Prism:
        """Where it stands."""
        return Prism(self.shape, self.thickness_mm, self.frame)

    @property
    def bevel_deg(self) -> float:
        """Angle to dress the foot's edge to, so that it touches through its thickness."""
        return math.degrees(math.atan2(self.stand_off_mm, self.thickness_mm))

    @property
    def warnings(self) -> tuple[str, ...]:
        out = []
        if self.stand_off_mm > FIT_UP_MM:
            out.append(
                f"the foot stands off {self.stand_off_mm:.1f} mm on one side (fit-up {FIT_UP_MM:g} mm): "
                f"dress its edge "
                f"to {self.bevel_deg:.0f} deg"
            )
        if self.cross_share > CROSS_SHARE:
            out.append(
                f"the foot crosses {100 * self.cross_share:.0f} % of a face's width (limit "
                f"{100 * CROSS_SHARE:.0f} %): "
                "a weld straight across cracks the tube; use a narrower foot, a wider member or a doubler"
            )
        return tuple(out)


@dataclass(frozen=True)
class Wanted:
    """What is asked of a tab, whatever its foot."""

    thickness_mm: float
    hole: Hole
    boss_mm: float  # radius round the bolt
    foot_mm: float  # width along the member
    least_run_mm: float = LEAST_RUN_MM

    def tab(self, foot: str, outer: Loop, frame: Frame, reach: float, run: float, **more: float) -> Tab:
        outline = Outline(outer, holes=(self.hole,), marks=_marks(reach))
        return Tab(outline, self.thickness_mm, frame, foot, reach, run, **more)


def butt_tab(member: Member, axes: Frame, low_mm: float, want: Wanted) -> Tab:
    """A tab standing on the member between local z `low_mm` and its thickness more of `axes` (origin on the
    bolt).

    The foot is as wide as asked, or less where the member's roundness would leave no room for a torch. One
    face may stand off by the plate's thickness. Raises NoSeat."""
    high_mm = low_mm + want.thickness_mm
    slices = [region(member, axes, z, z) for z in (low_mm, high_mm)]
    if not all(len(p) > 2 for p in slices):
        raise NoSeat(
            f"a tab {low_mm:.1f} to {high_mm:.1f} mm along the bolt misses the member; narrow the eye or "
            f"widen the member"
        )
    seat, reach, turn = _seat(member, axes, region(member, axes, low_mm, high_mm))
    if reach <= want.boss_mm + 0.5:
        raise NoSeat(
            f"the member's surface is {reach:.2f} mm from the bolt's centre; the least is the boss radius "
            f"and 0.5 mm, "
            f"{want.boss_mm + 0.5:.2f}: move the member or the bolt"
        )
    side, faces = rising(seat), [rising(_loop(p).moved(turn_rad=-turn)) for p in slices]
    frame = replace(axes, x=_turned(axes, turn), origin=_along(axes, low_mm))
    foot, room = None, (0.0, 0.0)
    for stand_off_mm in (FIT_UP_MM, want.thickness_mm):
        room = _room(side, faces, want.boss_mm, want.foot_mm, stand_off_mm)
        foot = _widest_foot(member, frame, side, room, want)
        if foot is not None:
            break
    if foot is None:
        raise NoSeat(
            f"the member gives a foot of {room[1] - room[0]:.1f} mm with room for a torch and a sound fit; "
            f"the least run of "
            f"weld is {want.least_run_mm:g} mm: use a larger member, a smaller boss or turn the bracket"
        )
    line = arced(foot)
    if len(line) < len(foot):  # a hair off the member, so that no arc or joined edge enters it
        line = [replace(v, x=v.x - ARC_MM) for v in line]
    return want.tab(
        "butt",
        boss_on_foot(want.boss_mm, line),
        frame,
        reach,
        _length(foot),
        stand_off_mm=max(_stand_off(foot, f) for f in faces),
        cross_share=_cross_share(member, frame, foot),
    )


def _widest_foot(
    member: Member, frame: Frame, side: list[Segment], room: tuple[float, float], want: Wanted
) -> list[Vertex] | None:
    """The widest foot within `room` that crosses little enough of any one face; else the one that crosses
    least; None where its weld would be too short."""
    low, high = room
    best, least = None, math.inf
    width = min(want.foot_mm, high - low)
    while width > 4.0 and least > CROSS_SHARE:
        lowest, highest = low + width / 2, high - width / 2
        middles = (min(max(0.0, lowest), highest), lowest, highest)
        feet = [between(side, middle - width / 2, middle + width / 2) for middle in middles]
        sound = [foot for foot in feet if _length(foot) >= want.least_run_mm - 1e-9]
        if not sound and all(feet):
            break  # a narrower foot has a shorter run still
        for foot in sound:
            share = _cross_share(member, frame, foot)
            if least > CROSS_SHARE and share < least:
                best, least = foot, share
        width -= 1.0
    return best


def rolled_to(member: Member, axes: Frame) -> Member:
    """The member rolled, by the least turn, till a pair of its walls runs along the bolt (axes z)."""
    m, bolt = member.frame.matrix()[:3, :3], axes.matrix()[:3, 2]
    wall = np.cross(m[:, 2], bolt)  # normal of such a wall
    turn = math.degrees(math.atan2(float(wall @ m[:, 1]), float(wall @ m[:, 0])))
    roll = member.roll_deg + (turn + 45.0) % 90.0 - 45.0
    return replace(member, roll_deg=round((roll + 180.0) % 360.0 - 180.0, 1))


def saddle_tab(member: Member, axes: Frame, low_mm: float, want: Wanted) -> Tab:
    """A tab notched over the member, its two legs down the side walls as far as their flats go. Weld the legs
    and round the corners and leave the middle third of the near face bare. Raises NoSeat."""
    shadow = region(member, axes, low_mm, low_mm + want.thickness_mm)
    if len(shadow) < 3 or member.section.is_round:
        raise NoSeat("a notched tab needs a square or rectangular member across its plane")
    spot = nearest(shadow)
    rel = np.linalg.inv(axes.matrix()) @ member.frame.matrix()
    walls = [sign * rel[:2, i] for i in (0, 1) for sign in (1.0, -1.0)]
    inward = max(walls, key=lambda w: float(w @ spot))
    turn = math.atan2(inward[1], inward[0])
    seat = _exact(member, axes, shadow).moved(turn_rad=-turn)
    reach = seat.bounds[0]
    if reach <= want.boss_mm + 0.5:
        raise NoSeat(
            f"the member's face is {reach:.2f} mm from the bolt's centre; the least is the boss radius and "
            f"0.5 mm, "
            f"{want.boss_mm + 0.5:.2f}: move the member or the bolt"
        )
    x0, y0, x1, y1 = seat.bounds
    corner = member.section.outer_corner_mm
    notch = within_x(seat, x1 - corner)
    (ax, ay), (bx, by) = (notch[0].x, notch[0].y), (notch[-1].x, notch[-1].y)
    if x1 - x0 < 3 * corner or ay > y0 + 1.5 or by < y1 - 1.5:
        raise NoSeat(
            "the member's side walls do not run along the tab: it is turned to the bolt"
            + _turned_along(member, axes, low_mm, want)
        )
    if not y0 - LEG_MM < 0 < y1 + LEG_MM:
        raise NoSeat(
            f"the bolt is {max(y0, -y1):.1f} mm to the side of the member's face; the most is {LEG_MM:g} mm"
        )
    face = y1 - y0 - 2 * corner
    run = (_length(notch) - face / 3) / 2
    if run < want.least_run_mm * 0.75:
        raise NoSeat(
            f"each leg's run of weld is {run:.1f} mm; the least is {0.75 * want.least_run_mm:g} mm: use a "
            f"larger member"
        )
    slant = _slant(member, axes)
    if slant * want.thickness_mm > 1.0:
        most = math.degrees(math.atan(1 / want.thickness_mm))
        raise NoSeat(
            f"the member slants by {math.degrees(math.atan(slant)):.1f} deg from the bolt's line; the most "
            f"through a notch in {want.thickness_mm:g} mm is {most:.1f} deg: use a member along the bolt"
        )
    shoulder = x0 - LEG_MM / 2
    foot = [
        Vertex(shoulder, y0 - LEG_MM),
        Vertex(ax, y0 - LEG_MM),
        *arced(notch),
        Vertex(bx, y1 + LEG_MM),
        Vertex(shoulder, y1 + LEG_MM),
    ]
    if min(math.hypot(foot[0].x, foot[0].y), math.hypot(foot[-1].x, foot[-1].y)) < want.boss_mm + 0.5:
        raise NoSeat(
            f"the boss of radius {want.boss_mm:g} mm reaches the notch's legs; move the member away or use a "
            f"smaller boss"
        )
    frame = replace(axes, x=_turned(axes, turn), origin=_along(axes, low_mm))
    return want.tab(
        "saddle",
        boss_on_foot(want.boss_mm, foot),
        frame,
        reach,
        run,
        stand_off_mm=slant * want.thickness_mm,
        cross_share=2 / 3 * face / (y1 - y0),
    )


def _turned_along(member: Member, axes: Frame, low_mm: float, want: Wanted) -> str:
    """The cure of a member whose side walls do not run along the tab: its roll, where it is its roll."""
    other = rolled_to(member, axes)
    if abs(other.roll_deg - member.roll_deg) <= 0.2:
        return ""
    try:
        saddle_tab(other, axes, low_mm, want)
    except NoSeat as e:
        return f", and with roll = {other.roll_deg:.1f}, which lays them along it, {e}"
    return f": roll = {other.roll_deg:.1f} lays them along it"


def lap_tab(member: Member, axes: Frame, low_mm: float, want: Wanted) -> Tab:
    """A tab lying on the member's flat side wall. The foot reaches over four fifths of the wall and has round
    corners, so that no weld runs straight across a face. Raises NoSeat."""
    mid = low_mm + want.thickness_mm / 2
    shadow = region(member, axes, -abs(mid), abs(mid))
    seat, reach, turn = _seat(member, axes, shadow)
    if reach < 1e-9:
        raise NoSeat("the bolt's centre is inside the member; move the member or the bolt")
    depth = seat.bounds[2] - seat.bounds[0]
    corner = member.section.outer_corner_mm
    wide = min(want.foot_mm, 2 * min(-seat.bounds[1], seat.bounds[3]))
    end = reach + 0.8 * depth
    if wide < 2 * LAP_CORNER_MM or 0.8 * depth < corner + LAP_CORNER_MM:
        raise NoSeat(
            f"the side wall gives {wide:.1f} x {0.8 * depth:.1f} mm for a lapped foot; it needs "
            f"{2 * LAP_CORNER_MM:g} x "
            f"{corner + LAP_CORNER_MM:g} mm"
        )
    y = max(0.6 * wide / 2 - LAP_CORNER_MM, 0.0)  # leaf: narrower at its far end
    outer = hull(
        [Boss(0.0, 0.0, want.boss_mm), *(Boss(end - LAP_CORNER_MM, side, LAP_CORNER_MM) for side in (-y, y))]
    )
    run = _length_beyond(outer, reach + corner)
    if run < want.least_run_mm:
        raise NoSeat(
            f"the lapped foot's weld is {run:.1f} mm; the least is {want.least_run_mm:g} mm: use a wider foot"
        )
    frame = replace(axes, x=_turned(axes, turn), origin=_along(axes, low_mm))
    return want.tab("lap", outer, frame, reach, run)


def _exact(member: Member, axes: Frame, shadow: list[Point]) -> Loop:
    """The seat as true arcs where the tab is square to the member, else the polygon."""
    rel = np.linalg.inv(axes.matrix()) @ member.frame.matrix()
    if abs(rel[2, 2]) < 1 - 1e-13:
        return _loop(shadow)
    outer = member.section.outer()
    turn = math.atan2(rel[1, 0], rel[0, 0])
    if rel[2, 2] < 0:  # member runs against the bolt: its section is seen from behind
        outer, turn = outer.mirrored(), math.atan2(-rel[1, 0], -rel[0, 0])
    return outer.moved(float(rel[0, 3]), float(rel[1, 3]), turn)


def _loop(points: list[Point]) -> Loop:
    return Loop(tuple(Vertex(*p) for p in points))


def _length(path: list[Vertex]) -> float:
    return sum(Segment((a.x, a.y), (b.x, b.y), a.bulge).length for a, b in zip(path, path[1:], strict=False))


def _length_beyond(loop: Loop, x: float) -> float:
    points = [s.at(k / 200) for s in loop.segments for k in range(200)]
    return sum(
        math.dist(a, b) for a, b in zip(points, points[1:] + points[:1], strict=True) if (a[0] + b[0]) / 2 > x
    )


def _room(
    side: list[Segment], faces: list[list[Segment]], boss_mm: float, foot_mm: float, gap_mm: float
) -> tuple[float, float]:
    """Furthest y down and up at which the foot may end: outside its toe room for a torch, at its tip metal
    left, and both faces of the plate within `gap_mm` of the member."""
    out = []
    for sign in (-1.0, 1.0):
        good = 0.0
        for k in range(1, math.ceil(foot_mm) + 1):
            found = at_height(side, sign * k)
            if found is None:
                break
            (x, y), (tx, ty) = found
            both = [at_height(f, y) for f in faces]
            if any(f is None or f[0][0] - x > gap_mm for f in both):
                break
            far = math.hypot(x, y)
            if far <= boss_mm + 0.5:
                continue
            turn = math.atan2(y, x) + sign * math.acos(boss_mm / far)
            ex, ey = boss_mm * math.cos(turn) - x, boss_mm * math.sin(turn) - y
            angle = math.degrees(math.atan2(tx * ey - ty * ex, sign * (tx * ex + ty * ey)))
            if TOE_DEG[0] <= angle <= TOE_DEG[1]:
                good = sign * k
        out.append(good)
    return out[0], out[1]


def _slant(member: Member, axes: Frame) -> float:
    """Sideways move of the member's section per mm along the bolt."""
    rel = np.linalg.inv(axes.matrix()) @ member.frame.matrix()
    return float(math.hypot(rel[0, 2], rel[1, 2]) / max(abs(rel[2, 2]), 1e-12))


def _seat(member: Member, axes: Frame, shadow: list[Point]) -> tuple[Loop, float, float]:
    """The member's outline in the tab's plane with x toward its nearest point, the distance there, and the
    turn made."""
    if len(shadow) < 3:
        raise NoSeat("the tab's plane misses the member")
    spot = nearest(shadow)
    turn = math.atan2(spot[1], spot[0])
    return _exact(member, axes, shadow).moved(turn_rad=-turn), math.hypot(*spot), turn


def _stand_off(path: list[Vertex], face: list[Segment]) -> float:
    """Largest gap along x between the foot and one face of the member's section."""
    worst = 0.0
    for a, b in zip(path, path[1:], strict=False):
        s = Segment((a.x, a.y), (b.x, b.y), a.bulge)
        for k in range(5):
            x, y = s.at(k / 4)
            here = at_height(face, y)
            if here is None:
                here = at_height(face, min(max(y, face[0].start[1]), face[-1].end[1])) if face else None
                if here is None or abs(here[0][1] - y) > 1e-6:
                    return math.inf
            worst = max(worst, here[0][0] - x)
    return worst


def _cross_share(member: Member, frame: Frame, path: list[Vertex]) -> float:
    """Largest share of one flat face's width (of half the girth, on a round member) that the foot crosses."""
    rel = np.linalg.inv(member.frame.matrix()) @ frame.matrix()
    uv = _steps(path) @ rel[:2, :2].T + rel[:2, 3]
    s = member.section
    if s.is_round:
        turn = np.unwrap(np.arctan2(uv[:, 1], uv[:, 0]))
        return float(np.ptp(turn) / math.pi)
    shares = [0.0]
    for i, (size, other) in enumerate(((s.width_mm, s.height_mm), (s.height_mm, s.width_mm))):
        for side in (1.0, -1.0):
            on = uv[np.abs(uv[:, 1 - i] * side - other / 2) < s.outer_corner_mm * 0.3 + 1e-3]
            if len(on):
                shares.append(float(np.ptp(on[:, i]) / size))
    return max(shares)


_EIGHTHS = np.linspace(0.0, 1.0, 9)[:, None]


def _steps(path: list[Vertex]) -> np.ndarray:
    """Nine points along each segment, (9 n, 2)."""
    corners = np.array([(v.x, v.y) for v in path])
    start, end = corners[:-1, None], corners[1:, None]
    steps = start + _EIGHTHS * (end - start)
    for k, (a, b) in enumerate(zip(path, path[1:], strict=False)):
        if a.bulge:
            arc = Segment((a.x, a.y), (b.x, b.y), a.bulge)
            steps[k] = [arc.at(i / 8) for i in range(9)]
    return steps.reshape(-1, 2)


def _turned(axes: Frame, angle: float) -> tuple[float, float, float]:
    m = axes.matrix()
    return vector(math.cos(angle) * m[:3, 0] + math.sin(angle) * m[:3, 1])


def _along(axes: Frame, distance: float) -> tuple[float, float, float]:
    return vector(np.array(axes.origin) + distance * unit(axes.z))


def _marks(reach: float) -> tuple[Mark, ...]:
    return (Mark("pop", ((0.0, 0.0),)), Mark("line", ((0.0, 0.0), (reach, 0.0))))
