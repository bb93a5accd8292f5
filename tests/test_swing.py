"""A part that turns alone: proven gaps against closed forms and the CAD kernel at many angles, frames that
cannot be mixed up, the small file and its errors, what is written."""

from __future__ import annotations

import json
import math
import tomllib

import cadquery as cq
import numpy as np
import pytest
from typer.testing import CliRunner

from assemblies.clearance import Body, check
from assemblies.clearance.hinge import Hinge
from assemblies.command.cli import app
from assemblies.job import JobError
from assemblies.swing import InCar, OnHinge, StepFile, Swing, load
from assemblies.swing.file import starter
from parts.member import Member
from parts.shape.belt import Boss, hull
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Outline

PIVOT = (1700.0, 260.0, 480.0)


def disc(x: float, y: float, diameter: float, thick: float = 6.0) -> Form:
    return Form((Round(diameter, thick, 0.0, Frame((x, y, -thick / 2))),))


def wall(y: float) -> Member:
    """A block whose inner face stands at y."""
    return Member.box((PIVOT[0], y + 20.0, PIVOT[2]), (40.0, 40.0, 400.0))


@pytest.mark.parametrize(
    "degrees, nearest",
    [((-20.0, 35.0), 0.0), ((10.0, 60.0), 10.0), ((-70.0, -25.0), -25.0)],
)
@pytest.mark.parametrize("tolerance", [2.0, 0.1, 0.005])
def test_a_disc_on_an_arm_comes_to_a_wall_as_its_cosine_says(degrees, nearest, tolerance):
    """Gap = Y - R·cos(angle) - r: at the angle nearest to 0; the proof holds for every tolerance."""
    arm, r, away = 90.0, 14.0, 130.0
    swing = Swing(
        Hinge(PIVOT, (1, 0, 0), (PIVOT[0], PIVOT[1] + arm, PIVOT[2])),
        *degrees,
        (OnHinge(disc(arm, 0.0, 2 * r)),),
        {"wall": wall(PIVOT[1] + away)},
        tolerance_mm=tolerance,
    )
    (gap,) = swing.gaps()
    true = away - arm * math.cos(math.radians(nearest)) - r
    assert gap.gap_mm <= true <= gap.found_gap_mm + 1e-6 and gap.found_gap_mm - gap.gap_mm <= tolerance
    here = away - arm * math.cos(math.radians(gap.at_deg)) - r
    assert here - 1e-6 <= gap.found_gap_mm <= here + tolerance
    assert gap.required_mm == 8.0 and gap.ok


def test_angles_are_right_handed_about_the_axis_as_given():
    """The arm lies along +y; about +x it turns towards +z, about -x towards -z."""
    above = Member.box((PIVOT[0], PIVOT[1], PIVOT[2] + 150.0), (40.0, 400.0, 40.0))
    for axis, at in (((1, 0, 0), 90.0), ((-1, 0, 0), -90.0)):
        swing = Swing(
            Hinge(PIVOT, axis, (PIVOT[0], PIVOT[1] + 90.0, PIVOT[2])),
            -90.0,
            90.0,
            (OnHinge(disc(90.0, 0.0, 20.0)),),
            {"above": above},
        )
        (gap,) = swing.gaps()
        assert gap.at_deg == at and gap.gap_mm == pytest.approx(150 - 20 - 90 - 10, abs=0.11)


@pytest.mark.slow
def test_random_tubes_against_the_cad_kernel_at_many_angles():
    """Solids made and turned by the CAD kernel alone: none of 27 angles shows less than was proven, and at
    the angle told the kernel finds what was found."""
    rng = np.random.default_rng(7)
    discs = [(0.0, 0.0, 31.0), (92.0, 0.0, 15.0), (-9.5, 69.3, 15.0)]
    outline = Outline(hull([Boss(*d) for d in discs]))
    axis = np.array((0.9, 0.3, -0.2))
    hinge = Hinge(PIVOT, tuple(axis), (1700, 352, 490))
    tubes = {}
    while len(tubes) < 6:
        middle = np.array(PIVOT) + rng.normal(0, 1, 3) * (30, 90, 90)
        along = rng.normal(0, 1, 3)
        a, b = middle - 150 * along, middle + 150 * along
        off = np.linalg.norm(np.cross(np.array(PIVOT) - a, along)) / np.linalg.norm(along)
        if off > 75:
            tubes[f"tube {len(tubes)}"] = Member.tube(tuple(a), tuple(b), float(rng.uniform(10, 40)), 1.5)
    swing = Swing(hinge, -25.0, 40.0, (OnHinge(Form((Prism(outline, 4.0),)), -10.0),), tubes)
    m = hinge.frame.matrix()
    plane = cq.Plane(
        tuple(m[:3, 3] - 10 * m[:3, 2]), tuple(m[:3, 0]), tuple(m[:3, 2])
    )  # the kernel's own placing
    corners = [(v.x, v.y, v.bulge) for v in outline.outer.vertices]
    path = cq.Workplane(plane).moveTo(*corners[0][:2])
    for s in outline.outer.segments[:-1] if not outline.outer.segments[-1].bulge else outline.outer.segments:
        path = path.threePointArc(s.at(0.5), s.at(1.0)) if s.bulge else path.lineTo(*s.at(1.0))
    part = path.close().extrude(4.0).val()
    tip = tuple(np.array(PIVOT) + axis)
    clear = 0
    for gap in swing.gaps():
        tube = tubes[gap.neighbour]
        along = np.subtract(tube.to, tube.from_)
        bar = cq.Solid.makeCylinder(
            tube.section.width_mm / 2, float(np.linalg.norm(along)), cq.Vector(*tube.from_), cq.Vector(*along)
        )

        def apart(angle, bar=bar):
            return part.rotate(cq.Vector(*PIVOT), cq.Vector(*tip), angle).distance(bar)

        least = min(map(apart, np.linspace(-25.0, 40.0, 27)))
        assert gap.gap_mm <= least + 1e-6, gap
        if gap.clash:
            assert apart(gap.at_deg) == 0.0
            assert gap.clash_deg[0] <= gap.at_deg <= gap.clash_deg[1]
        else:
            clear += 1
            assert apart(gap.at_deg) == pytest.approx(gap.found_gap_mm, abs=0.02)
            assert gap.found_gap_mm <= least + 0.1
    assert 2 <= clear < 6  # clear ones and clashes are both among them


