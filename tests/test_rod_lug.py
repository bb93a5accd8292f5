"""The rod's lug on its arm: sleeves coped over the arm's tubes or let through them, fins, bolt, strength,
paper."""

from __future__ import annotations

import math
from dataclasses import replace
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.layout import bodies as neighbours
from assemblies.layout.fasteners import fasteners
from assemblies.making.sheets import cut_list, lug_wrap
from assemblies.strength import lug as strength
from parts.arm import Arm
from parts.base.stock import hexagon, washer
from parts.calc.weld_lines import LineWeld
from parts.fastener import BoltAndNut
from parts.files.solid import solid
from parts.rod_lug import FIN_TIP_MM, LugFin, LugSleeve, rod_lug
from parts.shape.form import Form, Frame, Round
from parts.tab import NoSeat

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")
ARM = Arm((300.0, 115.0), (300.0, -115.0), 22.0, 3.0)
WIDE = Arm((300.0, 200.0), (300.0, -200.0), 22.0, 3.0)


def square_to(
    tube_mm: float,
    sleeve_mm: float,
    offset_mm: float,
    through: bool,
    bore_mm: float = 4.0,
    wall_mm: float = 3.0,
) -> LugSleeve:
    """A sleeve whose tube crosses it square, 40 mm along 80."""
    return LugSleeve(sleeve_mm, bore_mm, 80.0, tube_mm, wall_mm, offset_mm, 40.0, 90.0, through)


@pytest.fixture(scope="module")
def done():
    return {name: demos.corner(name) for name in DEMOS}


# ------------------------------------------------------------ the parts, by the kernel


def _box(shape) -> list[tuple[float, float]]:
    b = shape.BoundingBox()
    return [(b.xmin, b.xmax), (b.ymin, b.ymax), (b.zmin, b.zmax)]


def _beside(shape, other, near_mm: float = 0.1) -> list:
    """The faces of a shape whose boxes come so near to the other's: to all of an arm's the kernel takes
    long."""
    at = _box(other)
    return [
        f
        for f in shape.Faces()
        if all(a < d + near_mm and c < b + near_mm for (a, b), (c, d) in zip(_box(f), at, strict=True))
    ]


@pytest.mark.slow
@pytest.mark.parametrize("arm, point", [(ARM, (66.0, 1.0, -2.0)), (WIDE, (60.0, 2.0, 18.0))])
def test_each_part_stands_on_the_arm_without_entering_it(arm, point):
    """The kernel's word: one valid solid each, common volume none, distance under 0.02 mm; volumes of hand
    formula and kernel (whose own volumes of two holes that are mirror images differ by 0.6 per cent)."""
    lug = rod_lug(arm, point, (0.0, 1.0, 0.0), 14.0, "M10", rod_up=point[2] > 10)
    whole = arm.form()
    drilled = solid(replace(whole, cuts=(*whole.cuts, *lug.holes)))
    assert drilled.ShapeType() == "Solid" and drilled.isValid()
    assert solid(whole).Volume() - drilled.Volume() == pytest.approx(lug.drilled_mm3, rel=6e-3, abs=1e-3)
    for part, frame in (*zip(lug.sleeves, lug.frames, strict=True), *lug.fins):
        made = solid(part.form().moved(frame))
        assert made.ShapeType() == "Solid" and made.isValid()
        assert made.Volume() == pytest.approx(part.volume_mm3, rel=5e-4)
        assert drilled.intersect(made).Volume() < 1e-6
        assert any(face.distance(made) < 0.02 for face in _beside(drilled, made))
    assert lug.through == (abs(point[2]) < 11) and len(lug.fins) == (2 if lug.through else 0)


@pytest.mark.parametrize("point", [(66.0, 1.0, -2.0), (70.0, 3.0, 17.5)])
def test_washer_and_nut_have_a_millimetre_round_them_and_the_sleeve_is_no_longer(point):
    """By the kernel: a disc 1 mm larger all round stays out of the tube there and enters it half a millimetre
    sooner."""
    lug = rod_lug(ARM, point, (0.0, 1.0, 0.0), 14.0, "M10")
    big, deep = washer("M10").outer_mm + 2, hexagon("M10").nut_mm + washer("M10").thickness_mm
    for sleeve, frame, tube in zip(lug.sleeves, lug.frames, lug.tubes, strict=True):
        member = ARM.tubes()[tube]
        bar = solid(member.hull_form().moved(member.frame))

        def common(at, frame=frame, bar=bar):
            return bar.intersect(
                solid(Form((Round(big, deep, 0.0, Frame((0.0, 0.0, at))),)).moved(frame))
            ).Volume()

        assert common(sleeve.length_mm) < 1e-6 < common(sleeve.length_mm - 0.5)


def test_a_bolt_square_through_a_solid_bar_takes_what_two_crossing_cylinders_share():
    """Steinmetz: two equal cylinders that cross square share 16·r³/3 (closed form). Beside: the hole stays
    within its bar's girth."""
    r = 10.0
    sleeve = square_to(2 * r, 2 * r, 0.0, True, wall_mm=r - 1e-6)
    assert sleeve.drilled_mm3 == pytest.approx(16 * r**3 / 3, rel=2e-4)


