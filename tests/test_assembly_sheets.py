"""Assembly drawings: every number once, its line's end on its own part as the CAD kernel sees it."""

from functools import cache
from itertools import combinations, permutations

import demos
import numpy as np
import pytest
from OCP.gp import gp_Dir, gp_Lin, gp_Pnt
from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector
from shapely import LineString, Point, box

from assemblies.layout.account import Bought, FromPlate, FromStock
from assemblies.making.picture import LOOK_DEG, Camera
from assemblies.making.sheets import assembly_sheets, cut_list, letters, part_sheets
from assemblies.making.sheets.drawing import Drawing, Picture, Text
from assemblies.making.sheets.drawing import Path as Drawn
from assemblies.making.sheets.leaders import BALLOON_MM
from assemblies.making.sheets.paper import Printing
from parts.arm import Arm
from parts.fastener import BoltAndNut
from parts.files.solid import piece_solid
from parts.rod import Rod
from parts.shape.form import Form

LOOKS = {
    assembly_sheets.Shot(look, None, {}).words: look for look in (LOOK_DEG, *assembly_sheets.OTHER_LOOKS_DEG)
}
CORNERS = pytest.mark.parametrize(
    ("name", "mirrored"),
    [
        pytest.param(
            name, mirrored, marks=[] if name == "heronbank-front" and not mirrored else pytest.mark.slow
        )
        for name in sorted(path.stem for path in demos.JOBS.glob("*.toml"))
        for mirrored in (False, True)
    ],
)
NEAR_MM = 0.2  # of the paper: so far beside a line's end its part is still seen
TRIED = 25  # points of a part that is called hidden


@cache
def _made(name, mirrored):
    layout = demos.corner(name, mirrored).layout
    rows = cut_list.rows(layout)
    with letters.letters(()):
        return layout, rows, assembly_sheets.sheets(layout, rows, Printing())


def _balloons(d: Drawing) -> dict[int, tuple[tuple[float, float], bool]]:
    """Where the line of each number ends, and whether it is drawn through with a dot at its end."""
    words = {(i.x, i.y + 1.0): int(i.words) for i in d.items if isinstance(i, Text) and i.words.isdigit()}
    dots = [np.mean(i.points, 0) for i in d.items if isinstance(i, Drawn) and i.closed and i.fill_grey == 0.0]
    out = {}
    for i in d.items:
        if isinstance(i, Drawn) and not i.closed and i.pen.grey == 0.0:
            n = next(
                n for at, n in words.items() if np.hypot(*np.subtract(at, i.start)) < BALLOON_MM / 2 + 0.01
            )
            end = i.points[-1]
            dotted = any(np.hypot(*np.subtract(end, dot)) < 0.1 for dot in dots)
            assert dotted != bool(i.pen.dash_mm), n
            assert n not in out
            out[n] = end, dotted
    assert {*out} == {*words.values()}
    return out


class _Kernel:
    """What stands on a sheet, each piece by the kernel on its own."""

    def __init__(self, placed):
        self.pieces = []
        for p in placed:
            for piece in p.in_car.pieces:
                met = IntCurvesFace_ShapeIntersector()
                met.Load(piece_solid(piece).wrapped, 1e-6)
                self.pieces.append((p, piece, met))

    def first(self, point, way):
        """The placed part and its piece a ray through the point meets first."""
        line = gp_Lin(gp_Pnt(*map(float, point - 1e4 * way)), gp_Dir(*map(float, way)))
        near, found = np.inf, (None, None)
        for p, piece, met in self.pieces:
            met.Perform(line, 0.0, 1e6)
            for k in range(1, met.NbPnt() + 1):
                if met.WParameter(k) < near - 1e-6:
                    near, found = met.WParameter(k), (p, piece)
        return found


def _item(layout, rows, p, piece) -> str | None:
    """The item of the cut list a piece is, told from its sizes and where it lies."""
    job = layout.job
    if p is None or isinstance(p.part, BoltAndNut):
        return None
    middle = np.array(piece.centroid)
    if isinstance(p.part, Arm):
        arm = getattr(job, p.body)
        name = p.body.replace("_", " ")
        if piece.bore_mm:
            front, rear = (np.linalg.norm(middle - q) for q in (arm.front_pivot, arm.rear_pivot))
            return f"{name} {'front' if front < rear else 'rear'} tube"
        at_joint = np.linalg.norm(middle - arm.outer_joint) < 1.0
        return f"{name} {'boss' if at_joint else 'bush housing'}"
    if isinstance(p.part, Rod):
        if abs(getattr(piece, "length_mm", 0.0) - p.part.cut_length_mm) < 1e-6:
            return f"{job.rod.kind} rod tube"
        if getattr(piece, "diameter_mm", 0.0) not in (p.part.diameter_mm, p.part.bore_mm):
            return None
        ends = {which: np.array(getattr(job.rod, which)) for which in ("outboard", "inboard")}
        end = min(ends, key=lambda which: np.linalg.norm(middle - ends[which]))
        bought = next(r for r in rows if r.item == f"rod end, rod {end}")
        hand = "left" if "left hand" in bought.stock else "right"
        return f"{job.rod.kind} rod insert, {hand} hand {p.part.thread}"
    match p.source:
        case FromPlate(blank=blank):
            return blank.name
        case FromStock(rows=(row,)):
            return row
        case Bought(row=row):
            return next(r.item for r in rows if r.item.split(",")[0] == row)
    return None


