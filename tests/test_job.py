"""The job file: what is read, what is refused and in which words, what is assumed, changed, mirrored."""

from __future__ import annotations

import json
import math
import subprocess
import sys
import tomllib
from copy import deepcopy
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from assemblies.job import Job, JobError, load, slug, starter
from assemblies.job.checks import BODY_NAMES
from assemblies.job.corner import RodTable
from assemblies.job.frame import SquareBar
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism

JOBS = sorted((Path(__file__).parents[1] / "assemblies" / "jobs").glob("*.toml"))
HERONBANK, TARNSIDE, CORRIE = (
    next(p for p in JOBS if p.name.startswith(n)) for n in ("heronbank", "tarnside", "corrie")
)
STARTER = tomllib.loads(starter())
# the starter's corner with no key that names a member: a plain ground to make one mistake on
BASE = STARTER | {
    "tie_rod": {k: v for k, v in STARTER["tie_rod"].items() if k != "member"},
    "spring": STARTER["spring"] | {"housing": {"outer": 60.3, "wall": 2.9}},
    "member": [m for m in STARTER["member"] if m["shape"] == "square"],
}
del BASE["pivot"]


def with_keys(**changes) -> dict:
    """The starter's tables with `table__key` set; the value `...` takes the key out."""
    tables = deepcopy(BASE)
    for path, value in changes.items():
        *to, last = path.split("__")
        node = tables
        for part in to:
            node = node.setdefault(part, {}) if isinstance(node, dict) else node[int(part)]
        if value is ...:
            del node[last]
        else:
            node[last] = value
    return tables


def problems(tables: dict) -> list:
    with pytest.raises(JobError) as caught:
        Job.from_dict(tables)
    assert str(caught.value) == "\n".join(map(str, caught.value.problems))
    return list(caught.value.problems)


# ------------------------------------------------------------ what is read


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_demo_jobs_load_as_they_are_written(path):
    job, raw = load(path), tomllib.loads(path.read_text(encoding="utf-8"))
    assert job.name == raw["name"] and job.corner.side == raw["corner"]["side"]
    assert job.wheel.centre == tuple(map(float, raw["wheel"]["centre"]))
    assert [m.name for m in job.member] == [m["name"] for m in raw.get("member", [])]
    assert Job.from_dict(job.to_dict()) == job


def test_lengths_with_a_unit_become_mm():
    """The inch is 25.4 mm by definition (ISO 31 and the yard agreement of 1959)."""
    job = load(TARNSIDE)
    assert job.rocker.plate_thickness == 3.175
    assert job.upper_arm.tube_diameter == pytest.approx(19.05, abs=1e-12)
    assert job.wheel.rim_diameter == pytest.approx(13 * 25.4, abs=1e-9)
    moved = job.changed({"rod.outboard": ["0 in", "-535 mm", "1 1/2 in"], "corner.bump": "5.5 cm"})
    assert moved.rod.outboard == (0.0, -535.0, pytest.approx(38.1)) and moved.corner.bump == 55


def test_every_shape_of_member_and_every_spring_is_read():
    ends = {"from": [300, 295, 90], "to": [300, 295, 400]}
    members = [
        {"name": "a", "shape": "square", "size": 25, "wall": 2, **ends},
        {"name": "b", "shape": "rectangular", "width": 30, "height": 20, "wall": 2, "roll": 15, **ends},
        {"name": "c", "shape": "round", "size": 38, "wall": 2.5, **ends},
        {"name": "d", "shape": "plate", "width": 100, "thickness": 2, **ends},
        {"name": "e", "shape": "cylinder", "diameter": 60, "moves_with": "upright", **ends},
        {"name": "f", "shape": "box", "centre": [0, 0, 300], "size": [10, 20, "1 in"]},
    ]
    job = Job.from_dict(with_keys(member=members))
    assert [m.shape for m in job.member] == ["square", "rectangular", "round", "plate", "cylinder", "box"]
    assert (
        job.member[0].from_ == (300, 295, 90)
        and job.member[4].moves_with == "upright"
        and job.member[5].size[2] == 25.4
    )
    springs = [
        {"kind": "solid-bar", "diameter": 13, "length": 900},
        {"kind": "tube", "outer": 20, "wall": 3, "length": 800},
        {"kind": "coil-over", "rate": 60, "free_length": 200, "outer_diameter": 84},
    ]
    for spring in springs:
        job = Job.from_dict(with_keys(spring=spring))
        assert job.spring.kind == spring["kind"] and Job.from_dict(job.to_dict()) == job


def test_stock_may_be_one_plate_or_several():
    plate = {
        "thickness": 3,
        "outline": [[0, 0], [600, 0], [600, 300]],
        "holes": [{"centre": [100, 50], "diameter": 20}],
    }
    one = Job.from_dict(with_keys(stock={"plate": plate}))
    two = Job.from_dict(with_keys(stock={"plate": [plate, plate | {"thickness": "1/8 in"}]}))
    assert len(one.stock.plate) == 1 and one.stock.plate[0].holes[0].diameter == 20
    assert [p.thickness for p in two.stock.plate] == [3, 3.175]
    assert one.changed({"stock.plate.thickness": 4}).stock.plate[0].thickness == 4
    assert two.changed({"stock.plate.2.thickness": 4}).stock.plate[1].thickness == 4


