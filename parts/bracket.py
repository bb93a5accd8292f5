"""A pair of tabs that holds a bolt in double shear on a frame member (or on an arm's tube).

Local axes of a pair: origin at the eye's centre, z along the bolt, x toward the member. The eye sits between
the tabs with a washer or spacer each side; both tabs are cut to the member and welded to it on both sides.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from functools import cached_property
from operator import mul

import numpy as np

from parts.base import require
from parts.base.frozen import dataclass
from parts.base.stock import hexagon, thread, washer
from parts.member import Member
from parts.member_shadow import nearest, region
from parts.part import SteelPart
from parts.shape.form import Form, Frame, Vector, vector
from parts.shape.outline import Hole
from parts.tab import LEAST_RUN_MM, NoSeat, Tab, Wanted, butt_tab, lap_tab, rolled_to, saddle_tab

MOST_REACH_MM = 90.0  # beyond it a bracket is a lever that needs its own frame member; common practice
BOSS_PER_HOLE = 1.75  # radius round the bolt's hole, common practice
OFF_MIDDLE_MM = 0.5  # how far off a member's middle an eye between its side walls may be, common practice


@dataclass(frozen=True)
class BracketPair(SteelPart):
    """`eye`, `axis` the bolt's centre and direction in the member's axes; `eye_width_mm` along the bolt and
    `eye_radius_mm` round it of what sits between the tabs; `hole_mm` in the tabs (reamed to the bolt unless
    given). `boss_radius_mm` 1.75 holes unless given: size it from the force. `foot_mm` width of the foot;
    `foot` "butt" stands on the near face, "lap" lies on the side walls with spacers filling the gap, "saddle"
    is notched over a member that runs along the bolt; "auto" takes the first of these without a warning, else
    the first that can be made.

    Raises NoSeat (a ValueError) with value and limit: eye inside the tube, eye or bolt head touching it,
    nothing in reach, foot too short."""

    member: Member
    eye: Vector
    axis: Vector
    eye_width_mm: float
    eye_radius_mm: float
    bolt: str = "M10"
    thickness_mm: float = 3.0
    hole_mm: float | None = None
    boss_radius_mm: float | None = None
    washer_mm: float = 1.0
    foot_mm: float | None = None
    foot: str = "auto"
    swing_mm: float = 2.0
    purpose: str = "bolt"
    least_run_mm: float = LEAST_RUN_MM

    def __post_init__(self) -> None:
        super().__post_init__()
        require.positive(
            eye_width_mm=self.eye_width_mm,
            eye_radius_mm=self.eye_radius_mm,
            thickness_mm=self.thickness_mm,
            hole_mm=self.bolt_hole_mm,
            boss_radius_mm=self.boss_mm,
        )
        require.not_negative(washer_mm=self.washer_mm, swing_mm=self.swing_mm, least_run_mm=self.least_run_mm)
        if self.foot_mm is not None:
            require.positive(foot_mm=self.foot_mm)
        require.one_of("foot", self.foot, ("auto", "butt", "lap", "saddle"))
        require.at_least(
            "boss_radius_mm",
            self.boss_mm,
            1.2 * self.bolt_hole_mm,
            "edge distance 1.2 holes, EN 1993-1-8 Table 3.3",
        )
        if not any(self.axis):
            raise ValueError(f"axis is {self.axis}; it is a direction and has no length")
        self._check_room()
        _ = self.tabs

    @property
    def bolt_hole_mm(self) -> float:
        return self.hole_mm if self.hole_mm is not None else shank_mm(self.bolt)

    @property
    def boss_mm(self) -> float:
        return self.boss_radius_mm if self.boss_radius_mm is not None else BOSS_PER_HOLE * self.bolt_hole_mm

    @cached_property
    def frame(self) -> Frame:
        """The pair's place in the member's axes; x points at the member's surface nearest the eye."""
        rough = self._rough
        x, y = nearest(region(self.member, rough, -self._half, self._half))
        m = rough.matrix()
        return Frame.looking(self.eye, self.axis, m[:3, 0] * x + m[:3, 1] * y)

    @cached_property
    def tabs(self) -> tuple[Tab, Tab]:
        """The tab on the -z side of the eye and the one on its +z side; `frame` of each in the member's
        axes."""
        least = self.eye_width_mm + 2 * self.washer_mm
        ways = {
            "butt": lambda: self._at(least, butt_tab),
            "lap": lambda: self._lapped(least),
            "saddle": lambda: self._at(least, saddle_tab),
        }
        if self.foot != "auto":
            return ways[self.foot]()
        refused, second = [], None
        for way in ways.values():
            try:
                tabs = way()
            except NoSeat as e:
                refused.append(str(e))
                continue
            if not any(t.warnings for t in tabs):
                return tabs
            second = second or tabs
        if second is None:
            raise NoSeat("; nor otherwise: ".join(dict.fromkeys(refused)))
        return second

    @property
    def inside_gap_mm(self) -> float:
        """Between the tabs' inner faces."""
        low, high = self.tabs
        return (
            float((np.array(high.frame.origin) - np.array(low.frame.origin)) @ np.array(self._rough.z))
            - self.thickness_mm
        )

    @property
    def spacer_mm(self) -> float:
        """Washer or spacer each side of the eye."""
        return (self.inside_gap_mm - self.eye_width_mm) / 2

    @property
    def grip_mm(self) -> float:
        """What the bolt clamps: both tabs and all between; its plain shank must be at least this long."""
        return self.inside_gap_mm + 2 * self.thickness_mm

    @property
    def reach_mm(self) -> float:
        """Eye centre to the member's surface, the shorter of the two tabs."""
        return min(t.reach_mm for t in self.tabs)

    @property
    def alike(self) -> bool:
        """True where both tabs are one blank (a stretch of 0.02 mm apart at most)."""
        a, b = (np.array([(v.x, v.y) for v in t.outline().outer.vertices]) for t in self.tabs)
        return a.shape == b.shape and bool(np.abs(a - b).max() < 0.02)

    @property
    def warnings(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(w for t in self.tabs for w in t.warnings))

    def form(self) -> Form:
        """Both tabs in the pair's local axes."""
        back = Frame.of(np.linalg.inv(self.frame.matrix()))
        return Form(tuple(t.prism for t in self.tabs)).moved(back)

    @property
    def volume_mm3(self) -> float:
        return sum(t.prism.volume_mm3 for t in self.tabs)

    @property
    def centroid(self) -> Vector:
        """In the pair's local axes."""
        prisms = self.form().pieces
        weighed = np.array([p.centroid for p in prisms]).T * [p.volume_mm3 for p in prisms]
        return vector(weighed.sum(1) / self.volume_mm3)

    @property
    def _half(self) -> float:
        return self.eye_width_mm / 2

    @cached_property
    def _rough(self) -> Frame:
        """Origin at the eye, z along the bolt, x any direction square to it."""
        z = np.asarray(self.axis, float)
        return Frame.looking(self.eye, z, np.eye(3)[int(np.argmin(np.abs(z)))])

    def _hole(self) -> Hole:
        return Hole(
            0.0, 0.0, self.bolt_hole_mm, self.purpose, "reamed" if self.hole_mm is None else "clearance"
        )

    def _foot(self) -> float:
        return self.foot_mm if self.foot_mm is not None else max(LEAST_RUN_MM + 2, 2 * self.boss_mm)

    @property
    def _wanted(self) -> Wanted:
        return Wanted(self.thickness_mm, self._hole(), self.boss_mm, self._foot(), self.least_run_mm)

    def _at(self, gap: float, tab) -> tuple[Tab, Tab]:
        return (
            tab(self.member, self._rough, -gap / 2 - self.thickness_mm, self._wanted),
            tab(self.member, self._rough, gap / 2, self._wanted),
        )

    def _lapped(self, least: float) -> tuple[Tab, Tab]:
        """Tabs against the two side walls square to the bolt: the gap is then the member's own width."""
        z, m, s = np.array(self._rough.z), self.member.frame.matrix(), self.member.section
        off = [abs(float(m[:3, i] @ z)) for i in range(3)]
        side = 0 if off[0] > off[1] else 1
        if s.is_round or off[side] < math.cos(math.radians(0.2)):
            across = abs(float(m[:3, 2] @ z)) < math.sin(math.radians(0.2))
            to = f": roll = {rolled_to(self.member, self._rough).roll_deg:.1f} turns one there"
            raise NoSeat(
                f"the member has no flat side wall square to the bolt{'' if s.is_round or not across else to}"
            )
        width = s.width_mm if side == 0 else s.height_mm
        centre = float((m[:3, 3] - np.array(self.eye)) @ z)
        if abs(centre) > OFF_MIDDLE_MM:
            raise NoSeat(
                f"the eye is {abs(centre):.2f} mm off the member's middle along the bolt; the most is "
                f"{OFF_MIDDLE_MM:g} mm"
            )
        if width < least - 1e-9:
            raise NoSeat(
                f"the member is {width:g} mm wide along the bolt; the eye and its washers need {least:g} mm"
            )
        return (
            lap_tab(self.member, self._rough, centre - width / 2 - self.thickness_mm, self._wanted),
            lap_tab(self.member, self._rough, centre + width / 2, self._wanted),
        )

    def _check_room(self) -> None:
        """The eye and the bolt's head, nut and washers keep off the member."""
        rough = self._rough
        middle = region(self.member, rough, -self._half, self._half)
        gap = math.hypot(*nearest(middle)) if middle else math.inf
        if not middle:
            raise NoSeat("the member does not cross the plane in which the eye swings")
        if gap == 0:
            raise NoSeat("the eye's centre is inside the member; move the member or the eye")
        if gap > MOST_REACH_MM:
            raise NoSeat(
                f"the member's surface is {gap:.1f} mm from the eye along the plane of its swing; the most "
                f"is "
                f"{MOST_REACH_MM:g} mm: move a member to it"
            )
        if gap < self.eye_radius_mm + self.swing_mm:
            raise NoSeat(
                f"the member's surface is {gap:.2f} mm from the eye's centre; the eye of radius "
                f"{self.eye_radius_mm:g} mm needs {self.eye_radius_mm + self.swing_mm:.2f} mm to swing"
            )
        ring = washer(self.bolt).outer_mm / 2
        head = hexagon(self.bolt).nut_mm + washer(self.bolt).thickness_mm
        outer = self._half + self.washer_mm + self.thickness_mm
        for low, high in ((outer, outer + head), (-outer - head, -outer)):
            side = region(self.member, rough, low, high)
            gap = math.hypot(*nearest(side)) if side else math.inf
            if gap < ring + 1.0:
                raise NoSeat(
                    f"the member's surface is {gap:.2f} mm from the bolt's centre beside the tab; head and "
                    f"washer "
                    f"need {ring + 1.0:.2f} mm"
                )