# ------------------------------------------------------------ frames


def test_what_does_not_say_where_it_stands_is_refused():
    """A member's form is local: taken for car coordinates it would stand 1.7 m away and be all clear."""
    member = Member.tube((1500, 300, 480), (1900, 300, 480), 25, 2)
    hinge = Hinge(PIVOT, (1, 0, 0))
    for bare in (member.form(), disc(0, 0, 10), object()):
        with pytest.raises(ValueError, match=r"'tube'.*does not say where in the car it stands"):
            Swing(hinge, 0, 10, (disc(90, 0, 20),), {"tube": bare})
    put = Swing(hinge, -30, 30, (disc(90, 0, 20),), {"tube": member})
    same = Swing(hinge, -30, 30, (disc(90, 0, 20),), {"tube": InCar(member.form(), member.frame)})
    assert put.gaps() == same.gaps() and put.gaps()[0].gap_mm < 60


def test_the_check_itself_refuses_a_body_in_its_parts_own_axes():
    from clearance_corner import PUSH, bar, mechanism

    member = Member.tube((0, 300, 100), (0, 300, 500), 25, 2)
    rod = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),))
    with pytest.raises(ValueError, match="'tube' is in its part's own axes"):
        check([rod, Body("tube", "frame", (member.form(),), "fixed")], mechanism(), (-10, 10))


def test_a_neighbour_far_off_is_a_warning():
    swing = Swing(
        Hinge(PIVOT, (1, 0, 0)), 0, 10, (disc(90, 0, 20),), {"tube": Member.box((0, 0, 0), (9, 9, 9))}
    )
    (finding,) = swing.findings()
    assert finding.level == "warn" and finding.code == "far" and "car's coordinates" in finding.text


def test_wrong_hinges_and_swings_are_errors():
    with pytest.raises(ValueError, match=r"axis is .*needs a length"):
        Hinge(PIVOT, (0, 0, 0))
    with pytest.raises(ValueError, match=r"x_towards .*a point of the axis"):
        Hinge(PIVOT, (1, 0, 0), (1800, 260, 480))
    for degrees in ((10, 10), (20, 10), (0, 400), (0, math.nan)):
        with pytest.raises(ValueError, match="swing: it goes from"):
            Swing(Hinge(PIVOT, (1, 0, 0)), *degrees, (disc(90, 0, 20),), {"w": wall(500)}).gaps()


# ------------------------------------------------------------ the file


def test_the_starter_is_read_and_means_what_a_script_says(tmp_path):
    path = tmp_path / "a.toml"
    path.write_text(starter(), encoding="utf-8")
    swing = load(path)
    plate = Form(
        tuple(
            Prism(
                Outline(hull([Boss(0, 0, 31), Boss(92, 0, 15), Boss(-9.5, 69.3, 15)])), 4.0, Frame((0, 0, z))
            )
            for z in (13.0, -17.0)
        )
    )
    script = Swing(
        Hinge(PIVOT, (1, 0, 0), (1700, 352, 480)),
        -22,
        30,
        (plate, Form((Round(38.0, 80.0, 0.0, Frame((0, 0, -40))),))),
        {
            "lower rail": Member.square((1300, 200, 400), (2100, 200, 400), 25, 2),
            "stay": Member.tube((1660, 150, 612), (1720, 420, 572), 25, 2),
        },
    )
    for a, b in zip(swing.gaps(), script.gaps(), strict=True):
        assert a.neighbour == b.neighbour and a.gap_mm == pytest.approx(b.gap_mm, abs=0.1)


