"""Stock tables and fits against the standards' printed values; the source stands beside each check."""

import math

import pytest

from parts.base import fits, stock

SIZES = ["M3", "M4", "M5", "M6", "M8", "M10", "M12", "M14", "M16", "M20"]


def test_clearance_holes():
    """Row X1: ISO 273, exact."""
    fine = [3.2, 4.3, 5.3, 6.4, 8.4, 10.5, 13, 15, 17, 21]
    medium = [3.4, 4.5, 5.5, 6.6, 9, 11, 13.5, 15.5, 17.5, 22]
    coarse = [3.6, 4.8, 5.8, 7, 10, 12, 14.5, 16.5, 18.5, 24]
    for series, expected in (("fine", fine), ("medium", medium), ("coarse", coarse)):
        assert [stock.clearance_hole_mm(s, series) for s in SIZES] == expected


THREADED = ["M5", "M6", "M8", "M10", "M12", "M16", "M20"]


def test_thread_diameters():
    """Row X2: ISO 724 / ISO 68-1 basic profile, abs 1e-3."""
    threads = [stock.thread(n) for n in THREADED]
    assert [t.pitch_mm for t in threads] == [0.8, 1, 1.25, 1.5, 1.75, 2, 2.5]
    assert [t.pitch_diameter_mm for t in threads] == pytest.approx(
        [4.4803848, 5.3504809, 7.1881012, 9.0257214, 10.863342, 14.700962, 18.376202], abs=1e-3
    )
    assert [t.nut_minor_mm for t in threads] == pytest.approx(
        [4.1339746, 4.9174682, 6.6468353, 8.3762024, 10.105569, 13.834936, 17.293671], abs=1e-3
    )
    assert [t.root_mm for t in threads] == pytest.approx(
        [4.0185045, 4.7731307, 6.4664133, 8.159696, 9.8529787, 13.546261, 16.932827], abs=1e-3
    )


def test_stress_areas():
    """Rows X3, X4: ISO 898-1 as printed, rel 3e-3."""
    coarse = [stock.thread(n).stress_area_mm2 for n in THREADED]
    assert coarse == pytest.approx([14.2, 20.1, 36.6, 58.0, 84.3, 157, 245], rel=3e-3)
    fine = [stock.thread(n).stress_area_mm2 for n in ("M10x1.25", "M12x1.25", "M12x1.5", "M16x1.5")]
    assert fine == pytest.approx([61.2, 92.1, 88.1, 167], rel=3e-3)


HEX = ["M5", "M6", "M8", "M10", "M12", "M16"]


def test_hexagon_widths_across_flats():
    """Row X6: ISO 4014 / ISO 4032, exact."""
    assert [stock.hexagon(n).across_flats_mm for n in HEX] == [8, 10, 13, 16, 18, 24]
    assert stock.hexagon("M12x1.25") == stock.hexagon("M12")


def test_plain_washer_diameters():
    """Row X7: ISO 7089, exact for the diameters (the thickness is not gated)."""
    assert [stock.washer(n).inner_mm for n in HEX] == [5.3, 6.4, 8.4, 10.5, 13, 17]
    assert [stock.washer(n).outer_mm for n in HEX] == [10, 12, 16, 20, 24, 30]


def test_limits_of_holes_and_shafts():
    """Row X8: ISO 286-2, exact; 10 mm belongs to the range 6-10."""
    sizes = (10, 16, 25)
    assert [fits.limits(n, "H7").upper_um for n in sizes] == [15, 18, 21]
    assert [fits.limits(n, "H7").lower_um for n in sizes] == [0, 0, 0]
    assert [fits.limits(n, "g6").upper_um for n in sizes] == [-5, -6, -7]
    assert [fits.limits(n, "g6").lower_um for n in sizes] == [-14, -17, -20]
    assert [fits.limits(n, "p6").upper_um for n in sizes] == [24, 29, 35]
    assert [fits.limits(n, "p6").lower_um for n in sizes] == [15, 18, 22]
    assert fits.limits(10.001, "H7").upper_um == 18
    assert fits.limits(25, "H7").largest_mm == pytest.approx(25.021, abs=1e-12)


def test_fits_of_25_mm():
    """Row X9: ISO 286-2, exact."""
    assert (fits.limits(25, "H8").lower_um, fits.limits(25, "H8").upper_um) == (0, 33)
    assert (fits.limits(25, "f7").upper_um, fits.limits(25, "f7").lower_um) == (-20, -41)
    assert fits.clearance(25, "H7/g6") == fits.Clearance(7, 41)
    assert fits.clearance(25, "H8/f7") == fits.Clearance(20, 74)


def test_plain_bolt_shanks_are_h13():
    """ISO 4014 shank diameter, grade A, as printed: M8 7.78, M10 9.78, M12 11.73 at least."""
    assert [round(fits.limits(d, "h13").smallest_mm, 2) for d in (8, 10, 12)] == [7.78, 9.78, 11.73]


