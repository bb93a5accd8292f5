"""Blanks: the DXF read as plain text by this file's own small reader, its areas by shapely and by hand.

Group codes (0 type, 8 layer, 10/20 place, 40 radius, 42 bulge, 70 bit 1 closed, $INSUNITS 4 = mm): public DXF
reference."""

import cmath
import math
import random
from dataclasses import replace

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from shapely import Point as Dot
from shapely import Polygon

from parts.files import dxf
from parts.files.blank import compensated, hole_table, read_blank, write_blank
from parts.files.dxf import BlankError
from parts.shape.belt import Boss, belt, hull
from parts.shape.outline import Hole, Loop, Mark, Outline, OutlineError, Vertex, circle, rectangle, rounded

PLATE = Outline(
    belt([Boss(0, 0, 26), Boss(80, 20, 15), Boss(-30, 60, 14)], [None, 150, 90]),
    inner=(rectangle(14, 28, 34, 38, 3),),
    holes=(
        Hole(0, 0, 30, "pivot tube", "weld"),
        Hole(80, 20, 10, "rod eye", "clearance"),
        Hole(-30, 60, 10, "damper eye", "reamed"),
        Hole(-10, 40, 3, "vent", "vent"),
    ),
    marks=(
        Mark("line", ((-20.0, 30.0), (0.0, 30.0))),
        Mark("text", ((40.0, 10.0),), "UP", 3.0),
        Mark("pop", ((50.0, 8.0),)),
    ),
)
WORDS = {
    "part": "rocker plate",
    "hand": "left",
    "thickness_mm": 3,
    "material": "S275",
    "count": 2,
    "smallest_hole_mm": 6,
}


# ------------------------------------------------------------------------------------- a reader of our own


def pairs(path) -> list[tuple[int, str]]:
    lines = path.read_text(encoding="cp1252").split("\n")
    return [
        (int(code), value.strip())
        for code, value in zip(lines[::2], lines[1::2], strict=False)
        if code.strip()
    ]


def entities(path) -> list[tuple[str, list[tuple[int, str]]]]:
    """Everything between ENTITIES and its ENDSEC: (type, its pairs)."""
    found, inside = [], False
    for code, value in pairs(path):
        if code == 2 and value == "ENTITIES":
            inside = True
        elif inside and code == 0 and value == "ENDSEC":
            break
        elif inside and code == 0:
            found.append((value, []))
        elif inside and found:
            found[-1][1].append((code, value))
    return found


def first(tags, code, default=None):
    return next((v for c, v in tags if c == code), default)


def header(path, name) -> str:
    tags = pairs(path)
    return tags[tags.index((9, name)) + 1][1]


def loop_polygon(tags, chords=4000) -> Polygon:
    """Chords along every bulge, placed by complex rotation about the arc's centre."""
    assert int(first(tags, 70)) & 1, "an open path"
    corners = []
    for code, value in tags:
        if code == 10:
            corners.append([float(value), 0.0, 0.0])
        elif code == 20:
            corners[-1][1] = float(value)
        elif code == 42:
            corners[-1][2] = float(value)
    assert len(corners) == int(first(tags, 90))
    out = []
    for (x1, y1, b), (x2, y2, _) in zip(corners, corners[1:] + corners[:1], strict=True):
        p, q = complex(x1, y1), complex(x2, y2)
        out.append(p)
        if b:
            centre = (p + q) / 2 + 1j * (q - p) * (1 - b * b) / (4 * b)
            turn = 4 * math.atan(b)
            n = max(2, math.ceil(abs(turn) / (2 * math.pi) * chords))
            out += [centre + (p - centre) * cmath.exp(1j * turn * k / n) for k in range(1, n)]
    return Polygon([(z.real, z.imag) for z in out])


def cut_polygons(path) -> list[Polygon]:
    shapes = []
    for kind, tags in entities(path):
        if first(tags, 8) != "CUT":
            continue
        assert kind in ("LWPOLYLINE", "CIRCLE"), f"{kind} on the cut layer"
        if kind == "CIRCLE":
            shapes.append(
                Dot(float(first(tags, 10)), float(first(tags, 20))).buffer(
                    float(first(tags, 40)), quad_segs=1000
                )
            )
        else:
            shapes.append(loop_polygon(tags))
    return shapes


def texts(path) -> list[str]:
    return [first(tags, 1) for kind, tags in entities(path) if kind == "TEXT"]


def on_mark(path, kind, layer="MARK"):
    return [tags for k, tags in entities(path) if k == kind and first(tags, 8) == layer]


