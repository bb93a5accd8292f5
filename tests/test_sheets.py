"""Shop sheets: true to size in pixels, holes, bolts, jigs, weld plan, cut list and masses, each against
another route."""

import atexit
import csv
import ctypes
import math
import random
import re
import xml.etree.ElementTree as ET
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from shutil import rmtree
from tempfile import mkdtemp

import demos
import numpy as np
import pypdf
import pypdfium2
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Polygon

from assemblies.layout.fasteners import BoltedJoint, Layer, fastener
from assemblies.layout.placing import FlatPart
from assemblies.making import sheets
from assemblies.making.holes import smallest_hole_mm
from assemblies.making.sheets import (
    cut_list,
    cut_list_line,
    frame_sheets,
    jigs,
    letters,
    made_rows,
    masses,
    mount_jigs,
    on_frame,
    paper,
    part_sheets,
    spring_line,
    stock_sheets,
    template,
    tube_strips,
    turned,
    weld_plan,
    weldments,
)
from assemblies.making.sheets.blank import blank_sheets, counted, steps
from assemblies.making.sheets.book import Book
from assemblies.making.sheets.drawing import Drawing, Text, to_svg
from assemblies.making.sheets.drawing import Path as Drawn
from assemblies.making.sheets.paper import PAPERS, Printing, Sheet, SheetError
from parts.base.stock import DENSITY_KG_M3, DRILLS_MM, THREADS, WASHERS, hexagon, thread, washer
from parts.box_strip import BoxStrip
from parts.shape.belt import Boss, belt
from parts.shape.outline import Hole, Outline, Segment, circle, rectangle

JOBS = sorted((Path(__file__).parent.parent / "assemblies" / "jobs").glob("*.toml"))
DPI = 600
PX = DPI / 25.4
TRUE_MM = 0.1


@pytest.fixture(scope="module", autouse=True)
def fonts_of_a_build():
    """Wider than the standard ones."""
    with letters.letters(()):
        yield


@pytest.fixture(
    scope="module",
    params=[pytest.param(j, marks=() if j.stem == "heronbank-front" else pytest.mark.slow) for j in JOBS],
    ids=lambda p: p.stem,
)
def corner(request):
    return _made(request.param.stem)


@pytest.fixture(scope="module")
def heron():
    return _made("heronbank-front")


@cache
def _made(name):
    """Once in a process: the tests come in any order."""
    done = demos.corner(name)
    return done, _shop(done)


@cache
def _written(name):
    """The sheets of a demo on the disk, to read only."""
    folder = Path(mkdtemp())
    atexit.register(rmtree, folder, ignore_errors=True)
    done, shop = _made(name)
    sheets.write(shop, done.layout, folder)
    return folder


def _shop(done):
    return sheets.work_out(
        done.layout, done.springing, lambda flat: smallest_hole_mm(done.job, flat.thickness_mm), False
    )


# ------------------------------------------------------------ true to size


def _pixels(file: Path, page: int) -> np.ndarray:
    """A page's darkness at 600 dpi, 0 white to 255 black, row 0 at the top."""
    document = pypdfium2.PdfDocument(str(file))
    try:
        return 255 - document[page].render(scale=DPI / 72, grayscale=True).to_numpy().squeeze()
    finally:
        document.close()


def _strokes(line: np.ndarray) -> np.ndarray:
    """Middles, in mm, of the dark stretches along a line of pixels (grey lines do not count)."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], (line > 170).astype(int), [0]))))
    return (edges[::2] + edges[1::2]) / 2 / PX


def _bars_mm(ink: np.ndarray, scale_x: float = 1.0, scale_y: float = 1.0) -> tuple[float, float]:
    """Length of the level and the upright bar between the middles of their end ticks, which alone reach 2 mm
    from the bar."""
    height = ink.shape[0] / PX
    row = ink[round((height - (paper.MARGIN_MM + 7 - 1.7) * scale_y) * PX)]
    level = _strokes(row)
    column = ink[:, round((paper.MARGIN_MM + 3 + 1.7) * scale_x * PX)]
    upright = [y for y in _strokes(column) if y < height - (paper.MARGIN_MM + paper.FOOT_MM - 2) * scale_y]
    return level[-1] - level[0], upright[-1] - upright[0]


@pytest.mark.parametrize("name", PAPERS)
def test_check_bars_measure_true_on_every_page(tmp_path, name):
    """Rendered by pdfium at 600 dpi; two pages of tiles and one of a small part."""
    printing = Printing(name)
    big, small = (Sheet("big", "", Drawing()), Sheet("small", "", Drawing()))
    big.drawing.loop(rectangle(0, 0, 1.2 * printing.window[2], 100))
    small.drawing.loop(circle(0, 0, 50))
    paper.write_pdf(tmp_path / "a.pdf", [big, small], printing, "t")
    wanted = printing.bars_mm
    assert max(wanted) == 200 and min(wanted) >= 160
    assert len(pypdf.PdfReader(tmp_path / "a.pdf").pages) == 4
    for n in range(4):
        ink = _pixels(tmp_path / "a.pdf", n)
        assert ink.shape[1] / PX == pytest.approx(PAPERS[name][0], abs=0.05)
        assert _bars_mm(ink) == pytest.approx(wanted, abs=TRUE_MM)


def test_a_corrected_page_is_drawn_larger_by_the_factor(tmp_path):
    printing = Printing("A4", 1.01, 0.992)
    sheet = Sheet("s", "", Drawing())
    sheet.drawing.loop(rectangle(0, 0, 120, 80))
    paper.write_pdf(tmp_path / "a.pdf", [sheet], printing, "t")
    ink = _pixels(tmp_path / "a.pdf", 0)
    x0, y0, w, h = printing.window
    assert _bars_mm(ink, 1.01, 0.992) == pytest.approx(
        (printing.bars_mm[0] * 1.01, printing.bars_mm[1] * 0.992), abs=TRUE_MM
    )
    room = ink[: round(ink.shape[0] - (y0 + 5) * 0.992 * PX), round((x0 + 5) * 1.01 * PX) :] > 170
    for axis, size in ((0, 120 * 1.01), (1, 80 * 0.992)):
        inked = np.flatnonzero(room.any(axis=axis))
        assert (inked[-1] - inked[0] + 1) / PX - 0.2 == pytest.approx(size, abs=TRUE_MM), (
            "outer edges less the pen's width"
        )
    assert w == pytest.approx(210 / 1.01 - x0 - 10) and h == pytest.approx(297 / 0.992 - y0 - 10)


@pytest.mark.slow
def test_the_rocker_plate_is_printed_where_its_outline_is(tmp_path, heron):
    """40 lines of pixels across the page, their crossings with the outline worked out by shapely."""
    _, shop = heron
    blank = next(b for b in shop.blanks if b.part == "rocker plate" and b.hand == "right")
    sheet = template.sheet(blank)
    printing = Printing()
    (page,) = paper.pages(sheet, printing)
    paper.write_pdf(tmp_path / "a.pdf", [sheet], printing, "t")
    ink = _pixels(tmp_path / "a.pdf", 0)
    height = ink.shape[0] / PX
    dx, dy = (
        (page.drawing.items[-1].start[i] - sheet.drawing.items[-1].start[i] for i in (0, 1))
        if isinstance(sheet.drawing.items[-1], Drawn)
        else (
            page.drawing.items[-1].x - sheet.drawing.items[-1].x,
            page.drawing.items[-1].y - sheet.drawing.items[-1].y,
        )
    )
    edge = Polygon(blank.outline.outer.points(0.001)).exterior
    x0, y0, x1, y1 = blank.outline.bounds
    seen = 0
    for k in range(20):
        share = (k + 0.5) / 20
        y, x = y0 + share * (y1 - y0), x0 + share * (x1 - x0)
        for cut, axis in (
            (LineString([(x0 - 9, y), (x1 + 9, y)]), 0),
            (LineString([(x, y0 - 9), (x, y1 + 9)]), 1),
        ):
            line = (
                ink[round((height - y - dy) * PX - 0.5)] if axis == 0 else ink[:, round((x + dx) * PX - 0.5)]
            )
            found = _strokes(line)
            for p in getattr(edge.intersection(cut), "geoms", [edge.intersection(cut)]):
                if (
                    min(_slope(edge, p, axis)) < 0.3
                ):  # nearly along the edge: the line meets it over millimetres
                    continue
                want = p.x + dx if axis == 0 else height - p.y - dy
                assert np.abs(found - want).min() < TRUE_MM, (axis, x, y, want)
                seen += 1
    assert seen > 50


def _slope(edge, p, axis: int) -> tuple[float]:
    """Sine of the angle between the edge at `p` and the line of pixels."""
    a, b = (edge.interpolate(edge.project(p) + d) for d in (-0.05, 0.05))
    run = (b.x - a.x, b.y - a.y)
    return (abs(run[1 - axis]) / math.hypot(*run),)


def test_hole_crosses_leave_their_centre_open(tmp_path, heron):
    """Paper stays white within 0.5 mm of a drilled hole's centre, and ink stands to all four sides of it."""
    _, shop = heron
    blank = next(b for b in shop.blanks if b.part == "rocker plate" and b.hand == "left")
    sheet = template.sheet(blank)
    (page,) = paper.pages(sheet, Printing())
    paper.write_pdf(tmp_path / "a.pdf", [sheet], Printing(), "t")
    ink = _pixels(tmp_path / "a.pdf", 0)
    first = next(i for i, item in enumerate(sheet.drawing.items) if isinstance(item, Drawn))
    dx, dy = (page.drawing.items[first].start[i] - sheet.drawing.items[first].start[i] for i in (0, 1))
    for hole in (h for h in blank.outline.holes if h.fit == "reamed"):
        col, row = (hole.x + dx) * PX, ink.shape[0] - (hole.y + dy) * PX
        r = round(0.5 * PX)
        assert ink[round(row) - r : round(row) + r, round(col) - r : round(col) + r].max() < 60
        reach = round((hole.diameter_mm / 2 + 1) * PX)
        for sx, sy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
            at = (round(row + sy * reach), round(col + sx * reach))
            assert ink[at[0] - 2 : at[0] + 3, at[1] - 2 : at[1] + 3].max() > 170
        assert np.abs(_strokes(ink[:, round(col + 3 * PX)]) - row / PX).min() < TRUE_MM