@pytest.mark.parametrize("nominal", [5, 8, 14, 25, 40])
def test_tables_keep_the_tolerance_grades(nominal):
    """ISO 286-1: a shaft's width depends on its grade alone, so g6, h6 and p6 are equally wide; H7 and f7
    too; the table's widths lie within rounding (1 µm) of the formula's 10·i and 16·i."""

    def width(code):
        one = fits.limits(nominal, code)
        return one.upper_um - one.lower_um

    assert width("g6") == width("h6") == width("p6")
    assert width("H7") == width("f7")
    low, high = next((a, b) for a, b in ((3, 6), (6, 10), (10, 18), (18, 30), (30, 50)) if a < nominal <= b)
    mean = (low * high) ** 0.5
    unit = 0.45 * mean ** (1 / 3) + 0.001 * mean  # row X10
    assert width("g6") == pytest.approx(10 * unit, abs=1)
    assert width("H7") == pytest.approx(16 * unit, abs=1)


def test_inch_plate_and_gauges():
    """Row X11: the inch by definition, exact; manufacturers' gauge for sheet steel, abs 0.01 mm to the
    printed inches."""
    assert [stock.INCH_PLATES_MM[n] for n in ("1/8 in", "3/16 in", "1/4 in")] == pytest.approx(
        [3.175, 4.7625, 6.35], abs=1e-12
    )
    printed = [n * 25.4 for n in (0.1345, 0.1196, 0.1046, 0.0747, 0.0598)]
    assert [stock.gauge_mm(n) for n in (10, 11, 12, 14, 16)] == pytest.approx(printed, abs=0.01)
    assert [stock.gauge_mm(n) for n in (10, 11, 12, 14, 16)] == pytest.approx(
        [3.4164275, 3.0368245, 2.6572214, 1.8980153, 1.5184122], abs=0.01
    )


def test_structural_steel_constants():
    """Row X13: EN 1993-1-1 3.2.6, rel 1e-6."""
    assert stock.STEELS["S355"].youngs_modulus_mpa == 210_000
    assert stock.STEELS["S355"].shear_modulus_mpa == pytest.approx(80769.231, rel=1e-6)


def test_steels():
    """EN 10025-2 yield up to 16 mm; EN 1993-1-8:2005 Table 4.1; the fu values of the editions in row B9."""
    table = {n: (stock.steel(n).yield_at(16), stock.steel(n).beta_w) for n in ("S235", "S275", "S355")}
    assert table == {"S235": (235, 0.80), "S275": (275, 0.85), "S355": (355, 0.90)}
    assert [v for _, v in stock.steel("S275").fu_by_edition] == [410, 430]
    assert [v for _, v in stock.steel("S355").fu_by_edition] == [470, 490, 510]
    for s in stock.STEELS.values():
        assert s.fu_mpa == min(v for _, v in s.fu_by_edition)
        assert s.fu_edition in dict(s.fu_by_edition)
    unknown = stock.steel("unknown")
    assert (unknown.yield_mpa, unknown.fu_mpa) == (235, 360)
    assert "counted as S235" in unknown.note


def test_rod_ends_are_possible_parts():
    """Geometry: the ball is wider than its housing, larger than its bore, the housing goes round the ball,
    and the stem fits between eye and end. The free tilt is that at which the ball's shoulder meets the
    housing, to be held against a part."""
    for r in stock.ROD_ENDS.values():
        assert r.bore_mm == stock.thread(r.thread).diameter_mm
        assert r.bore_mm < r.ball_diameter_mm < r.housing_diameter_mm
        assert r.ball_width_mm > r.housing_width_mm
        # the bore must come out of the ball inside its faces: ring diameter at the face is √(ball² - width²)
        assert math.sqrt(r.ball_diameter_mm**2 - r.ball_width_mm**2) > r.bore_mm
        assert r.thread_length_mm < r.eye_to_end_mm - r.housing_diameter_mm / 2 + 1
    assert stock.rod_end("M10x1.25") == stock.rod_end("M10")


@pytest.mark.parametrize(
    "call, text",
    [
        (lambda: stock.steel("S999"), 'steel is "S999"; known: S235, S275, S355, unknown'),
        (lambda: stock.thread("M7"), 'thread is "M7"; known: M5, M6'),
        (
            lambda: stock.clearance_hole_mm("M10", "loose"),
            'series is "loose"; it must be one of fine, medium, coarse',
        ),
        (lambda: stock.gauge_mm(99), 'gauge is "99"; known: 7, 8'),
        (lambda: stock.rod_end("M7"), 'rod end thread is "M7"'),
        (lambda: stock.steel("S235").yield_at(20), "thickness_mm is 20; .* up to 16 mm"),
        (lambda: fits.limits(51, "H7"), "nominal_mm is 51; the table ends at 50 mm"),
        (lambda: fits.limits(10, "K9"), 'code is "K9"; known: H7'),
        (lambda: fits.clearance(10, "g6/H7"), "the hole .* comes first"),
        (lambda: fits.limits(math.nan, "H7"), "nominal_mm is nan"),
    ],
)
def test_bad_input_is_named_with_its_value_and_limit(call, text):
    with pytest.raises(ValueError, match=text):
        call()
