"""Assembly drawings: rocker, sleeve and spring, each arm, the whole corner; every part with its number in
the cut list.

Looked at without perspective and without the CAD kernel: prisms and rounds as they are described, nearest
face at every pixel; what is cut out of a tube's end is not shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial
from itertools import zip_longest

import numpy as np

from assemblies.layout.account import Bought, FromPlate, FromStock
from assemblies.layout.placing import Layout, Placed
from assemblies.making.colours import Colour, colour_of
from assemblies.making.picture import LOOK_DEG, Camera, View, view
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.drawing import Drawing, Picture, lettering
from assemblies.making.sheets.leaders import SEEN_MM, End, balloons, seen_ends
from assemblies.making.sheets.paper import PAPERS, Printing
from assemblies.making.sheets.part_sheets import BLOCK_MM, BORDER_MM, ROW_GAP_MM, PartSheet
from parts.arm import Arm
from parts.base.frozen import dataclass
from parts.fastener import BoltAndNut
from parts.files.remembered import once
from parts.rod import Rod
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import circle

PX_A_MM, COARSE_PX_A_MM = 6.0, 2.5  # of the paper
CHORD_MM, ROUND_MM = 0.2, 0.1  # of outlines and of rounds, off the arc
APART_MM, WORDS_MM = 7.0, 3.0
MOST_ROWS = 8  # in one column of the table
AROUND, RIM = 0.04, 0.35  # margin round the numbered parts, of their size; how dark their edges are
WELL_SEEN = 0.1  # share of a part that is to be seen in the first picture
OTHER_LOOKS_DEG = ((20.0, 148.0), (20.0, -32.0), (20.0, -148.0), (-20.0, 32.0), (-20.0, 148.0))


def sheets(layout: Layout, rows: Sequence[CutListLine], printing: Printing) -> list[PartSheet]:
    """Those of the drawings that have parts."""
    out = []
    for title, metal in groups(layout, rows):
        listed = [(n, rows[n - 1].item) for n in sorted({m.number for m in metal} - {0})]
        given = (title, layout.job.corner.side, metal, listed, printing.undated)
        out.append(once("assembly sheet", (given, lettering()), partial(_sheet, *given)))
    return out


def groups(layout: Layout, rows: Sequence[CutListLine]) -> list[tuple[str, list[Metal]]]:
    """What stands on each sheet, under its title. What has a number on one has none on a later one."""
    spring = ("spring", "spring anchor", "spring housing", "pivot spindle")
    wanted: list[tuple[str, Callable[[Placed], bool]]] = [
        ("rocker", lambda p: p.body == "rocker"),
        ("sleeve, spring and anchor", lambda p: p.body in spring),
        *((name.replace("_", " "), partial(_is_of, name)) for name in layout.arms),
        (f"{layout.job.rod.kind} rod", lambda p: p.body == "rod"),
        ("the corner", lambda p: p.body != "wheel"),
    ]
    told: set[int] = set()
    out = []
    for title, is_wanted in wanted:
        some = [p for p in layout.placed if is_wanted(p) and isinstance(p.form, Form)]
        metal = [m for p in some for m in _numbered(p, layout, rows, told)]
        told |= {m.number for m in metal}
        if any(m.number for m in metal):
            out.append((f"{title}, assembled", metal))
    return out


@dataclass(frozen=True)
class Metal:
    """Pieces of a placed part, in the car: those of one line of the cut list, 0 none; `named`: some piece of
    the part has a number."""

    form: Form
    colour: Colour
    number: int
    named: bool


def _is_of(body: str, p: Placed) -> bool:
    return body in (p.body, p.carrier)


def numbers_of(p: Placed, rows: Sequence[CutListLine]) -> list[int]:
    """The lines of the cut list a placed part is made or bought by, in the order its account names them; none
    for a bolt's, which are several."""
    match p.source:
        case FromPlate(blank=blank):
            wanted: tuple[str, ...] = (blank.name,)
        case FromStock(rows=some):
            wanted = some
        case Bought(row=row):
            wanted = (row,)
        case _:
            return []
    named = [(n, (r.item, r.item.partition(",")[0])) for n, r in enumerate(rows, 1)]
    return [n for w in dict.fromkeys(wanted) for n, names in named if w in names]