@pytest.mark.parametrize(
    "old, new, said",
    [
        ("thickness = 4", "thicknes = 4", "plate.thicknes: unknown key; did you mean 'thickness'?"),
        ("from = -22", "from = 40", "swing.to: is 30 deg; must be above from (40 deg)"),
        ("axis = [1, 0, 0]", "axis = [0, 0, 0]", "swing.axis: is [0, 0, 0]; a direction needs a length"),
        ("x_towards = [1700, 352, 480]", "x_towards = [1800, 260, 480]", "must not lie on the axis"),
        ('name = "stay"', 'name = "lower rail"', "member.lower rail.name: is there twice"),
        (
            'name = "stay"',
            'name = "stay"\nmoves_with = "rod"',
            'member.stay.moves_with: is "rod"; must be "rocker"',
        ),
        ("discs = [[0, 0, 31]", "outline = [[0, 0], [1, 1], [2, 2]]\ndiscs = [[0, 0, 31]", "either discs or"),
        ("\n[[plate]]", "\n[[plates]]", "plates: unknown key; did you mean 'plate'?"),
    ],
)
def test_errors_of_the_file_name_key_value_and_limit(tmp_path, old, new, said):
    path = tmp_path / "a.toml"
    assert old in starter()
    path.write_text(starter().replace(old, new, 1), encoding="utf-8")
    with pytest.raises(JobError) as e:
        load(path)
    assert said in str(e.value)


@pytest.mark.slow
def test_the_verb_writes_its_files_and_a_clash_is_its_exit_status(tmp_path):
    """A STEP file as a neighbour, and one that turns, the same as the same shapes given plainly."""
    block = cq.Workplane().box(60, 60, 60).val()
    block.exportStep(str(tmp_path / "block.step"))
    text = starter() + (
        '\n[[member]]\nname = "block"\nshape = "step"\nfile = "block.step"\nat = [1700, 380, 420]\n'
        '[[member]]\nname = "knob"\nshape = "step"\nfile = "block.step"\nat = [1700, 230, 420]\n'
        'moves_with = "rocker"\n'
    )
    (tmp_path / "a.toml").write_text(text, encoding="utf-8")
    done = CliRunner().invoke(app, ["swing", str(tmp_path / "a.toml"), "--out", str(tmp_path / "out")])
    assert done.exit_code == 1 and "block: CLASH" in done.output, done.output
    folder = tmp_path / "out" / "rocker-alone-swing"
    told = json.loads((folder / "swing.json").read_text(encoding="utf-8"))
    rows = {g["neighbour"]: g for g in told["gaps"]}
    assert (
        rows["block"]["common_mm3"] > 1.0
        and rows["lower rail"]["exact_gap_mm"] >= rows["lower rail"]["gap_mm"]
    )
    assert not [f for f in told["findings"] if f["code"] == "gap-disagreement"], told["findings"]
    assert {p.name for p in folder.iterdir()} >= {
        "silhouette.dxf",
        "silhouette.svg",
        "swing.png",
        "swing.step",
    }
    plain = Swing(
        Hinge(PIVOT, (1, 0, 0), (1700, 352, 480)),
        -22,
        30,
        (Member.box((1700, 230, 420), (60, 60, 60)),),
        {"lower rail": Member.square((1300, 200, 400), (2100, 200, 400), 25, 2)},
    )
    knob = Swing(
        plain.hinge,
        -22,
        30,
        (StepFile(tmp_path / "block.step", (1700, 230, 420)),),
        plain.standing,
    )
    assert knob.gaps()[0].clash == plain.gaps()[0].clash
    assert knob.gaps()[0].gap_mm <= plain.gaps()[0].found_gap_mm + 0.01


def test_the_silhouette_holds_the_part_at_every_angle():
    from shapely import Point, Polygon

    from assemblies.swing.swing import silhouette

    swing = Swing(
        Hinge(PIVOT, (1, 0, 0), (1700, 352, 480)), -22, 30, (OnHinge(disc(92, 0, 30)),), {"w": wall(500)}
    )
    (flat,) = silhouette(swing)
    shape = Polygon([(v.x, v.y) for v in flat.outer.vertices])
    for angle in np.radians(np.linspace(-22, 30, 53)):
        held = Point(92 * math.cos(angle), 92 * math.sin(angle)).buffer(15, quad_segs=64)
        assert shape.covers(held.buffer(-1e-6))
    # closed form: two half discs and the ring between
    true = math.pi * 15**2 + math.radians(52) * (107**2 - 77**2) / 2
    assert true <= shape.area <= true + 0.25 * shape.length


def test_the_starter_is_toml_with_every_table():
    assert set(tomllib.loads(starter())) == {
        "schema",
        "name",
        "swing",
        "plate",
        "round",
        "member",
        "clearance",
    }
