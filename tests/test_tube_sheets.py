"""Strips to wrap, saw settings, nodes' pictures and what is sawn of tubes: against closed forms, pixels of
the page and the CAD kernel's solids."""

import csv
import math
from itertools import pairwise
from types import SimpleNamespace

import demos
import numpy as np
import pypdfium2
import pytest

from assemblies.job.frame import FrameTable as FrameTable
from assemblies.layout.frame import of_car
from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.meeting import Tube
from assemblies.making import sheets
from assemblies.making.report.tables import tube_ends as tube_ends_of
from assemblies.making.sheets import (
    cut_list,
    cut_list_line,
    made_rows,
    node_view,
    paper,
    sawing,
    tube_end_tables,
    tube_ends,
    tube_strips,
)
from assemblies.making.sheets.paper import Printing
from assemblies.making.sheets.tube_ends import TubePiece
from parts.arm import Arm
from parts.files.solid import solid
from parts.fitted_tube import fitted
from parts.member import Member, Section
from parts.shape.form import Frame
from parts.skin import Run
from parts.tube_end import tube_end

PX = 600 / 25.4


def piece(tube, name="brace") -> TubePiece:
    return TubePiece(
        name, tube, tube.frame.matrix()[:3, :3], {"from": "node 1", "to": ""}, {"from": 2, "to": 0}, 1.0
    )


def on_a_run(diameter, wall, run, angle_deg, offset, length=200.0):
    """A tube from the foot of the common perpendicular on a round run, at an angle to it, its axis `offset`
    beside the run's."""
    a = math.radians(angle_deg)
    tube = Member.tube((0, 0, 0), (length * math.cos(a), 0, length * math.sin(a)), diameter, wall)
    along = Run("run", Section(run, run, is_round=True), Frame((0, offset, 0), (0, 1, 0), (1, 0, 0)))
    return fitted(tube, tube_end(tube, "from", [along]))


# ------------------------------------------------------------------------------------------------ the strip


def test_a_strip_is_as_wide_as_the_tube_and_its_paper():
    """Row D11, closed form: 38.1 mm: 119.69468 on the outside, 120.00884 with paper of 0.1 mm."""
    s = Section(38.1, 38.1, 2, is_round=True)
    assert tube_strips.girth_mm(s, 0) == pytest.approx(119.69468, abs=1e-5)
    assert tube_strips.girth_mm(s, 0.1) == pytest.approx(120.00884, abs=1e-5)


@pytest.mark.parametrize(
    "section, around",
    [(Section(40, 25, 2, 4.0), 130 - 8 * 4 + 2 * math.pi * 4), (Section(30, 30, 2, 0.0), 120.0)],
)
def test_a_strip_round_corners_grows_by_pi_times_the_paper(section, around):
    """Offset of a convex outline by d is longer by 2·pi·d (Steiner): half the paper's thickness outside.
    Corners take all of it."""
    assert tube_strips.girth_mm(section, 0.2) == pytest.approx(around + math.pi * 0.2, abs=1e-6)
    at = np.array([0.0, section.height_mm / 2 - section.outer_corner_mm, around / 2, around])
    x = tube_strips.on_paper(section, at, 0.2)
    corner = math.pi / 4 * 0.2
    assert x[[0, 2, 3]] == pytest.approx([0, around / 2 + 2 * corner, around + 4 * corner], abs=1e-6)
    assert (
        at[1] <= x[1] <= at[1] + corner + 1e-9
        and (np.diff(tube_strips.on_paper(section, np.linspace(0, around, 999), 0.2)) > 0).all()
    )


