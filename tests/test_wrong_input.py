"""Every field and every method of every part, given what it is not: one error that names it and its value."""

from __future__ import annotations

import math
import re
from contextlib import chdir
from dataclasses import fields, replace

import pytest

from assemblies.job import demo
from parts.adjuster_sleeve import AdjusterSleeve
from parts.arm import Arm
from parts.damper_bracket import damper_bracket
from parts.eye_plate import Eye
from parts.gusset import Gusset
from parts.member import Member
from parts.other_hand import other_hand, pair
from parts.plate import Plate
from parts.rocker_plate import RockerPlate
from parts.samples import DAMPER, POST, ROCKER, SAMPLES
from parts.shape.outline import Hole, Loop, Outline, Vertex, rectangle
from parts.spacer import Spacer
from parts.spring_socket import SpringSocket
from parts.wheel import Wheel

WRONG = {
    "float": (math.nan, math.inf, -math.inf, True, [1.0], "banana", {}),
    "int": (2.5, math.nan, True, [1], "banana"),
    "str": (5, ["S275"], True),
    "bool": (1, "yes", math.nan),
}
OF = {type(p).__name__: p for p in SAMPLES}
SIGNED = {"direction_deg", "outboard_turn_deg", "roll_deg"}  # the only numbers that may be negative


@pytest.mark.parametrize("part", SAMPLES, ids=lambda p: type(p).__name__)
def test_a_field_given_what_it_is_not_is_named_with_its_value(part):
    for f in fields(part):
        kind = str(f.type).removesuffix(" | None")
        wrong = (*WRONG.get(kind, (5, "banana", math.nan)), *(() if "None" in str(f.type) else (None,)))
        for value in wrong:
            if value == math.inf and f.name in getattr(part, "ENDLESS", ()):
                continue
            with pytest.raises(ValueError) as e:
                replace(part, **{f.name: value})
            shown = re.escape(str(value))
            assert re.search(rf"\b{f.name}\b.* is ['\"]?.*{shown}", str(e.value)), (
                f.name,
                value,
                str(e.value),
            )
        if kind in ("float", "int") and f.name not in SIGNED:
            with pytest.raises(ValueError, match=rf"{f.name}|{_words(f.name)}"):
                replace(part, **{f.name: -1})


def _words(name: str) -> str:
    return re.sub(r"_(mm|n|kg|deg)$", "", name).replace("_", " ")


SLEEVE, ARM, RACK = OF["AdjusterSleeve"], OF["Arm"], OF["RackExtension"]
EYES = OF["EyePlate"]
O, UP = (0, 0, 0), (0, 0, 300)