def test_a_job_needs_no_file():
    """Built from models and numpy in a script, the same job as from the file."""
    tables = deepcopy(BASE)
    tables["rod"] = RodTable(**BASE["rod"])
    tables["member"] = [SquareBar(**m) for m in BASE["member"]]
    tables["rocker"]["pivot"] = np.array(BASE["rocker"]["pivot"])
    tables["spring"]["leaves"] = np.int64(4)
    tables["corner"]["bump"] = np.float64(50)
    job = Job(**tables)
    assert job == Job.from_dict(BASE) == Job.model_validate(BASE)
    assert hash(job) == hash(Job.from_dict(BASE))
    tables["rod"] = RodTable(**BASE["rod"] | {"inboard": BASE["rod"]["outboard"]})
    assert problems(tables)[0].key == "rod.inboard"


def test_a_job_is_frozen():
    job = Job.from_dict(BASE)
    with pytest.raises(ValueError, match="frozen"):
        job.rocker.plate_thickness = 4
    with pytest.raises(ValueError, match="frozen"):
        job.name = "other"


# ------------------------------------------------------------ what is refused

INCH_POINT = [v / 25.4 for v in BASE["upper_arm"]["front_pivot"]]
METRE_POINT = [v / 1000 for v in BASE["upper_arm"]["front_pivot"]]
FAR = {"from": [0, 0, 0], "to": [0, 0, 500]}