@pytest.mark.slow
@CORNERS
def test_a_line_ends_on_what_is_seen_of_its_part(name, mirrored):
    """Rays along the camera through each line's end and round it, against the kernel's solids: the piece met
    first is what the cut list calls by that number. Of what is called hidden a ray to its facets meets
    another part first."""
    layout, rows, made = _made(name, mirrored)
    titles = [title for title, _ in assembly_sheets.groups(layout, rows)]
    assert [s.title for s in made] == titles
    for sheet, (title, metal) in zip(made, assembly_sheets.groups(layout, rows), strict=True):
        forms = {piece for m in metal for piece in m.form.pieces}
        kernel = _Kernel(
            [p for p in layout.placed if isinstance(p.form, Form) and {*p.in_car.pieces} <= forms]
        )
        assert len(kernel.pieces) == sum(len(m.form.pieces) for m in metal)
        framed = np.concatenate([assembly_sheets.triangles(m.form).reshape(-1, 3) for m in metal if m.named])
        pictures = [i for i in sheet.view.items if isinstance(i, Picture)]
        looks = [LOOKS[i.words] for i in sheet.view.items if isinstance(i, Text) and i.words in LOOKS]
        views = []
        for picture, look in zip(pictures, looks, strict=True):
            camera = Camera.usual(layout.job.corner.side, look)
            flat = camera.seen(framed)[:, :2]
            low = flat.min(0) - assembly_sheets.AROUND * np.ptp(flat, 0).max()
            views.append((picture, camera, low))
        for n, (end, dotted) in _balloons(sheet.view).items():
            item, tried = rows[n - 1].item, []
            for picture, camera, low in views:
                inside = box(0, 0, picture.width_mm, picture.height_mm).contains(
                    Point(end[0] - picture.x, end[1] - picture.y)
                )
                if dotted and inside:
                    for du, dv in ((0, 0), (NEAR_MM, 0), (-NEAR_MM, 0), (0, NEAR_MM), (0, -NEAR_MM)):
                        u, v = low + np.subtract(end, (picture.x - du, picture.y - dv)) / sheet.scale
                        tried.append(kernel.first(u * camera.right + v * camera.up, camera.forward))
                elif not dotted:
                    own = np.concatenate([assembly_sheets.triangles(m.form) for m in metal if m.number == n])
                    some = own.mean(1)[np.linspace(0, len(own) - 1, TRIED).astype(int)]
                    tried += [kernel.first(q, camera.forward) for q in some]
            met = [_item(layout, rows, *first) == item for first in tried]
            if dotted:
                assert len(met) == 5 and all(met), (title, n, item, [p and p.name for p, _ in tried])
            else:
                assert met and sum(met) <= 0.1 * len(met), (title, n, item)


@CORNERS
def test_lines_do_not_cross_and_run_over_no_word(name, mirrored):
    for sheet in _made(name, mirrored)[2]:
        lines = [
            LineString(i.points)
            for i in sheet.view.items
            if isinstance(i, Drawn) and not i.closed and i.pen.grey == 0.0
        ]
        # where one part is within another, both hidden, their lines end at one point
        ends = [Point(a.coords[-1]).buffer(1e-6) for a in lines]
        short = [a.difference(end) for a, end in zip(lines, ends, strict=True)]
        assert not [1 for a, b in combinations(short, 2) if a.intersects(b)], sheet.title
        dotted = {end for end, dot in _balloons(sheet.view).values() if dot}
        near = [
            b
            for a, b in permutations(lines, 2)
            if b.coords[-1] in dotted and a.distance(Point(b.coords[-1])) < 1
        ]
        assert not near, sheet.title
        words = [box(*Drawing([i]).bounds) for i in sheet.view.items if isinstance(i, Text)]
        assert not [1 for a in lines for w in words if a.intersects(w)], sheet.title
        dashed = len(_balloons(sheet.view)) > len(dotted)
        assert dashed == any("dashed" in note for note in sheet.notes), sheet.title
        page = part_sheets.page(sheet, "job", Printing())
        assert page.bounds[0] >= 9.9 and page.bounds[1] >= 9.9 and page.bounds[2] <= 200.1
        low = min(i.y for i in page.items if isinstance(i, Text) and i.words in sheet.notes)
        assert low > part_sheets.BORDER_MM + part_sheets.BLOCK_MM, sheet.title


def test_every_part_to_make_has_its_number_on_an_assembly_drawing():
    """The rows of plate, tube and bar that are no frame and no spacer: each in just one table, each balloon
    with a row beside it; numbers are places in the cut list."""
    _, rows, made = _made("heronbank-front", False)
    titles = ["rocker", "sleeve", "upper arm", "lower arm", "pull rod", "the corner"]
    assert [s.title.split(",")[0] for s in made] == titles
    told = []
    for s in made:
        cells = [pair for r in s.tables[1:] for pair in (r[:2], r[2:]) if any(pair)]
        for n, item in cells:
            assert rows[int(n) - 1].item == item
        assert {*_balloons(s.view)} == {int(n) for n, _ in cells}
        told += [int(n) for n, _ in cells]
    assert len(told) == len(set(told))
    wanted = {
        n
        for n, r in enumerate(rows, 1)
        if r.group in ("plate", "tube", "bar") and not r.of_the_frame and " bored " not in r.stock
    }
    assert not {rows[n - 1].item for n in wanted - set(told)}


def test_what_the_usual_picture_hides_has_its_number_in_a_second():
    """The rocker's second strip is behind the plate, of which a bolt's hole shows it: its line ends in the
    picture from the other side, and no line to what the first one shows well."""
    _, rows, (rocker, *_) = _made("heronbank-front", False)
    upper, lower = (i for i in rocker.view.items if isinstance(i, Picture))
    below = {rows[n - 1].item for n, (end, _) in _balloons(rocker.view).items() if end[1] < upper.y}
    assert "rocker box strip 2" in below and not below & {"rocker plate", "rocker box strip 1"}
    assert lower.y + lower.height_mm < upper.y
