"""Section properties against the standards' annex formulas and a general finite-element section library."""

import math

import pytest

from parts.calc import sections
from parts.calc.plate_section import net_section
from parts.calc.sections import rectangular_tube, round_tube

# EN 10219-2 (cold) and EN 10210-2 (hot) annex formulas; they give back the printed tables
# height, width, wall, finish: A cm², I_y, I_z cm⁴, W_el,y, W_el,z, C_t cm³
HOLLOW = {
    "S1": (
        (40, 40, 3, "cold"),
        (4.20823, 9.3235567, 9.3235567, 4.6617784, 4.6617784, 7.0739806),
    ),
    "S2": (
        (50, 50, 3, "cold"),
        (5.40823, 19.467136, 19.467136, 7.7868545, 7.7868545, 11.764835),
    ),
    "S3": (
        (50, 30, 3, "cold"),
        (4.20823, 12.831136, 5.7000922, 5.1324545, 3.8000615, 6.4894897),
    ),
    "S4": (
        (80, 40, 3, "cold"),
        (6.60823, 52.250565, 17.555557, 13.062641, 8.7777784, 15.283441),
    ),
    "S5": (
        (100, 60, 6, "hot"),
        (17.373717, 217.0061, 95.022842, 43.401219, 31.674281, 52.104169),
    ),
}


def in_cm(s):
    return (
        s.area_mm2 / 1e2,
        s.i_y_mm4 / 1e4,
        s.i_z_mm4 / 1e4,
        s.w_el_y_mm3 / 1e3,
        s.w_el_z_mm3 / 1e3,
        s.c_t_mm3 / 1e3,
    )


@pytest.mark.parametrize("row", HOLLOW)
def test_rectangular_hollow_sections(row):
    """Rows S1 to S5: EN 10219-2 / EN 10210-2 annex formulas, rel 2e-3."""
    size, expected = HOLLOW[row]
    assert in_cm(rectangular_tube(*size)) == pytest.approx(expected, rel=2e-3)


@pytest.mark.slow
@pytest.mark.parametrize("row, corner_points", [("S1", 16), ("S5", 16)])
def test_rectangular_hollow_sections_agree_with_finite_elements(row, corner_points, monkeypatch):
    """sectionproperties on the same outline: A and I within 0.3 % (rows S1, S5)."""
    library = pytest.importorskip("sectionproperties.pre.library")
    from sectionproperties.analysis import Section, fea

    for name, made in vars(fea).copy().items():  # to compile would take longer
        if hasattr(made, "py_func"):
            monkeypatch.setattr(fea, name, made.py_func)

    (h, b, t, finish), _ = HOLLOW[row]
    ours = rectangular_tube(h, b, t, finish)
    outer, _inner = sections.corner_radii_mm(t, finish)
    if finish == "cold":  # the library offsets the outer radius by the wall: 2t gives 1t, as in EN 10219-2
        geometry = library.rectangular_hollow_section(d=h, b=b, t=t, r_out=outer, n_r=corner_points)
    else:  # a hot-finished bore has a radius of its own, 1t
        from sectionproperties.pre import Geometry
        from shapely import box

        solid = box(-b / 2, -h / 2, b / 2, h / 2).buffer(-outer).buffer(outer, quad_segs=corner_points)
        hollow = box(t - b / 2, t - h / 2, b / 2 - t, h / 2 - t).buffer(-t).buffer(t, quad_segs=corner_points)
        geometry = Geometry(solid.difference(hollow))
    found = Section(geometry.create_mesh(mesh_sizes=[t]))
    found.calculate_geometric_properties()
    i_x, i_y, _ = found.get_ic()
    assert ours.area_mm2 == pytest.approx(found.get_area(), rel=3e-3)
    assert (ours.i_y_mm4, ours.i_z_mm4) == pytest.approx((i_x, i_y), rel=3e-3)


