"""From a nest to cuts: order, leads and what they burn, compensation, drawing. Checked with a general
geometry library.

The nests here are laid by hand: nothing of the search takes part."""

import math
from dataclasses import replace

import demos
import ezdxf
import numpy as np
import pytest
import shapely
from dxf_shapes import shapes
from shapely import LineString, Point, Polygon

from assemblies.nesting.cutting import plan
from assemblies.nesting.drawing import write
from assemblies.nesting.labels import fitted, roomiest
from assemblies.nesting.model import Blank, Nest, NestError, Placement, Remnant, Rules, remnant_of
from assemblies.study import study
from parts.files.dxf import BlankError, read_sheet
from parts.shape.outline import Hole, Mark, Outline, circle, rectangle, rounded

KERF = 1.5


def laid(remnant: Remnant, *placed: tuple[Blank, float, float, float], rules: Rules = Rules()) -> Nest:  # noqa: B008 - frozen
    seen, out = {}, []
    for blank, x, y, turn in placed:
        seen[blank.name] = seen.get(blank.name, 0) + 1
        out.append((blank, seen[blank.name], x, y, turn))
    counted = {b.name: replace(b, count=seen[b.name]) for b, *_ in placed}
    return Nest(
        tuple(Placement(counted[b.name], copy, remnant, turn, x, y) for b, copy, x, y, turn in out),
        (),
        (),
        (remnant,),
        rules,
        1,
    )


def plate_with_window() -> Outline:
    """160 x 120 with a window of 100 x 60, a vent and a hole to drill."""
    window = rectangle(30, 30, 130, 90, 8).reversed()
    return Outline(
        rectangle(0, 0, 160, 120, 10),
        (window,),
        (Hole(15, 105, 16, "vent", "vent"), Hole(145, 105, 10, "bolt", "clearance")),
    )


SMALL = Outline(
    rectangle(0, 0, 40, 20),
    (),
    (Hole(20, 10, 10, "vent", "vent"),),
    (Mark("line", ((20.0, 0.0), (20.0, 20.0))),),
)
BIG, LITTLE = Blank("frame", plate_with_window()), Blank("tab", SMALL)
SHEET = remnant_of(
    [(0, 0), (300, 0), (300, 160), (0, 160)],
    [((250, 120), 40)],
    name="offcut",
    torch_edges=(1,),
    keep_outs=(rectangle(200, 5, 235, 30),),
)
NESTED = laid(SHEET, (BIG, 10, 20, 0), (LITTLE, 60, 56, 0), (LITTLE, 190, 60, 30), (LITTLE, 60, 84, 0))


def metal_of(nest: Nest) -> dict[str, Polygon]:
    return {
        p.label: Polygon(
            p.outline.outer.points(0.002),
            [w.points(0.002) for w in p.outline.inner]
            + [
                list(Point(h.x, h.y).buffer(h.diameter_mm / 2, 128).exterior.coords)
                for h in p.outline.holes
                if h.fit == "vent"
            ],
        )
        for p in nest.placements
    }


def test_order_is_from_inside_out():
    """Whatever lies within a path is cut before that path (shapely, contains)."""
    cuts = plan(NESTED, SHEET).cuts
    areas = [Polygon(c.path.points(0.01)) for c in cuts]
    inside = [
        (i, j) for i in range(len(cuts)) for j in range(len(cuts)) if i != j and areas[j].contains(areas[i])
    ]
    assert len(inside) > 8 and all(i < j for i, j in inside)
    assert [c.number for c in cuts] == list(range(1, len(cuts) + 1))
    # the tabs in the window come before the window, the window before the frame's outside
    labels = [(c.label, c.what) for c in cuts]
    assert (
        labels.index(("tab 1/3", "outside"))
        < labels.index(("frame 1/1", "window"))
        < labels.index(("frame 1/1", "outside"))
    )


