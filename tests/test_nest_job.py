"""A job's blanks on its own plates: what the job file may say, nothing lost, nothing overlapping, hands and
rules kept."""

import math
import time
from dataclasses import replace
from pathlib import Path

import demos
import numpy as np
import pytest
from declared import amiss
from dxf_shapes import outers
from shapely import LineString, Point, Polygon
from shapely.affinity import rotate

from assemblies.job import Job, JobError, load
from assemblies.making import pace
from assemblies.making.nest_job import (
    _search_s,
    blanks_of,
    leads_of,
    nest_job,
    remnants_of,
    rules_of,
    settled,
)
from assemblies.nesting.model import NestError
from assemblies.results.making import Nesting
from assemblies.results.model import parsed
from assemblies.results.summary import text
from assemblies.study import study

pytestmark = pytest.mark.slow  # the search compiles itself, half a minute long

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DEMO = JOBS / "heronbank-front.toml"
CORNERS = [[0, 0], [620, 0], [620, 270], [500, 390], [0, 390]]


@pytest.fixture(scope="module")
def demo():
    return load(DEMO)


@pytest.fixture(scope="module")
def layout(demo):
    return demos.corner("heronbank-front").layout


def with_job(layout, changes):
    """The same parts under a job with other plates and rules: these change no part."""
    return replace(layout, job=layout.job.changed(changes))


def wanted(layout):
    return {b.name: b.count for b in blanks_of(layout)}


# ------------------------------------------------------------ the job file


def plate(**more):
    return {"thickness": 3, "outline": CORNERS, **more}


REFUSED = [
    (
        {"outline": [[0, 0], [0.62, 0], [0.62, 0.39], [0, 0.39]]},
        "stock.plate.outline",
        "is 0.732 mm across; must be at least 5 mm; bare numbers are mm; another unit is written with its "
        'number: "0.62 m"',
    ),
    ({"outline": [[0, 0], [9, 9], [9, 0], [0, 5]]}, "stock.plate.outline", "without crossing itself"),
    (
        {"torch_edges": [6]},
        "stock.plate.torch_edges",
        "names side 6; must be 1 to 5, the sides of the outline; side 1 runs from the first corner",
    ),
    ({"torch_edges": [0]}, "stock.plate.torch_edges", "names side 0; must be 1 to 5"),
    ({"torch_edges": [2, 2]}, "stock.plate.torch_edges", "names side 2 twice"),
    ({"torch_edges": ["left"]}, "stock.plate.torch_edges", "must be a plain number"),
    ({"edge": -1}, "stock.plate.edge", "must be 0 to 500 mm"),
    ({"count": 0}, "stock.plate.count", "must be 1 to 100"),
    ({"count": 1.5}, "stock.plate.count", "must be a whole number"),
    ({"grain": 400}, "stock.plate.grain", "must be -360 to 360 deg"),
    ({"name": ""}, "stock.plate.1.name", "must have 1 to 80"),
    (
        {"holes": [{"centre": [700, 100], "diameter": 20}]},
        "stock.plate.holes",
        "has a hole at [700, 100], off the plate",
    ),
    (
        {"keep_outs": [[[0, 0], [10, 0]]]},
        "stock.plate.keep_outs",
        "keep-out 1 has 2 corners; must have at least 3",
    ),
    (
        {"keep_outs": [[[0, 0], [50, 50], [50, 0], [0, 50]]]},
        "stock.plate.keep_outs",
        "must enclose an area without crossing itself",
    ),
    (
        {"keep_outs": [[[10, 10], [20, 10], [20, 20]], [[700, 0], [800, 0], [800, 90]]]},
        "stock.plate.keep_outs",
        "has keep-out 2 at [700, 0], off the plate",
    ),
    (
        {"keep_outs": [[[560, 200], [600, 200], [600, 340], [560, 340]]]},
        "stock.plate.keep_outs",
        "off the plate; must lie on the plate; end it at the plate's edge",
    ),
    ({"torch_edge": [2]}, "stock.plate.torch_edge", "did you mean 'torch_edges'?"),
]