@pytest.mark.parametrize("radius", [5.0, 60.0, 900.0])
def test_arcs_leave_as_bezier_curves_within_five_thousandths(radius):
    """Read back from the SVG's own path and evaluated by Bernstein polynomials: distance from the arc's
    centre."""
    d = Drawing()
    d.loop(belt([Boss(0, 0, radius), Boss(3 * radius, 0.3 * radius, radius / 2)]))
    root = ET.fromstring(to_svg(d, "arc").encode())
    path = next(e for e in root if e.tag.endswith("path")).attrib["d"]
    view = [float(v) for v in root.attrib["viewBox"].split()]
    assert root.attrib["width"] == f"{view[2]:.4f}mm" and root.attrib["height"] == f"{view[3]:.4f}mm"
    left, top = d.bounds[0] - 5, d.bounds[3] + 5
    t = np.linspace(0, 1, 101)[:, None]
    weights = np.hstack([(1 - t) ** 3, 3 * t * (1 - t) ** 2, 3 * t**2 * (1 - t), t**3])
    here, seen = None, 0
    for kind, body in re.findall(r"([MLC])([^MLCZ]*)", path):
        points = np.array(body.split(), float).reshape(-1, 2) * (1, -1) + (left, top)
        if kind == "C":
            on = weights @ np.vstack([here, points])
            off = np.minimum(
                abs(np.hypot(*on.T) - radius),
                abs(np.hypot(*(on - (3 * radius, 0.3 * radius)).T) - radius / 2),
            )
            assert off.max() < 0.005
            seen += 1
        here = points[-1]
    assert seen >= 4


def test_tiles_cover_the_drawing_and_their_crosses_fall_on_each_other():
    sheet = Sheet("big", "", Drawing())
    sheet.drawing.loop(rectangle(-10, 5, 490, 605))
    printing = Printing()
    x0, y0, w, h = printing.window
    first, *tiles = paper.pages(sheet, printing)
    assert first.what == "page map" and len(tiles) == 9
    n = len(sheet.drawing.items)
    boxes, crosses = [], {}
    for t in tiles:
        ox, oy = (t.drawing.items[0].start[i] - sheet.drawing.items[0].start[i] for i in (0, 1))
        boxes.append(
            Polygon([(x - ox, y - oy) for x, y in ((x0, y0), (x0 + w, y0), (x0 + w, y0 + h), (x0, y0 + h))])
        )
        extra = t.drawing.items[n:]
        for four, label in ((extra[i : i + 4], extra[i + 4]) for i in range(0, len(extra), 5)):
            centre = np.mean([s.points for s in four], axis=(0, 1)) - (ox, oy)
            crosses.setdefault(label.words, []).append(tuple(np.round(centre, 6)))
    union = boxes[0]
    for b in boxes[1:]:
        union = union.union(b)
    assert union.contains(Polygon([(-10, 5), (490, 5), (490, 605), (-10, 605)]))
    assert len(crosses) == 12  # 6 joints side by side and 6 above each other
    for places in crosses.values():
        assert len(places) == 4 and len(set(places)) == 2, (
            "each cross is on both sheets, at the same place of the drawing"
        )


@pytest.mark.slow
def test_every_page_says_how_to_prove_it(heron):
    (_, shop), tmp_path = heron, _written("heronbank-front")
    reader = pypdf.PdfReader(tmp_path / "templates.pdf")
    for page in reader.pages:
        words = page.extract_text()
        assert (
            words.count("measured") >= 3
            and "nominal 200 mm" in words
            and "nominal 180 mm" in words
            and "100 %" in words
        )
    titles = [o["/Title"] for o in reader.outline]
    assert len(titles) == len(shop.blanks) + len(shop.jigs) + 2  # the weld plan and the rod lug's strips


@pytest.mark.slow
def test_no_ink_outside_the_printable_area():
    tmp_path = _written("heronbank-front")
    document = pypdfium2.PdfDocument(str(tmp_path / "templates.pdf"))
    for page in document:
        ink = 255 - page.render(scale=100 / 72, grayscale=True).to_numpy().squeeze()
        edge = round(8.5 * 100 / 25.4)  # 10 mm margin, less the turned words beside the upright bar
        assert (
            not ink[:edge].any()
            and not ink[-edge:].any()
            and not ink[:, -edge:].any()
            and not ink[:, : round(6 * 100 / 25.4)].any()
        )
    document.close()


def test_no_title_or_line_under_it_leaves_the_page(corner):
    """With the longest subtitles there are."""
    _, shop = corner
    printing = Printing(dated="2026-11-29")
    some = [*map(template.sheet, shop.blanks), *map(jigs.sheet, shop.jigs)]
    some.append(Sheet("long", "a subtitle of many words, and a few more - " * 4, Drawing()))
    for sheet in some:
        frame = paper.frame(paper.Page(sheet, Drawing()), printing, 10, 39)
        words = [i for i in frame.items if isinstance(i, Text)]
        boxes = [Drawing([w]).bounds for w in words]
        assert max(b[2] for b in boxes) <= 200.1 and min(b[1] for b in boxes) >= 8.5, sheet.title
        tree = shapely.STRtree(shapes := [shapely.box(*b).buffer(-0.3) for b in boxes])
        a, b = tree.query(shapes, predicate="intersects")
        assert not (a < b).any(), (sheet.title, [words[k].words for k in {*a[a < b], *b[a < b]}])
        said = " ".join(w.words for w in words)
        assert "job of 2026-11-29" in said and f"Revision {sheet.revision} (by content). ISO 2768-mK" in said
    plain = Sheet("a", "b", Drawing(), ("c",))
    others = [replace(plain, legend=("d",)), replace(plain, drawing=Drawing().add(Text(0.0, 0.0, "e")))]
    assert len({s.revision for s in (plain, *others)}) == 3
    assert replace(plain, title="a").revision == plain.revision


def test_no_print_is_smaller_than_seven_points():
    """By pdfium, of every sheet that a corner's shop gets: font size times what its page makes of it."""
    files = sorted(_written("heronbank-front").glob("*.pdf"))
    assert len(files) == 5
    for file in files:
        document = pypdfium2.PdfDocument(str(file))
        for page in document:
            for found in page.get_objects(filter=[pypdfium2.raw.FPDF_PAGEOBJ_TEXT], max_depth=3):
                size = ctypes.c_float()
                pypdfium2.raw.FPDFTextObj_GetFontSize(found.raw, ctypes.byref(size))
                m = found.get_matrix()
                assert size.value * math.sqrt(abs(m.a * m.d - m.b * m.c)) >= 7 - 1e-3, file.name
        document.close()


@pytest.mark.slow
def test_the_same_corner_gives_the_same_bytes(tmp_path, heron):
    (done, shop), first = heron, _written("heronbank-front")
    sheets.write(shop, done.layout, tmp_path)
    files = sorted(p.relative_to(tmp_path) for p in tmp_path.rglob("*") if p.is_file())
    assert len(files) > 30
    for f in files:
        assert (tmp_path / f).read_bytes() == (first / f).read_bytes(), f


