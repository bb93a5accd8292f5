"""Marks of the gaps: solids by closed form, names that tell gap and pose, files in which both bodies stand
where the gap is least."""

from __future__ import annotations

import math
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.making import gap_views as gaps
from assemblies.making.gap_views.pictures import clear_view
from assemblies.making.picture import Camera, view
from assemblies.results.gaps import PairRow

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


@pytest.fixture(scope="module")
def front():
    return demos.with_gaps("heronbank-front")


def pair(gap=5.39, found=5.45, ok=False, a=(0, 0, 0), b=(0, 0, 6)):
    return PairRow(
        a="upper_arm",
        b="lower rail",
        kind="fixed",
        gap_mm=gap,
        found_gap_mm=found,
        required_mm=8,
        at_wheel_mm=-45,
        at_rack_mm=18,
        ok=ok,
        point_a=list(map(float, a)),
        point_b=list(map(float, b)),
    )


def test_a_name_tells_gap_and_pose_and_never_rounds_up():
    mark = gaps.GapMark(3, pair())
    assert (
        mark.name == "3 gap 5.39 mm upper arm - lower rail, wheel -45, rack +18"
        and mark.file_name == "3-upper-arm-lower-rail.step"
    )
    assert gaps.GapMark(1, pair(gap=-2.04, found=-2.0)).gap == "clash up to 2.04 mm deep"
    assert gaps.GapMark(1, pair(gap=-0.05, found=0.04)).gap == "gap -0.05 mm"


@pytest.mark.parametrize(
    ("long", "ball", "bar"), [(20.0, 2.0, 0.8), (1.13, 0.5, 0.2), (0.3, 0.5, 0.2), (0.0, 0.5, 0.2)]
)
def test_a_mark_is_one_solid_of_two_balls_and_a_bar(long, ball, bar):
    """Volume by spheres less the caps that the bar (or the other ball) replaces: π·h²·(3·R - h)/3 each."""
    from parts.files.measured import volume_mm3

    mark = gaps.GapMark(1, pair(a=(1, 2, 3), b=(1 + 0.6 * long, 2, 3 + 0.8 * long))).solid()
    x = min(math.sqrt(ball**2 - bar**2), long / 2)
    h = ball - x
    want = 2 * (4 / 3 * math.pi * ball**3 - math.pi * h**2 * (3 * ball - h) / 3) + math.pi * bar**2 * max(
        long - 2 * x, 0
    )
    assert mark.isValid() and len(mark.Solids()) == 1
    assert volume_mm3(mark) == pytest.approx(want if long else 4 / 3 * math.pi * ball**3, rel=1e-6)


def test_every_short_pair_is_marked_and_the_few_next_ones(front):
    shown = gaps.marks(front.results)
    short = [p for p in front.results.clearance.pairs if not p.ok]
    assert [m.pair for m in shown[: len(short)]] == short and len(shown) == len(short) + 4
    assert len({m.name for m in shown}) == len(shown) == shown[-1].number


def test_the_view_across_a_gap_is_clear():
    """Two plates with a gap of 4 mm between them, a wall on one side: the camera looks along the gap's plane
    from the open side."""

    def slab(low, high):
        c = np.array([[(k >> a) & 1 for a in range(3)] for k in range(8)]) * (np.subtract(high, low)) + low
        quads = [(0, 2, 3, 1), (4, 5, 7, 6), (0, 1, 5, 4), (2, 6, 7, 3), (0, 4, 6, 2), (1, 3, 7, 5)]
        return np.array([c[[q[0], q[j], q[j + 1]]] for q in quads for j in (1, 2)], float)

    meshes = [
        slab((-50, -50, 0), (50, 50, 5)),
        slab((-50, -50, 9), (50, 50, 14)),
        slab((60, -80, -40), (65, 80, 60)),
    ]
    a, b = np.array((40.0, 0, 5)), np.array((40.0, 0, 9))
    camera = clear_view(np.concatenate(meshes), a, b, Camera.usual("left"))
    assert abs(camera.forward @ (0, 0, 1)) < 1e-9  # square to the gap
    assert (
        camera.forward @ (1, 0, 0) > -0.1
    )  # not from behind the wall at x = 60: it stands in the way of all that looks towards -x
    shot = view(
        [(m, None, (1.0, 0.5, 0.2)) for m in meshes[:2]],
        camera,
        (camera.seen((a + b) / 2)[:2] - 20, camera.seen((a + b) / 2)[:2] + 20),
        200,
    )
    column, row = shot.pixel((a + b) / 2)
    assert np.allclose((column, row), 100) and shot.image.shape == (200, 200, 3)
    assert np.allclose(shot.image[int(row), int(column)], 1.0)  # the gap is white, a plate is not
    column, row = shot.pixel(b + np.array((0, 0, 3)))
    assert not np.allclose(shot.image[int(row), int(column)], 1.0)