@pytest.mark.parametrize(
    "wrong, said",
    (
        (lambda: Gusset(20, 60, 36, "three"), 'gusset: thickness_mm is "three"'),
        (lambda: Gusset(20, 60, 36, None), "gusset: thickness_mm is None; a length is"),
        (lambda: Gusset(20, 60, 36, 3, "30"), "direction_deg is '30'; it wants a number in deg"),
        (lambda: Gusset(20, 60, 36, 4e5), "thickness_mm is 400000 mm; the most is 20000"),
        (lambda: RockerPlate(92, (1, 70), 4, 38, 10, 10), r"rod_eye is 92; it wants a point"),
        (lambda: RockerPlate((9, 2, 1), (1, 70), 4, 38, 10, 10), r"rod_eye is .*3 long; it wants 2 values"),
        (lambda: Plate("round", 4), "shape is 'round'; it wants an Outline"),
        (lambda: Plate(Outline(rectangle(0, 0, 9, 9), holes=(Hole(8, 8, 4, "x"),)), 4), "not wholly inside"),
        (lambda: Plate(OF["Plate"].shape, 4, hand="both"), "hand is 'both'; it must be one of"),
        (lambda: Plate.of(4), "Workplane or Shape, not a"),
        (lambda: ROCKER.eye("banana"), 'arm is \'banana\'; it must be one of "rod", "damper"'),
        (lambda: ROCKER.neck("pivot"), "arm is 'pivot'"),
        (lambda: ROCKER.weakest(1), "arm is 1"),
        (lambda: ROCKER.eye_boss([]), r"arm is \[\]"),
        (lambda: ROCKER.least_eye_radius_mm("x"), "arm is 'x'"),
        (lambda: ROCKER.section("rod", "far"), 'at_mm is "far"'),
        (lambda: ROCKER.sections("rod", 1), "count is 1"),
        (lambda: ROCKER.mirrored("up"), "hand is 'up'"),
        (lambda: SLEEVE.holes("banana"), 'tube is \'banana\'; it must be one of "inner", "outer"'),
        (lambda: SLEEVE.setting(2.5), "number is 2.5; it wants a whole number"),
        (lambda: SLEEVE.setting("x"), "number is 'x'"),
        (lambda: SLEEVE.torque_nm("x"), "shear_per_plane_n is x; it must be a finite number"),
        (lambda: AdjusterSleeve.around("wide", 3, 24), 'inner_mm is "wide"'),
        (lambda: AdjusterSleeve.around(38, 3, 24, "M7"), 'thread is "M7"; known'),
        (lambda: AdjusterSleeve.around(38, 3, "many"), "positions is 'many'"),
        (lambda: Arm.between(O, UP, "x", 22), "outer is 'x'; it wants a point"),
        (lambda: Arm.bushed("M10", 22), 'bolt_mm is "M10"'),
        (lambda: ARM.between_tabs(math.nan), "boss_mm is nan"),
        (lambda: Member.square(O, UP, "wide", 2), 'size_mm is "wide"'),
        (lambda: Member.square(O, UP, 30, 15), "wall is 15 mm; it must be at least 0 and less than half"),
        (lambda: Member.tube(O, UP, 30, math.nan), "wall_mm is nan"),
        (lambda: Member.tube(O, O, 30), "its ends must differ"),
        (lambda: Member.tube(O, (0, 1), 30), "to is .*2 long; it wants 3 values"),
        (lambda: Member.box(O, 40), "size is 40; it wants a point"),
        (lambda: Member.box(O, (40, 0, 40)), "size y is 0 mm"),
        (lambda: Member.plate(O, UP, 40, [4]), r"thickness_mm is \[4\]"),
        (lambda: DAMPER.spring_form("x", 60, 100), 'eye_to_eye_mm is "x"'),
        (lambda: Spacer.of("M11", 10), 'size is "M11"; known'),
        (lambda: Spacer.of("M10", math.nan), "length_mm is nan"),
        (lambda: Spacer.of("M10", 12).stress_mpa("x"), "clamp_n is x"),
        (lambda: RACK.stress_mpa("x", 0, 10), "side_n is x"),
        (lambda: Wheel(280, 170, 330).form("x"), 'grown_mm is "x"'),
        (lambda: SpringSocket.for_leaves("four", 20, 4.5, 60), "leaves is 'four'"),
        (lambda: SpringSocket.for_hexagon("x", 60), 'across_flats_mm is "x"'),
        (lambda: Hole(math.nan, 0, 4, "a"), "hole 'a': x is nan"),
        (lambda: Hole(0, 0, "wide", "a"), "hole 'a': diameter_mm is \"wide\""),
        (lambda: Hole(0, 0, 4, "a", "loose"), "fit is 'loose'; it must be one of"),
        (lambda: Plate(Outline(Loop((Vertex(0, 0), Vertex("a", 0), Vertex(5, 5)))), 4), "a corner is .*'a'"),
        (lambda: Eye((0, 0), -4), "hole is -4 mm"),
        (lambda: Eye((0, 0), 10, fit="tight"), "fit is 'tight'; it must be one of"),
        (lambda: EYES.boss("pivot"), "eye is 'pivot'; it wants an Eye"),
        (lambda: EYES.least_radius_mm(5), "eye is 5; it wants an Eye"),
        (lambda: OF["Clevis"].blank("x.dxf"), r"no flat part.*its base.blank\(path\) and its cheek.blank"),
        (lambda: Wheel(280, 170, 330, mass_kg=0), "mass is 0 kg"),
        (lambda: demo("banana"), "name is 'banana'; the demo jobs are corrie-rear"),
        (lambda: other_hand("left"), "of is 'left'; it wants a part"),
        (lambda: pair(5), "of is 5; it wants a part"),
        (lambda: damper_bracket(5, O, UP, {"post": POST}), "damper is 5; it wants a Damper"),
        (lambda: damper_bracket(DAMPER, O, UP, {}), "no member"),
        (lambda: damper_bracket(DAMPER, "x", UP, {"post": POST}), "eye is 'x'; it wants a point"),
        (lambda: damper_bracket(DAMPER, (1748, 34, 252), O, {"post": POST}), "axis is .*no length"),
        (lambda: ROCKER.step(5), "path is 5; it wants a file's name"),
        (lambda: ROCKER.svg(None), "path is None; it wants a file's name"),
        (lambda: ROCKER.blank([]), r"path is \[\]; it wants a file's name"),
        (lambda: ROCKER.blank("x.dxf", hand="banana"), "hand is 'banana'; it must be"),
        (lambda: ROCKER.blank("x.dxf", count=0), "count is 0"),
        (lambda: ROCKER.blank("x.dxf", count="two"), "count is 'two'; it wants a whole number"),
        (lambda: ROCKER.blank("x.dxf", thickness_mm="x"), 'thickness_mm is "x"'),
        (lambda: ROCKER.blank("x.dxf", compensation_mm=[1]), r"compensation_mm is \[1\]"),
    ),
)
def test_a_method_given_what_it_is_not_says_which_and_what_it_wants(wrong, said, tmp_path):
    with chdir(tmp_path), pytest.raises(ValueError, match=said):
        wrong()
    assert not list(tmp_path.iterdir())