def test_names_with_marks_of_markup_stay_words(tmp_path):
    flat = FlatPart(
        'plate <b>&"2"',
        Outline(rectangle(0, 0, 30, 20), holes=(Hole(10, 10, 6, "pin <x> & y", "reamed"),)),
        1,
        3.0,
        "S235",
    )
    (blank,) = blank_sheets([flat], "left", lambda _: 6.0, False)
    sheet = template.sheet(blank)
    assert ET.fromstring(to_svg(sheet.drawing, sheet.title).encode())[0].text == sheet.title
    book = Book("a <i> & b")
    book.lines([flat.name])
    book.table(["<u>"], [["<b>" * 90]], (1,))
    assert flat.name in pypdf.PdfReader(book.write(tmp_path / "a.pdf")).pages[0].extract_text()


@pytest.mark.parametrize(
    "bad", [dict(paper="A5"), dict(scale_x=1.06), dict(scale_y=0.9), dict(scale_x=math.nan)]
)
def test_paper_and_scale_out_of_range_are_refused(bad):
    with pytest.raises(SheetError, match=next(iter(bad))):
        Printing(**bad)


# ------------------------------------------------------------------------------------------------ holes


def test_the_other_hands_template_is_its_mirror_image_and_says_so(corner):
    _, shop = corner
    by_part = {}
    for b in shop.blanks:
        by_part.setdefault(b.part, {})[b.hand] = b
    handed = [v for v in by_part.values() if "left" in v]
    assert handed
    for pair in handed:
        left, right = pair["left"], pair["right"]
        wide = left.outline.bounds[2] - left.outline.bounds[0]
        for a, b in zip(left.holes, right.holes, strict=True):
            assert (a.x_mm, a.y_mm) == pytest.approx(
                (wide - b.x_mm, b.y_mm), abs=1e-9
            ) and a.diameter_mm == b.diameter_mm
        for hand, other in (("left", "right"), ("right", "left")):
            words = (
                " ".join(m.text for m in pair[hand].outline.marks) + template.sheet(pair[hand]).title.lower()
            )
            assert other not in words.split()


@given(st.sampled_from([d / 10 for d in range(40, 260, 5)]), st.sampled_from(["reamed", "clearance", "jig"]))
@settings(max_examples=120, deadline=None)
def test_drills_rise_are_stocked_and_leave_the_reamer_its_share(diameter, fit):
    drills, last, limits = steps(diameter, fit, "drill")
    assert all(any(abs(d - s) < 1e-9 for s in DRILLS_MM) for d in drills)
    assert all(a < b <= a + 4.6 for a, b in pairwise(drills))
    if fit == "reamed" and diameter <= 13:
        assert 0.2 - 1e-9 <= diameter - drills[-1] <= 0.3 + 1e-9, (
            "0.2 to 0.3 left at 8 to 12 mm, common practice"
        )
    assert (limits is not None) == (fit == "reamed") and (not limits or "H7" in last)


def test_reamed_limits_are_those_of_the_standard():
    """ISO 286-2, H7: +15 µm at 10, +18 at 16, +21 at 25 mm."""
    for diameter, upper in ((10, 0.015), (16, 0.018), (25, 0.021)):
        assert steps(diameter, "reamed", "drill")[2] == pytest.approx((diameter, diameter + upper), abs=1e-9)


# ------------------------------------------------------------------------------------------------ bolts


def test_shanks_are_those_of_the_standard():
    """ISO 4014 table: least plain shank ls and greatest grip to the thread lg of M8 x 40, M10 x 80, M12 x 90
    (table from memory; lg = l - b, ls = lg - 5P with b = 2d + 6)."""
    for size, stack, length, ls, lg in (
        ("M8", 12, 40, 11.75, 18),
        ("M10", 46, 80, 46.5, 54),
        ("M12", 44, 90, 51.25, 60),
    ):
        plate = 6 if size == "M8" else 3
        layers = (
            (Layer("a", plate, True), Layer("b", stack - 2 * plate, False), Layer("a", plate, True))
            if size != "M8"
            else (Layer("a", 6, True), Layer("b", 6, False))
        )
        f = fastener(BoltedJoint("j", size, layers, (0, 0, 0), "frame"))
        assert (f.length_mm, f.plain_mm, f.length_mm - f.thread_mm) == pytest.approx((length, ls, lg))


@given(st.sampled_from(["M6", "M8", "M10", "M12", "M16"]), st.floats(1, 12), st.floats(5, 60))
@settings(max_examples=200, deadline=None)
def test_plain_shank_spans_the_planes_and_the_nut_still_tightens(size, plate, gap):
    f = fastener(
        BoltedJoint(
            "j",
            size,
            (Layer("p", plate, True), Layer("g", gap, False), Layer("p", plate, True)),
            (0, 0, 0),
            "frame",
        )
    )
    w, nut, pitch = WASHERS[size].thickness_mm, hexagon(size).nut_mm, THREADS[size].pitch_mm
    assert f.plain_mm >= w + plate + gap - 1e-9, "a thread in the far shear plane"
    assert f.length_mm - f.thread_mm <= f.grip_mm + 1e-9, "the nut runs out of thread before it clamps"
    assert f.length_mm >= f.grip_mm + nut + 2 * pitch - 1e-9, "the nut is not filled"
    assert f.grip_mm == pytest.approx(w * f.washers + 2 * plate + gap + f.collar_mm)


def test_no_room_between_the_plates_is_an_error_with_the_number():
    with pytest.raises(ValueError, match="spacer is -2 mm"):
        fastener(
            BoltedJoint(
                "rod to rocker",
                "M10",
                (Layer("plate", 3, True), Layer("spacer", -2, False), Layer("plate", 3, True)),
                (0, 0, 0),
                "rocker",
            )
        )


def test_stacks_of_the_rocker_fill_the_box_and_the_joint_stands_where_the_job_says(corner):
    done, _ = corner
    found = {
        j.name: j
        for j in sheets.fasteners(done.layout)[0] and [f.joint for f in sheets.fasteners(done.layout)[0]]
    }
    job, eyes = done.job, done.layout.eyes
    inside = job.rocker.box_width + 2 * job.rocker.plate_thickness
    for name, eye in (("rod to rocker", job.rod.inboard), ("damper to rocker", job.rocker.damper_eye)):
        j = found[name]
        assert j.stack_mm == pytest.approx(inside)
        # the joint's middle along the axis, from the plates' middle, by the points of the job alone
        axis = np.array(job.rocker.axis) / np.linalg.norm(job.rocker.axis)
        offset = float((np.array(eye) - np.array(job.rod.inboard)) @ axis)
        before = sum(x.thickness_mm for x in j.layers[:2]) + j.layers[2].thickness_mm / 2 - inside / 2
        assert before == pytest.approx(offset * math.copysign(1, axis @ np.array(eyes.frame.z)), abs=1e-6)


# ------------------------------------------------------------ jigs and welds


def _in_plane(job, a, b) -> float:
    """Distance of two points of the car seen along the rocker's axis."""
    axis = np.array(job.rocker.axis) / np.linalg.norm(job.rocker.axis)
    d = np.subtract(a, b)
    return float(np.linalg.norm(d - (d @ axis) * axis))


def test_jig_pins_stand_at_the_finished_eyes_of_the_job(corner):
    done, shop = corner
    job = done.job
    pivot, rod, damper = next(j for j in shop.jigs if j.name == "rocker jig base").pins
    for a, b, p, q in (
        (pivot, rod, job.rocker.pivot, job.rod.inboard),
        (pivot, damper, job.rocker.pivot, job.rocker.damper_eye),
        (rod, damper, job.rod.inboard, job.rocker.damper_eye),
    ):
        assert math.dist((a.x, a.y), (b.x, b.y)) == pytest.approx(_in_plane(job, p, q), abs=1e-6)
    assert (
        rod.diameter_mm <= job.rocker.rod_hole - 0.2
        and rod.height_mm > job.rocker.box_width + 3 * job.rocker.plate_thickness
    )


def test_jig_of_the_mirrored_corner_is_the_mirrored_jig(heron):
    _, shop = heron
    other = jigs.jigs(demos.corner("heronbank-front", True).layout)
    for a, b in zip(shop.jigs[0].pins, other[0].pins, strict=True):
        assert (a.x, a.y) == pytest.approx((-b.x, b.y), abs=1e-6)


