"""Order of fitting: which tube can still be brought in, and what a torch reaches."""

import numpy as np
import pytest
from declared import amiss
from test_node_advice import BAY
from test_tube_ends import solids

from assemblies.job import FrameJob
from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.assembly import assembled
from assemblies.layout.junctions.bodies import standing
from assemblies.layout.junctions.meeting import Tube
from assemblies.layout.junctions.motions import Ways, _turned
from assemblies.results.model import Results
from assemblies.study import study
from parts.member import Member


def tube(name: str, a, b, size: float = 30) -> Tube:
    return Tube(name, Member.tube(tuple(map(float, a)), tuple(map(float, b)), size, 2))


def square(name: str, a, b, size: float = 30) -> Tube:
    return Tube(name, Member.square(tuple(map(float, a)), tuple(map(float, b)), size, 2))


def ways_of(*tubes: Tube) -> Ways:
    return Ways(standing(junctions(tubes), False))


LEFT = tube("left", (0, -200, 0), (0, 200, 0))
ALONG = tube("right", (300, -200, 0), (300, 200, 0))
UP = tube("right", (300, 0, -200), (300, 0, 200))
RUNG = tube("rung", (0, 0, 0), (300, 0, 0))


def test_saddles_on_parallel_runs_slide_along_them_and_crossed_ones_lock():
    """Equal tubes square to each other: a saddle is as deep as the radius (row U1), so a rung leaves its
    run along its own axis or the run's alone. Between two parallel runs that is along both; between two
    that are square to each other there is none, and one run must come after the rung."""
    free = ways_of(LEFT, ALONG, RUNG).free("rung", {"left", "right"})
    assert free is not None and np.abs(free.way) == pytest.approx((0, 1, 0), abs=1e-9)
    crossed = ways_of(LEFT, UP, RUNG)
    assert crossed.free("rung", {"left", "right"}) is None
    assert crossed.free("rung", {"left"}) is not None and crossed.free("right", {"left", "rung"}) is not None
    steps = [s.name for s in assembled(junctions((LEFT, UP, RUNG)), False).steps]
    assert steps.index("rung") < max(steps.index("left"), steps.index("right"))
    post = tube("post", (0, 0, 0), (0, 0, 200), 25)  # stands on it: it leaves downwards
    assert ways_of(LEFT, post).free("left", {"post"}).way == pytest.approx((0, 0, -1))
    stop = square("stop", (150, 60, -200), (150, 60, 200))  # on one way of the parallel two
    both = [stop, square("other stop", (150, -60, -200), (150, -60, 200))]
    assert ways_of(LEFT, ALONG, RUNG, stop).free("rung", {"left", "right", "stop"}).way[1] < 0
    assert ways_of(LEFT, ALONG, RUNG, *both).free("rung", {"left", "right", "stop", "other stop"}) is None


@pytest.mark.slow
def test_one_end_goes_in_first_where_no_straight_way_is_left():
    """A post on a rail, half under a lintel, bars before and behind it, one high on its left and one low on
    its right: every straight way meets one; leaning to the right about its foot it comes out past all."""
    post = square("post", (0, 0, 0), (0, 0, 300))
    rail = square("rail", (-200, 0, 0), (200, 0, 0))
    bars = [
        square("lintel", (-100, 10, 330), (100, 10, 330)),
        square("front", (32, -150, 60), (32, 150, 60)),
        square("rear", (-32, -150, 60), (-32, 150, 60)),
        square("left", (-100, 32, 250), (100, 32, 250)),
        square("right", (-100, -45, 60), (100, -45, 60)),
    ]
    there = {"rail", *(b.name for b in bars)}
    ways = ways_of(rail, post, *bars)
    assert ways.free("post", there) is None
    swung = ways.free("post", there, swings=True)
    assert swung is not None and swung.first == "from" and "leaning" in swung.words
    _clear_by_the_kernel(junctions((rail, post, *bars)), "post", swung)
    shut = square("shut", (-100, -40, 250), (100, -40, 250))
    assert ways_of(rail, post, *bars, shut).free("post", {*there, "shut"}, swings=True) is None


def _clear_by_the_kernel(made, name: str, m) -> None:
    """Turned by cadquery about the swing's pivot and axis, from home to leaning, then drawn out: no metal in
    common with the others."""
    import cadquery as cq

    from parts.files.measured import common_volume_mm3

    others = solids(made)
    own, ends = others.pop(name), (cq.Vector(*m.pivot), cq.Vector(*np.add(m.pivot, m.axis)))
    leaning = own.rotate(*ends, m.swung_deg)
    stands = [own.rotate(*ends, share * m.swung_deg) for share in (0.1, 0.3, 0.6)]
    for moved in [*stands, *(leaning.translate(cq.Vector(*m.way) * mm) for mm in (0, 12, 60, 200))]:
        assert {n: v for n, s in others.items() if (v := common_volume_mm3(moved, s)) > 5.0} == {}