ONE_PROBLEM = [  # what is changed, the key named, what the line says besides
    # unknown keys, missing keys and tables
    (
        {"rocker__plate_thicknes": 3},
        "rocker.plate_thicknes",
        ["unknown key", "did you mean 'plate_thickness'?"],
    ),
    (
        {"rocker__plate_thicknes": 3, "rocker__plate_thickness": ...},
        "rocker.plate_thicknes",
        ["did you mean 'plate_thickness'?"],
    ),
    ({"rocker__Pivot": [0, 0, 0]}, "rocker.Pivot", ["did you mean 'pivot'?"]),
    ({"rocker__xyzzy": 3}, "rocker.xyzzy", ["unknown key", "known here: pivot, axis, damper_eye"]),
    ({"rockers": {}}, "rockers", ["unknown key", "did you mean 'rocker'?"]),
    ({"rocker__pivot_tube": {"outer": 38, "wal": 3}}, "rocker.pivot_tube.wal", ["did you mean 'wall'?"]),
    ({"spring__leafs": 3}, "spring.leafs", ["did you mean 'leaves'?"]),
    ({"member__0__form": [0, 0, 0]}, "member.lower rail.form", ["did you mean 'from'?"]),
    ({"stock__plate__tickness": 3}, "stock.plate.tickness", ["did you mean 'thickness'?"]),
    ({"rod": ...}, "rod", ["missing", "this table must be there", "add [rod]"]),
    ({"rod__outboard": ...}, "rod.outboard", ["missing", "add it to [rod]"]),
    ({"name": ...}, "name", ["missing"]),
    ({"spring__kind": ...}, "spring.kind", ["missing", '"leaf-pack", "solid-bar", "tube", "coil-over"']),
    ({"member__0__name": ...}, "member.1.name", ["missing"]),
    # wrong types
    (
        {"rocker__plate_thickness": True},
        "rocker.plate_thickness",
        ["is true", 'a number in mm or a text such as "1/8 in"'],
    ),
    (
        {"rocker__plate_thickness": "thick"},
        "rocker.plate_thickness",
        ['is "thick"', "needs a number and a unit"],
    ),
    ({"rocker__plate_thickness": "3"}, "rocker.plate_thickness", ['is "3"', "needs a number and a unit"]),
    ({"rocker__plate_thickness": "1/0 in"}, "rocker.plate_thickness", ["divides by zero"]),
    ({"rocker__plate_thickness": [3]}, "rocker.plate_thickness", ["is [3]", "a length is a number"]),
    (
        {"rocker__plate_thickness": {"mm": 3}},
        "rocker.plate_thickness",
        ["is a table", "a length is a number"],
    ),
    ({"corner__corner_mass": True}, "corner.corner_mass", ["is true", "must be a plain number"]),
    ({"corner__corner_mass": "110 kg"}, "corner.corner_mass", ['is "110 kg"', "must be a plain number"]),
    ({"rocker__window": 1}, "rocker.window", ["is 1", "must be true or false"]),
    ({"rocker__pivot": 5}, "rocker.pivot", ["is 5", "must be 3 lengths: [x, y, z]"]),
    ({"rocker__pivot": [1, 2]}, "rocker.pivot", ["has 2 numbers: [1, 2]", "must be 3 lengths: [x, y, z]"]),
    ({"rocker__pivot": [1, "a", 2]}, "rocker.pivot", ['y is "a"', "a length as text needs"]),
    ({"rocker__pivot": [1, False, 2]}, "rocker.pivot", ["y is false", "a length is a number"]),
    ({"rocker__axis": ["1 in", 0, 0]}, "rocker.axis", ['x is "1 in"', "must be a plain number"]),
    ({"rocker": 5}, "rocker", ["is 5", "must be a table", "write [rocker]"]),
    ({"spring": "soft"}, "spring", ['is "soft"', "must be a table"]),
    ({"member": {"name": "a"}}, "member", ["is a table", "must be a list", "write [[member]]"]),
    ({"member": [5]}, "member", ["is 5", "must be a table"]),
    ({"name": 5}, "name", ["is 5", "must be text in quotes"]),
    ({"spring__leaves": 3.5}, "spring.leaves", ["is 3.5", "must be a whole number from 1 to 60"]),
    ({"stock__plate__outline": 4}, "stock.plate.outline", ["is 4", "must be a list"]),
    # numbers that are none, infinite or out of range
    ({"corner__bump": math.nan}, "corner.bump", ["is nan", "a length must be a finite number"]),
    ({"corner__bump": math.inf}, "corner.bump", ["is inf", "a length must be a finite number"]),
    ({"corner__bump": 10**400}, "corner.bump", ["is too large a number", "finite"]),
    ({"corner__corner_mass": math.nan}, "corner.corner_mass", ["is nan", "must be a finite number"]),
    ({"corner__corner_mass": 10**400}, "corner.corner_mass", ["is too large a number", "finite"]),
    ({"rod__outboard": [0, math.nan, 300]}, "rod.outboard", ["y is nan", "a length must be a finite number"]),
    ({"rod__outboard": [0, 1e6, 300]}, "rod.outboard", ["y is 1000000 mm", "must be within ±20000 mm"]),
    ({"rocker__axis": [math.inf, 0, 0]}, "rocker.axis", ["x is inf", "must be a finite number"]),
    (
        {"rocker__plate_thickness": -3},
        "rocker.plate_thickness",
        ["is -3 mm", "must be 0.5 to 16 mm", "leave the minus sign out"],
    ),
    ({"rocker__plate_thickness": 0}, "rocker.plate_thickness", ["is 0 mm", "must be 0.5 to 16 mm"]),
    (
        {"rocker__plate_thickness": "-1/8 in"},
        "rocker.plate_thickness",
        ['is -3.175 mm (written "-1/8 in")', "must be 0.5 to 16 mm"],
    ),
    ({"upper_arm__tube_wall": 0}, "upper_arm.tube_wall", ["is 0 mm", "must be 0.3 to 16 mm"]),
    ({"spring__leaves": 0}, "spring.leaves", ["is 0", "must be 1 to 60"]),
    ({"corner__droop": -45}, "corner.droop", ["is -45 mm", "must be 1 to 500 mm"]),
    ({"schema": 2}, "schema", ["is 2", "must be 1;"]),
    # words
    ({"corner__side": "lft"}, "corner.side", ['is "lft"', '"left", "right"', "did you mean 'left'?"]),
    (
        {"rod__on": "upper arm"},
        "rod.on",
        ['"upper_arm", "lower_arm", "upright"', "did you mean 'upper_arm'?"],
    ),
    (
        {"rocker__plate_material": "S275JR"},
        "rocker.plate_material",
        ['is "S275JR"', '"S235", "S275", "S355"', "did you mean"],
    ),
    ({"rod__thread": "M11"}, "rod.thread", ['is "M11"', "must be a thread known here:", '"M10"', '"M20"']),
    (
        {"spring__kind": "leafpack"},
        "spring.kind",
        ['is "leafpack"', '"leaf-pack"', "did you mean 'leaf-pack'?"],
    ),
    ({"spring__kind": ["leaf-pack"]}, "spring.kind", ['is ["leaf-pack"]', '"leaf-pack"']),
    (
        {"member__0__shape": "sqare"},
        "member.lower rail.shape",
        ['is "sqare"', '"square"', "did you mean 'square'?"],
    ),
    ({"member__0__moves_with": "engine"}, "member.lower rail.moves_with", ['is "engine"', '"upright"']),
    # sizes that contradict each other
    (
        {"upper_arm__tube_wall": 12},
        "upper_arm.tube_wall",
        ["is 12 mm", "must be at most 11 mm (0.5 × tube_diameter)", "thicker than the radius"],
    ),
    ({"rod__wall": 10.5}, "rod.wall", ["is 10.5 mm", "must be at most 10 mm (0.5 × diameter)"]),
    (
        {"rocker__pivot_tube__wall": 15.5, "rocker__pivot_tube__outer": 31},
        "rocker.pivot_tube.wall",
        ["is 15.5 mm", "must be less than 15.5 mm (0.5 × outer)"],
    ),
    ({"member__0__wall": 15.5}, "member.lower rail.wall", ["must be at most 15 mm (0.5 × size)"]),
    (
        {"corner__unsprung_mass": 110},
        "corner.unsprung_mass",
        ["is 110 kg", "must be less than 110 kg (corner_mass)", "includes it"],
    ),
    ({"damper__shortest": 285}, "damper.shortest", ["is 285 mm", "must be less than 285 mm (longest)"]),
    ({"damper__shaft_diameter": 50}, "damper.shaft_diameter", ["must be less than 46 mm (body_diameter)"]),
    (
        {"spring__housing": {"outer": 38, "wall": 2.5}},
        "spring.housing",
        ["bore of 33 mm", "more than 34 mm, the leaf stack's diagonal"],
    ),
    ({"spring__slide": 560}, "spring.slide", ["is 560 mm", "must be less than 549 mm (0.9 × length)"]),
    (
        {"rocker__rod_boss_radius": 5},
        "rocker.rod_boss_radius",
        ["is 5 mm", "must be more than 5 mm, the radius of its hole"],
    ),
    ({"rocker__pivot_boss_radius": 19}, "rocker.pivot_boss_radius", ["must be more than 22.5 mm"]),
    (
        {"rocker__box_width": 20, "damper__eye_width": 20},
        "rocker.box_width",
        ["is 20 mm", "must be more than damper.eye_width 20 mm"],
    ),
    (
        {"rod__rod_end": {"ball_width": 40}},
        "rocker.box_width",
        ["must be more than rod.rod_end.ball_width 40 mm"],
    ),
    ({"rod__rod_end": {"bore": 30}}, "rod.rod_end", ["bore of 30", "less than the housing's 28"]),
    ({"rod__thread": "M20"}, "rod.thread", ["is M20", "smaller than the rod's diameter 20 mm"]),
    (
        {"wheel__tyre_radius": 170},
        "wheel.rim_diameter",
        ["is 355.6 mm", "must be less than 340 mm, twice the tyre radius"],
    ),
    # points that coincide, lie in line, or leave no arm
    (
        {"rod__inboard": BASE["rod"]["outboard"]},
        "rod.inboard",
        ["0 mm from rod.outboard", "at least 1 mm away", "the rod has no length"],
    ),
    ({"wheel__contact": BASE["wheel"]["centre"]}, "wheel.contact", ["the same point as wheel.centre"]),
    (
        {"wheel__contact": [0, 777, 300]},
        "wheel.contact",
        ["has z 300", "must be below the wheel centre's z 265", "looks like a contact off the ground"],
    ),
    ({"upper_arm__rear_pivot": BASE["upper_arm"]["front_pivot"]}, "upper_arm.rear_pivot", ["no pivot axis"]),
    (
        {"lower_arm__outer_joint": [-440, 330, 140]},
        "lower_arm.outer_joint",
        ["0 mm from the line lower_arm.front_pivot to rear_pivot", "collinear"],
    ),
    (
        {"lower_arm__outer_joint": BASE["upper_arm"]["outer_joint"]},
        "lower_arm.outer_joint",
        ["the steering axis has no length"],
    ),
    ({"tie_rod__outer": BASE["tie_rod"]["inner"]}, "tie_rod.outer", ["the tie rod has no length"]),
    (
        {"tie_rod__outer": [1, 703, 250]},
        "tie_rod.outer",
        ["off it", "on the steering axis it cannot hold the wheel's toe"],
    ),
    (
        {"rod__outboard": [5, 385, 334]},
        "rod.outboard",
        ["the line upper_arm.front_pivot to rear_pivot", "the rod would not move"],
    ),
    ({"rocker__axis": [0, 0, 0]}, "rocker.axis", ["is [0, 0, 0]", "must have a length"]),
    (
        {"rocker__damper_eye": [50, 280, 165]},
        "rocker.damper_eye",
        ["0 mm from the rocker's axis", "at least 1 mm off it", "it has no arm"],
    ),
    (
        {"rod__inboard": [50, 280, 165]},
        "rod.inboard",
        ["0 mm from the rocker's axis", "on the axis it has no arm"],
    ),
    (
        {"damper__chassis_eye": BASE["rocker"]["damper_eye"]},
        "damper.chassis_eye",
        ["the damper has no length"],
    ),
    (
        {"member__0__to": BASE["member"][0]["from"]},
        "member.lower rail.to",
        ["the same point as from", "at least 0.01 mm away"],
    ),
    (
        {"spring__towards": "up"},
        "spring.towards",
        ['is "up"', "axis [1, 0, 0] does not run that way", 'write "rear" or "front"'],
    ),
    # sides and units
    (
        {"corner__side": "right"},
        "corner.side",
        ['is "right" but wheel.centre has y 770', "the right side is y < 0", 'write side = "left"'],
    ),
    (
        {"tie_rod__outer": [90, -688, 196]},
        "tie_rod.outer",
        [
            "has y -688",
            "must be y > 0 on the left side",
            "the wrong sign of y: tie_rod.outer = [90, 688, 196]",
        ],
    ),
    (
        {"wheel__centre": [0, 0.75, 0.265]},
        "wheel.centre",
        ["is 0.265 mm above the contact", "at least 50 mm", "looks like metres: all lengths are mm"],
    ),
    ({"wheel__centre": [0, 29.5, 10.4]}, "wheel.centre", ["is 10.4 mm above", "looks like inches"]),
    (
        {"upper_arm__front_pivot": METRE_POINT},
        "upper_arm.front_pivot",
        ["mm from the wheel centre", "all lengths are mm", "looks like metres"],
    ),
    (
        {"upper_arm__front_pivot": INCH_POINT},
        "upper_arm.front_pivot",
        ["all lengths are mm", "looks like inches"],
    ),
    (
        {"damper__chassis_eye": [-2, 14, 2520]},
        "damper.chassis_eye",
        ["must be within 2000 mm of it", "damper.chassis_eye = [-2, 14, 252]"],
    ),
    (
        {"wheel__rim_diameter": 14},
        "wheel.rim_diameter",
        ["is 14 mm", "must be 100 to 800 mm", 'looks like inches: write "14 in"'],
    ),
    (
        {"rocker__plate_thickness": 0.125},
        "rocker.plate_thickness",
        ["is 0.125 mm", 'looks like inches: write "0.125 in"'],
    ),
    (
        {"rocker__plate_thickness": 0.003},
        "rocker.plate_thickness",
        ["is 0.003 mm", "looks like metres: all lengths are mm"],
    ),
    (
        {"member__0__from": [-0.3, 0.295, 0.09], "member__0__to": [0.25, 0.295, 0.09]},
        "member.lower rail",
        ["looks like metres"],
    ),
    (
        {"member__0__from": [-12, 11.6, 3.5], "member__0__to": [9.8, 11.6, 3.5]},
        "member.lower rail",
        ["looks like inches"],
    ),
    (
        {"upper_arm__outer_joint": [-5, 683, 145]},
        "upper_arm.outer_joint",
        ["has z 145", "must be above lower_arm.outer_joint's z 148"],
    ),
    # names
    (
        {"member__1__name": "Lower rail "},
        "member.lower rail",
        ["2 members have this name", "each needs its own"],
    ),
    (
        {"member__1__name": "wheel"},
        "member.wheel",
        ['is named "wheel"', "a body of the corner has that name", "tie_rod"],
    ),
    ({"member__1__name": "x" * 81}, "member.2.name", ["has 81 characters", "must have 1 to 80"]),
    ({"member__1__name": " "}, "member.2.name", ["has 0 characters", "must have 1 to 80"]),
    ({"name": "../.."}, "name", ['is "../.."', "must hold a letter or a digit"]),
    ({"name": "a\nb"}, "name", ["must be one line of printable text"]),
    # plate in hand
    (
        {"stock__plate__outline": [[0, 0], [1, 0]]},
        "stock.plate.outline",
        ["has 2 corners", "must have at least 3"],
    ),
    (
        {"stock__plate__outline": [[0, 0], [9, 0], [9, 9], [0, 0]]},
        "stock.plate.outline",
        ["the corner [0, 0] twice", "leave the second out"],
    ),
    (
        {"stock__plate__outline": [[0, 0], [9, 9], [9, 0], [0, 5]]},
        "stock.plate.outline",
        ["without crossing itself"],
    ),
    ({"stock__plate__outline": [[0, 0], [9, 0], [18, 0]]}, "stock.plate.outline", ["must enclose a plate"]),
    ({"stock__plate__outline": [[0, 0], [9, "a"], [18, 0]]}, "stock.plate.outline.2", ['y is "a"']),
]