def test_shrink_is_only_taken_when_asked_and_only_along_the_arms(heron):
    done, shop = heron
    plain, grown = shop.jigs[0], jigs.jigs(done.layout, shrink_mm=0.5)[0]
    assert any("No shrink" in n for n in plain.notes) and any("0.5 mm" in n for n in grown.notes)
    for a, b in zip(plain.pins[1:], grown.pins[1:], strict=True):
        assert math.hypot(b.x, b.y) - math.hypot(a.x, a.y) == pytest.approx(
            0.5
        ) and a.x * b.y == pytest.approx(a.y * b.x)


def test_toggles_stay_off_every_weld(corner):
    """Distance of the clamp's arm, 20 mm broad, from the welds, by shapely; feet stand off the plate."""
    done, shop = corner
    rocker = done.layout.rocker
    lines = [LineString([*circle(0, 0, rocker.tube.outer_mm).points(0.001), (rocker.tube.outer_mm / 2, 0)])]
    lines += [LineString([s.at(k / 40) for k in range(41)]) for strip in rocker.strips for s in strip.path]
    jig = next(j for j in shop.jigs if j.name == "rocker jig base")
    sign = 1 if abs(jig.pins[1].x - rocker.plate.rod_eye[0]) < 1e-6 else -1
    plate = Polygon(rocker.plate.outer.points(0.01))
    for t in jig.toggles:
        arm = LineString([(sign * t.pad[0], t.pad[1]), (sign * t.foot[0], t.foot[1])])
        assert min(arm.distance(x) for x in lines) - 10.0 == pytest.approx(t.clear_mm, abs=1.0)
        assert t.clear_mm > 0 and plate.distance(LineString([arm.coords[1], arm.coords[1]])) > 20


@pytest.mark.slow
def test_jig_bases_read_back_as_centre_pops_at_the_pins(corner):
    """Read by ezdxf: a point for every pin, every bench hole and every clamp."""
    import ezdxf

    done, shop = corner
    tmp_path = _written(done.job.slug)
    for j in shop.jigs:
        doc = ezdxf.readfile(tmp_path / "jigs" / f"{j.name.replace(' ', '-')}.dxf")
        points = [(p.dxf.location.x, p.dxf.location.y) for p in doc.modelspace().query("POINT")]
        assert doc.units == 4 and len(points) == len(j.outline().holes) + len(j.toggles)
        for pin in j.pins:
            x0, y0 = j.outline().bounds[:2]
            assert min(math.dist((pin.x - x0, pin.y - y0), p) for p in points) < 1e-6
            assert (
                pin.x + pin.spigot_mm / 2 < j.outline().bounds[2]
                and pin.y + pin.spigot_mm / 2 < j.outline().bounds[3]
            )


def test_bracket_jig_keeps_the_ears_apart_as_laid_out_and_ends_before_the_member(corner):
    done, shop = corner
    low, high = (next(p for p in done.layout.placed if p.name == f"damper bracket tab {i}") for i in (1, 2))
    apart = np.linalg.norm(np.subtract(high.frame.origin, low.frame.origin)) - low.part.thickness_mm
    jig = next(j for j in shop.jigs if j.name == "damper bracket jig base")
    assert (
        jig.spacers[0].length_mm == pytest.approx(apart, abs=1e-6)
        and jig.outline().bounds[2] < low.part.reach_mm
    )
    edge = Polygon(low.part.outline().outer.points(0.001)).exterior
    for fence in jig.pins[1:]:
        assert edge.distance(LineString([(fence.x, fence.y)] * 2)) == pytest.approx(
            fence.spigot_mm / 2, abs=0.01
        )


def test_weld_runs_cover_each_seam_once_on_both_plates_and_move_about(corner):
    done, shop = corner
    rocker, plan = done.layout.rocker, shop.welds
    seams = math.pi * rocker.tube.outer_mm + sum(s.length for strip in rocker.strips for s in strip.path)
    assert plan.length_mm == pytest.approx(2 * seams, rel=1e-9)
    assert all(r.length_mm <= 25.0 + 1e-9 for r in plan.runs)
    assert sorted(n for r in plan.runs for n in (r.near, r.far)) == list(range(1, 2 * len(plan.runs) + 1))
    assert all(r.far == r.near + 1 for r in plan.runs)
    assert min(math.dist(a.middle, b.middle) for a, b in pairwise(plan.runs)) > 25.0, (
        "two neighbours in a row"
    )
    rows = weld_plan.rows(plan)
    assert sum(float(r[8]) for r in rows if r[1]) == pytest.approx(plan.length_mm, abs=0.05 * len(rows))


# ------------------------------------------------------------ cut list and masses


def test_cut_list_and_placed_parts_weigh_the_same(corner):
    """Two routes: rows by stock and length, and the parts as placed with their bolts."""
    _, shop = corner
    assert cut_list_line.total_kg(shop.rows) == pytest.approx(shop.masses.total_kg, rel=2e-3)
    assert shop.masses.sprung_kg + shop.masses.unsprung_kg == pytest.approx(shop.masses.total_kg)
    assert len([r for r in shop.rows if "pivot" in r.item and r.group == "bought"]) == 1  # bought once


def test_an_arms_bush_has_a_wall_and_its_sleeve_stands_between_the_tabs(corner):
    """Bolt, sleeve, bush and housing lie in each other with metal between; the sleeve is as long as the tabs
    are apart, as they are placed."""
    done, shop = corner
    for which in ("upper_arm", "lower_arm"):
        bolt, arm = (
            thread(getattr(done.job, which).thread).diameter_mm,
            next(p.part for p in done.layout.placed if p.name == which.replace("_", " ")),
        )
        assert bolt + 4 < arm.bush_bore_mm < arm.housing_bore_mm - 2 < arm.housing_mm - 6
        row = next(r for r in shop.rows if r.item == f"bushes, {which.replace('_', ' ')}")
        assert (
            row.stock
            == f"inside {arm.bush_bore_mm:g}, outside {arm.housing_bore_mm:g}, {arm.housing_length_mm:g} long"
        )
        sleeve = next(
            r
            for r in shop.rows
            if r.item.startswith("inner sleeve") and f"{which.replace('_', ' ')} front" in r.item
        )
        assert sleeve.stock == f"round {arm.bush_bore_mm:g} bored {bolt:g}" and sleeve.section is not None
        low, high = (
            next(
                p for p in done.layout.placed if p.name == f"{which.replace('_', ' ')} front bracket tab {i}"
            )
            for i in (1, 2)
        )
        apart = (
            abs(np.dot(np.subtract(high.frame.origin, low.frame.origin), low.frame.z)) - low.part.thickness_mm
        )
        assert sleeve.length_mm == pytest.approx(apart, abs=1e-6) and apart > arm.housing_length_mm
    thin = [r for r in shop.rows if "spacer" in r.item and (r.length_mm or 0.0) < made_rows.THINNEST_MM]
    assert all(r.length_mm is None and r.section is None and "shim" in r.stock for r in thin)


def test_no_word_on_a_blank_lies_on_a_line(corner):
    """Boxes of the words against every line of the drawing, by shapely; each hole's number is nearer its own
    hole than another."""
    _, shop = corner
    for b in (*shop.blanks, *map(jigs.base_sheet, shop.jigs)):
        d = template.draw(b)
        words = [i for i in d.items if hasattr(i, "words")]
        lines = shapely.MultiLineString(
            [[*i.points, i.start] if i.closed else i.points for i in d.items if not hasattr(i, "words")]
        )
        boxes = [shapely.box(*Drawing([w]).bounds) for w in words]
        assert not [w.words for w, box in zip(words, boxes, strict=True) if box.intersects(lines)], b.part
        assert all(not a.intersects(c) for i, a in enumerate(boxes) for c in boxes[i + 1 :]), b.part
        spots = [
            (b.outline.bounds[0] + h.x_mm, b.outline.bounds[1] + h.y_mm, h.diameter_mm / 2) for h in b.holes
        ]
        for h in b.holes:
            box = next(x for w, x in zip(words, boxes, strict=True) if w.words.split(":")[0] == str(h.number))
            near = [
                shapely.Point(x, y).distance(box) if 2 * r < template.BIG_MM else math.inf
                for x, y, r in spots
            ]
            assert near.index(min(near)) == h.number - 1 or h.diameter_mm >= template.BIG_MM, (
                b.part,
                h.number,
            )


def test_grain_and_folds_are_told_as_they_are_nested():
    """One key rules nest and sheet alike; the arrow and the demand come with it, the meaning of the fold's
    words always."""
    strip = FlatPart(
        "strip",
        BoxStrip((Segment((0, 0), (60, 0), math.tan(math.radians(57.2) / 4)),), 3.0, 40.0).outline(),
        1,
        3.0,
        "S275",
    )
    for grain in (False, True):
        (b,) = blank_sheets([strip], "left", lambda _: 6.0, False, grain)
        words = " ".join(template.legend(b))
        assert (
            ("along the arrow" in words)
            == grain
            == any(getattr(i, "words", "") == "grain" for i in template.draw(b).items)
        )
        assert "R inside radius" in words and "down: they go away" in words