@pytest.mark.parametrize("more, key, words", REFUSED, ids=[f"{i}-{r[1]}" for i, r in enumerate(REFUSED)])
def test_a_plate_that_cannot_be_is_one_clear_error(demo, more, key, words):
    with pytest.raises(JobError) as e:
        demo.changed({"stock": {"plate": plate(**more)}})
    assert len(e.value.problems) == 1 and words in str(e.value)
    assert e.value.problems[0].key == key


NEST_REFUSED = [
    (
        {"spacing": 0},
        "nest.spacing",
        "is 0 mm; must be at least the kerf of 1.5 mm; blanks that touch cannot be cut apart",
    ),
    ({"spacing": 1}, "nest.spacing", "is 1 mm; must be at least the kerf of 1.5 mm"),
    ({"spacing": math.nan}, "nest.spacing", "finite"),
    ({"turn": 50}, "nest.turn", "must divide 360"),
    ({"sides": "rear"}, "nest.sides", '"both", "left", "right"'),
    ({"spare": [{"name": "rocker plate", "count": 0}]}, "nest.spare.rocker plate.count", "must be 1 to 100"),
    ({"spare": [{"name": "a", "count": 1}, {"name": "a", "count": 2}]}, "nest.spare", "has 'a' twice"),
    ({"leads": 1}, "nest.leads", "must be true or false"),
    ({"egde": 1}, "nest.egde", "did you mean 'edge'?"),
]


@pytest.mark.parametrize(
    "nest, key, words", NEST_REFUSED, ids=[f"{i}-{r[1]}" for i, r in enumerate(NEST_REFUSED)]
)
def test_rules_that_cannot_be_are_one_clear_error(demo, nest, key, words):
    with pytest.raises(JobError) as e:
        demo.changed({"nest": nest})
    assert len(e.value.problems) == 1 and words in str(e.value)
    assert e.value.problems[0].key == key


@pytest.mark.parametrize(
    "bar, words",
    [
        ({"shape": "round", "size": 20}, "stock.bar.length: missing"),
        ({"shape": "hexagon", "size": 20, "length": 500}, '"round", "square", "rectangular"'),
        (
            {"shape": "round", "size": 20, "wall": 11, "length": 500},
            "stock.bar.wall: is 11 mm; must be at most 10 mm",
        ),
        ({"shape": "square", "size": 20, "wall": 2, "length": 5}, "stock.bar.length: is 5 mm"),
    ],
)
def test_a_bar_that_cannot_be_is_one_clear_error(demo, bar, words):
    with pytest.raises(JobError, match=r"stock\.bar") as e:
        demo.changed({"stock.bar": bar})
    assert len(e.value.problems) == 1 and words in str(e.value)


def test_plates_go_by_name_or_number_and_mirroring_leaves_them(demo):
    two = demo.changed(
        {"stock": {"plate": [plate(name="door skin", torch_edges=[2], count=2), plate(thickness=4)]}}
    )
    assert two.changed({"stock.plate.door skin.thickness": 5}).stock.plate[0].thickness == 5
    assert two.changed({"stock.plate.1.thickness": 5, "stock.plate.2.edge": 8}).stock.plate[0].thickness == 5
    assert two.mirrored().stock == two.stock and two.mirrored().mirrored() == two
    assert Job.from_dict(two.to_dict()) == two and hash(two) == hash(Job.from_dict(two.to_dict()))
    with pytest.raises(JobError, match="has 'door skin' twice"):
        demo.changed({"stock": {"plate": [plate(name="door skin"), plate(name="door skin")]}})
    with pytest.raises(JobError, match="has 'plate 1' twice"):
        demo.changed({"stock": {"plate": [plate(), plate(name="plate 1")]}})