@pytest.mark.parametrize(
    "changes, key, says", ONE_PROBLEM, ids=[f"{i}-{row[1]}" for i, row in enumerate(ONE_PROBLEM)]
)
def test_one_mistake_is_one_clear_line(changes, key, says):
    """Key, value, limit and cure in one line, and no second line about the same mistake."""
    found = problems(with_keys(**changes))
    assert len(found) == 1, [str(p) for p in found]
    assert found[0].key == key
    for part in says:
        assert part in str(found[0])


def test_a_whole_corner_in_metres_or_inches_is_one_line_about_units():
    def scaled(by: float) -> dict:
        tables = deepcopy(BASE)
        for table in ("wheel", "upper_arm", "lower_arm", "tie_rod", "rod", "rocker", "damper"):
            for key, v in tables[table].items():
                if isinstance(v, list) and key != "axis":
                    tables[table][key] = [x / by for x in v]
        return tables

    for by, unit in ((1000, "metres"), (25.4, "inches")):
        found = problems(scaled(by))
        assert len(found) == 1 and found[0].key == "wheel.centre" and f"looks like {unit}" in found[0].cure


def test_all_mistakes_are_told_at_once_and_always_in_the_same_order():
    tables = with_keys(
        corner__bump=-1,
        rod__inboard=BASE["rod"]["outboard"],
        rod__thread="M11",
        rocker__plate_thicknes=3,
        spring__leaves="four",
        member__0__wall=99,
        name="",
    )
    keys = [p.key for p in problems(tables)]
    assert keys == [
        "name",
        "corner.bump",
        "rod.thread",
        "rocker.plate_thicknes",
        "spring.leaves",
        "member.lower rail.wall",
        "rod.inboard",
    ]
    again = dict(reversed(list(tables.items())))
    assert [p.key for p in problems(again)] == keys