def test_points_within_a_tube_are_those_that_a_line_any_way_through_them_says():
    """A line through the point enters the hull before it and leaves after it, whichever way it goes."""
    rng = np.random.default_rng(11)
    for t in standing(junctions((LEFT, UP, RUNG, square("post", (0, 60, 0), (40, 90, 300)))), False):
        along = rng.uniform(-0.1, 1.1, 4000)[:, None]
        points = t.ends[0] + along * (t.ends[1] - t.ends[0]) + rng.uniform(-25, 25, (4000, 3))
        way = rng.normal(size=3)
        enter, leave = t.met(points, way / np.linalg.norm(way))
        assert (t.holds(points) == ((enter < 0) & (leave > 0))).all()
        assert 300 < t.holds(points).sum() < 3500


def test_a_turn_is_right_handed_about_its_axis():
    from scipy.spatial.transform import Rotation

    rng = np.random.default_rng(12)
    points, pivot, axis = rng.normal(0, 90, (50, 3)), rng.normal(0, 90, 3), rng.normal(size=3)
    axis /= np.linalg.norm(axis)
    turned = pivot + Rotation.from_rotvec(np.radians(25.0) * axis).apply(points - pivot)
    assert np.allclose(_turned(points, pivot, axis, 25.0), turned, atol=1e-9)


@pytest.mark.slow
def test_the_kernel_finds_each_tube_clear_on_its_way():
    """Outside check: on its way in no tube's solid shares metal with those that stand, by the CAD kernel."""
    import cadquery as cq

    from parts.files.measured import common_volume_mm3
    from parts.files.solid import solid

    layout = study(FrameJob.from_dict(BAY)).layout
    order = assembled(layout.junctions, False)
    placed = {
        p.name: solid(p.form).moved(cq.Location(cq.Plane(p.frame.origin, p.frame.x, p.frame.z)))
        for p in layout.placed
    }
    there: list[str] = []
    looked = 0
    for step in order.steps:
        for mm in (1.5, 12.0, 60.0) if step.motion and not step.motion.swung_deg else ():
            moved = placed[step.name].translate(cq.Vector(*step.motion.way) * mm)
            for other in there:
                assert common_volume_mm3(moved, placed[other]) < 5.0, (step.name, other, mm)
                looked += 1
        there.append(step.name)
    assert looked > 30 and not order.stuck


def test_a_tube_beside_a_seam_hides_it_and_the_seam_is_welded_before():
    rail, post = square("rail", (-300, 0, 0), (300, 0, 0)), tube("post", (0, 0, 0), (0, 0, 300), 25)
    beside = square("beside", (48.5, 0, 0), (48.5, 0, 300), 60)  # 6 mm clear of the post
    order = assembled(junctions((rail, post, beside)), False)
    (first, last) = [s for s in order.steps if s.seams]
    (seam,) = first.seams
    assert seam.placed == 1.0 and 0.5 < seam.last < 0.97 and seam.before == last.name
    assert not last.seams[0].before
    sharp = tube("sharp", (0, 0, 0), (300 * np.cos(np.radians(25)), 0, 300 * np.sin(np.radians(25))), 25)
    (seam,) = next(s.seams for s in assembled(junctions((rail, sharp)), False).steps if s.seams)
    assert 0.4 < seam.placed < 1.0  # the heel stands at 25 deg, the cone takes 30


def test_results_and_sheet_tell_the_order():
    from assemblies.making.sheets import fitting_rows

    results = study(FrameJob.from_dict(BAY)).results
    assert amiss(results, Results) == []
    found = results.junctions.fitting
    assert len(found.steps) == len(BAY["member"]) + 4  # the mirror images of four
    assert found.steps[0].how == "stands first" and found.steps[-1].way is not None and not found.stuck
    table = fitting_rows.rows(found)
    at = {s.member: i for i, s in enumerate(found.steps)}
    for step in found.steps:  # an end is tacked once its tube and one it is cut to stand
        for words in step.tack:
            assert at[words.partition(", ")[0]] <= at[step.member]
    assert sorted(w for s in found.steps for w in s.tack) == sorted(
        set(w for s in found.steps for w in s.tack)
    )
    assert len([w for s in found.steps for w in s.tack]) == len([r for s in found.steps for r in s.seams])
    assert [r[1] for r in table] == [s.member for s in found.steps] and all(
        len(r) == len(fitting_rows.HEAD) for r in table
    )