def test_a_keep_out_may_touch_the_edge_and_follow_a_notch(demo):
    notched = [[0, 0], [300, 0], [300, 100], [200, 100], [200, 200], [0, 200]]
    demo.changed(
        {
            "stock": {
                "plate": {
                    "thickness": 3,
                    "outline": notched,
                    "keep_outs": [[[150, 100], [200, 100], [200, 200], [150, 200]]],
                }
            }
        }
    )
    with pytest.raises(
        JobError, match="off the plate"
    ):  # all its corners lie on the plate, a side crosses the notch
        demo.changed(
            {
                "stock": {
                    "plate": {
                        "thickness": 3,
                        "outline": notched,
                        "keep_outs": [[[150, 190], [190, 190], [290, 90], [150, 90]]],
                    }
                }
            }
        )


# ------------------------------------------------------------ blanks and rules


def test_blanks_of_both_sides_one_side_and_spares(layout):
    both, left = wanted(layout), wanted(with_job(layout, {"nest.sides": "left"}))
    assert both["rocker plate left"] == both["rocker plate right"] == left["rocker plate left"] == 2
    assert "rocker plate right" not in left
    assert both["spring socket plate"] == 2 * left["spring socket plate"]
    spare = wanted(
        with_job(
            layout,
            {
                "nest.spare": [
                    {"name": "rocker plate", "count": 1},
                    {"name": "spring socket plate", "count": 3},
                    {"name": "lower arm front bracket tab 1 left", "count": 2},
                ]
            },
        )
    )
    more = {n: c - both[n] for n, c in spare.items() if c != both[n]}
    assert more == {
        "rocker plate left": 1,
        "rocker plate right": 1,
        "spring socket plate": 3,
        "lower arm front bracket tab 1 left": 2,
    }


def test_a_spare_of_no_blank_names_the_nearest(layout, tmp_path):
    with pytest.raises(NestError, match="did you mean 'rocker gusset'"):
        nest_job(with_job(layout, {"nest.spare": {"name": "rocker guset", "count": 1}}), tmp_path, effort=1)


def test_rules_follow_the_way_of_cutting_unless_given(demo):
    """Common practice: between blanks plasma 5, by hand 3; 5 to an edge, 10 to a torch-cut edge or an old
    hole."""
    r = rules_of(demo)
    assert (r.spacing_mm, r.edge_mm, r.torch_edge_mm, r.hole_mm, r.kerf_mm) == (5, 5, 10, 10, 1.5)
    assert rules_of(demo.changed({"process.cutting": "hand"})).spacing_mm == 3
    assert rules_of(demo.changed({"process.cutting": "laser"})).spacing_mm == 2
    assert rules_of(demo.changed({"process.kerf": 7})).spacing_mm == 7
    given = rules_of(
        demo.changed({"nest": {"spacing": 8, "edge": 6, "torch_edge": 15, "hole": 12, "keep_out": 2}})
    )
    assert (given.spacing_mm, given.edge_mm, given.torch_edge_mm, given.hole_mm, given.keep_out_mm) == (
        8,
        6,
        15,
        12,
        2,
    )
    assert leads_of(demo) and not leads_of(demo.changed({"process.cutting": "hand"}))
    assert leads_of(demo.changed({"process.cutting": "hand", "nest.leads": True})) and not leads_of(
        demo.changed({"nest.leads": False})
    )


def test_folds_lie_across_the_rolling_direction_when_asked(layout):
    blanks = blanks_of(with_job(layout, {"nest.grain": True}))
    strips = [b for b in blanks if b.rotation == "grain"]
    assert strips and all("box strip" in b.name for b in strips)
    for b in strips:
        x0, y0, x1, y1 = b.outline.bounds
        folds = [
            m for m in b.outline.marks if m.kind == "line"
        ]  # none on a strip that is rolled from end to end
        assert all(m.points[0][0] == m.points[1][0] for m in folds) and x1 - x0 > y1 - y0  # straight across x
    assert {b.rotation for b in blanks_of(with_job(layout, {"nest.turn": 90}))} == {90}
    assert {b.rotation for b in blanks_of(layout)} == {"free"}


