"""A bolt axis on a tube of the frame, with or without the tabs of a bracket: its face, how far along from a
named end, how far aside and over the face.

All lengths mm, at the frame's own tubes as the job gives them; x forward, y left, z up."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import field, replace

import numpy as np

from assemblies.layout.fasteners import tab_gap_mm
from assemblies.layout.placing import Layout, Seat
from assemblies.making.sheets.tube_ends import direction
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import unit, vector

CONTACT_MM = 0.7  # a foot's edge no further off its tube than its fit-up stands on it


@dataclass(frozen=True)
class TabPlace:
    """A tab's foot on its tube: `along_mm` its two edges from the named end, `across_mm` from the face's
    middle line (the sign as `OnTube.aside_mm`'s)."""

    name: str
    along_mm: tuple[float, float]
    across_mm: tuple[float, float]


@dataclass(frozen=True)
class OnTube:
    """A bolt axis on a tube. `along_mm` from the tube's named end as the job gives it (the node), `sawn_mm`
    from the long point of that end as it is sawn; `aside_mm` off the face's middle line towards `aside_to`;
    `height_mm` over the face. `lean_deg` of the tabs from square to the face, bolt end towards `lean_to`;
    `skew_deg` of the bolt from the tube's own direction, in the face. Without tabs: the job gives no part."""

    what: str
    body: str  # that its bolt carries
    tube: str
    end: str  # from | to
    end_words: str
    node: str
    face: str
    along_mm: float
    sawn_mm: float
    aside_mm: float
    aside_to: str
    height_mm: float
    lean_deg: float
    lean_to: str
    skew_deg: float
    gap_mm: float
    tabs: tuple[TabPlace, ...]
    # for whoever draws it: car axes
    point: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 0.0))
    way: tuple[float, float, float] = field(repr=False, default=(1.0, 0.0, 0.0))  # along, from the named end
    normal: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 1.0))  # of the face
    bolt: tuple[float, float, float] = field(repr=False, default=(0.0, 0.0, 0.0))  # zero: not known


def place_on(
    layout: Layout, what: str, body: str, name: str, point: Sequence[float], bolt: Sequence[float] = (0, 0, 0)
) -> OnTube:
    """Where a point, with the bolt's or bore's direction where it is known, lies on a tube; no tabs yet."""
    member, side = layout.members[name], side_of(layout)
    m = member.frame.matrix()
    eye = np.linalg.inv(m) @ (*point, 1.0)
    end = "from" if eye[2] <= member.length_mm / 2 else "to"
    sign = 1.0 if end == "from" else -1.0
    normal, half = face_of(member, eye[:2])
    across = np.array((-normal[1], normal[0]))
    across *= math.copysign(1.0, float(eye[:2] @ across) or sign)
    flat = np.array((*normal, 0.0))

    def car(v) -> np.ndarray:
        return m[:3, :3] @ np.asarray(v, float)

    own = np.linalg.inv(m)[:3, :3] @ np.asarray(bolt, float)
    in_face = own - float(own @ flat) * flat
    skew = math.degrees(math.acos(min(1.0, abs(float(unit(in_face)[2]))))) if any(bolt) else 0.0
    along = float(eye[2]) if end == "from" else member.length_mm - float(eye[2])
    cut = layout.junctions.ends.get((name, end))
    node = layout.junctions.node_of(name, end)
    return OnTube(
        what,
        body,
        name,
        end,
        end_words_of(-sign * m[:3, 2], side),
        node.name if node else "",
        face_words(member, normal, car(flat), side),
        along,
        along - (cut.long_mm if cut is not None and cut.line is not None else 0.0),
        round(float(eye[:2] @ across), 9),
        direction(car((*across, 0.0)), side),
        float(eye[:2] @ normal) - half,
        0.0,
        "",
        skew,
        0.0,
        (),
        vector(point),
        vector(sign * m[:3, 2]),
        vector(car(flat)),
        vector(bolt),
    )