def test_no_blank_has_a_hook_or_a_curve_in_small_steps(corner):
    """A cutting program stumbles over edges under 0.3 mm (common practice); a round is an arc, not a chain of
    short lines."""
    for flat in corner[0].layout.flat:
        for loop in (flat.outline.outer, *flat.outline.inner):
            assert min(s.length for s in loop.segments) >= 0.3, flat.name
            steps = [not s.bulge and s.length < 2.0 for s in loop.segments]
            assert not any(all(steps[k : k + 3]) for k in range(len(steps) - 2)), flat.name


def test_counts_say_what_is_cut_for_the_car(corner):
    """A blank of one hand serves one side; one of either hand both: so many together make both corners."""
    per_side = {f.name: f.count for f in corner[0].layout.flat}
    car: dict[str, int] = {}
    for b in corner[1].blanks:
        words = counted(b.count, b.hand)
        n = int(words.split()[1])
        car[b.part] = car.get(b.part, 0) + n
        assert f"{b.count} a side" in words or f"all for the {b.hand} side" in words
    assert car == {name: 2 * count for name, count in per_side.items()}


def test_plate_area_by_thickness_is_that_of_the_outlines(corner):
    """Areas of the outlines' polygons, by shapely."""
    done, shop = corner
    want = {}
    for f in done.layout.flat:
        solid = Polygon(f.outline.outer.points(0.0005), [w.points(0.0005) for w in f.outline.inner])
        area = (solid.area - sum(math.pi * h.diameter_mm**2 / 4 for h in f.outline.holes)) * f.count / 100
        want[f.thickness_mm] = want.get(f.thickness_mm, 0.0) + area
    for stock, _, area, mass in cut_list_line.plate_totals(shop.rows):
        t = float(stock.split(" ")[0])
        assert area == pytest.approx(want[t], rel=1e-4) and mass == pytest.approx(
            area * t * DENSITY_KG_M3 * 1e-7, rel=1e-9
        )


def test_pivot_tube_and_the_sleeves_inner_tube_are_one_piece(heron):
    done, shop = heron
    row = next(r for r in shop.rows if r.item == "pivot tube")
    r = done.job.rocker
    plates = r.box_width + 2 * r.plate_thickness
    assert row.length_mm == pytest.approx(plates + 2 * r.plate_thickness + done.layout.sleeve.length_mm)
    assert not any("sleeve inner" in r.item for r in shop.rows)
    sleeve = done.layout.sleeve.length_mm
    steel = math.pi / 4 * (45**2 - 40**2) * (row.length_mm - sleeve)
    bored = math.pi / 4 * (45**2 - 40.1**2) * sleeve  # slides on the stub of 40 with 0.1 mm: a wall of 2.45
    holes = len(done.layout.sleeve.holes("outer")) * 2 * math.pi / 4 * 10**2 * 2.45  # flat: a little under
    want = (steel + bored - holes) * DENSITY_KG_M3 * 1e-9
    assert row.each_kg == pytest.approx(want, rel=2e-3)


def test_rod_has_one_thread_of_each_hand(corner):
    _, shop = corner
    for what in ("insert", "rod end", "jam nut"):
        words = " ".join(f"{r.item} {r.stock}" for r in shop.rows if what in r.item)
        assert words.count("right hand") == 1 and words.count("left hand") == 1, what


def test_centre_of_gravity_is_the_moments_over_the_mass(corner):
    _, shop = corner
    parts = shop.masses.parts
    m = np.array([p.mass_kg for p in parts])
    places = np.array([p.centre_mm for p in parts])
    assert shop.masses.centre_of_gravity_mm == pytest.approx(m @ places / m.sum())
    assert all(m > 0)


@given(st.floats(6, 16), st.floats(40, 90), st.floats(4, 12), st.floats(500, 6000))
@settings(max_examples=60, deadline=None)
def test_coil_mass_is_the_wire_of_the_helix_with_that_stress(wire, mean, coils, force):
    """Round-wire helical spring, textbook: k = G·d⁴/(8·D³·n), τ = 8·F·D/(π·d³); wire volume π·d²/4·π·D·n."""
    g = 79_300.0
    rate = g * wire**4 / (8 * mean**3 * coils)
    stress = 8 * force * mean / (math.pi * wire**3)
    active = math.pi * wire**2 / 4 * math.pi * mean * coils * DENSITY_KG_M3 * 1e-9
    energy = force**2 / (2 * rate) / 1000
    assert masses.coil_mass_kg(energy, g, stress) == pytest.approx(active * 1.35, rel=1e-9)


def test_stored_energy_is_the_work_done_at_the_wheel(heron):
    """From slack to full bump the spring takes in what the wheel does: ∫F·dz over the travel plus what it
    held at droop."""
    done, _ = heron
    s = done.springing
    ok = np.isfinite(s.curves.wheel_force_n)
    work = np.trapezoid(s.curves.wheel_force_n[ok], s.wheel_mm[ok]) / 1000
    at_droop = s.curves.torque_nm[0] ** 2 / (2 * s.spring.rate)
    assert masses.stored_j(s) == pytest.approx(work + at_droop, rel=2e-3)


def test_the_comparison_counts_every_inboard_part_once_and_no_damper(corner):
    done, shop = corner
    names = [p.name for p in shop.comparison.inboard]
    assert len(names) == len(set(names)) and not any(
        n in ("damper body", "damper shaft", "upper arm", "lower arm") for n in names
    )
    assert {p.body for p in shop.comparison.inboard} >= {"rocker", "rod"}
    rest = [p for p in shop.masses.parts if p.name not in names]
    assert all(
        p.body in ("upper_arm", "lower_arm", "rod lug", "fasteners") or "arm" in p.name for p in rest
    )  # a coil-over stands on a lug too
    pivot = {p.name for p in shop.masses.parts if p.name.startswith("pivot") or ", pivot" in p.name}
    assert pivot and pivot <= set(names)  # and turns on no pivot
    assert shop.comparison.difference_kg == pytest.approx(
        shop.masses.total_kg - sum(p.mass_kg for p in rest) - sum(p.mass_kg for p in shop.comparison.plain)
    )
    assert ("coil" in [p.name for p in shop.comparison.plain]) == (done.job.spring.kind != "coil-over")


def test_prices_give_cost_by_kg_by_metre_and_each(heron):
    done, plain = heron
    job = done.job.changed({"prices.plate": 2, "prices.tube": 5, "prices.bolt": 1.5})
    rows = cut_list.rows(demos.known(job, interference=False).layout)
    assert len(rows) == len(plain.rows)
    for r in rows:
        if r.group == "plate":
            assert r.cost == pytest.approx(2 * r.mass_kg)
        elif r.item.startswith("bolt"):
            assert r.cost == pytest.approx(1.5 * r.count)
        elif r.item == "pull rod tube":
            assert r.cost == pytest.approx(5 * r.length_mm / 1000)
        elif r.group in ("frame", "spring", "bought", "open"):
            assert r.cost is None
    assert all(r.cost is None for r in plain.rows)


def test_tables_carry_the_numbers_of_the_shop(corner):
    done, shop = corner
    tmp_path = _written(done.job.slug)
    with (tmp_path / "cut-list.csv").open(encoding="utf-8-sig", newline="") as f:
        assert f.buffer.read(3) == b"\xef\xbb\xbf"  # the mark a spreadsheet goes by (Unicode standard, 23.8)
        f.buffer.seek(0)
        rows = list(csv.DictReader(f))
    assert sum(float(r["mass, kg"] or 0) for r in rows if r["group"] != "frame") == pytest.approx(
        cut_list_line.total_kg(shop.rows), abs=0.0005 * len(rows)
    )
    for path in tmp_path.rglob("*.csv"):  # one header, every row as long
        head, *body = csv.reader(path.read_text(encoding="utf-8-sig").splitlines())
        zeros = [c for row in body for c in row if re.fullmatch(r"-0(\.0*)?", c)]  # a sign of nothing
        assert zeros == [], path.name
        assert len(set(head)) == len(head) and {len(r) for r in body} <= {len(head)} and head not in body
    with (tmp_path / "hole-table.csv").open(encoding="utf-8-sig", newline="") as f:
        holes = list(csv.DictReader(f))
    assert len(holes) == sum(len(b.outline.holes) for b in shop.blanks) + sum(
        len(j.outline().holes) for j in shop.jigs
    )
    found = sheets.in_results(shop)
    assert len(found["cut_list"]) == len(shop.rows) and found["masses"].parts_kg == shop.masses.total_kg