def test_the_page_shows_the_curve_true_to_a_tenth(tmp_path):
    """Equal tubes square (row U1): s = sqrt(R² - (r·sin psi)²) in pixels at 600 dpi, round a strip of
    120.00884 mm (row D11); and at the bore with its own radius (row U5)."""
    p = piece(on_a_run(38.1, 2.0, 38.1, 90, 0.0))
    ((_, sheet),) = tube_strips.sheets([p], 0.1)
    paper.write_pdf(tmp_path / "a.pdf", [sheet], Printing(), "t")
    document = pypdfium2.PdfDocument(str(tmp_path / "a.pdf"))
    ink = 255 - document[0].render(scale=600 / 72, grayscale=True).to_numpy().squeeze()
    document.close()
    (page,) = paper.pages(sheet, Printing())
    left = min(q[0] for i in page.drawing.items if getattr(i, "closed", False) for q in i.points)
    bottom = min(q[1] for i in page.drawing.items if getattr(i, "closed", False) for q in i.points)
    height = ink.shape[0] / PX

    def marks(line):
        edges = np.flatnonzero(np.diff(np.concatenate(([0], (line > 150).astype(int), [0]))))
        return (edges[::2] + edges[1::2]) / 2 / PX

    row = marks(
        ink[round((height - bottom - 3) * PX)]
    )  # below the curve: only the strip's two edges are black
    edges = [x for x in row if abs(x - left) < 1 or abs(x - left - 120) < 1]
    assert edges[-1] - edges[0] == pytest.approx(120.00884, abs=0.1) and len(edges) == 2
    seen = []
    for psi in range(5, 360, 10):
        column = marks(ink[:, round((edges[0] + psi / 360 * 120.00884) * PX)])
        s = math.sqrt(
            max(19.05**2 - (19.05 * math.cos(math.radians(psi))) ** 2, 0.0)
        )  # the index line lies across the run
        want = height - bottom - tube_strips.WASTE_MM - s  # long point at s = 0
        seen.append(np.abs(column - want).min())
    assert max(seen) < 0.1 and len(seen) == 36


def wrapped(s: tube_strips.Strip, tube, end: str, mirrored=False):
    """Points of the printed outside line on the tube: paper face out, arrow up the axis k, its left edge on
    the index line i. Seen from outside with k up, right is k × i: so x to the right turns right-handed about
    k."""
    k, i = np.array(tube.frame.z), np.array(tube.frame.x)
    start = np.array(tube.member.from_ if end == "from" else tube.member.to)
    a = 2 * math.pi * s.x / s.girth_mm * (-1 if mirrored else 1)
    r = tube.section.width_mm / 2
    return start + np.outer(np.cos(a) * r, i) + np.outer(np.sin(a) * r, np.cross(k, i)) + np.outer(s.outer, k)


def off_the_edges(points, made):
    from cadquery import Vertex

    return [min(e.distance(Vertex.makeVertex(*map(float, p))) for e in made.Edges()) for p in points]


def kernels_cope(tube, end, run, offset):
    """The CAD kernel's own cylinders cut from each other, the tube longer than needed."""
    from cadquery import Solid, Vector

    k, start = np.array(tube.frame.z), np.array(tube.member.from_ if end == "from" else tube.member.to)
    k = k if end == "from" else -k
    low = Vector(*map(float, start))
    outer, bore = (
        Solid.makeCylinder(d / 2, 200, low, Vector(*map(float, k)))
        for d in (tube.section.width_mm, tube.section.width_mm - 2 * tube.section.wall_mm)
    )
    return outer.cut(bore).cut(Solid.makeCylinder(run / 2, 400, Vector(-200, offset, 0), Vector(1, 0, 0)))