def _numbered(p: Placed, layout: Layout, rows: Sequence[CutListLine], told: set[int]) -> list[Metal]:
    """A placed part in as many pieces as lines of the cut list make it; its number is 0 where it has none
    here: a fastener's, a frame's tube, one that is `told`."""
    numbers, pieces = numbers_of(p, rows), p.in_car.pieces
    if p.name in layout.members or isinstance(p.part, BoltAndNut):
        numbers = []

    def line(said: str) -> int:
        return next((n for n in numbers if said in rows[n - 1].item), 0)

    found = [line("")] * len(pieces)
    if isinstance(p.part, Arm):
        found = [line(x) for x in (" boss", "bush housing", "front tube", "bush housing", "rear tube")]
    elif isinstance(p.part, Rod):
        one_end = p.part.end_pieces
        found = [line("") if k == one_end else 0 for k in range(len(pieces))]
        if p.part.wall_mm:
            for hand, last in zip(p.part.hands, (one_end, len(pieces)), strict=True):
                found[last - 2 : last] = [line(f"insert, {hand} hand")] * 2
    found = [0 if n in told else n for n in found]
    return [
        Metal(
            Form(tuple(q for q, m in zip(pieces, found, strict=True) if m == n)),
            colour_of(p.body, p.carrier),
            n,
            any(found),
        )
        for n in dict.fromkeys(found)
    ]


# ------------------------------------------------------------ one sheet


@dataclass(frozen=True)
class Shot:
    """The parts from one side: elevation and bearing as `LOOK_DEG`; where each number is best seen, mm of the
    car."""

    look_deg: tuple[float, float]
    view: View
    ends: dict[int, End]

    @property
    def size_mm(self) -> tuple[float, float]:
        high, wide = self.view.image.shape[:2]
        return wide / self.view.scale, high / self.view.scale

    def seen_mm2(self, n: int, scale: float) -> float:
        """Of a number, mm² of the car; 0 where at that scale on the paper it has no room for a dot."""
        end = self.ends.get(n)
        return end.seen_mm2 if end and end.clear_mm * scale >= SEEN_MM else 0.0

    @property
    def words(self) -> str:
        elevation, bearing = self.look_deg
        ahead, outside = "ahead" if abs(bearing) < 90 else "behind", "outside" if bearing > 0 else "inside"
        return f"seen from {ahead}, {outside} and {'above' if elevation > 0 else 'below'}"

    def pixels(self) -> np.ndarray:
        """Bytes, with a dark line where one part's picture meets another's."""
        image, shown = self.view.image.clip(0, 1) * 255, self.view.shown
        image[1:][shown[1:] != shown[:-1]] *= RIM
        image[:, 1:][shown[:, 1:] != shown[:, :-1]] *= RIM
        return image.round().astype("uint8")