# ------------------------------------------------------------------------------------- what a blank holds


def test_a_blank_read_as_plain_text(tmp_path):
    """Unit code 4, closed loops, area of shapely's polygons, extents, layers."""
    made = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    assert header(made.path, "$INSUNITS") == "4" and header(made.path, "$ACADVER") == "AC1015"
    outside, *inside = sorted(cut_polygons(made.path), key=lambda p: -p.area)
    assert (
        len(inside) == 2 and made.cut_loops == 3
    )  # the window and the pivot tube's hole; the other three are popped
    assert all(outside.contains(p) for p in inside)
    area = outside.area - sum(p.area for p in inside)
    assert made.cut_area_mm2 == pytest.approx(area, rel=2e-6)
    popped = math.pi / 4 * (10**2 + 10**2 + 3**2)
    assert made.area_mm2 == pytest.approx(area - popped, rel=2e-6)
    assert made.extents_mm == pytest.approx(outside.bounds, abs=1e-4)
    assert {first(tags, 8) for _, tags in entities(made.path)} == {"CUT", "MARK", "NOTES"}


def test_unit_codes_are_those_of_the_reference():
    """millimetre 4, inch 1, unitless 0: public DXF reference; ezdxf's own constants agree."""
    from ezdxf import units

    assert (units.MM, units.IN, 0) == (4, 1, 0) and dxf.MILLIMETRES == units.MM


def test_arcs_are_true_arcs(tmp_path):
    """The outer path has one bulge an arc: three bosses and two waists, each of the radius it was given."""
    made = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    outer = max(
        (tags for kind, tags in entities(made.path) if kind == "LWPOLYLINE"),
        key=lambda t: loop_polygon(t).area,
    )
    bulges = [float(v) for c, v in outer if c == 42 and float(v)]
    assert sorted(b > 0 for b in bulges) == [False, False, True, True, True]
    assert not [k for k, _ in entities(made.path) if k in ("SPLINE", "ELLIPSE", "POLYLINE", "ARC")]


def test_fitted_and_small_holes_are_popped_and_tabled(tmp_path):
    made = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    assert [(r.purpose, r.made) for r in made.hole_table] == [
        ("pivot tube", "cut"),
        ("rod eye", "drill"),
        ("damper eye", "drill"),
        ("vent", "drill"),
    ]
    assert made.holes_cut == 1
    spots = {(float(first(t, 10)), float(first(t, 20))) for t in on_mark(made.path, "POINT")}
    # the hole table's datum is the origin: the damper boss reaches 14 left of -30, the pivot's 26 below 0
    there = {(x + 44, y + 26) for x, y in ((80, 20), (-30, 60), (-10, 40), (50, 8))}
    assert {(round(x, 6), round(y, 6)) for x, y in spots} == there
    assert made.extents_mm[:2] == pytest.approx((0, 0), abs=1e-9)
    assert len(on_mark(made.path, "POINT")) == len(spots)  # each marked once
    rod = made.hole_table[1]
    assert (rod.from_left_mm, rod.from_bottom_mm) == pytest.approx((124, 46)) == (rod.x_mm, rod.y_mm)
    crosses = [
        t
        for t in on_mark(made.path, "LINE")
        if math.dist((float(first(t, 10)), float(first(t, 20))), (124, 46)) <= 1.001
    ]
    assert len(crosses) == 4
    assert "hole 3: popped, not cut: reamed to 10 H7 later" in texts(made.path)


def test_a_laser_cuts_fitted_holes_but_none_under_the_smallest():
    rows = hole_table(PLATE, 4, cut_fitted=True)
    assert [r.made for r in rows] == ["cut", "cut", "cut", "drill"]
    # the reamed one is cut small, so that a reamer has metal to take; what a tube fills as large as it asks
    assert [r.cut_mm for r in rows] == [30, 10, 9.5, 0]
    over = replace(PLATE, holes=(replace(PLATE.holes[0], over_mm=0.3),))
    assert hole_table(over, 4, cut_fitted=True)[0].cut_mm == pytest.approx(30.3)
    assert [r.made for r in hole_table(PLATE, 3, cut_fitted=True)] == [
        "cut"
    ] * 4  # exactly the smallest is cut