def on_tube(layout: Layout, seat: Seat) -> OnTube:
    """A bracket with its tabs."""
    low = seat.tabs[0].part
    place = place_on(layout, seat.bracket, seat.body, seat.member, seat.point, low.frame.z)
    member, side = layout.members[seat.member], side_of(layout)
    m = member.frame.matrix()
    flat = np.array(place.normal)
    from_tube = -np.array(low.frame.x)  # from the tube to the bolt
    square = float(from_tube @ flat)
    lean = math.degrees(math.acos(max(-1.0, min(1.0, square))))
    eye = (np.linalg.inv(m) @ (*seat.point, 1.0))[:2]
    normal, _ = face_of(member, eye)
    across = np.array((-normal[1], normal[0]))
    across *= math.copysign(1.0, float(eye @ across) or (1.0 if place.end == "from" else -1.0))
    return replace(
        place,
        lean_deg=lean,
        lean_to=direction(unit(from_tube - square * flat), side) if lean > 0.05 else "",
        gap_mm=tab_gap_mm(*(t.part for t in seat.tabs)),
        tabs=tuple(_tab(member, m, t, place.end, across) for t in seat.tabs),
    )


def _tab(member: Member, m: np.ndarray, tab, end: str, across: np.ndarray) -> TabPlace:
    """The part of a tab's rim that stands on its tube, both faces of the plate."""
    from shapely import Polygon, contains_xy

    rim = np.array(tab.part.outline().outer.points(0.02))
    fine = np.concatenate(
        [a + (b - a) * np.linspace(0, 1, 24)[:, None] for a, b in zip(rim, np.roll(rim, -1, 0), strict=True)]
    )
    there = np.linalg.inv(m) @ tab.part.frame.matrix()
    spots = np.concatenate(
        [
            np.column_stack((fine, np.full(len(fine), z), np.ones(len(fine)))) @ there.T
            for z in (0.0, tab.part.thickness_mm)
        ]
    )
    body = Polygon(member.section.outer().points(0.02)).buffer(CONTACT_MM)
    on = spots[contains_xy(body, spots[:, 0], spots[:, 1])]
    s = on[:, 2] if end == "from" else member.length_mm - on[:, 2]
    u = on[:, :2] @ across
    return TabPlace(tab.name, (float(s.min()), float(s.max())), (float(u.min()), float(u.max())))


def face_of(member: Member, eye: np.ndarray) -> tuple[np.ndarray, float]:
    """Outward normal in the section of the face that looks at a bolt, and how far that face is from the
    middle."""
    s = member.section
    if s.is_round:
        return eye / math.hypot(*eye), s.width_mm / 2
    half = np.array((s.width_mm, s.height_mm)) / 2
    k = int(np.argmax(np.abs(eye) - half))
    normal = np.zeros(2)
    normal[k] = math.copysign(1.0, eye[k])
    return normal, float(half[k])


def face_words(member: Member, normal: np.ndarray, car: np.ndarray, side: float) -> str:
    if not member.section.is_round:
        return f"{faced(direction(car, side))} face"
    m = member.frame.matrix()[:3, :3]
    top, word = np.array((0.0, 0.0, 1.0)), "top"
    if abs(m[2, 2]) > 0.98:
        top, word = np.array((1.0, 0.0, 0.0)), "front"
    top = unit(top - float(top @ m[:, 2]) * m[:, 2])
    turn = math.acos(max(-1.0, min(1.0, float(car @ top))))
    beside = car - float(car @ top) * top
    to = direction(unit(beside), side) if turn > 1e-3 else ""
    arc = turn * member.section.width_mm / 2
    return f"round: {math.degrees(turn):.1f} deg from its {word}" + (
        f" to {to}, {arc:.1f} along the outside" if to else ""
    )


def faced(words: str) -> str:
    return words.replace("up", "upper").replace("down", "lower").replace(" and ", " ")


def end_words_of(v: np.ndarray, side: float) -> str:
    return f"{faced(direction(v, side))} end"


def side_of(layout: Layout) -> float:
    return 1.0 if layout.job.corner.side == "left" else -1.0