def test_random_outlines_keep_their_size_on_any_paper():
    """Seeded: drawing on the page is the outline shifted, never scaled."""
    rng = random.Random(7)
    for _ in range(40):
        wide, high = rng.uniform(5, 900), rng.uniform(5, 900)
        s = Sheet("s", "", Drawing(), ("words",))
        s.drawing.loop(rectangle(rng.uniform(-500, 0), rng.uniform(-500, 0), wide, high))
        printing = Printing(rng.choice(list(PAPERS)), rng.uniform(0.97, 1.03), rng.uniform(0.97, 1.03))
        x0, y0, w, h = printing.window
        for page in paper.pages(s, printing):
            if page.what == "page map":
                continue
            a, b = np.array(page.drawing.items[0].points), np.array(s.drawing.items[0].points)
            assert np.ptp(a - b, axis=0) == pytest.approx((0, 0), abs=1e-9)
        if len(paper.pages(s, printing)) == 1:
            assert (
                a[:, 0].min() >= x0 - 1e-9
                and a[:, 0].max() <= x0 + w + 1e-9
                and a[:, 1].max() <= y0 + h + 1e-9
            )


def test_bolt_tables_hold_every_size_the_sheets_use():
    for size in ("M8", "M10", "M12"):
        assert thread(size).diameter_mm < washer(size).inner_mm < washer(size).outer_mm


def test_a_paper_nobody_knows_is_refused_before_anything_is_written(tmp_path):
    from typer.testing import CliRunner

    from assemblies.command.cli import app

    for option in (["--paper", "B5"], ["--scale-x", "1.2"], ["--shrink", "3"]):
        done = CliRunner().invoke(app, ["build", str(JOBS[0]), "--out", str(tmp_path / "out"), *option])
        assert done.exit_code == 2 and not (tmp_path / "out").exists()


@pytest.mark.slow
@pytest.mark.parametrize(
    "change",
    [
        {"rocker.rod_boss_radius": 8, "name": "Łódź přední 前", "member.spring tube.size": 45},
        {
            "member": None,
            "pivot": None,
            "tie_rod.member": None,
            "spring.housing": {"outer": 60.3, "wall": 2.9},
        },
        {"rod.wall": 5, "rod.diameter": 15, "rocker.box_width": 15},
    ],
)
def test_a_corner_that_cannot_all_be_made_still_gets_its_other_sheets(tmp_path, heron, change):
    done, _ = heron
    broken = demos.known(done.job.changed(change), interference=False)
    assert broken.layout is not None
    shop = _shop(broken)
    sheets.write(shop, broken.layout, tmp_path)
    assert (shop.welds is None) == (broken.layout.rocker is None) and (tmp_path / "cut-list.csv").is_file()
    assert len(pypdf.PdfReader(tmp_path / "templates.pdf").pages) >= len(shop.blanks)


def test_a_brackets_weld_is_no_larger_than_the_tubes_wall_and_a_jig_names_its_hand():
    """Leg of the thinner part (common practice); a jig of a right-hand corner is a right-hand one."""

    front = demos.corner("heronbank-front").layout
    legs = {s.where.split(" to ")[0]: s.leg_mm for s in front.seams}
    assert legs["upper arm front bracket"] == 4.8  # 8 mm tabs on a 4 mm wall: asked, and 1.2 of the wall
    right = demos.corner("tarnside-front").layout
    made = jigs.jigs(right)
    assert made and {jigs.base_sheet(j).hand for j in made} <= {"right", "either"}
    assert all("RIGHT HAND" in jigs.sheet(j).subtitle for j in made)


# ------------------------------------------------------------ where it goes on the frame


def test_numbers_of_a_sheet_lead_back_to_the_bolt(corner):
    """End of the tube as the job gives it, along, over the face, aside: that is the joint's own point."""
    layout = corner[0].layout
    job = layout.job
    given = {m.name: m for m in job.member}
    points = {"damper bracket": job.damper.chassis_eye, "pivot bracket": job.rocker.pivot}
    for arm in ("upper_arm", "lower_arm"):
        for end in ("front", "rear"):
            points[f"{arm.replace('_', ' ')} {end} bracket"] = getattr(getattr(job, arm), f"{end}_pivot")
    found = on_frame.work_out(layout)
    assert {b.what for b in found.brackets} == set(layout.brackets)
    for b in found.brackets:
        tube = given[b.tube]
        a, c = (np.array(p, float) for p in (tube.from_, tube.to))
        start, far = (a, c) if b.end == "from" else (c, a)
        axis = (far - start) / np.linalg.norm(far - start)
        eye = np.array(points[b.what], float)
        assert b.along_mm == pytest.approx((eye - start) @ axis, abs=1e-6)
        off = eye - start - b.along_mm * axis
        s = layout.members[b.tube].section
        reach = [math.hypot(b.height_mm + half / 2, b.aside_mm) for half in (s.width_mm, s.height_mm)]
        assert min(abs(r - np.linalg.norm(off)) for r in reach) < 1e-6
        # both tabs stand either side of the bolt, as far apart as the gap and their plates
        at = np.array([np.mean(t.along_mm) for t in b.tabs])
        if b.skew_deg < 10:
            t = layout.brackets[b.what].tabs[0].part.thickness_mm
            assert abs(at[0] - at[1]) == pytest.approx(b.gap_mm + t, abs=1.0)


def test_a_bracket_worked_by_hand(heron):
    """Heronbank's lower arm, front: the rail's front end is at x 2000, its upper face at z 105, its middle at
    y 315; the pivot at (1890, 330, 152): 110 along, 47 over the face, 15 outboard, 660 from the other."""
    layout = heron[0].layout
    b = next(b for b in on_frame.work_out(layout).brackets if b.what == "lower arm front bracket")
    assert (b.tube, b.end_words, b.face) == ("lower rail", "front end", "upper face")
    assert (b.along_mm, b.height_mm, b.aside_mm) == pytest.approx((110, 47, 15), abs=1e-6)
    assert b.aside_to == "outboard"
    tapes = on_frame.work_out(layout).tapes
    wide = next(t for t in tapes if t.a == t.b == "lower arm front bracket")
    assert wide.other_side and wide.mm == pytest.approx(660, abs=1e-9)
    long = next(t for t in tapes if t.a == "lower arm front bracket" and t.b == "lower arm rear bracket")
    assert long.mm == pytest.approx(math.hypot(290, 6), abs=1e-9)
    rear = (1600, -330, 146)  # on the other side
    cross = next(t for t in tapes if t.other_side and {t.a, t.b} == {"lower arm front bracket", long.b})
    assert cross.mm == pytest.approx(math.dist((1890, 330, 152), rear), abs=1e-9)


def test_every_bracket_has_a_sheet_and_no_word_lies_on_another(corner):
    layout = corner[0].layout
    found = on_frame.work_out(layout)
    made = frame_sheets.sheets(found, layout)
    stands = [s.what for s in found.stands]
    wanted = {"stub": ["pivot bearing rings", "anchor plate fixed"], "spindle": []}
    assert stands == wanted[layout.job.pivot.kind] and len(made) == len(layout.brackets) + len(stands) + 3
    for _, sheet in made:
        _legible([i for i in sheet.drawing.items if isinstance(i, Text)])
        assert not _crossed(sheet.drawing), (sheet.title, _crossed(sheet.drawing))