@pytest.mark.parametrize(
    "size, expected",  # A cm², I cm⁴, W_el, C_t cm³: closed form; three figures as printed in EN 10219-2
    [
        ((33.7, 2.6), (2.5402918, 3.09271, 1.8354362, 3.6708724)),  # S6
        ((48.3, 3.2), (4.5339465, 11.58565, 4.7973707, 9.5947414)),  # S7
    ],
)
def test_round_tubes(size, expected):
    """Rows S6, S7: EN 10219-2 table and closed form, rel 1e-4."""
    s = round_tube(*size)
    assert (s.area_mm2 / 1e2, s.i_y_mm4 / 1e4, s.w_el_y_mm3 / 1e3, s.c_t_mm3 / 1e3) == pytest.approx(
        expected, rel=1e-4
    )
    assert (s.i_z_mm4, s.w_el_z_mm3) == (s.i_y_mm4, s.w_el_y_mm3)


def test_corners_of_cold_hot_and_sharp_tube():
    """Row S8: EN 10219-2 and EN 10210-2 annex formulas, rel 2e-3."""
    cold, hot = rectangular_tube(50, 50, 4), rectangular_tube(50, 50, 4, "hot")
    sharp = rectangular_tube(50, 50, 4, radii_mm=(0, 0))
    assert [s.area_mm2 / 1e2 for s in (cold, hot, sharp)] == pytest.approx(
        [6.9479645, 7.1883185, 7.36], rel=2e-3
    )
    assert [s.i_y_mm4 / 1e4 for s in (cold, hot, sharp)] == pytest.approx(
        [23.735877, 24.974756, 26.152533], rel=2e-3
    )


def test_net_section_with_a_central_hole():
    """Row S10: closed form, rel 1e-5."""
    s = net_section(0.0, -25, 25, [(-6.25, 6.25)], 3)
    assert (s.area_mm2, s.inertia_mm4, s.modulus_mm3) == pytest.approx(
        (112.5, 30761.719, 1230.4688), rel=1e-5
    )
    assert s.centre_mm == 0


def test_net_section_off_the_centre_line_moves_the_neutral_axis():
    """Row S10's trap, by parallel axes from the two ligaments left (closed form): widths 27.75 and 9.75 of 50
    with d 12.5 at 9."""
    s = net_section(0.0, -25, 25, [(9 - 6.25, 9 + 6.25)], 3)
    lower, upper = 25 + 9 - 6.25, 25 - 9 - 6.25
    y_lower, y_upper = -25 + lower / 2, 25 - upper / 2
    middle = (lower * y_lower + upper * y_upper) / (lower + upper)
    i = (
        3 * (lower**3 + upper**3) / 12
        + 3 * lower * (y_lower - middle) ** 2
        + 3 * upper * (y_upper - middle) ** 2
    )
    assert (s.centre_mm, s.inertia_mm4) == pytest.approx((middle, i), rel=1e-12)
    assert s.modulus_mm3 == pytest.approx(i / (25 - middle), rel=1e-12)


def test_solid_bar_is_a_tube_without_a_bore():
    """Closed form: I = π·d⁴/64, W = π·d³/32."""
    s = round_tube(20)
    assert (s.i_y_mm4, s.w_el_y_mm3, s.area_mm2) == pytest.approx(
        (math.pi * 20**4 / 64, math.pi * 20**3 / 32, math.pi * 100), rel=1e-12
    )
    assert round_tube(20, 10).i_y_mm4 == pytest.approx(s.i_y_mm4, rel=1e-12)


@pytest.mark.parametrize(
    "call, text",
    [
        (
            lambda: rectangular_tube(40, 20, 10),
            "wall_mm is 10; it must be less than half of the smaller side, 20 mm",
        ),
        (lambda: rectangular_tube(40, 40, 0), "wall_mm is 0"),
        (lambda: rectangular_tube(40, 40, 3, "warm"), 'finish is "warm"; known: cold, hot'),
        (
            lambda: rectangular_tube(40, 20, 2, radii_mm=(12, 2)),
            "corner radii are 12 outside .* at most half",
        ),
        (lambda: round_tube(20, 11), "wall_mm is 11"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text):
        call()