def test_a_damper_of_the_wrong_length_is_left_for_the_findings():
    short = Job.from_dict(with_keys(damper__longest=150, damper__shortest=120))
    assert short.damper.longest < math.dist(short.rocker.damper_eye, short.damper.chassis_eye)


# ------------------------------------------------------------------------------------------------ files


def _file_problem(path) -> str:
    with pytest.raises(JobError) as caught:
        load(path)
    assert len(caught.value.problems) == 1
    return str(caught.value)


def test_a_file_that_is_not_toml_is_told_with_its_line(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(starter().replace('side = "left"', "side = left"), encoding="utf-8")
    line = next(
        i
        for i, text in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if text.startswith("side")
    )
    said = _file_problem(path)
    assert f"bad.toml, line {line}:" in said and "invalid value" in said and "side = left" in said
    path.write_text('name = "a"\nrod = [1,', encoding="utf-8")
    assert "bad.toml, line 2:" in _file_problem(path)
    path.write_text("x = " + "[" * 100_000, encoding="utf-8")
    assert "bad.toml" in _file_problem(path)
    path.write_text("x = " + "9" * 5000, encoding="utf-8")
    assert "bad.toml" in _file_problem(path)


def test_a_missing_or_unreadable_file_is_told(tmp_path):
    assert "no such file" in _file_problem(tmp_path / "none.toml")
    assert "cannot be read" in _file_problem(tmp_path)
    path = tmp_path / "latin.toml"
    path.write_bytes('name = "Höhe"'.encode("latin-1"))
    assert "is not UTF-8" in _file_problem(path)


def test_byte_order_mark_and_windows_line_ends_are_read(tmp_path):
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + starter().replace("\n", "\r\n").encode("utf-8"))
    assert load(path) == Job.from_dict(STARTER)