def test_what_has_no_part_worked_by_hand(corner):
    """Tube, face, along, over, aside, of the rack's clamp or the toe link's bracket and of the strap's frame
    end, from the points and tubes of the job. Heronbank's diagonal runs from (1700, 300) to (1930, 0), the
    rack across the car at x 1832: 98/230 of its length from the inner end, atan(230/300) aslant."""
    layout = corner[0].layout
    long = math.hypot(230, 300)
    wanted = {
        "heronbank front": [
            ("rack clamp", "floor diagonal", "upper face", long * 98 / 230, 191 - 90 - 10, 0),
            ("droop strap, frame end", "upper rail"),
        ],
        "tarnside front": [
            ("rack clamp", "lower rail", "upper face", 350 - 95, 190 - 105 - 12.5, 0),
            ("droop strap, frame end", "upper rail front", "lower face", 73 - 60, 398 - 12.5 - 380, 12),
        ],
        "corrie rear": [
            ("toe link bracket", "rear bay rail", "upper face", 900 - 730, 198 - 110 - 15, 333 - 290),
            ("droop strap, frame end", "rear upper rail"),
        ],
    }[layout.job.name]
    found = on_frame.work_out(layout)
    assert len(found.undrawn) == len(wanted)
    for b, w in zip(found.undrawn, wanted, strict=True):
        assert (b.what, b.tube, b.face)[: min(len(w), 3)] == w[:3]
        if len(w) > 3:
            assert (b.along_mm, b.height_mm, b.aside_mm) == pytest.approx(w[3:], abs=1e-6)
        sheet = next(s for _, s in frame_sheets.sheets(found, layout) if f"{b.what} on {b.tube}" in s.title)
        assert any("no part for it" in line and "no jig" in line for line in sheet.legend)
        assert f"{b.along_mm:.1f} along" in sheet.legend[0] and len(paper.pages(sheet, Printing())) == 1
        p, lower = np.array(b.point), layout.job.lower_arm.front_pivot
        assert f"lower arm front bracket {math.dist(p, lower):.1f};" in sheet.legend[-1]
        assert f"its own on the other side {2 * abs(p[1]):.1f};" in sheet.legend[-1]
        assert next(r for r in on_frame.rows(found) if r[0] == b.what)[4] == f"{b.along_mm:.1f}"
    if layout.job.name == "heronbank front":
        assert found.undrawn[0].skew_deg == pytest.approx(math.degrees(math.atan(230 / 300)), abs=1e-9)
        assert found.undrawn[0].point == pytest.approx((1832, 300 * 98 / 230, 191), abs=1e-9)
    ends = {t.a for t in found.tapes} | {t.b for t in found.tapes}  # the toe link's is the ball's own
    assert {"rack clamp", "toe link bracket"} & ends == {wanted[0][0]} - {"toe link bracket"}
    assert "droop strap, frame end" in ends and "tie rod, inner ball" in ends
    order = [i.what for i in found.in_order]
    assert order[-1] == "droop strap, frame end" and order[4] == wanted[0][0]


def test_rings_and_anchor_worked_by_hand(corner):
    """Heronbank: the spring tube runs from x 1713 back to 899 on the pivot's line, the rocker at 1748; bushes
    20 wide in rings 2 inside its nose. The anchor's line is the rod's arm turned about the job's axis by the
    slack angle, as an engineer reads it: from behind, clockwise from up."""
    layout = corner[0].layout
    found = on_frame.work_out(layout)
    if layout.job.pivot.kind != "stub":
        assert not found.stands
        return
    rings, anchor = found.stands
    if layout.job.name == "heronbank front":
        assert dict(rings.marks)["ring 1, near edge"] == pytest.approx(2)
        assert dict(rings.marks)["ring 2, far edge"] == pytest.approx(155)
        assert (anchor.tube, anchor.end_words, anchor.marks[0][1]) == ("spring tube", "rear end", 0)
        read = {(t.a.split(",")[0], t.b.split(",")[0], t.other_side): t.mm for t in found.tapes}
        there = math.dist((899, 280, 165), (1748, -280, 165))
        assert read["anchor plate fixed", "rocker pivot", True] == pytest.approx(there, abs=1e-6)
    axis = np.array(layout.job.rocker.axis) / np.linalg.norm(layout.job.rocker.axis)
    arm = np.subtract(layout.job.rod.inboard, layout.job.rocker.pivot)
    arm -= (arm @ axis) * axis
    slack = math.radians(corner[0].results.spring.slack_rocker_deg)
    line = arm * math.cos(slack) + np.cross(axis, arm) * math.sin(slack)
    forward = -np.array(layout.job.spring_direction)  # the way somebody behind the anchor looks
    assert forward @ (1, 0, 0) > 0.999  # his right is the car's: -y
    assert anchor.turn_deg == pytest.approx(math.degrees(math.atan2(-line[1], line[2])) % 360, abs=1e-6)
    mandrel, spacer = mount_jigs.pieces(layout)[:2]
    marks = dict(rings.marks)
    assert spacer.length_mm == pytest.approx(marks["ring 2, near edge"] - marks["ring 1, far edge"])
    pin = -float(np.subtract(layout.job.rocker.pivot, rings.start) @ np.array(rings.way))
    assert mandrel.outside[0].length_mm + mandrel.outside[1].length_mm == pytest.approx(pin + 15)


def test_a_spindle_through_a_tube_and_a_housing_of_its_own_have_sheets():
    """Kinds that no demo has. The spindle's hole stands where its axis meets the beam's near face."""
    import test_pivot_rows

    layout = test_pivot_rows.whole("cantilever").layout
    (spindle,) = on_frame.work_out(layout).stands
    beam = layout.members["pivot beam"]
    axis = np.array(layout.eyes.frame.z)
    m, s = beam.frame.matrix(), beam.section
    far = np.subtract(beam.from_, layout.job.rocker.pivot)
    along = abs(float((far - (far @ axis) * axis) @ m[:3, 2]))
    assert spindle.marks[0][1] == pytest.approx(min(along, beam.length_mm - along), abs=1e-6)
    half = s.width_mm / 2 if abs(m[:3, 0] @ axis) > 0.9 else s.height_mm / 2
    face = abs(float(far @ axis)) - half
    assert f"lies {face:.1f} before that face" in " ".join(spindle.lines)
    own = {"member": None, "pivot": None, "tie_rod.member": None}
    own |= {"spring.housing": {"outer": 60.3, "wall": 2.9}}
    job = demos.corner("heronbank-front").job.changed(own)
    bare = demos.known(job, interference=False).layout
    found = on_frame.work_out(bare)
    assert [s.what for s in found.stands] == ["spring housing", "anchor plate fixed"]
    near, far = (at for _, at in found.stands[0].marks)
    assert far - near == pytest.approx(bare.housing.part.length_mm)
    bar, *plugs = mount_jigs.pieces(bare)
    assert bar.length_mm > far and [p.count for p in plugs] == [2, 1]
    for lay in (layout, bare):
        places = on_frame.work_out(lay)
        made = [s for _, s in frame_sheets.sheets(places, lay)]
        assert len(made) == len(places.in_order) + 1
        for sheet in made:
            _legible([i for i in sheet.drawing.items if isinstance(i, Text)])
            assert not _crossed(sheet.drawing), (sheet.title, _crossed(sheet.drawing))


def _legible(words):
    """No print under 7 points, no word on another."""
    assert min(w.height_mm for w in words) >= 7 * 25.4 / 72
    boxes = [shapely.box(*Drawing([w]).bounds) for w in words]
    assert not any(p.intersects(q) for k, p in enumerate(boxes) for q in boxes[k + 1 :])


# ------------------------------------------------------------ drawings of parts


def _crossed(d: Drawing) -> list[str]:
    """Words that a line goes through: their letters' box, a hair smaller, against every line that no white
    ground under them hides."""
    paths = [(k, i) for k, i in enumerate(d.items) if isinstance(i, Drawn)]
    rims = [_fine(i) for _, i in paths]
    tree, out = shapely.STRtree([LineString(r) for r in rims]), []
    for w in (i for i in d.items if isinstance(i, Text)):
        box = shapely.box(*Drawing([w]).bounds).buffer(-0.35)
        under = [k for (k, i), r in zip(paths, rims, strict=True) if i.fill_grey == 1.0 and _round(r, box)]
        over = [paths[n] for n in tree.query(box, predicate="intersects")]
        out += [w.words for k, i in over if k > max(under, default=-1)]
    return out


def _fine(path: Drawn) -> list:
    """Points along a path, its Bézier pieces by Bernstein polynomials."""
    t = np.linspace(0, 1, 9)[1:, None]
    out = [path.start]
    for s in path.steps:
        if len(s) == 1:
            out.append(s[0])
            continue
        a, b, c, d = (np.array(q) for q in (out[-1], *s))
        curve = (1 - t) ** 3 * a + 3 * t * (1 - t) ** 2 * b + 3 * t**2 * (1 - t) * c + t**3 * d
        out += [tuple(q) for q in curve]
    return [*out, path.start] if path.closed else out


def _round(rim, box) -> bool:
    return shapely.contains(Polygon(rim).buffer(0.5), box)


def _sound(page: Drawing, title: str) -> None:
    """On an A4 page: no print under 7 points, no word on another or on a line, nothing beyond the border."""
    words = [i for i in page.items if isinstance(i, Text) and i.words]
    assert min(w.height_mm for w in words) >= 7 * 25.4 / 72
    boxes = [shapely.box(*Drawing([w]).bounds).buffer(-0.2) for w in words]
    tree = shapely.STRtree(boxes)
    a, b = tree.query(boxes, predicate="intersects")
    assert not (a < b).any(), (title, [words[k].words for k in {*a[a < b], *b[a < b]}])
    assert not _crossed(page), (title, _crossed(page))
    x0, y0, x1, y1 = page.bounds
    assert x0 >= 9.9 and y0 >= 9.9 and x1 <= 200.1 and y1 <= 287.1, title