def test_a_plate_becomes_as_many_remnants_as_there_are_of_it(layout):
    job = layout.job.changed(
        {
            "stock": {
                "plate": plate(
                    name="door skin",
                    torch_edges=[4],
                    edge=8,
                    grain=90,
                    count=2,
                    material="S275",
                    keep_outs=[[[0, 0], [50, 0], [0, 50]]],
                )
            }
        }
    )
    a, b = remnants_of(job, blanks_of(layout))[0]
    assert (
        (a.name, b.name) == ("door skin no. 1", "door skin no. 2")
        and a.torch_edges == (3,)
        and a.grain_deg == 90
    )
    rules = rules_of(job)
    assert [a.distance_mm(n, rules) for n in range(5)] == [8, 8, 8, 10, 8]
    assert not remnants_of(job, blanks_of(layout))[1]


def test_a_plate_of_another_thickness_takes_nothing(layout):
    job = layout.job.changed({"stock.plate.1.thickness": 12})
    plates, _ = remnants_of(job, blanks_of(layout))
    assert plates[0].thickness_mm == 12


def test_blanks_a_little_thicker_go_with_the_others(tmp_path):
    """3 mm tabs and 1/8 in rocker plates on one sheet of 3 mm: within 0.3 mm, and said."""
    job = load(JOBS / "tarnside-front.toml").changed({"upper_arm.bracket_thickness": 3})
    layout = study(job, interference=False).layout
    blanks = blanks_of(layout)
    assert {b.thickness_mm for b in blanks} >= {3.0, 3.175}
    sheet = {"stock": {"plate": plate(material="S275")}}
    blanks, found = settled(blanks, remnants_of(layout.job.changed(sheet), blanks)[0])
    assert (
        3.175 not in {b.thickness_mm for b in blanks}
        and sum(b.name.startswith("rocker plate") for b in blanks if b.thickness_mm == 3) == 2
    )
    assert [f.code for f in found] == ["nest-thickness"] and "drawn for 3.175 mm" in found[0].text
    both = {"stock": {"plate": [plate(material="S275"), plate(material="S275", thickness="1/8 in")]}}
    apart, found = settled(blanks_of(layout), remnants_of(layout.job.changed(both), blanks_of(layout))[0])
    assert apart == blanks_of(layout) and not found


# ------------------------------------------------------------ the nest, from its file


def obeys(
    path,
    corners,
    spacing=5.0,
    edge=5.0,
    torch=(),
    torch_edge=10.0,
    holes=(),
    hole=10.0,
    keep_outs=(),
    off=0.003,
):
    """The drawing alone, by ezdxf and shapely: distances between blanks, to each side, old hole and
    keep-out."""
    outs = outers(path)
    assert min([a.distance(b) for i, a in enumerate(outs) for b in outs[:i]], default=99) >= spacing - off
    sheet = Polygon(corners)
    for a in outs:
        assert sheet.contains(a)
        for n, (p, q) in enumerate(zip(corners, [*corners[1:], corners[0]], strict=True), 1):
            assert a.distance(LineString([p, q])) >= (torch_edge if n in torch else edge) - off, n
        assert all(a.distance(Point(c).buffer(d / 2, 128)) >= hole - off for c, d in holes)
        assert all(
            a.distance(Polygon(k)) > -off and a.intersection(Polygon(k)).area < 1e-3 for k in keep_outs
        )
    return outs


