"""Assembly drawings: rocker, sleeve and spring, each arm, the whole corner; every part with its number in
the cut list.

Looked at without perspective and without the CAD kernel: prisms and rounds as they are described, nearest
face at every pixel; what is cut out of a tube's end is not shown."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from functools import partial

import numpy as np

from assemblies.layout.account import Bought, FromPlate, FromStock
from assemblies.layout.placing import Layout, Placed
from assemblies.making.colours import colour_of
from assemblies.making.picture import Camera, View, view
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.drawing import CUT, FINE, Drawing, Picture, lettering
from assemblies.making.sheets.paper import PAPERS, Printing
from assemblies.making.sheets.part_sheets import BLOCK_MM, BORDER_MM, PartSheet
from parts.arm import Arm
from parts.fastener import BoltAndNut
from parts.files.remembered import once
from parts.rod import Rod
from parts.shape.form import Form, Prism, Round
from parts.shape.outline import circle

WIDTH_PX = 1100
BALLOON_MM = 6.4
CHORD_MM = 0.2


def sheets(layout: Layout, rows: Sequence[CutListLine], printing: Printing) -> list[PartSheet]:
    """Those of the drawings that have parts."""
    spring = ("spring", "spring anchor", "spring housing", "pivot spindle")
    groups: list[tuple[str, Callable[[Placed], bool]]] = [
        ("rocker, assembled", lambda p: p.body == "rocker"),
        ("sleeve, spring and anchor, assembled", lambda p: p.body in spring),
        *((f"{name.replace('_', ' ')}, assembled", partial(_is_of, name)) for name in layout.arms),
        ("the corner, assembled", lambda p: p.body != "wheel"),
    ]
    told: set[int] = set()  # what has a drawing of its own has no number again in the corner's
    out = []
    for title, wanted in groups:
        some = [p for p in layout.placed if wanted(p) and isinstance(p.form, Form)]
        if some:
            listed = _listed(some, layout, rows, told)
            told.update(n for n, *_ in listed)
            metal = [(p.in_car, colour_of(p.body, p.carrier)) for p in some]
            given = (title, layout.job.corner.side, metal, listed, printing.undated)
            out.append(once("assembly sheet", (given, lettering()), partial(_sheet, *given)))
    return out


Listed = tuple[int, str, np.ndarray]  # number and item of a line of the cut list, where it is in the car


def _listed(
    some: Sequence[Placed], layout: Layout, rows: Sequence[CutListLine], told: set[int]
) -> list[Listed]:
    """The lines of the cut list that a drawing of these parts numbers: none that is `told`."""
    out: dict[int, np.ndarray] = {}
    for p in some:
        if p.name not in layout.members and not isinstance(p.part, BoltAndNut):
            out |= {n: middle for n, middle in _middles(p, rows).items() if n not in out}
    return [(n, rows[n - 1].item, middle) for n, middle in out.items() if n not in told]


def _is_of(body: str, p: Placed) -> bool:
    return body in (p.body, p.carrier)


def numbers_of(p: Placed, rows: Sequence[CutListLine]) -> list[int]:
    """The lines of the cut list a placed part is made or bought by, in the order its account names them."""
    match p.source:
        case FromPlate(blank=blank):
            wanted: tuple[str, ...] = (blank.name,)
        case FromStock(rows=some):
            wanted = some
        case Bought(row=row):
            wanted = (row,)
        case _:
            return []
    found = [next((n for n, r in enumerate(rows, 1) if w in r.item), None) for w in wanted]
    return [n for n in dict.fromkeys(found) if n is not None]


def _sheet(
    title: str,
    side: str,
    metal: Sequence[tuple[Form, tuple[float, float, float]]],
    listed: Sequence[Listed],
    printing: Printing,
) -> PartSheet:
    w, h = PAPERS[printing.paper]
    room = w - 2 * BORDER_MM - 30.0, (h - 2 * BORDER_MM - BLOCK_MM) * 0.55
    meshes = [(triangles(form), colour) for form, colour in metal]
    coloured = [(np.concatenate((m, m[:, ::-1])), None, c) for m, c in meshes]  # facets either way round
    camera = Camera.usual(side)
    seen = view(coloured, camera, None, WIDTH_PX)
    high, wide = seen.image.shape[:2]
    scale = min(room[0] / wide, room[1] / high)  # mm a pixel
    d = Drawing()
    pixels = (seen.image.clip(0, 1) * 255).round().astype("uint8")
    d.add(Picture(0.0, 0.0, wide * scale, high * scale, pixels))
    _balloons(d, seen, listed, scale)
    return PartSheet(
        title,
        "as numbered",
        "see the cut list",
        f"{side} side as drawn; the other side is its mirror image",
        d,
        scale * seen.scale,
        (("no.", "item"), *((str(n), item) for n, item, _ in sorted(listed, key=lambda line: line[0]))),
        (
            "Numbers are those of the cut list. Not to be measured from.",
            "A line ends where its part's middle is, which another part may hide: what it meets there may be "
            "the one in front.",
        ),
        measured=False,
    )


def _balloons(d: Drawing, seen: View, listed: Sequence[Listed], scale: float) -> None:
    """A balloon a line of the cut list, beside the picture, on a line to the part's middle."""
    spots: dict[int, tuple[float, float]] = {}
    high, wide = seen.image.shape[:2]
    for n, _, middle in listed:
        x, y = seen.pixel(middle)
        spots[n] = (x * scale, (high - y) * scale)
    across = sorted(spots, key=lambda n: spots[n][0])
    for left, side in ((True, across[: len(across) // 2]), (False, across[len(across) // 2 :])):
        side = sorted(side, key=lambda n: spots[n][1])
        at = -10.0 if left else wide * scale + 10.0
        ys = _spread([spots[n][1] for n in side], high * scale)
        for n, y in zip(side, ys, strict=True):
            d.line((at + (BALLOON_MM / 2 if left else -BALLOON_MM / 2), y), spots[n], FINE)
            d.circle(*spots[n], 0.9, CUT, 0.0)
            d.circle(at, y, BALLOON_MM, FINE, 1.0)
            d.text(at, y - 1.0, str(n), 3.0, "middle", bold=True)


def _middles(p: Placed, rows: Sequence[CutListLine]) -> dict[int, np.ndarray]:
    """A point in the car of what each line of the cut list is in a placed part: an arm is several."""
    numbers = numbers_of(p, rows)
    if isinstance(p.part, Arm):
        names = ("boss", "bush housing", "front tube", "bush housing", "rear tube")
        pieces = zip(names, p.in_car.pieces, strict=False)
        by_name = {name: triangles(Form((piece,))).reshape(-1, 3).mean(0) for name, piece in pieces}
        return {n: m for n in numbers for name, m in by_name.items() if rows[n - 1].item.endswith(name)}
    middle = triangles(p.in_car).reshape(-1, 3).mean(0)
    out = dict.fromkeys(numbers[:1], middle)
    if isinstance(p.part, Rod):
        in_end = p.part.eye_to_face_mm + p.part.tapped_mm / 2
        for hand, z in zip(p.part.hands, (in_end, p.part.length_mm - in_end), strict=True):
            for n, r in enumerate(rows, 1):
                if f"rod insert, {hand} hand" in r.item:
                    out[n] = (p.frame.matrix() @ (0.0, 0.0, z, 1.0))[:3]
    return out


def _spread(wanted: Sequence[float], room: float) -> list[float]:
    """Places near the wanted ones, a balloon and a little apart, from below."""
    if not wanted:
        return []
    least, out = BALLOON_MM * 1.12, list[float]()
    for y in wanted:
        out.append(max(y, out[-1] + least) if out else max(y, 0.0))
    top = max(room, least * (len(out) - 1))
    for k in range(len(out) - 1, -1, -1):
        out[k] = min(out[k], top)
        top = out[k] - least
    return out


# ------------------------------------------------------------ metal as triangles


def triangles(form: Form) -> np.ndarray:
    """(n, 3, 3) of all pieces; cuts are left out of the picture."""
    return np.concatenate([_prism(p) if isinstance(p, Prism) else _round(p) for p in form.pieces])


def _prism(p: Prism) -> np.ndarray:
    from shapely import Polygon, constrained_delaunay_triangles, get_coordinates

    o = p.outline
    inner = [w.points(CHORD_MM) for w in o.inner]
    inner += [circle(h.x, h.y, h.diameter_mm).points(CHORD_MM) for h in o.holes]
    rims = [o.outer.points(CHORD_MM), *inner]
    flat = get_coordinates(list(constrained_delaunay_triangles(Polygon(rims[0], rims[1:])).geoms))
    flat = flat.reshape(-1, 4, 2)[:, :3]
    caps = [np.dstack((flat, np.full(flat.shape[:2], z))) for z in (0.0, p.thickness_mm)]
    walls = [_wall(np.array(r), 0.0, p.thickness_mm) for r in rims]
    return _placed(np.concatenate([*caps, *walls]), p.frame)


def _round(p: Round) -> np.ndarray:
    turn = np.linspace(0, 2 * math.pi, 49)[:-1]
    rims = [np.column_stack((np.cos(turn), np.sin(turn))) * d / 2 for d in (p.diameter_mm, p.bore_mm) if d]
    walls = [_wall(r, 0.0, p.length_mm) for r in rims]
    a, b = rims[0], rims[1] if len(rims) > 1 else np.zeros_like(rims[0])
    ring = np.concatenate(
        (np.stack((a, np.roll(a, -1, 0), b), 1), np.stack((np.roll(a, -1, 0), np.roll(b, -1, 0), b), 1))
    )
    caps = [np.dstack((ring, np.full(ring.shape[:2], z))) for z in (0.0, p.length_mm)]
    return _placed(np.concatenate([*walls, *caps]), p.frame)


def _wall(rim: np.ndarray, low: float, high: float) -> np.ndarray:
    nxt = np.roll(rim, -1, 0)

    def at(r: np.ndarray, z: float) -> np.ndarray:
        return np.column_stack((r, np.full(len(r), z)))

    a, b, c, e = at(rim, low), at(nxt, low), at(nxt, high), at(rim, high)
    return np.concatenate((np.stack((a, b, c), 1), np.stack((a, c, e), 1)))


def _placed(mesh: np.ndarray, frame) -> np.ndarray:
    m = frame.matrix()
    return mesh @ m[:3, :3].T + m[:3, 3]
