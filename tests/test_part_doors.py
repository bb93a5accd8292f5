"""What every part can do in a script: one spelling, lengths with units, and back from cadquery."""

from __future__ import annotations

import math
import xml.dom.minidom
from importlib import import_module
from importlib.metadata import version
from pathlib import Path

import cadquery as cq
import demos
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assemblies.swing import Hinge, OnHinge, Swing
from parts.adjuster_sleeve import AdjusterSleeve
from parts.anchor_plates import AnchorPlates
from parts.damper import Damper
from parts.dxf import read_blank
from parts.files.measured import volume_mm3
from parts.files.solid import SolidError
from parts.files.step import read_step
from parts.member import Member
from parts.part import Flat, Part
from parts.plate import Plate
from parts.rocker_plate import RockerPlate
from parts.samples import ROCKER, SAMPLES
from parts.spring_socket import SpringSocket
from parts.wheel import Wheel

OF_OTHERS = (
    "BoxStrip",
    "OtherHand",
    "BoxedRocker",
    "LugSleeve",
    "LugFin",
    "Fitted",
)  # pieces of an assembly, drawn with it
STEEL = 7850e-9  # kg/mm³
PARTS = [p for p in SAMPLES if p.mass_kg and not isinstance(p, SpringSocket | AnchorPlates | Wheel)]
SOCKET = next(p for p in SAMPLES if isinstance(p, SpringSocket))


def test_every_part_has_a_sample():
    known = {type(p) for p in SAMPLES}
    for file in (Path(__file__).parent.parent / "parts").glob("*.py"):
        for c in vars(import_module(f"parts.{file.stem}")).values():
            if isinstance(c, type) and issubclass(c, Part) and c.__module__ == f"parts.{file.stem}":
                assert c in known or c.__module__ == "parts.part" or c.__name__ in OF_OTHERS, c


@pytest.mark.parametrize("part", PARTS, ids=lambda p: type(p).__name__)
def test_every_part_makes_solid_step_and_picture_and_weighs_what_its_solid_does(part, tmp_path):
    weight = sum(map(volume_mm3, part.solid().Solids())) * STEEL
    assert part.mass_kg == pytest.approx(weight, rel=1e-4)
    read = read_step(part.step(tmp_path / "part.step"))
    assert sum(volume_mm3(p.shape) for p in read) * STEEL == pytest.approx(weight, rel=1e-6)
    svg = part.svg(tmp_path / "part.svg").read_text(encoding="utf-8")
    page = part._repr_html_()
    assert f"{part.mass_kg * 1000:.0f} g" in page and "<svg" in page
    assert xml.dom.minidom.parseString(svg).documentElement.tagName == "svg" and "path" in svg
    assert f"'rockershed {version('rockershed')}'" in (tmp_path / "part.step").read_text()
    shown = part.workplane()  # cadquery's editor takes a Workplane and makes one compound of its values
    assert isinstance(shown, cq.Workplane) and cq.Compound.makeCompound(shown.vals()).isValid()
    if isinstance(part, Flat):
        assert part.blank(tmp_path / "part.dxf", count=2).count == 2
        first = (tmp_path / "part.dxf").read_text(encoding="cp1252").splitlines()[:2]
        assert first == ["999", f"rockershed {version('rockershed')}"]
        face = max(f.Area() for f in part.solid().Faces())
        drilled = sum(math.pi * h.diameter_mm**2 / 4 for h in part.outline().holes if h.fit != "weld")
        drilled -= sum(
            math.pi / 4 * ((h.diameter_mm + h.over_mm) ** 2 - h.diameter_mm**2) for h in part.outline().holes
        )
        assert read_blank(tmp_path / "part.dxf").area_mm2 == pytest.approx(face + drilled, rel=1e-6)


def test_a_damper_is_drawn_pulled_right_out():
    """Over its eyes: as long as it gets and an eye's diameter."""
    damper = Damper(300, 210, 46, eye_diameter_mm=24)
    box = damper.solid().BoundingBox()
    assert (box.zmin, box.zmax) == (pytest.approx(-12, abs=1e-3), pytest.approx(312, abs=1e-3))
    assert set(damper.forms) == {"body", "shaft"}


def test_lengths_carry_their_unit():
    """An inch is 25.4 mm by definition."""
    inch = RockerPlate((92, 0), ("-9.5 mm", 69.3), "1/8 in", "1 1/2 in", 10, "1 cm")
    assert inch == RockerPlate((92, 0), (-9.5, 69.3), 3.175, 38.1, 10, 10)
    assert Member.box((0, 0, "1 m"), ("2 in", 10, 10)).section.height_mm == 50.8
    assert Member.tube((0, 0, 0), (0, 0, "1 m"), "1 in", "2 mm").length_mm == 1000
    assert AdjusterSleeve.around("38 mm", 3, 24) == AdjusterSleeve.around(38, 3, 24)