def test_every_blank_of_both_sides_is_placed_or_named_as_missing(layout, tmp_path):
    done = nest_job(layout, tmp_path, effort=10)
    got = {
        name: sum(p.blank.name == name for p in done.nest.placements)
        + sum(m.count for m in done.nest.missing if m.blank.name == name)
        for name in wanted(layout)
    }
    assert got == wanted(layout)
    assert (tmp_path / "plate-1.png").is_file()
    assert any(f.code == "nest-grade" and f.level == "warn" for f in done.findings)
    outs = obeys(tmp_path / "plate-1.dxf", CORNERS, holes=[((410, 250), 60)])
    assert len(outs) == len(done.nest.placements) == done.told.plates[0].blanks
    assert sum(a.area for a in outs) == pytest.approx(
        sum(p.blank.outline.gross_area_mm2 for p in done.nest.placements), rel=1e-5
    )
    assert done.told.plates[0].use_percent == pytest.approx(
        100 * sum(a.area for a in outs) / (Polygon(CORNERS).area - math.pi * 900), rel=1e-4
    )
    assert amiss(done.told, Nesting) == []
    assert (
        {m.thickness_mm for m in done.told.missing}
        == {w.thickness_mm for w in done.told.wanted}
        == {4, 5, 6, 8}
    )


@pytest.fixture
def no_shortages(monkeypatch):
    """What plate would do for the rest is searched for plate by plate: `test_nesting` has it."""
    monkeypatch.setattr("assemblies.nesting.pack.shortages", lambda *_: ())


LEFTOVER = [[0, 0], [420, 0], [420, 160], [300, 160], [300, 330], [0, 330]]
OFFCUT = [[10, 5], [310, 0], [330, 210], [0, 240]]


def test_two_remnants_two_thicknesses_torch_edges_and_keep_outs(layout, tmp_path, no_shortages):
    """Each drawing re-read by ezdxf and shapely: areas, no overlaps, every distance of the rules."""
    stamp = [[20, 20], [90, 20], [90, 60], [20, 60]]
    stock = {
        "plate": [
            {
                "name": "door skin",
                "thickness": 3,
                "outline": LEFTOVER,
                "torch_edges": [3, 4],
                "material": "S275",
                "keep_outs": [stamp],
                "holes": [{"centre": [150, 230], "diameter": 50}],
            },
            {
                "name": "offcut",
                "thickness": "5 mm",
                "outline": OFFCUT,
                "torch_edges": [1],
                "material": "S275",
                "edge": 7,
            },
        ]
    }
    done = nest_job(
        with_job(layout, {"stock": stock, "nest": {"spacing": 6, "leads": True}}), tmp_path, effort=60
    )
    three, five = tmp_path / "door-skin.dxf", tmp_path / "offcut.dxf"
    a = obeys(three, LEFTOVER, 6, 5, (3, 4), holes=[((150, 230), 50)], keep_outs=[stamp])
    b = obeys(five, OFFCUT, 6, 7, (1,))
    for outs, thickness in ((a, 3), (b, 5)):
        placed = [p for p in done.nest.placements if p.blank.thickness_mm == thickness]
        asked = sum(b.count for b in blanks_of(layout) if b.thickness_mm == thickness)
        unplaced = sum(m.count for m in done.nest.missing if m.blank.thickness_mm == thickness)
        assert len(outs) == len(placed) == asked - unplaced >= 4
        assert sorted(o.area for o in outs) == pytest.approx(
            sorted(p.blank.outline.gross_area_mm2 for p in placed), rel=1e-5
        )
    # a left blank lies as a left one: turned, never turned over
    o = next(b.outline for b in blanks_of(layout) if b.name == "rocker plate left")
    true = Polygon(o.outer.points(0.001))
    lefts = [p for p in done.nest.placements if p.blank.name == "rocker plate left"]
    for p in lefts:
        c = rotate(true, p.turn_deg, origin=(0, 0))
        assert any(abs(c.area - x.area) < 1 and c.symmetric_difference(_at(x, c)).area < 2 for x in a)
    assert len(lefts) == 2


def _at(shape, like):
    from shapely.affinity import translate

    return translate(shape, like.centroid.x - shape.centroid.x, like.centroid.y - shape.centroid.y)