def _sheet(
    title: str, side: str, metal: Sequence[Metal], listed: Sequence[tuple[int, str]], printing: Printing
) -> PartSheet:
    numbers = [m.number for m in metal]
    rows: list[tuple[str, ...]] = [(str(n), item) for n, item in listed]
    columns = 2 if len(rows) > MOST_ROWS else 1
    if columns == 2:
        half = -(-len(rows) // 2)
        rows = [a + b for a, b in zip_longest(rows[:half], rows[half:], fillvalue=("", ""))]
    shots, scale, whole = shots_of(metal, side, len(rows), printing)
    d, hidden = Drawing(), False
    for shot in shots:
        ends = {}
        for n, _ in listed:
            if shot is not _best(shots, n, scale):
                continue
            if shot.seen_mm2(n, scale):
                ends[n] = shot.ends[n].scaled(scale)
            else:
                middle = triangles(metal[numbers.index(n)].form).reshape(-1, 3).mean(0)
                x, y = shot.view.pixel(middle)
                ends[n] = End(x, len(shot.view.image) - y).scaled(scale / shot.view.scale)
                hidden = True
        wide, high = (v * scale for v in shot.size_mm)
        own = Drawing()
        own.add(Picture(0.0, 0.0, wide, high, shot.pixels()))
        balloons(own, wide, high, ends)
        own.text(wide / 2, own.bounds[1] - WORDS_MM - 1.5, shot.words, WORDS_MM, "middle")
        down = d.bounds[1] - APART_MM - own.bounds[3] if d.items else 0.0
        d.add(*own.moved(-wide / 2, down).items)
    notes = [
        "Numbers are those of the cut list. Not to be measured from. A line with a dot ends on its part."
    ]
    if not whole:
        notes.append("What has no number here may go on beyond the edge of the picture.")
    if hidden:
        notes.append("A dashed line without a dot: its part is hidden, behind what is seen where it ends.")
    return PartSheet(
        title,
        "as numbered",
        "see the cut list",
        f"{side} side as drawn; the other side is its mirror image",
        d,
        scale,
        (("no.", "item") * columns, *rows),
        tuple(notes),
        measured=False,
    )


def _best(shots: Sequence[Shot], n: int, scale: float) -> Shot:
    """The one that shows most of a number; the first if it shows at least half as much."""
    seen = [shot.seen_mm2(n, scale) for shot in shots]
    return next(shot for shot, v in zip(shots, seen, strict=True) if v >= max(seen) / 2)


def shots_of(
    metal: Sequence[Metal], side: str, rows: int, printing: Printing
) -> tuple[list[Shot], float, bool]:
    """The usual one, and where it hides most of a numbered part the one that shows more of most such parts;
    their scale on the paper; whether all the metal is in them."""
    meshes, numbers = [triangles(m.form) for m in metal], [m.number for m in metal]
    facets = [(mesh, None, m.colour) for mesh, m in zip(meshes, metal, strict=True)]
    own = {n: np.concatenate([m for m, k in zip(meshes, numbers, strict=True) if k == n]) for n in {*numbers}}
    framed = np.concatenate([mesh for mesh, m in zip(meshes, metal, strict=True) if m.named])

    def window(look_deg: tuple[float, float]) -> np.ndarray:
        flat = Camera.usual(side, look_deg).seen(framed)[..., :2].reshape(-1, 2)
        rim = AROUND * np.ptp(flat, 0).max()
        return np.array((flat.min(0) - rim, flat.max(0) + rim))

    def shot(look_deg: tuple[float, float], scale: float, px_a_mm: float) -> Shot:
        low, high = window(look_deg)
        wide_px = round((high - low)[0] * scale * px_a_mm)
        seen = view(facets, Camera.usual(side, look_deg), (low, high), wide_px)
        return Shot(look_deg, seen, seen_ends(seen, numbers))

    def unhidden_mm2(n: int) -> float:
        """What the eye would see of it alone, or a little more: its facets that look at it."""
        across = np.cross(own[n][:, 1] - own[n][:, 0], own[n][:, 2] - own[n][:, 0])
        return float((across @ usual.view.camera.forward).clip(max=0.0).sum()) / -2

    looks = [LOOK_DEG]
    scale = _scale([window(LOOK_DEG)] * 2, rows, printing)  # as if there were a second
    usual = shot(LOOK_DEG, scale, COARSE_PX_A_MM)
    first = {n: usual.seen_mm2(n, scale) for n in own if n}
    if missed := [n for n in first if first[n] < WELL_SEEN * unhidden_mm2(n)]:

        def more(look_deg: tuple[float, float]) -> tuple[int, int]:
            """How many are seen that are not in the first, and how many twice as well."""
            tried = shot(look_deg, scale, COARSE_PX_A_MM)
            then = {n: tried.seen_mm2(n, scale) for n in missed}
            return sum(then[n] > 0 == first[n] for n in missed), sum(then[n] > 2 * first[n] for n in missed)

        gained = {look: more(look) for look in OTHER_LOOKS_DEG}
        best = max(gained, key=gained.__getitem__)
        if any(gained[best]):
            looks.append(best)
    scale = _scale([window(look) for look in looks], rows, printing)
    whole = all(m.named for m in metal)
    return [shot(look, scale, PX_A_MM) for look in looks], scale, whole


def _scale(windows: Sequence[np.ndarray], rows: int, printing: Printing) -> float:
    """The largest that the paper holds beside balloons, over the table and the notes."""
    w, h = PAPERS[printing.paper]
    free = h - 2 * BORDER_MM - BLOCK_MM - 33.0 - (4.0 + ROW_GAP_MM) * (rows + 1)
    high = max(min(free, 0.6 * h) / len(windows) - APART_MM - 5.0, 30.0)
    return min(min((w - 2 * BORDER_MM - 30.0) / x, high / y) for x, y in np.ptp(windows, 1).tolist())


# ------------------------------------------------------------ metal as triangles


def triangles(form: Form) -> np.ndarray:
    """(n, 3, 3) of all pieces, counter-clockwise as seen from without; cuts are left out of the picture."""
    return np.concatenate([_prism(p) if isinstance(p, Prism) else _round(p) for p in form.pieces])


def _prism(p: Prism) -> np.ndarray:
    from shapely import Polygon, constrained_delaunay_triangles, get_coordinates

    o = p.outline
    inner = [w.points(CHORD_MM) for w in o.inner]
    inner += [circle(h.x, h.y, h.diameter_mm).points(CHORD_MM) for h in o.holes]
    rims = [o.outer.points(CHORD_MM), *inner]
    flat = get_coordinates(list(constrained_delaunay_triangles(Polygon(rims[0], rims[1:])).geoms))
    return _between(flat.reshape(-1, 4, 2)[:, :3], rims, p.thickness_mm, p.frame)


def _round(p: Round) -> np.ndarray:
    facets = math.pi / math.acos(1 - min(2 * ROUND_MM / p.diameter_mm, 0.1))
    turn = np.linspace(0, 2 * math.pi, 4 * max(math.ceil(facets / 4), 3) + 1)[:-1]
    rims = [np.column_stack((np.cos(turn), np.sin(turn))) * d / 2 for d in (p.diameter_mm, p.bore_mm) if d]
    a, b = rims[0], rims[1] if len(rims) > 1 else np.zeros_like(rims[0])
    ring = np.concatenate(
        (np.stack((a, np.roll(a, -1, 0), b), 1), np.stack((np.roll(a, -1, 0), np.roll(b, -1, 0), b), 1))
    )
    return _between(ring, rims, p.length_mm, p.frame)


def _between(flat: np.ndarray, rims: Sequence, high: float, frame: Frame) -> np.ndarray:
    """Two faces of the triangles `flat` (n, 3, 2), at z = 0 and `high`, and the walls at their rims, the
    outer one first; placed."""
    turned = _area2(flat) < 0
    flat = np.where(turned[:, None, None], flat[:, ::-1], flat)
    caps = [
        np.dstack((flat[:, ::-1], np.zeros(flat.shape[:2]))),
        np.dstack((flat, np.full(flat.shape[:2], high))),
    ]
    walls = [
        _wall(r if (_area2(r) > 0) == (k == 0) else r[::-1], high) for k, r in enumerate(map(np.array, rims))
    ]
    m = frame.matrix()
    return np.concatenate([*caps, *walls]) @ m[:3, :3].T + m[:3, 3]


def _area2(rim: np.ndarray) -> np.ndarray:
    """Twice the area within points (..., n, 2), above 0 counter-clockwise."""
    x, y = rim[..., 0], rim[..., 1]
    return (x * np.roll(y, -1, -1) - np.roll(x, -1, -1) * y).sum(-1)


def _wall(rim: np.ndarray, high: float) -> np.ndarray:
    a, b = (np.column_stack((r, np.zeros(len(r)))) for r in (rim, np.roll(rim, -1, 0)))
    up = np.array((0.0, 0.0, high))
    return np.concatenate((np.stack((a, b, b + up), 1), np.stack((a, b + up, a + up), 1)))