def test_the_starter_documents_the_true_defaults():
    """Its optional keys, taken up as they stand, change nothing but what is listed as assumed."""
    lines = [line.removeprefix("#: ") for line in starter().splitlines()]
    full = Job.from_dict(tomllib.loads("\n".join(lines)))
    assert full == Job.from_dict(STARTER)
    left = {a.key for a in full.assumed}
    assert {a.key for a in Job.from_dict(STARTER).assumed} - left >= {
        "wheel.tyre_radius",
        "spring.shear_modulus",
        "clearance.tyre",
    }
    # what has no value to write down: sized or left out
    said = ("roll", "ends")  # of a tube: with the first ones, not again with each
    assert all(
        a.value in (None, (), "unknown") or (a.key.startswith("member.") and a.key.endswith(said))
        for a in full.assumed
        if not a.key.startswith("stock.")
    )
    assert not any(a.key.startswith("member.lower rail.") and a.key.endswith(said) for a in full.assumed)


# ------------------------------------------------------------ what is assumed


def test_every_default_taken_is_listed_with_its_reason():
    job = load(HERONBANK)
    assumed = {a.key: a for a in job.assumed}
    assert len(assumed) == len(job.assumed)
    assert all(a.why for a in job.assumed)
    assert (assumed["spring.shear_modulus"].value, assumed["spring.shear_modulus"].unit) == (79_300.0, "MPa")
    assert str(assumed["spring.shear_modulus"]) == "spring.shear_modulus = 79300 MPa (usual for spring steel)"
    assert assumed["wheel.tyre_radius"].value == 265 and job.wheel.tyre_radius == 265
    assert assumed["rod.rod_end.ball_width"].value == job.rod.rod_end.ball_width > 0
    assert (
        assumed["clearance.tolerance"].value == 0.1 and "clearance.tyre" not in assumed
    )  # the file gives it
    assert assumed["member.rack housing.wall"].value is None
    given = job.changed(
        {"spring.shear_modulus": 78_500, "wheel.tyre_radius": 260, "rod.rod_end.ball_width": 13}
    )
    assert not {"spring.shear_modulus", "wheel.tyre_radius", "rod.rod_end.ball_width"} & {
        a.key for a in given.assumed
    }
    assert "rod.rod_end.bore" in {a.key for a in given.assumed}
    assert given.changed({"wheel.tyre_radius": None}).wheel.tyre_radius == 265


def test_assumed_and_written_keys_together_are_all_keys():
    """Nothing has a value that is neither in the file nor listed."""

    def leaves(node, path=""):
        if hasattr(node, "model_fields_set"):
            for name, field in type(node).model_fields.items():
                yield from leaves(getattr(node, name), f"{path}.{field.alias or name}")
        elif isinstance(node, tuple) and node and hasattr(node[0], "model_fields_set"):
            for i, entry in enumerate(node):
                label = getattr(entry, "name", None) or (str(i + 1) if len(node) > 1 else None)
                yield from leaves(entry, f"{path}.{label}" if label else path)
        else:
            yield path[1:]

    def written(node, path=""):
        if isinstance(node, dict):
            for k, v in node.items():
                yield from written(v, f"{path}.{k}")
        elif isinstance(node, list) and node and isinstance(node[0], dict):
            for i, entry in enumerate(node):
                label = entry.get("name") or (str(i + 1) if len(node) > 1 else None)
                yield from written(entry, f"{path}.{label}" if label else path)
        else:
            yield path[1:]

    for path in JOBS:
        job, raw = load(path), tomllib.loads(path.read_text(encoding="utf-8"))
        everything, said, assumed = set(leaves(job)), set(written(raw)), {a.key for a in job.assumed}
        assert everything - said == assumed
        assert not said & assumed