def test_random_remnants(layout, tmp_path, no_shortages):
    """Ragged remnants with holes and hot edges, seeded: whatever is drawn keeps the rules, whatever is not is
    named."""
    rng = np.random.default_rng(5)
    for k in range(2):
        angles = np.sort(rng.uniform(0, 2 * np.pi, int(rng.integers(4, 9))))
        corners = [
            [round(float(300 + r * math.cos(t)), 1), round(float(300 + r * math.sin(t)), 1)]
            for t, r in zip(angles, rng.uniform(120, 260, len(angles)), strict=True)
        ]
        if not Polygon(corners).is_valid or max(np.diff([*angles, angles[0] + 2 * np.pi])) > 3:
            continue
        inside = Polygon(corners).representative_point()
        hot = sorted({int(n) for n in rng.integers(1, len(corners) + 1, 2)})
        stock = {
            "plate": {
                "thickness": 3,
                "outline": corners,
                "torch_edges": hot,
                "material": "S275",
                "holes": [{"centre": [inside.x, inside.y], "diameter": 40}],
            }
        }
        done = nest_job(with_job(layout, {"stock": stock}), tmp_path / str(k), effort=6, seed=k)
        file = tmp_path / str(k) / "plate-1.dxf"
        outs = obeys(file, corners, torch=hot, holes=[((inside.x, inside.y), 40)]) if file.is_file() else []
        assert len(outs) == len(done.nest.placements)
        assert len(outs) + sum(m.count for m in done.nest.missing) == sum(wanted(layout).values()), k


def test_blanks_larger_than_the_plate_are_named(layout, tmp_path, no_shortages):
    done = nest_job(
        with_job(
            layout,
            {
                "stock": {
                    "plate": {
                        "thickness": 3,
                        "outline": [[0, 0], [45, 0], [45, 45], [0, 45]],
                        "material": "S275",
                    }
                }
            },
        ),
        tmp_path,
        effort=5,
    )
    assert any("larger than every plate" in m.why for m in done.nest.missing)
    assert any(f.code == "nest-missing" and "arger than every plate" in f.text for f in done.findings)


# ------------------------------------------------------------------------------------------------ in a build


def test_a_build_nests_and_tells_it(layout, tmp_path, no_shortages):
    """Files named from the job's folder, findings worst first, results as text and back."""
    from assemblies.making.build import _nest

    found, told = _nest(layout, tmp_path / "nest", lambda *_: None)
    assert [
        (tmp_path / p.dxf).is_file() and (tmp_path / p.picture).is_file() for p in told["nest"].plates
    ] == [True]
    assert [f.code for f in found][:1] == ["nest-grade"]
    before = demos.corner("heronbank-front").results
    results = before.grown(found, **told)
    assert {f.code for f in results.findings} == {f.code for f in before.findings} | {f.code for f in found}
    assert parsed(results.to_json()).nest.plates[0].blanks == told["nest"].plates[0].blanks
    assert "blanks on the plate in hand: 14 on plate 1" in text(results)
    assert (
        _nest(with_job(layout, {"stock": None}), tmp_path / "none", lambda *_: None) == ([], {})
        and not (tmp_path / "none").exists()
    )
    thick = with_job(layout, {"stock.plate": [plate(thickness=12)]})
    _, told = _nest(replace(thick, flat=thick.flat[:1]), tmp_path / "thick", lambda *_: None)
    assert told["nest"].missing and not (tmp_path / "thick").exists()  # nothing on it, so no empty folder
    assert f" without a place, of {thick.flat[0].thickness_mm:g} mm" in " ".join(
        text(before.grown(**told)).split()
    )


def test_a_build_refuses_a_spare_of_no_blank(layout, tmp_path):
    from assemblies.making.build import BuildError, _nest

    with pytest.raises(BuildError, match="no blank has this name"):
        _nest(
            with_job(layout, {"nest.spare": {"name": "wing", "count": 1}}),
            tmp_path / "nest",
            lambda *_: None,
        )