@pytest.mark.parametrize("end", ["from", "to"])
def test_the_wrapped_strip_is_the_edge_of_the_solid_and_its_mirror_image_is_not(end):
    """Row U4: a branch of 25.4 at 75 deg, 8 mm beside a run of 48.3; the solid is the CAD kernel's own
    boolean."""
    t = on_a_run(25.4, 2.0, 48.3, 75, 8.0)
    if end == "to":  # the same tube told from its other end
        m = t.member
        turned = Member.tube(m.to, m.from_, 25.4, 2.0)
        t = fitted(turned, None, tube_end(turned, "to", t.from_cut.cutters))
    cut = t.from_cut if end == "from" else t.to_cut
    s = tube_strips.strip(cut, end, 0.1)
    some = slice(0, len(s.x), max(1, len(s.x) // 24))
    for made in (
        kernels_cope(t, end, 48.3, 8.0),
        solid(t.form().moved(t.frame)),
    ):  # cut by hand, and as laid out
        assert max(off_the_edges(wrapped(s, t, end)[some], made)) < 0.02
        assert max(off_the_edges(wrapped(s, t, end, mirrored=True)[some], made)) > 2.0


def test_a_folded_strip_is_the_edge_of_the_solid():
    """A rectangular tube, rolled 20 deg, aslant on a round run: flats unfold at their own length (paper
    0)."""
    m = Member.rectangular((0, 3, 0), (150, 40, 180), 40, 25, 2, 20.0)
    t = fitted(
        m,
        tube_end(
            m, "from", [Run("run", Section(60, 60, is_round=True), Frame((0, 0, 0), (0, 1, 0), (1, 0, 0)))]
        ),
    )
    s = tube_strips.strip(t.from_cut, "from", 0.0)
    c, flat = m.section.outer_corner_mm, 25 / 2 - m.section.outer_corner_mm
    on_x = s.x <= flat  # the half of the +x face beside the index line, then the middle of the +y face
    middle = flat + math.pi / 2 * c + 20 - c
    on_y = np.abs(s.x - middle) < 15
    f = t.frame.matrix()[:3, :3]
    local = np.concatenate(
        [
            np.column_stack([np.full(on_x.sum(), 20.0), s.x[on_x], s.outer[on_x]]),
            np.column_stack([middle - s.x[on_y], np.full(on_y.sum(), 12.5), s.outer[on_y]]),
        ]
    )
    assert on_x.sum() > 2 and on_y.sum() > 2
    assert (
        max(
            off_the_edges(
                (np.array(m.from_) + local @ f.T)[:: max(1, len(local) // 20)],
                solid(t.form().moved(t.frame)),
            )
        )
        < 0.02
    )


# ------------------------------------------------------------ saw, arms, lists


def mitred(d1, d2, size=(40, 40)):
    """Two tubes away from the origin, cut on their bisecting plane."""
    from types import SimpleNamespace

    a, b = (tuple(200.0 * np.array(d) / np.linalg.norm(d)) for d in (d1, d2))
    tubes = [
        Tube("a", Member.rectangular((0, 0, 0), a, *size, 2)),
        Tube("b", Member.rectangular((0, 0, 0), b, *size, 2)),
    ]
    return junctions(tubes, 10, [SimpleNamespace(members=("a", "b"), mitre=True, at=None)])


@pytest.mark.parametrize(
    "d1, d2, size, mitre, tilt",
    [
        ((1, 0, 0), (-0.5, 0.6, 0.4), (40, 40), 23.536632, 14.907711),
        ((1, 0.3, 0.2), (-0.2, 1, 0.5), (50, 30), 46.974089, 18.809399),
    ],
)
def test_saw_settings_name_the_longer_sides(d1, d2, size, mitre, tilt):
    """Rows U8 and U9 (closed form): mitre is the trace on the top face, tilt asin(n·v); the longer sides by
    the curve itself."""
    t = mitred(d1, d2, size).tubes["a"]
    table, m, x, k, y = tube_ends.setting(t.from_cut, "from")
    assert (table, m, k) == (3, pytest.approx(mitre, abs=1e-4), pytest.approx(tilt, abs=1e-4))
    around = t.from_cut.around_mm[-1]
    quarter = [float(np.interp(q * around / 4, t.from_cut.around_mm, t.from_cut.outer_mm)) for q in range(4)]
    assert quarter[x] == min(quarter[0], quarter[2]) and quarter[y] == min(quarter[1], quarter[3])
    words = tube_ends.saw_in_words(piece(t), "from")
    assert f"mitre {mitre:.1f}" in words and f"tilted {tilt:.1f}" in words and "on the table" in words


def test_a_tilt_alone_is_sawn_as_a_mitre_on_the_next_face():
    """Two tubes in an upright plane at 90 deg: a mitre of 45 on the side face, blade square (closed form)."""
    cut = mitred((1, 0, 0), (0, 0, 1)).tubes["a"].from_cut
    assert tube_ends.setting(cut, "from") == (2, pytest.approx(45.0, abs=1e-6), 3, 0.0, 0)


def test_arm_tubes_run_from_boss_to_housing():
    """Row U13's copes (25.4 on 38.1 and on 50.8, 500 apart; closed form): 500 - sqrt(19.05² - 12.7²) -
    sqrt(25.4² - 12.7²) = 463.80392 to saw. The rear tube runs into the front one beside the boss: their skins
    part at r/tan(A/2) (row U10)."""
    arm = Arm((500.0, 0.0), (500.0, -300.0), 25.4, 2.0, boss_diameter_mm=38.1, housing_diameter_mm=50.8)
    front, rear = arm.coped()
    assert front.length_mm == pytest.approx(463.80392, abs=1e-4)
    assert front.from_cut.runs == ("boss",) and rear.from_cut.runs == ("boss", "front tube")
    half = math.atan2(300, 500) / 2
    assert rear.from_cut.short_mm == pytest.approx(12.7 / math.tan(half), abs=1e-3)
    reach = arm.past_housing_mm()
    assert reach[0] == pytest.approx(12.7 - 18, abs=1e-3)  # square on it
    assert Arm((500.0, 0.0), (500.0, -300.0), 25.4, 2.0, housing_length_mm=24.0).past_housing_mm()[
        0
    ] == pytest.approx(0.7, abs=1e-3)


def test_what_crosses_the_middle_is_needed_once():
    job = SimpleNamespace(frame=FrameTable(), member=())
    of = {
        name: of_car(job, Member.square(a, b, 25, 2))
        for name, a, b in (
            ("side", (0, 300, 0), (500, 250, 0)),
            ("across", (0, 300, 0), (0, -300, 0)),
            ("middle", (0, 0, 0), (500, 0, 0)),
            ("half", (0, 300, 0), (0, 0, 100)),
        )
    }
    assert of == {"side": 2, "across": 1, "middle": 1, "half": 2}


@pytest.fixture(scope="module")
def heron():
    done = demos.corner("heronbank-front")
    return done, tube_ends.pieces(done.layout)


def test_a_size_in_inches_is_told_in_inches_beside_mm():
    """1 in square with a wall of 0.065 in, 1/8 in plate: in the cut list, the sawing and on the strips; a
    metric tube is left alone."""
    inch = Member.square((0, 0, 0), (300, 0, 0), 25.4, 1.651)
    row = made_rows.member_row("rail", inch, "", frame=True)
    assert cut_list_line.cells(row)[3] == "25.4 x 25.4 x 1.651 (1 in x 1 in x 0.065 in)"
    assert tube_ends.size(inch.section) == row.section.told == cut_list_line.cells(row)[3]
    metric = made_rows.member_row("rail", Member.tube((0, 0, 0), (300, 0, 0), 25, 1.5), "")
    assert cut_list_line.cells(metric)[3] == "round 25 x 1.5"


def test_the_cut_list_gives_the_frame_and_arms_at_their_long_points(heron):
    done, found = heron
    listed = {r.item: r for r in cut_list.rows(done.layout)}
    for p in found:
        assert listed[p.name].length_mm == pytest.approx(p.tube.length_mm)
    m = done.layout.junctions.all["front upright"].member
    assert listed["front upright"].length_mm > m.length_mm and "long point" in listed["front upright"].note
    # between two rails of 30 whose middles lie 315 either side: 600 where it is sawn flat, though its coped
    # corners reach round theirs
    cross, words = done.layout.junctions.tubes["front cross tube"], listed["front cross tube"].note
    assert tube_ends.flat_mm(cross) == pytest.approx(600.0, abs=1e-6) and cross.length_mm > 602
    assert "600.0 with flat cuts" in words and "sawn square, 1.1 in from the long point" in words
    row = next(r for r in tube_end_tables.rows(found) if r[:2] == ["front cross tube", "to"])
    place = tube_end_tables.HEAD.index("saw cut in from the long point, mm")
    assert len(row) == len(tube_end_tables.HEAD) and float(row[place]) == pytest.approx(1.13, abs=0.005)
    for end in (
        "front",
        "rear",
    ):  # both ends coped: less than from centre to centre by more than the tube's radius
        row, a = listed[f"lower arm {end} tube"], done.job.lower_arm
        assert row.length_mm < math.dist(getattr(a, f"{end}_pivot"), a.outer_joint) - a.tube_diameter / 2


def test_sawing_takes_the_frame_facing_and_springs_only_from_a_bar_in_hand(heron):
    done, _ = heron
    listed = cut_list.rows(done.layout)

    def count(job, name):
        return sum(q.name == name for p in sawing.plans(listed, job) for b in p.plan.bars for q in b.pieces)

    job = done.job
    assert (count(job, "front upright"), count(job, "front cross tube"), count(job, "leaf")) == (2, 1, 0)
    assert (
        count(job.changed({"frame.sawn": False}), "front upright") == 0
        and count(job.changed({"nest.sides": "left"}), "front upright") == 1
    )
    leaf = next(r for r in listed if r.item == "leaf")
    strip = job.changed(
        {
            "stock.bar": {
                "shape": "rectangular",
                "width": job.spring.leaf_width,
                "height": job.spring.leaf_thickness,
                "length": 6000,
            }
        }
    )
    assert count(strip, "leaf") == 2 * leaf.count
    boss = next(r for r in listed if r.item == "upper arm boss")
    sawn = {
        q.name: q.length_mm
        for p in sawing.plans(listed, job.changed({"process.facing": 3}))
        for b in p.plan.bars
        for q in b.pieces
    }
    assert sawn["upper arm boss"] == pytest.approx(boss.length_mm + 3)
    assert sawn["upper arm front tube"] == pytest.approx(
        next(r for r in listed if r.item == "upper arm front tube").length_mm
    )


@pytest.mark.slow
def test_sheets_of_the_demo(heron, tmp_path):
    """Every cut end has its row and each that is not sawn square its strip, all on pages of their own; no
    words run into each other or off the page."""
    done, found = heron
    letter = Printing("Letter")
    assert all(
        len(paper.pages(s, letter)) == 1
        for _, s in [*node_view.sheets(done.layout, letter), *tube_strips.sheets(found, 0.1, letter)]
    )
    made = [*node_view.sheets(done.layout), *tube_strips.sheets(found, 0.1)]
    for _, sheet in made:
        assert len(paper.pages(sheet, Printing())) == 1, sheet.title
        words = [i for i in sheet.drawing.items if not hasattr(i, "start")]
        boxes = [type(sheet.drawing)([w]).bounds for w in words]
        for i, a in enumerate(boxes):
            for b in boxes[:i]:
                assert (
                    a[0] >= b[2] - 0.05 or b[0] >= a[2] - 0.05 or a[1] >= b[3] - 0.05 or b[1] >= a[3] - 0.05
                ), (sheet.title, a, b)
    drawn = " ".join(s.title for _, s in made)
    assert all(p.name in drawn for p in found if any(tube_ends.needs_strip(p.cut(e)) for e in tube_ends.ENDS))
    table = tube_end_tables.rows(found)
    assert len(table) == 2 * len(found) and {len(r) for r in table} == {len(tube_end_tables.HEAD)}
    assert all(
        len(r) == len(tube_end_tables.BOOK_HEAD) == len(tube_end_tables.BOOK_WIDTHS)
        for r in tube_end_tables.book_rows(found)
    )
    shop = sheets.Shop((), None, None, (), (), None, (), tuple(found))
    sheets._tube_files(shop, done.layout, tmp_path, Printing(), "x")
    assert sorted(w.name for w in tmp_path.iterdir()) == ["tube-ends.csv", "tube-ends.pdf"]
    with (tmp_path / "tube-ends.csv").open(encoding="utf-8-sig", newline="") as f:
        assert list(csv.reader(f))[1:] == table


def test_the_report_names_each_cut_end_once_with_the_length_of_its_tube(heron):
    done, found = heron
    rows = tube_ends_of(done.results)
    tubes = {p.name: p for p in found}
    assert len(rows) == len({(e.member, e.end) for e, *_ in rows}) > 10
    for e, length, runs, how in rows:
        cut = tubes[e.member].cut(e.end)
        assert length == pytest.approx(tubes[e.member].tube.length_mm) and ("saw cut" in how) == (
            tube_ends.has_saw_cut(cut) and tube_ends.needs_strip(cut)
        )
        assert runs.count(",") == len(cut.runs) - 1 and "other upper" not in runs


def test_a_wide_or_deep_end_still_prints_whole(tmp_path):
    """A tube of 76 mm round is wider than A4: tiles that overlap. At 30 deg the copes of both ends take a
    page each."""
    wide = tube_strips.sheets([piece(on_a_run(76.1, 2.0, 88.9, 60, 0.0, 400))], 0.1)
    assert next(p.what for p in paper.pages(wide[0][1], Printing())) == "page map"
    t = on_a_run(42.4, 2.0, 48.3, 30, 0.0, 400)
    far = Run(
        "far",
        Section(48.3, 48.3, is_round=True),
        Frame((t.member.to[0], 0, t.member.to[2]), (0, 1, 0), (1, 0, 0)),
    )
    both = fitted(t.member, t.from_cut, tube_end(t.member, "to", [far]))
    made = tube_strips.sheets([piece(both)], 0.1)
    assert [stem for stem, _ in made] == ["brace-from", "brace-to"] and all(
        len(paper.pages(s, Printing())) == 1 for _, s in made
    )


def test_nodes_are_drawn_from_where_their_tubes_stand_apart(heron):
    """As seen, no two tubes of a node lie on each other: at least 10 deg apart, unless no view of the 26 does
    better."""
    made = heron[0].layout.junctions
    for node in made.nodes:
        v = node_view.best_view(made, node)
        right, up = node_view._page(v)
        assert np.cross(right, up) == pytest.approx(v, abs=1e-12)  # a picture, not its mirror image
        turns = sorted(
            math.degrees(math.atan2(float(a @ up), float(a @ right)))
            for n in node.members
            for a in node_view._ways(made, node, n)
        )
        assert min(b - a for a, b in pairwise([*turns, turns[0] + 360])) > 10