def test_marks_and_texts(tmp_path):
    made = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    words = texts(made.path)
    assert "rocker plate - LEFT HAND" in words and "2 off - 3 mm S275" in words and "UP" in words
    assert any("NOMINAL" in w for w in words) and not any("COMPENSATED" in w for w in words)
    lines = [tuple(float(first(t, c)) for c in (10, 20, 11, 21)) for t in on_mark(made.path, "LINE")]
    assert (24, 56, 44, 56) in lines  # the bend line
    assert [first(t, 1) for t in on_mark(made.path, "TEXT")] == ["UP"]  # no note is ever engraved
    noted = on_mark(made.path, "LINE", "NOTES")
    lines = [tuple(float(first(t, c)) for c in (10, 20, 11, 21)) for t in noted]
    checks = [a for a in lines if math.dist(a[:2], a[2:]) == pytest.approx(100, abs=1e-9)]
    assert len(checks) == 1 and "100 mm check line" in words
    assert max(checks[0][1], checks[0][3]) <= made.extents_mm[1] - 10 + 1e-9
    for t in on_mark(made.path, "TEXT", "NOTES"):
        assert float(first(t, 20)) + float(first(t, 40)) < made.extents_mm[1] - 5  # clear below the part


def test_the_other_hand_is_drawn_mirrored_and_says_so(tmp_path):
    left = write_blank(tmp_path / "l.dxf", PLATE, **WORDS)
    right = write_blank(tmp_path / "r.dxf", PLATE.mirrored(), **(WORDS | {"hand": "right"}))
    assert "rocker plate - RIGHT HAND" in texts(right.path)
    wide = left.extents_mm[2]
    assert right.extents_mm == pytest.approx(left.extents_mm, abs=1e-9)
    assert right.cut_area_mm2 == pytest.approx(left.cut_area_mm2, rel=1e-12)
    for r, q in zip(right.hole_table, left.hole_table, strict=True):
        assert (r.x_mm, r.y_mm) == pytest.approx((wide - q.x_mm, q.y_mm), abs=1e-9)


def test_the_same_blank_is_the_same_file_byte_for_byte(tmp_path):
    a = write_blank(tmp_path / "a.dxf", PLATE, **WORDS).path.read_bytes()
    write_blank(tmp_path / "b.dxf", PLATE.mirrored(), **WORDS)
    c = write_blank(tmp_path / "c.dxf", PLATE, **WORDS).path.read_bytes()
    assert a == c


@settings(max_examples=30, deadline=None, derandomize=True, phases=[Phase.generate])
@given(
    st.lists(
        st.builds(Boss, st.floats(-300, 300), st.floats(-300, 300), st.floats(5, 60)), min_size=1, max_size=6
    ),
    st.floats(-500, 500),
    st.floats(-500, 500),
    st.floats(-3, 3),
)
def test_any_hull_reads_back_with_shapelys_area(tmp_path_factory, some, dx, dy, turn):
    o = Outline(hull(some), holes=(Hole(some[0].x, some[0].y, some[0].radius_mm, "h", "weld"),)).moved(
        dx, dy, turn
    )
    made = write_blank(tmp_path_factory.mktemp("hull") / "a.dxf", o, **(WORDS | {"smallest_hole_mm": 0}))
    outside, inside = sorted(cut_polygons(made.path), key=lambda p: -p.area)
    assert made.cut_area_mm2 == pytest.approx(outside.area - inside.area, rel=5e-6)
    assert made.extents_mm == pytest.approx(outside.bounds, abs=1e-3)


# ------------------------------------------------------------------------------------- compensation


def test_kerf_compensation():
    """Kerf 1.5: hole 12.5 is cut on an 11 mm path; outline 100 x 50 on a path 304.71239 mm long with round
    corners; the smallest inside corner left is 0.75 mm (closed form)."""
    o = Outline(
        rectangle(0, 0, 100, 50),
        inner=(rectangle(60, 10, 90, 40, 0.75 + 0.01),),
        holes=(Hole(25, 25, 12.5, "a", "weld"),),
    )
    path = compensated(o, 0.75)
    assert path.holes[0].diameter_mm == pytest.approx(11, rel=1e-6)
    assert path.outer.perimeter_mm == pytest.approx(304.71239, rel=1e-6)
    assert min(s.radius for s in path.inner[0].segments if s.bulge) == pytest.approx(
        0.01, abs=1e-9
    )  # path radius + 0.75 is cut
    tight = compensated(replace(o, inner=(rectangle(60, 10, 90, 40, 0.7),)), 0.75).inner[
        0
    ]  # corners under 0.75 are left at 0.75
    assert abs(tight.area_mm2) == pytest.approx(28.5**2, rel=1e-9) and len(tight.segments) == 4