@pytest.mark.parametrize("compensation", [False, True])
def test_what_a_lead_burns_touches_no_metal_hole_edge_or_keep_out(compensation):
    """Blow-out three kerfs wide, lead one kerf wide, ending at the tool's path; clear of every true blank."""
    p = plan(NESTED, SHEET, compensation=compensation)
    assert not p.without_lead
    plate = (
        Polygon(SHEET.outline.points(0.01)) - Point(250, 120).buffer(20, 64) - shapely.box(200, 5, 235, 30)
    )
    for c in p.cuts:
        stand_off = 0.0 if compensation else KERF / 2
        k = stand_off / math.dist(c.pierce, c.entry)
        end = tuple(e + k * (q - e) for e, q in zip(c.entry, c.pierce, strict=True))
        burnt = Point(c.pierce).buffer(1.5 * KERF - 0.01, 64) | LineString([c.pierce, end]).buffer(
            KERF / 2 - 0.02, 64
        )
        assert plate.contains(burnt), c
        assert not any(m.intersects(burnt) for m in metal_of(NESTED).values()), c
        line = LineString([*c.path.points(0.001), c.path.points(0.001)[0]])
        assert line.distance(Point(c.entry)) < 0.002
        if c.what != "outside":
            assert Polygon(c.path.points(0.001)).contains(Point(c.pierce)), c
    dots = [c.pierce for c in p.cuts]
    assert min(math.dist(a, b) for i, a in enumerate(dots) for b in dots[:i]) > 3 * KERF


def test_where_no_lead_fits_it_is_said(tmp_path):
    """A hole of 4 mm has no room for a blow-out of 4.5; squares 2.5 mm apart on all sides leave none for the
    inner one either."""
    tight = Blank("plate", Outline(rectangle(0, 0, 60, 60), (), (Hole(30, 30, 4, "vent", "vent"),)))
    nest = laid(remnant_of([(0, 0), (300, 0), (300, 100), (0, 100)], name="sheet"), (tight, 10, 10, 0))
    p = plan(nest, nest.remnants[0])
    assert [c.what for c in p.without_lead] == ["hole"]
    write(tmp_path / "a.dxf", nest, p)
    texts = read_sheet(tmp_path / "a.dxf", ("CUT", "MARK", "LEAD", "REMNANT", "NOTES"))[1]["NOTES"].texts
    assert any("no room for a lead: cut 1" in t for t in texts)

    square = Blank("square", Outline(rectangle(0, 0, 40, 40)))
    close = Rules(spacing_mm=2.5, edge_mm=5)
    grid = laid(
        remnant_of([(0, 0), (140, 0), (140, 140), (0, 140)], name="sheet"),
        *[(square, 5 + 42.5 * i, 5 + 42.5 * j, 0) for i in range(3) for j in range(3)],
        rules=close,
    )
    bare = plan(grid, grid.remnants[0]).without_lead
    assert "square 5/9" in [c.label for c in bare]


def test_a_small_window_gets_a_short_lead():
    """A window of 7 x 7: the lead and the blow-out's 2.25 mm must lie in it, so no lead of 5 does (closed
    form)."""
    small = Blank(
        "plate",
        Outline(
            rectangle(0, 0, 120, 60), (rounded([(20, 26), (27, 26), (27, 33), (20, 33)], 2.0).reversed(),)
        ),
    )
    nest = laid(remnant_of([(0, 0), (200, 0), (200, 100), (0, 100)], name="sheet"), (small, 20, 20, 0))
    window = next(c for c in plan(nest, nest.remnants[0]).cuts if c.what == "window")
    assert 2 * KERF - 1e-9 <= math.dist(window.pierce, window.entry) < 5


@pytest.mark.parametrize("half", [0.1, 0.75, 1.5])
def test_compensation_is_the_offset_of_a_general_geometry_library(half):
    """Outsides grow and holes shrink by half a kerf, re-entrant corners and hollow arcs included: shapely's
    buffer."""
    corner = Outline(
        rounded([(0, 0), (90, 0), (90, 30), (40, 30), (40, 80), (0, 80)], 0.0),
        (rectangle(8, 8, 32, 24, 3).reversed(),),
        (Hole(20, 60, 14, "vent", "vent"),),
    )
    nest = laid(
        remnant_of([(0, 0), (200, 0), (200, 120), (0, 120)], name="sheet"),
        (Blank("corner", corner), 15, 15, 20),
        rules=Rules(kerf_mm=2 * half),
    )
    for c in plan(nest, nest.remnants[0], compensation=True, leads=False).cuts:
        o = nest.placements[0].outline
        old = {"outside": o.outer, "window": o.inner[0], "hole": circle(o.holes[0].x, o.holes[0].y, 14)}[
            c.what
        ]
        wanted = Polygon(old.points(1e-4)).buffer(half if c.what == "outside" else -half, quad_segs=200)
        got = Polygon(c.path.points(1e-4))
        assert got.symmetric_difference(wanted).area < 2e-3 * half * wanted.length, c.what
        assert got.area == pytest.approx(wanted.area, rel=2e-5)


DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")


@pytest.mark.slow
@pytest.mark.parametrize(
    "demo, change", [*((d, {}) for d in DEMOS), ("heronbank-front", {"upper_arm.bracket_thickness": 3})]
)
def test_every_blank_of_the_demos_takes_the_compensation(demo, change):
    """Tabs of 3 mm have slivers of 0.03 mm beside their copes; shapely's buffer, and the part lies within its
    path."""

    from assemblies.making.nest_job import blanks_of

    done = demos.corner(demo)
    layout = (study(done.job.changed(change), interference=False) if change else done).layout
    for b in blanks_of(layout):
        if change and not b.name.startswith("upper arm"):
            continue
        x0, y0, x1, y1 = b.outline.bounds
        sheet = remnant_of(
            [(x0 - 20, y0 - 20), (x1 + 20, y0 - 20), (x1 + 20, y1 + 20), (x0 - 20, y1 + 20)],
            name="sheet",
            thickness_mm=b.thickness_mm,
            material=b.material,
        )
        nest = laid(sheet, (b, 0, 0, 0))
        p = plan(nest, sheet, compensation=True, smallest_hole_mm=2 * b.thickness_mm)
        got = Polygon(p.cuts[-1].path.points(0.001))
        wanted = Polygon(b.outline.outer.points(0.001)).buffer(KERF / 2, quad_segs=200)
        assert got.symmetric_difference(wanted).area < 0.01 * wanted.length / 10
        assert got.contains(Polygon(b.outline.outer.points(0.001)))
        assert not p.without_lead and not p.left_mm


def test_metal_a_thick_cut_leaves_in_corners_is_told():
    """A cut 3 mm wide: (√2 - 1)·(1.5 - 1) left in a window's square corners of radius 1, (√2 - 1)·1.5 in an
    outside's sharp hollow."""
    window = Blank("socket", Outline(rectangle(0, 0, 60, 50), (rectangle(15, 15, 45, 35, 1).reversed(),)))
    angle = Blank("angle", Outline(rounded([(0, 0), (60, 0), (60, 20), (20, 20), (20, 60), (0, 60)])))
    sheet = remnant_of([(0, 0), (200, 0), (200, 100), (0, 100)], name="sheet")
    p = plan(
        laid(sheet, (window, 10, 10, 0), (angle, 100, 10, 0), (LITTLE, 10, 70, 0), rules=Rules(kerf_mm=3)),
        sheet,
        compensation=True,
        leads=False,
    )
    assert p.left_mm == pytest.approx(
        {"socket": (math.sqrt(2) - 1) * 0.5, "angle": (math.sqrt(2) - 1) * 1.5}, abs=1e-9
    )


def test_compensation_that_finds_no_room_is_refused():
    tight = Blank("plate", Outline(rectangle(0, 0, 60, 60), (), (Hole(30, 30, 1.4, "vent", "vent"),)))
    sheet = remnant_of([(0, 0), (100, 0), (100, 100), (0, 100)], name="sheet")
    with pytest.raises(NestError, match=r"plate 1/1: hole 'vent' of 1.4 mm is not larger than the kerf"):
        plan(laid(sheet, (tight, 10, 10, 0)), sheet, compensation=True)
    with pytest.raises(NestError, match="kerf_mm is 0"):
        plan(laid(sheet, (LITTLE, 10, 10, 0), rules=Rules(kerf_mm=0)), sheet, compensation=True)


def test_no_kerf_and_a_fine_one_still_find_leads():
    for kerf in (0.0, 0.2):
        assert not plan(replace(NESTED, rules=Rules(kerf_mm=kerf)), SHEET).without_lead


# ------------------------------------------------------------------------------------------------ drawing