def test_scrap_counts_as_not_graded_and_is_listed():
    scrap = Job.from_dict(with_keys(rocker__plate_material="scrap"))
    unsaid = Job.from_dict(with_keys(rocker__plate_material=...))
    assert scrap == unsaid and scrap.assumed == unsaid.assumed
    listed = next(a for a in scrap.assumed if a.key == "rocker.plate_material")
    assert listed.value == "unknown" and "S235" in listed.why


def test_the_damper_eye_assumed_fits_the_box():
    narrow = Job.from_dict(with_keys(rocker__box_width=18))
    listed = next(a for a in narrow.assumed if a.key == "damper.eye_width")
    assert narrow.damper.eye_width == listed.value == 12
    assert Job.from_dict(BASE).damper.eye_width == 20
    assert narrow == Job.from_dict(narrow.to_dict())


def test_kerf_follows_the_cutting_process():
    assert (
        Job.from_dict(with_keys(process={"cutting": "laser"})).process.kerf
        < Job.from_dict(BASE).process.kerf
        == 1.5
    )


# ------------------------------------------------------------ changed, mirrored, round trip


def test_changed_gives_a_new_checked_job():
    job = load(HERONBANK)
    thicker = job.changed(
        {
            "rocker.plate_thickness": "1/8 in",
            "upper_arm.outer_joint": [1745, 680, 352],
            "clearance.flex": 2,
            "rod.rod_end.bore": 9,
            "member.lower rail.wall": 3,
        }
    )
    assert thicker.rocker.plate_thickness == 3.175 and thicker.upper_arm.outer_joint == (1745, 680, 352)
    assert thicker.clearance.flex == 2 and thicker.rod.rod_end.bore == 9 and thicker.member[0].wall == 3
    assert job == load(HERONBANK) and job != thicker
    assert (
        thicker.changed(
            {"spring": {"kind": "solid-bar", "diameter": 14, "length": 700}, "pivot": None}
        ).spring.kind
        == "solid-bar"
    )
    assert "lower rail" not in [m.name for m in job.changed({"member.lower rail": None}).member]


@pytest.mark.parametrize(
    "key, says",
    [
        ("rocker.plate_thicknes", "rocker.plate_thicknes: unknown key; did you mean 'plate_thickness'?"),
        ("rokcer.plate_thickness", "rokcer: unknown key; did you mean 'rocker'?"),
        ("rocker.plate_thickness.x", "rocker.plate_thickness holds a value"),
        ("member.lower rial.wall", "did you mean 'lower rail'?"),
        ("member.lower rail.wal", "member.lower rail.wal: unknown key; did you mean 'wall'?"),
        ("plate_thickness", "plate_thickness: unknown key"),
    ],
)
def test_changed_names_the_nearest_key(key, says):
    with pytest.raises(JobError) as caught:
        load(HERONBANK).changed({key: 3})
    assert len(caught.value.problems) == 1 and says in str(caught.value)


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_mirrored_twice_is_the_same_job(path):
    job = load(path)
    other = job.mirrored()
    assert other.mirrored() == job and other != job
    assert {job.corner.side, other.corner.side} == {"left", "right"}
    assert other.wheel.centre == (job.wheel.centre[0], -job.wheel.centre[1], job.wheel.centre[2])
    assert other.assumed == job.assumed


@pytest.mark.parametrize("path", JOBS, ids=lambda p: p.stem)
def test_a_mirrored_corner_moves_alike(path):
    """Reflection keeps angles and lengths: same rocker angle, damper, toe and camber, points turned in y."""
    job = load(path)
    z = np.linspace(-job.corner.droop, job.corner.bump, 9)
    here, there = (Mechanism(HardPoints.of(j)).at(z) for j in (job, job.mirrored()))
    for name in ("rocker_rad", "damper_mm", "toe_deg", "camber_deg"):
        assert getattr(there, name) == pytest.approx(getattr(here, name), abs=1e-9)
    assert np.ptp(here.rocker_rad) > 0.3


def test_rolled_members_and_boxes_mirror_as_shapes():
    ends = {"from": [300, 295, 90], "to": [320, 250, 400]}
    job = Job.from_dict(
        with_keys(
            member=[
                {"name": "a", "shape": "square", "size": 25, "wall": 2, "roll": 20, **ends},
                {"name": "b", "shape": "box", "centre": [0, 100, 300], "size": [10, 20, 30]},
            ]
        )
    )
    other = job.mirrored()
    assert (
        other.member[0].roll == -20
        and other.member[1].centre == (0, -100, 300)
        and other.member[1].size == (10, 20, 30)
    )
    assert other.mirrored() == job


@settings(max_examples=60, deadline=None)
@given(st.tuples(*[st.floats(-1, 1)] * 3).filter(lambda a: np.linalg.norm(a) > 0.1), st.floats(-2, 2))
def test_a_mirrored_axis_keeps_the_sign_of_the_rocker_angle(axis, angle):
    """Turning by +angle about the mirrored axis is the mirror image of turning by +angle about the axis
    (scipy's Rotation)."""
    job = load(CORRIE)
    x, y, z = axis
    try:
        job = job.changed({"rocker.axis": axis})
    except JobError:
        return  # a drawn axis may run through an eye
    mirror = np.diag([1.0, -1.0, 1.0])
    other = job.mirrored()
    turn = Rotation.from_rotvec(np.array([x, y, z]) / np.linalg.norm(axis) * angle)
    turn_other = Rotation.from_rotvec(np.array(other.rocker.axis) / np.linalg.norm(axis) * angle)
    eye, pivot = np.array(job.rocker.damper_eye), np.array(job.rocker.pivot)
    moved = pivot + turn.apply(eye - pivot)
    eye_other, pivot_other = np.array(other.rocker.damper_eye), np.array(other.rocker.pivot)
    moved_other = pivot_other + turn_other.apply(eye_other - pivot_other)
    assert moved_other == pytest.approx(mirror @ moved, abs=1e-9)