@pytest.mark.parametrize(
    "through, offset, sleeve_mm", [(True, 2.0, 16.0), (False, 17.5, 18.0), (False, 14.0, 20.0)]
)
@pytest.mark.parametrize("angle", [90.0, 70.0, 115.0])
def test_the_seam_lies_on_both_cylinders(through, offset, sleeve_mm, angle):
    """Each point r from the bolt's axis and R from the tube's, by the distance of a point from a line; a
    saddle's loop is closed."""
    s = LugSleeve(sleeve_mm, 5.0, 90.0, 22.0, 3.0, offset, 45.0, angle, through)
    u = np.array([0.0, math.sin(math.radians(angle)), math.cos(math.radians(angle))])
    for seam in s.seams:
        assert np.allclose(np.hypot(seam[:, 0], seam[:, 1]), sleeve_mm / 2)
        away = seam - (offset, 0.0, 45.0)
        assert np.allclose(np.linalg.norm(np.cross(away, u), axis=1), 11.0, atol=1e-6)
        assert np.allclose(seam[0], seam[-1], atol=1e-6)
    assert len(s.seams) == (2 if through else 1)


def test_the_fin_is_a_trapezoid_with_low_ends():
    """Area by hand: 67 x 10 less two triangles of 14 x 7."""
    fin = LugFin(67.0, 3.0)
    assert fin.volume_mm3 == pytest.approx(3 * (670 - 14 * 7)) and fin.outline().bounds == pytest.approx(
        (-33.5, 0, 33.5, 10)
    )
    assert FIN_TIP_MM == 3.0
    fin.outline().check()


@pytest.mark.parametrize(
    "point, words",
    [
        (
            (66.0, 0.0, 30.0),
            ["30.0 mm from the plane", "16.3 to 19.0 mm", "through them at up to 1.5", "move rod.outboard"],
        ),
        ((66.0, 0.0, 8.0), ["8.0 mm from the plane", "rod.lug_diameter"]),
        ((20.0, 0.0, 0.0), ["20.0 mm from the outer joint's axis", "inboard along the arm"]),
        ((66.0, 40.0, 0.0), ["not between its tubes"]),
        ((48.0, 0.0, 0.0), ["inboard along the arm"]),
    ],
)
def test_what_cannot_be_made_says_why_and_what_to_do(point, words):
    with pytest.raises(NoSeat) as e:
        rod_lug(ARM, point, (0.0, 1.0, 0.0), 14.0, "M10")
    assert all(w in str(e.value) for w in words), str(e.value)


# ------------------------------------------------------------ in the corner


@pytest.mark.parametrize("name", DEMOS)
def test_a_demo_has_its_lug_with_bolt_blanks_and_zone(done, name):
    made = done[name].layout
    lug, rod = made.lug, made.job.rod
    assert not [f for f in done[name].results.findings if f.code == "rod-lug" or f.level == "stop"]
    assert {p.carrier for p in made.placed if p.body == "rod lug"} == {rod.on}
    joint = next(f for f in fasteners(made)[0] if f.joint.name == "rod lug")
    ((start, along),) = joint.joint.places
    ball = np.array(start) + (lug.sleeves[0].length_mm + lug.gap_mm / 2) * np.array(along)
    assert ball == pytest.approx(rod.outboard, abs=1e-9)  # the hard point is in the ball's middle
    arm = getattr(made.job, rod.on)
    assert (
        np.linalg.norm(np.cross(along, np.subtract(arm.front_pivot, arm.rear_pivot))) < 1e-9 * 500
    )  # along the arm's hinge
    assert joint.joint.stack_mm == pytest.approx(
        sum(s.length_mm for s in lug.sleeves) + rod.rod_end.ball_width + 2
    )
    assert joint.plain_mm >= joint.last_plane_mm  # no thread in a shear plane
    assert any(p.body == "rod lug bolt" and isinstance(p.part, BoltAndNut) for p in made.placed)
    rows = {r.item: r for r in cut_list.rows(made) if "rod lug" in r.item}
    assert {
        "rod lug sleeve 1",
        "rod lug sleeve 2",
        "bolt: rod lug",
        "lock nut: rod lug",
    } <= rows.keys() or name == "tarnside-front"
    assert ("rod lug fin" in {f.name for f in made.flat}) == lug.through == (name == "heronbank-front")
    asked = {(j.a, j.b): j.required_mm for j in neighbours.joints(made)}
    assert asked["rod end", "rod lug"] == asked["rod end", "rod lug bolt"] == 3.0
    assert not any("rod lug" in m for m in done[name].results.strength.missing)


def test_the_other_side_has_the_mirror_image(done):
    here = done["corrie-rear"].layout
    there = demos.corner("corrie-rear", True).layout
    length = {
        p.centre_of_gravity_mm: p.part.length_mm for p in here.placed if p.name.startswith("rod lug sleeve")
    }
    for p in (p for p in there.placed if p.name.startswith("rod lug sleeve")):
        x, y, z = p.centre_of_gravity_mm
        near = min(length, key=lambda c: math.dist(c, (x, -y, z)))
        assert near == pytest.approx((x, -y, z), abs=1e-6) and length[near] == p.part.length_mm