def test_the_drawing_read_by_another_library(tmp_path):
    """ezdxf and shapely on the file alone: layers, areas, nothing overlaps, spacing held, leads where the
    plan has them."""
    p = plan(NESTED, SHEET)
    file = write(tmp_path / "a.dxf", NESTED, p)
    write(tmp_path / "b.dxf", NESTED, p)
    assert (tmp_path / "a.dxf").read_bytes() == (tmp_path / "b.dxf").read_bytes()
    space = ezdxf.readfile(tmp_path / "a.dxf").modelspace()
    assert {e.dxf.layer for e in space} == {"CUT", "MARK", "LEAD", "REMNANT", "NOTES"}
    cut = shapes(tmp_path / "a.dxf", "CUT")
    assert len(cut) == len(p.cuts) == file.loops == 9
    for shape, c in zip(cut, p.cuts, strict=True):  # in the order of cutting
        assert shape.symmetric_difference(Polygon(c.path.points(0.001))).area < 0.01 * shape.length
    assert sum(a.area for a in cut) == pytest.approx(file.cut_area_mm2, rel=1e-5)
    sheet = shapes(tmp_path / "a.dxf", "REMNANT")
    assert len(sheet) == 3 and max(s.area for s in sheet) == 300 * 160
    leads = [
        ((e.dxf.start.x, e.dxf.start.y), (e.dxf.end.x, e.dxf.end.y))
        for e in space.query('LINE[layer=="LEAD"]')
    ]
    assert np.allclose(leads, [(c.pierce, c.entry) for c in p.cuts], atol=1e-9)
    folds = [
        e for e in space.query('LINE[layer=="MARK"]') if abs(e.dxf.start.distance(e.dxf.end) - 20) < 1e-9
    ]
    assert len(folds) == 3  # one a tab, turned with it
    assert len(space.query("POINT")) == 1  # the bolt hole of the frame, drilled


def test_names_lie_inside_their_blanks(tmp_path):
    """Each line of a name, taken as wide as plain lettering is, stays in the metal."""
    p = plan(NESTED, SHEET)
    write(tmp_path / "a.dxf", NESTED, p)
    space = ezdxf.readfile(tmp_path / "a.dxf").modelspace()
    metal = shapely.unary_union(list(metal_of(NESTED).values()))
    names = [
        e
        for e in space.query("TEXT")
        if e.dxf.text in ("tab", "frame") or e.dxf.text.split()[0] in ("tab", "frame")
    ]
    assert len(names) >= 4
    for e in names:
        (x, y, _), high = e.dxf.align_point, e.dxf.height
        wide = 0.8 * high * len(e.dxf.text)
        assert metal.contains(shapely.box(x - wide / 2, y - high / 2, x + wide / 2, y + high / 2)), e.dxf.text


def test_the_roomiest_spot_and_a_fitted_name():
    """Largest disc in a rectangle of 40 x 20 with a hole of 10 in its middle and a fold there: in one half,
    radius under 10."""
    x, y, r = roomiest(NESTED.placements[1])
    assert 7 < r < 10 and metal_of(NESTED)["tab 1/3"].buffer(0.05).contains(Point(x, y).buffer(r))
    lines, height = fitted("upper arm front bracket tab 1 right", 17)
    assert " ".join(lines) == "upper arm front bracket tab 1 right" and len(lines) > 1
    assert math.hypot(0.8 * height * max(map(len, lines)), 1.5 * height * len(lines)) <= 34 + 1e-9


def test_a_drawing_that_reads_back_wrong_leaves_no_file(tmp_path, monkeypatch):
    from parts.files import dxf

    real = dxf._draw

    def draw(drawing):
        document = real(drawing)
        next(iter(document.modelspace().query('LINE[layer=="LEAD"]'))).dxf.end = (0, 0)
        return document

    monkeypatch.setattr(dxf, "_draw", draw)
    with pytest.raises(BlankError, match=r"lines .* mm long, not"):
        write(tmp_path / "a.dxf", NESTED, plan(NESTED, SHEET))
    assert not list(tmp_path.iterdir())


def test_picture_holds_its_key(tmp_path):
    from assemblies.nesting.picture import letter, save

    assert save(tmp_path / "a.png", NESTED, SHEET, plan(NESTED, SHEET)).stat().st_size > 20_000
    assert [letter(n) for n in (0, 25, 26, 27, 52)] == ["A", "Z", "AA", "AB", "BA"]


def test_a_drawing_of_a_plate_whose_blanks_overlap_is_refused(tmp_path):
    blank = Blank("b", Outline(rectangle(0, 0, 50, 30)), 2)
    sheet = remnant_of([(0, 0), (400, 0), (400, 300), (0, 300)], name="p")
    spots = tuple(Placement(blank, k, sheet, 0.0, 100.0 + 10.0 * k, 100.0) for k in (1, 2))
    nest = Nest(spots, (), (), (sheet,), Rules(), 1, False)
    with pytest.raises(NestError, match="overlap"):
        write(tmp_path / "p.dxf", nest, plan(nest, sheet))
    assert not [*tmp_path.iterdir()]