def test_every_part_that_is_made_has_a_drawing_a_shop_takes(corner):
    """Each blank of each hand and each row that is turned or sawn; title block whole, print of 7 points or
    more, no word on another or on a line; its overall size is the outline's, or the list's length."""
    done, shop = corner
    numbers = cut_list_line.numbers(shop.rows)
    lathe = turned.pieces(done.layout)
    drawn = {t.row for t in lathe}
    bars = [r.item for r in shop.rows if r.group == "bar" or (r.group == "tube" and " bored " in r.stock)]
    assert {i for i in bars if not i.endswith("rod tube")} <= drawn
    printing = Printing(dated="2026-11-29")
    sawn = stock_sheets.sheets(done.layout, shop.rows, drawn, printing)
    by_number = {r: s for r in shop.rows for s in sawn if s.number == numbers[r.item]}
    assert {r.item for r in shop.rows if r.length_mm and r.group not in ("fastener", "bought")} == (
        drawn & {r.item for r in shop.rows}
    ) | {r.item for r in by_number}
    for r, s in by_number.items():
        told = {i.words for i in s.view.items if isinstance(i, Text)}
        assert r.item == "torsion bar" or f"{r.length_mm:.1f}" in told, r.item
    assert [s.count.split(":")[0] for s in sawn if s.title == "nose strut"] in ([], ["make 2 for the car"])
    flat = part_sheets.sheets(shop.blanks, lathe, numbers, printing)
    jigs_ = mount_jigs.sheets(done.layout, printing)
    for s in (flat + sawn)[::5] + flat[-1:] + sawn[:1] + jigs_:
        page = part_sheets.page(s, "job", printing)
        words = [i for i in page.items if isinstance(i, Text)]
        assert min(w.height_mm for w in words) >= 7 * 25.4 / 72
        said = " ".join(w.words for w in words)
        wanted = ["material: ", "ISO 2768", "scale ", "first-angle", "revision ", " the car", "2026-11-29"]
        for word in wanted:
            assert word in said, (s.title, word)
        assert s.number and f"cut list no. {s.number}" in said
        _sound(page, s.title)
    for _, strip in tube_strips.sheets(shop.tubes, 0.1)[::3]:
        assert not _crossed(strip.drawing), (strip.title, _crossed(strip.drawing))
    plate = next(b for b in shop.blanks if b.part == "rocker plate")
    sheet = part_sheets.flat_sheet(plate, "1")
    x0, y0, x1, y1 = plate.outline.bounds
    assert {f"{x1 - x0:.1f}", f"{y1 - y0:.1f}"} <= {i.words for i in sheet.view.items if isinstance(i, Text)}
    other = part_sheets.flat_sheet(replace(plate, thickness_mm=plate.thickness_mm + 1), "1")
    assert sheet.revision != other.revision and sheet.revision == part_sheets.flat_sheet(plate, "1").revision


def test_a_weldments_sheet_worked_by_hand(corner):
    """Each arm's triangle from the job's own points, by the law of cosines and Heron's area, which the
    program does not use; the rod's bolt by the same triangles; the rocker's from its three points across its
    axis. Front stands where it is seen from above with the joint nearest the reader."""
    done, shop = corner
    layout, job, printing = done.layout, done.job, Printing(dated="2026-11-29")
    made = weldments.sheets(layout, shop.rows, shop.welds, printing)
    assert [s.title for s in made] == ["rocker, welded", "upper arm, welded", "lower arm, welded"]

    def triangle(front, rear, outer):
        a, g, h = math.dist(front, rear), math.dist(front, outer), math.dist(rear, outer)
        s = (a + g + h) / 2
        off = 2 * math.sqrt(s * (s - a) * (s - g) * (s - h)) / a
        station = (a * a + g * g - h * h) / (2 * a)
        angles = [math.degrees(math.acos(c)) for c in (station / g, (a - station) / h)]
        return {"A": a, "B": off, "C": station, "D": angles[0], "E": angles[1], "G": g, "H": h}

    for which, sheet in zip(("upper_arm", "lower_arm"), made[1:], strict=True):
        arm, placed = getattr(job, which), layout.arms[which]
        told = {r[0]: r[1] for r in sheet.tables if r[0]}
        by_hand = triangle(arm.front_pivot, arm.rear_pivot, arm.outer_joint)
        for letter, v in by_hand.items():
            assert told[letter] == f"{v:.1f}", (sheet.title, letter)
        seams = [*placed.weld.seams]
        if job.rod.on == which and layout.lug is not None:
            b = triangle(arm.front_pivot, arm.rear_pivot, job.rod.outboard)
            assert told["J"] == f"{b['C']:.1f}"
            assert math.hypot(float(told["K"]), float(told["L"])) == pytest.approx(b["B"], abs=0.1)
            corners = [np.array(p, float) for p in (arm.front_pivot, arm.rear_pivot, arm.outer_joint)]
            up = np.cross(corners[1] - corners[0], corners[2] - corners[0])
            over = float((np.array(job.rod.outboard) - corners[0]) @ up / np.linalg.norm(up) * np.sign(up[2]))
            assert told["L"] == f"{abs(over):.1f}"
            words = next(r[2] for r in sheet.tables if r[0] == "L")
            assert words.startswith("the same over" if over > 0 else "the same under")
            ends = [np.array(s.frame.origin) for s in layout.lug_sleeves]
            assert np.allclose(sum(ends) / 2, job.rod.outboard, atol=1e-6)
            for s in (*layout.lug_sleeves, *layout.lug_fins):
                seams += s.weld.seams
        for seam in seams:
            assert any(f"leg {seam.leg_mm:g}: {seam.where}" in n for n in sheet.notes)
        at = {i.words.split()[0]: i.x for i in sheet.view.items if isinstance(i, Text) and i.words}
        assert (at["front"] < at["rear"]) == (job.corner.side == "left")
    axis = np.array(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    eyes = [np.subtract(e, job.rocker.pivot) for e in (job.rod.inboard, job.rocker.damper_eye)]
    rod, damper = (e - (e @ axis) * axis for e in eyes)
    told = {r[0]: r[1] for r in made[0].tables if r[0]}
    a, b, c = (float(np.linalg.norm(v)) for v in (rod, damper, rod - damper))
    between = math.degrees(math.acos((a * a + b * b - c * c) / (2 * a * b)))
    wanted = {"A": a, "B": b, "C": c, "D": between, "E": job.rocker.box_width}
    assert {k: told[k] for k in wanted} == {k: f"{v:.2f}" for k, v in wanted.items()}
    assert float(told["F"]) - float(told["E"]) == pytest.approx(2 * job.rocker.plate_thickness, abs=0.011)
    for s in made:
        page = part_sheets.page(s, "job", printing)
        assert s.number and s.revision in " ".join(w.words for w in page.items if isinstance(w, Text))
        _sound(page, s.title)


def test_the_line_to_the_anchor_is_as_long_as_the_spring_and_its_plates_stand_where_the_frame_has_them(
    corner,
):
    """Between the sockets' mouths lies the job's own free length; the clocking plates' faces are those of the
    frame's table, which takes another way; every weld of it is told."""
    done, shop = corner
    layout = done.layout
    made = spring_line.sheet(layout, shop.rows, Printing(dated="2026-11-29"))
    assert len(made) == (layout.pack is not None)
    for s in made:
        at = {r[4].split(",")[0]: (float(r[1]), float(r[2]), float(r[3])) for r in s.tables[1:]}
        free = at["anchor socket"][0] - at["spring socket"][1]
        assert free == pytest.approx(layout.job.spring.length, abs=0.1)
        held = {k.what: k.station_mm for k in on_frame.work_out(layout).stations}
        assert at["anchor plate turning"][1] == pytest.approx(
            held["anchor plate turning, its far face"], abs=0.06
        )
        assert at["anchor plate fixed"][0] == pytest.approx(
            held["anchor plate fixed, its near face"], abs=0.06
        )
        assert at["spring socket"][2] == pytest.approx(layout.socket.part.outer_diameter_mm, abs=0.06)
        for p in (layout.socket, layout.anchor_socket, layout.anchor_plates[1]):
            for seam in p.weld.seams:
                assert any(f"leg {seam.leg_mm:g}: {seam.where}" in n for n in s.notes)
        _sound(part_sheets.page(s, "job", Printing(dated="2026-11-29")), s.title)