def test_the_spring_lies_where_the_job_says():
    """Along the axis, whichever way the axis was written, and mirrored with the corner."""
    assert load(HERONBANK).spring_direction == (-1, 0, 0)
    assert load(HERONBANK).changed({"rocker.axis": [-2, 0, 0]}).spring_direction == (-1, 0, 0)
    assert load(HERONBANK).changed({"spring.towards": "front"}).spring_direction == (1, 0, 0)
    across = load(HERONBANK).changed({"rocker.axis": [0.8, 0.6, 0.1], "spring.towards": "inboard"})
    x, y, z = across.spring_direction
    assert y < 0 and across.mirrored().spring_direction == pytest.approx((x, -y, z), abs=1e-15)


def _number(low, high):
    return st.floats(low, high, allow_nan=False)


@settings(max_examples=80, deadline=None)
@given(
    st.fixed_dictionaries(
        {},
        optional={
            "rocker.plate_thickness": st.one_of(
                _number(0.5, 16), st.sampled_from(["1/8 in", "3/16 in", "4.5 mm"])
            ),
            "corner.corner_mass": _number(30, 400),
            "corner.bump": _number(1, 100),
            "wheel.static_camber": _number(-5, 5),
            "wheel.tyre_radius": _number(200, 400),
            "rod.rod_end.housing_width": _number(5, 20),
            "rocker.window": st.booleans(),
            "clearance.moving": _number(0, 30),
            "rocker.plate_material": st.sampled_from(["S355", "scrap", "S235"]),
            "spring": st.sampled_from(
                [
                    {"kind": "tube", "outer": 22, "wall": 3, "length": "30 in"},
                    {"kind": "solid-bar", "diameter": 13.3, "length": 800},
                ]
            ),
            "member": st.lists(
                st.text(min_size=1, max_size=12).filter(
                    lambda s: s.strip() and s.isprintable() and s.strip().casefold() not in BODY_NAMES
                ),
                max_size=3,
                unique_by=lambda s: s.strip().casefold(),
            ).map(lambda names: [{"name": n, "shape": "round", "size": 30, **FAR} for n in names]),
        },
    )
)
def test_written_out_and_read_back_is_the_same_job(changes):
    try:
        job = Job.from_dict(BASE).changed(changes)
    except JobError as e:
        assert {p.key for p in e.problems} == {"wheel.rim_diameter"}, str(
            e
        )  # a drawn tyre smaller than its rim
        return
    again = Job.from_dict(json.loads(json.dumps(job.to_dict())))
    assert again == job and hash(again) == hash(job) and again.assumed == job.assumed
    assert job.mirrored().mirrored() == job


JUNK = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6) | st.just(10**400),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)
PLACES = [(t, k) for t, v in BASE.items() if isinstance(v, dict) for k in (*v, None)]
PLACES += [("member", 0), ("name", None), ("schema", None)]


@settings(max_examples=250, deadline=None)
@given(st.sampled_from(PLACES), JUNK)
def test_nonsense_is_a_job_error_and_nothing_else(place, junk):
    """Whatever stands at a key: a job, or an error in words of the file; never an exception from inside."""
    table, key = place
    tables = deepcopy(BASE)
    if key is None:
        tables[table] = junk
    else:
        tables[table][key] = junk
    try:
        Job.from_dict(tables)
    except JobError as e:
        assert e.problems and all(p.key and p.value for p in e.problems)
        assert not any(
            word in str(e) for word in ("pydantic", "validation error", "function-", "Input should")
        )


@pytest.mark.parametrize(
    "name, folder",
    [
        ("heronbank front", "heronbank-front"),
        ("../../etc", "etc"),
        ("Çà et là: 2/3", "ca-et-la-2-3"),
        ("NUL", "nul-job"),
        ("com1", "com1-job"),
        ("前輪", "前輪"),
        ("a" * 90, "a" * 80),
    ],
)
def test_slug_is_a_folder_every_system_takes(name, folder):
    """Reserved names: Microsoft, "Naming Files, Paths, and Namespaces"."""
    assert slug(name) == folder


def test_reading_a_job_imports_numpy_and_pydantic_only():
    code = (
        "import sys; from assemblies.job import load; load(sys.argv[1]);"
        "print(sorted({m.partition('.')[0] for m in sys.modules} & set(sys.argv[2:])))"
    )
    heavy = ["scipy", "shapely", "ezdxf", "cadquery", "OCP", "matplotlib", "rich", "typer", "fcl"]
    done = subprocess.run(
        [sys.executable, "-c", code, str(HERONBANK), *heavy], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == "[]"