def test_a_compensated_blank_says_so_in_name_and_text_and_keeps_nominal_areas(tmp_path):
    nominal = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    made = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS, compensation_mm=0.75)
    assert made.path.name == "plate-compensated.dxf" and nominal.path.exists()
    assert any("COMPENSATED 0.75 mm a side" in w for w in texts(made.path)) and not any(
        "NOMINAL" in w for w in texts(made.path)
    )
    assert made.area_mm2 == nominal.area_mm2 and made.compensation_mm == 0.75
    before, after = (sorted(cut_polygons(p.path), key=lambda q: -q.area) for p in (nominal, made))
    for i, (a, b) in enumerate(zip(before, after, strict=True)):
        grown = a.buffer(0.75 if i == 0 else -0.75, quad_segs=500)  # shapely's buffer of the nominal file
        assert b.symmetric_difference(grown).area < 1e-5 * a.area
    with pytest.raises(BlankError, match="promises a compensation"):
        write_blank(tmp_path / "plate-compensated.dxf", PLATE, **WORDS)


def test_a_hole_no_larger_than_the_kerf_is_refused():
    with pytest.raises(OutlineError, match="not larger than the kerf"):
        compensated(Outline(rectangle(0, 0, 50, 50), holes=(Hole(25, 25, 1.5, "a"),)), 0.75)


# ------------------------------------------------------------------------------------- refusals and read-back


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"hand": "port"}, "left, right or either"),
        ({"compensation_mm": 0}, "above 0"),
        ({"compensation_mm": math.nan}, "compensation_mm is nan"),
        ({"compensation_mm": -0.75}, "above 0"),
        ({"thickness_mm": 0}, "thickness"),
        ({"count": 0}, "count"),
        ({"part": "a\nb"}, "part"),
        ({"smallest_hole_mm": math.nan}, "smallest_hole_mm is nan"),
    ],
)
def test_wrong_words_are_refused_and_leave_no_file(tmp_path, change, word):
    with pytest.raises(BlankError, match=word):
        write_blank(tmp_path / "plate.dxf", PLATE, **(WORDS | change))
    assert not list(tmp_path.iterdir())


def test_a_fit_nobody_knows_is_refused():
    """A misspelt fit must not turn a reamed eye into a hole burnt by plasma."""
    with pytest.raises(ValueError, match="'ream'"):
        hole_table(Outline(rectangle(0, 0, 50, 50), holes=(Hole(25, 25, 10, "eye", "ream"),)), 4)


def test_a_bad_outline_is_refused_and_leaves_no_file(tmp_path):
    with pytest.raises(OutlineError, match="runs into"):
        write_blank(
            tmp_path / "a.dxf",
            replace(PLATE, holes=(Hole(0, 0, 30, "a", "weld"), Hole(16, 0, 30, "b", "weld"))),
            **WORDS,
        )
    assert not list(tmp_path.iterdir())


def spoil(monkeypatch, edit):
    """Let the drawing be made, then damaged before it is saved."""
    real = dxf._draw

    def draw(*a):
        document = real(*a)
        edit(document)
        return document

    monkeypatch.setattr(dxf, "_draw", draw)
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")  # else the good one is put there again


def outer_of(document):
    return next(iter(document.modelspace().query("LWPOLYLINE")))


def shift_a_corner(document):
    points = outer_of(document).get_points("xyb")
    outer_of(document).set_points([(points[0][0] + 0.01, *points[0][1:]), *points[1:]], format="xyb")


def flip_a_bulge(document):
    points = outer_of(document).get_points("xyb")
    outer_of(document).set_points([(x, y, -b) for x, y, b in points[:1]] + points[1:], format="xyb")