def test_compensation_without_a_kerf_is_one_clear_error(demo):
    assert (
        demo.changed({"process.compensation": True}).process.compensation
        and demo.changed({"process.kerf": 0}).process.kerf == 0
    )
    with pytest.raises(
        JobError,
        match=r"process.compensation: is true with a kerf of 0 mm; there must be a cut to compensate for; "
        r"measure a trial cut for process.kerf",
    ):
        demo.changed({"process.kerf": 0, "process.compensation": True})


def test_a_time_that_does_not_hold_proof_and_pictures_is_one_clear_error(layout, tmp_path, monkeypatch):
    """One processor on a quiet machine: 0.4 and 0.2 a plate to lay, 0.8 for the step that the clock ends, and
    0.7 a plate to draw; twice as slow a one leaves 24 s - 2 x 7.8 s for the search of ten."""
    monkeypatch.setattr(pace, "last", lambda: 1.0)
    # 0.3 s are counted for the load; what takes over three times that lists the machine's fonts
    for loading_s, slow in ((0.0, 1), (0.6, 2), (9.0, 3)):
        monkeypatch.setattr("assemblies.making.nest_job._loaded", lambda s=loading_s: s)
        needed = math.ceil(slow * (1.2 + 0.9 * len(layout.job.stock.plate)))
        with pytest.raises(
            NestError, match=rf"^1.5 s are too short: .* needs some {needed} s\. Give it that"
        ):
            nest_job(layout, tmp_path, 1, limit_s=1.5)
    assert not [*tmp_path.iterdir()]
    assert _search_s(20.0, time.monotonic(), 10) == pytest.approx(20.0 - 0.8 - 7.0, abs=0.05)
    assert _search_s(24.0, time.monotonic(), 10, slow=2.0) == pytest.approx(8.4, abs=0.05)
    _search_s(10.3, time.monotonic(), 10)
    with pytest.raises(NestError, match=r"10 plates .* some 11 s"):
        _search_s(10.1, time.monotonic(), 10)


def test_how_slow_the_machine_draws_is_kept_for_the_next_nest(layout, tmp_path, monkeypatch, no_shortages):
    """What a nest was counted to take for its pictures is set to a thousandth: the next one is told that the
    machine is slow, at most 10 times, and finds 10 s too short."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "kept"))
    assert pace.last() == 1.0
    monkeypatch.setattr("assemblies.making.nest_job.AFTER_S", 0.001)
    nest_job(layout, tmp_path, 1)
    assert pace.last() == 10.0
    monkeypatch.setattr("assemblies.making.nest_job.AFTER_S", 1.0)
    with pytest.raises(NestError, match="10 s are too short"):
        nest_job(layout, tmp_path, 1, limit_s=10.0)
    pace.note(1.0)
    assert pace.last() == 9.0
    for nothing in (float("nan"), 0.2):
        pace.note(nothing)
        assert pace.last() == 1.0


def test_a_time_limit_ends_the_search_with_a_sound_nest_and_says_so(
    layout, tmp_path, monkeypatch, no_shortages
):
    monkeypatch.setattr("assemblies.making.nest_job._search_s", lambda *_: 0.5)
    done = nest_job(layout, tmp_path, 1_000_000, limit_s=1.0)
    said = [f for f in done.findings if f.code == "nest-time"]
    assert done.nest.hit_limit and len(said) == 1 and "1 s" in said[0].text
    placed = sum(len(done.nest.on(r)) for r in done.nest.remnants) + sum(m.count for m in done.nest.missing)
    assert placed == sum(b.count for b in blanks_of(layout)) and list(tmp_path.glob("*.dxf"))
    [late] = [f for f in nest_job(layout, tmp_path, 1, limit_s=0.01).findings if f.code == "nest-time"]
    assert "more than the 0.01 s given" in late.text