def test_a_plate_cut_in_cadquery_comes_back_with_blank_mass_and_gap(tmp_path):
    """A slot 20 by 8 takes 8·12 + π·4² mm² by hand; a longer arm meets a stay that the plate clears."""
    cut = ROCKER.workplane().faces(">Z").workplane(origin=(40, 0, 4)).slot2D(20, 8).cutThruAll()
    plate = Plate.of(cut, like=ROCKER)
    lost = 8 * 12 + math.pi * 16
    jig = sum(math.pi * 9 for h in ROCKER.outline().holes if math.hypot(h.x - 40, h.y) < 13)
    assert ROCKER.outline().area_mm2 - plate.outline().area_mm2 == pytest.approx(lost - jig, abs=20)
    assert plate.mass_kg == pytest.approx(cut.val().Volume() * STEEL, rel=1e-6)
    assert ("rod eye", "reamed") in [(h.purpose, h.fit) for h in plate.outline().holes]
    assert plate.blank(tmp_path / "p.dxf").area_mm2 == pytest.approx(plate.outline().area_mm2)
    arm = cq.Workplane("XY").rect(80, 12).extrude(4).translate((120, 0, 0))
    longer = Plate.of(ROCKER.workplane().union(arm), like=ROCKER)
    stay = Member.tube((2000, 400, 480), (2000, 500, 480), 20)
    hinge = Hinge((2000, 260, 480), (1, 0, 0), (2000, 352, 480))
    gaps = [Swing(hinge, -5, 5, (OnHinge(p),), {"stay": stay}).gaps()[0] for p in (ROCKER, longer)]
    assert gaps[0].ok and gaps[1].clash
    assert gaps[0].gap_mm == pytest.approx(140 - (92 + 15), abs=2.5)


@pytest.mark.parametrize(
    "solid, said",
    (
        (lambda: cq.Workplane().box(40, 30, 4).faces(">Z").edges().chamfer(0.5), "not square to it"),
        (lambda: cq.Workplane().box(40, 30, 4).faces(">Z").workplane().hole(8, 2), "3 faces lie along it"),
        (lambda: cq.Workplane().ellipse(20, 10).extrude(3), "extrusion"),
        (lambda: cq.Workplane().sphere(9), "no flat face"),
        (lambda: cq.Workplane().rarray(50, 1, 2, 1).rect(9, 9).extrude(3), "with 2"),
        (lambda: 4, "Workplane or Shape, not a int"),
    ),
)
def test_what_is_no_flat_plate_is_refused(solid, said):
    with pytest.raises(SolidError, match=said):
        Plate.of(solid())


@settings(max_examples=12, deadline=None)
@given(
    wide=st.floats(20, 200),
    tall=st.floats(20, 200),
    t=st.floats(1, 12),
    corner=st.floats(0, 9),
    hole=st.floats(2, 12),
    way=st.sampled_from(["XY", "XZ", "YZ", "ZX"]),
    turn=st.floats(-80, 80),
)
def test_any_plate_goes_to_cadquery_and_comes_back(wide, tall, t, corner, hole, way, turn):
    """Whichever way it lies: the same metal to a thousandth of a mm³ a mm², the solids on each other."""
    drawn = cq.Workplane(way).rect(wide, tall).extrude(t)
    if corner > 0.5:
        drawn = drawn.edges("|" + {"XY": "Z", "XZ": "Y", "YZ": "X", "ZX": "Y"}[way]).fillet(corner)
    solid = drawn.faces("<" + {"XY": "Z", "XZ": "Y", "YZ": "X", "ZX": "Y"}[way]).workplane().hole(hole)
    solid = solid.rotate((0, 0, 0), (1, 2, 3), turn)
    round_off = (4 - math.pi) * corner**2 if corner > 0.5 else 0.0
    plate = Plate.of(solid)
    by_hand = (wide * tall - round_off - math.pi * hole**2 / 4) * t
    assert plate.volume_mm3 == pytest.approx(by_hand, rel=1e-6)
    assert plate.solid().cut(solid.val()).Volume() < 1e-3 * plate.volume_mm3
    assert [h.diameter_mm for h in plate.outline().holes] == [pytest.approx(hole)]


def test_a_notebook_shows_a_corner_s_verdict_and_curves():

    from assemblies.results.curves import figures
    from assemblies.results.words import tally

    found = demos.corner("corrie-rear")
    shown = found._repr_html_()
    assert tally(found.results) in " ".join(shown.split())
    assert len(repr(found)) < 200 and "corrie rear" in repr(found)  # not every number it holds
    page = xml.dom.minidom.parseString(shown)
    assert len(page.getElementsByTagName("figure")) == len(figures(found.results, found.job)) == 12
    rate = next(p for p in page.getElementsByTagName("svg") if "Wheel rate:" in p.getAttribute("aria-label"))
    ends = [found.results.travel.wheel_rate_n_per_mm[k] for k in (0, -1)]
    assert "wheel rate from {:.2f} N/mm to {:.2f} N/mm".format(*ends) in rate.getAttribute("aria-label")
    assert found.results.version == version("rockershed")