def shank_mm(bolt: str) -> float:
    """Diameter of a bolt by its name.

    >>> shank_mm("M10x1.25")
    10.0
    """
    return thread(bolt).diameter_mm


def seat(members: Mapping[str, Member], eye: Vector, axis: Vector, **bracket) -> tuple[str, BracketPair]:
    """The member that carries a bracket best: standing or lapped with the shortest reach. Keywords as
    `BracketPair`.

    Raises NoSeat naming, for the nearest three members, why each cannot carry it."""
    found: list[tuple[float, str, BracketPair]] = []
    refused: list[tuple[float, str]] = []
    for away, name in sorted((_away(member, eye), name) for name, member in members.items()):
        member = members[name]
        if away > MOST_REACH_MM:
            refused.append(
                (
                    away,
                    f'"{name}": its surface is at least {away:.0f} mm from the eye; the most is '
                    f"{MOST_REACH_MM:g} mm: move a member to it",
                )
            )
            continue
        across = (
            bracket["eye_width_mm"] / 2 + bracket.get("washer_mm", BracketPair.washer_mm),
            max(member.section.width_mm, member.section.height_mm) / 2 + OFF_MIDDLE_MM,
        )
        aside = max(across) + bracket.get(
            "thickness_mm", BracketPair.thickness_mm
        )  # the furthest from the eye along its bolt that any of a tab is
        if found and away > math.hypot(min(reach for reach, *_ in found), aside):
            continue
        try:
            pair = BracketPair(member, eye, axis, **bracket)
            found.append((pair.reach_mm, name, pair))
        except NoSeat as e:
            refused.append((away, f'"{name}": {e}'))
    if found:
        _, name, pair = min(found, key=lambda f: f[:2])
        return name, pair
    refused.sort()
    near = "; ".join(text for _, text in refused[:3])
    raise NoSeat(
        f"no member carries the bracket at {tuple(round(float(v), 1) for v in eye)}: "
        f"{near or 'there is none'}"
    )


def in_reach(member: Member, eye: Vector) -> bool:
    """Whether a member is near enough to carry an eye: what another is like changes no `seat`."""
    return _away(member, eye) <= MOST_REACH_MM


def _away(member: Member, eye: Vector) -> float:
    """No point of the member's surface is nearer the eye."""
    return _distance(member, eye) - math.hypot(member.section.width_mm, member.section.height_mm) / 2


def _distance(member: Member, point: Vector) -> float:
    along = [t - f for f, t in zip(member.from_, member.to, strict=True)]
    there = [p - f for f, p in zip(member.from_, point, strict=True)]
    share = min(max(sum(map(mul, there, along)) / sum(map(mul, along, along)), 0.0), 1.0)
    return math.dist(there, [share * a for a in along])