def test_a_rod_too_high_over_its_arm_is_a_warning_with_a_cure(done):
    job = done["tarnside-front"].layout.job
    x, y, z = job.rod.outboard
    odd = demos.known(job.changed({"rod.outboard": (x, y, z + 15)}), interference=False)
    (found,) = [f for f in odd.results.findings if f.code == "rod-lug"]
    assert found.level == "warn" and "move rod.outboard" in found.text and odd.layout.lug is None
    assert any("lug is not laid out" in t for t in fasteners(odd.layout)[1]) and any(
        "outboard lug" in m for m in odd.results.strength.missing
    )
    assert not any(p.body.startswith("rod lug") for p in odd.layout.placed)


# ------------------------------------------------------------ strength and paper


def test_a_fin_on_a_whole_tube_stiffens_it_as_the_parallel_axes_say():
    """I = I1 + A1·a1² + I2 + A2·a2², W = I/c (textbook): tube 22 x 3 with a fin 5 x 10 on its top."""
    tube_a, tube_i, fin_a, fin_i = (
        math.pi / 4 * (22**2 - 16**2),
        math.pi / 64 * (22**4 - 16**4),
        50.0,
        5 * 10**3 / 12,
    )
    middle = fin_a * 16 / (tube_a + fin_a)
    second = tube_i + tube_a * middle**2 + fin_i + fin_a * (16 - middle) ** 2
    d = strength.drilled_section(22.0, 3.0, 0.1, 0.0, 0.0, 5.0, 10.0)
    assert d.area_mm2 == pytest.approx(tube_a + fin_a, rel=0.01)
    assert d.tube_mm3 == pytest.approx(second / (11 + middle), rel=0.015) and d.fin_mm3 == pytest.approx(
        second / (21 - middle), rel=0.015
    )


def test_a_drilled_tube_without_metal_in_the_hole_is_the_integral_of_its_chords():
    """Tube 22 x 3 with a hole of 12 mm, 2 mm below its middle: A = ∫w dz, I = ∫w·z² dz, I_y = ∫2/3·(Y³ - y³)
    dz by scipy's quad."""
    from scipy.integrate import quad

    def chord(z, radius):
        return math.sqrt(max(radius**2 - z * z, 0.0))

    def total(f):
        return sum(
            quad(f, a, b, points=[-8, 8] if a < -8 < b or a < 8 < b else None)[0]
            for a, b in ((-11, -8), (4, 11))
        )

    area, first, second = (total(lambda z, n=n: 2 * (chord(z, 11) - chord(z, 8)) * z**n) for n in (0, 1, 2))
    sideways, middle = total(lambda z: 2 / 3 * (chord(z, 11) ** 3 - chord(z, 8) ** 3)), first / area
    d = strength.drilled_section(22.0, 3.0, 12.0, 12.0 - 1e-9, -2.0, 0.0, 10.0)
    assert d.area_mm2 == pytest.approx(area, rel=0.015)
    assert d.flat_mm3 == pytest.approx(sideways / 11, rel=0.015)
    assert d.tube_mm3 == pytest.approx((second - area * middle**2) / (11 + abs(middle)), rel=0.015)


def test_the_weld_of_a_square_hole_takes_a_central_pull_evenly():
    """A force along the tube through the middle of both edges of the hole: F/L everywhere (closed form)."""
    s = square_to(22.0, 12.0, 0.0, True)
    weld = LineWeld(np.concatenate([np.stack([p[:-1], p[1:]], 1) for p in s.seams]))
    flow = weld.worst_n_per_mm(np.array([[0.0, 900.0, 0.0]]), np.zeros((1, 3)), np.array([0.0, 0.0, 40.0]))
    assert flow[0] == pytest.approx(900.0 / weld.length_mm, rel=1e-6)


def test_the_strip_wrapped_back_on_its_tube_lies_on_the_drill(done):
    """Every point of the paper, rolled on the tube, is the sleeve's radius from the bolt's axis (distance of
    a point from a line)."""
    point = np.array((80.0, -4.0, -1.5))
    lug = rod_lug(ARM, tuple(point), (0.0, 1.0, 0.0), 14.0, "M10")
    for i, tube in enumerate(lug.tubes):
        u = np.array([*(ARM.front_pivot, ARM.rear_pivot)[tube], 0.0]) / math.hypot(300, 115)
        right = np.array([u[1], -u[0], 0.0])  # looking down on the paper with the tube's far end ahead
        for loop in lug_wrap.on_the_tube(lug, i):
            rolled = loop[:, 1:] * u + 11.0 * (
                np.sin(loop[:, :1]) * right + np.cos(loop[:, :1]) * (0.0, 0.0, 1.0)
            )
            assert np.allclose(
                np.linalg.norm(np.cross(rolled - point, (0.0, 1.0, 0.0)), axis=1), 8.0, atol=1e-6
            )
    sheet = lug_wrap.sheet(done["heronbank-front"].layout)
    assert sheet.drawing.items and any("16 mm through both walls" in line for line in sheet.legend)