@pytest.mark.parametrize(
    ("edit", "word"),
    [
        (lambda d: outer_of(d).close(False), "not a closed path"),
        (shift_a_corner, "area"),
        (flip_a_bulge, "area"),
        (lambda d: d.header.__setitem__("$INSUNITS", 1), "unit code 1"),
        (lambda d: d.header.__setitem__("$INSUNITS", 0), "unit code 0"),
        (lambda d: d.modelspace().delete_entity(next(iter(d.modelspace().query("CIRCLE")))), "closed loops"),
        (lambda d: next(iter(d.modelspace().query("CIRCLE"))).dxf.__setattr__("radius", 15.001), "holes"),
        (lambda d: next(iter(d.modelspace().query("CIRCLE"))).translate(0.001, 0, 0), "holes"),
        (lambda d: next(iter(d.modelspace().query("POINT"))).translate(1, 0, 0), "centre pops"),
        (
            lambda d: d.modelspace().add_line((0, 0), (1, 1), dxfattribs={"layer": "CUT"}),
            "LINE that is not a closed path",
        ),
        (
            lambda d: d.modelspace().add_line((0, 0), (1, 1), dxfattribs={"layer": "0"}),
            "neither CUT nor MARK",
        ),
        (lambda d: [e.translate(0.01, 0, 0) for e in d.modelspace().query("LWPOLYLINE")], "extents"),
    ],
)
def test_a_file_that_reads_back_wrong_does_not_count_as_written(tmp_path, monkeypatch, edit, word):
    """Each kind of damage is found by reading the file back, and the last good file of that name stays."""
    good = write_blank(tmp_path / "plate.dxf", PLATE, **WORDS).path.read_bytes()
    spoil(monkeypatch, edit)
    with pytest.raises(BlankError, match=word):
        write_blank(tmp_path / "plate.dxf", PLATE, **WORDS)
    assert [p.name for p in tmp_path.iterdir()] == ["plate.dxf"] and (
        tmp_path / "plate.dxf"
    ).read_bytes() == good


def test_a_damaged_file_is_refused(tmp_path):
    file = tmp_path / "a.dxf"
    with pytest.raises(BlankError, match="cannot be read back"):
        read_blank(file)
    file.write_text("nothing of the kind")
    with pytest.raises(BlankError, match="cannot be read back"):
        read_blank(file)
    good = write_blank(file, PLATE, **WORDS).path.read_bytes()
    file.write_bytes(good[: len(good) // 2])
    with pytest.raises(BlankError):
        read_blank(file)


def test_a_round_blank_and_one_of_sharp_corners(tmp_path):
    """A disc 60 across with a 20 hole, and a triangle 30-40-50: areas by hand."""
    washer = write_blank(
        tmp_path / "w.dxf", Outline(circle(5, 5, 60), holes=(Hole(5, 5, 20, "bore", "weld"),)), **WORDS
    )
    assert washer.cut_area_mm2 == pytest.approx(math.pi / 4 * (3600 - 400), rel=1e-12)
    assert washer.extents_mm == pytest.approx((0, 0, 60, 60), abs=1e-9)
    gusset = write_blank(tmp_path / "g.dxf", Outline(rounded([(0, 0), (40, 0), (0, 30)])), **WORDS)
    assert gusset.cut_area_mm2 == pytest.approx(600, rel=1e-12)


def test_a_part_named_in_any_letters(tmp_path):
    made = write_blank(tmp_path / "a.dxf", PLATE, **(WORDS | {"part": "pièce à ressort 日"}))
    assert "pièce à ressort \\U+65e5 - LEFT HAND" in texts(
        made.path
    )  # the DXF reference's way to write what its code page lacks
    assert "pièce à ressort 日 - LEFT HAND" in read_blank(made.path).texts


@pytest.mark.slow
def test_a_seeded_sweep_is_right_or_refused(tmp_path):
    """Any vertices at all: a written file, checked by shapely, or OutlineError or BlankError; nothing
    else."""
    written = refused = 0
    for seed in range(120):
        rng = random.Random(seed)
        n = rng.randint(2, 6)
        corners = [
            cmath.rect(rng.uniform(25, 60), 2 * math.pi * (i + rng.uniform(-0.2, 0.2)) / n) for i in range(n)
        ]
        if seed % 5 == 0:
            rng.shuffle(corners)
        loop = Loop(
            tuple(Vertex(p.real, p.imag, rng.choice([0, 0, 0.2, -0.1, 0.5, 1e-9, 1e-14])) for p in corners)
        )
        o = Outline(loop, holes=(Hole(0, 0, rng.choice([-1, 2, 8, 8, 12, 30]), "h", "weld"),))
        file = tmp_path / f"{seed}.dxf"
        try:
            made = write_blank(
                file, o, **(WORDS | {"smallest_hole_mm": 0}), compensation_mm=rng.choice([None, 0.3, 2])
            )
        except (OutlineError, BlankError):
            refused += 1
            assert not list(tmp_path.glob(f"{seed}*")), f"seed {seed}"
            continue
        written += 1
        outside, *inside = sorted(cut_polygons(made.path), key=lambda p: -p.area)
        assert outside.is_valid and all(outside.contains(p) for p in inside), f"seed {seed}"
        assert made.cut_area_mm2 == pytest.approx(outside.area - sum(p.area for p in inside), rel=1e-5), (
            f"seed {seed}"
        )
    assert written > 20 and refused > 20
