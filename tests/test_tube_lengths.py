"""The length to order, the strip to wrap and the solid of a tube are one thing, over random nodes of two to
eight tubes, mitred or not: held against the CAD kernel's own extents and distances."""

import math
import os
from types import SimpleNamespace

import numpy as np
import pytest

from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.account import junctions_row
from assemblies.layout.junctions.meeting import Tube
from assemblies.making.sheets import tube_ends, tube_strips
from parts.member import Member
from parts.tube_end import Lines, TubeEnd, wall_faces
from parts.tube_wall import wall_points

MORE = int(os.environ.get("ROCKERSHED_NODES", "6"))  # a sweep: 200
SEEDS = (29, 95, 2, 7, 125, 280, 349, 436, 706, *range(100, 100 + MORE))
LEAST_DEG, STRAIGHT_DEG = 20.0, 12.0  # nearer directions lie along each other and are not cut


def tubes_of(rng: np.random.Generator, count: int) -> list[Tube]:
    ways: list[np.ndarray] = []
    while len(ways) < count:
        way = rng.normal(size=3)
        way /= np.linalg.norm(way)
        limits = [math.cos(math.radians(LEAST_DEG if way @ w > 0 else STRAIGHT_DEG)) for w in ways]
        if all(abs(way @ w) < limit for w, limit in zip(ways, limits, strict=True)):
            ways.append(way)
    out = []
    for k, way in enumerate(ways):
        near = rng.normal(0, 2, 3)
        ends = tuple(map(float, near)), tuple(map(float, near + 300 * way))
        roll = float(rng.uniform(0, 90))
        out.append(
            Tube(
                f"tube {k}",
                (
                    Member.square(*ends, 25, 2, roll),
                    Member.rectangular(*ends, 40, 20, 2, roll),
                    Member.tube(*ends, 30, 2),
                    Member.tube(*ends, 20, 1.5),
                )[rng.integers(4)],
            )
        )
    return out


def node_of(seed: int):
    rng = np.random.default_rng(seed)
    tubes = tubes_of(rng, int(rng.integers(2, 9)))
    mitred = SimpleNamespace(members=(tubes[0].name, tubes[1].name), mitre=True, at=None)
    return junctions(tubes, 10.0, [mitred] if rng.random() < 0.6 else [])


def strip_in_car(member: Member, cut, which: str, count: int = 24) -> np.ndarray:
    """Places of the strip's edge, wrapped round the tube, in the member's local axes; met places only."""
    s = np.linspace(0, cut.around_mm[-1], count, endpoint=False)
    at = np.searchsorted(cut.around_mm, s, side="right") - 1
    met = (cut.ruled_by[at] >= 0) & (cut.ruled_by[np.minimum(at + 1, len(cut.ruled_by) - 1)] >= 0)
    steps = np.abs(np.diff(cut.outer_mm, append=cut.outer_mm[0]))[
        at
    ]  # a step of the curve is a cliff of the metal
    s = s[met & (steps < 1.0)]
    x, y, _ = wall_points(member.section, s)
    t = np.interp(s, cut.around_mm, cut.outer_mm)
    return np.column_stack([x, y, t if which == "from" else member.length_mm - t])


def trimmed_in_car(member: Member, cut, which: str) -> list[np.ndarray]:
    """A place in the middle of the wall on the plane of each trim that some metal reaches."""
    out = []
    for t in cut.trims:
        along, deep = np.array([t.at_mm]), member.section.wall_mm / 2
        at = float(cut.line.cut(along, deep)[0][0])
        x, y, _ = wall_points(member.section, along, deep)
        plane = t.level_mm + t.slope[0] * x[0] + t.slope[1] * y[0]
        if abs(at - plane) < 1e-9:
            out.append(np.array([x[0], y[0], at if which == "from" else member.length_mm - at]))
    return out


@pytest.mark.slow
@pytest.mark.parametrize("seed", SEEDS)
def test_order_length_strip_and_solid_are_one(seed):
    """Seeds 2 and 7: tongues and skins trimmed. Seeds 29 and 95: a tube between a run that ends at the node
    and one that passes, where the solid once lost metal (1.1 and 31.5 mm) that list and strip still had.
    Seeds 103 and 349: rounds of one size, and a tube's square face that just touches a run, where the kernel
    leaves the whole cut undone (3.9 and 4.2 % of the metal) in its first way and most others. Seeds 436 and
    706 (rounds of one size whose axes nearly meet): it cuts them in its last two ways alone. Seed 280: a run
    that ends before it comes near, which was a cut of less than no length. Seed 125: one run takes over from
    another within the wall, where a coarse sum is out by 9e-4."""
    import cadquery as cq

    from parts.files.measured import volume_mm3
    from parts.files.solid import solid

    found = node_of(seed)
    assert found.tubes
    for name, tube in found.tubes.items():
        made = solid(tube.form())
        assert volume_mm3(made) == pytest.approx(tube.volume_mm3, rel=2e-4), name
        box = made.BoundingBox()
        assert box.zmax - box.zmin == pytest.approx(tube.length_mm, abs=0.05), name
        assert box.zmin == pytest.approx(tube.from_cut.long_mm, abs=0.05), name
        for which, cut in (("from", tube.from_cut), ("to", tube.to_cut)):
            if not cut.runs:
                continue
            assert cut.outer_mm.min() > cut.long_mm - 0.05, (name, which)
            shell = cq.Compound.makeCompound(made.Faces())
            for point in [*strip_in_car(tube.member, cut, which), *trimmed_in_car(tube.member, cut, which)]:
                assert shell.distance(cq.Vertex.makeVertex(*map(float, point))) < 0.05, (name, which, point)


@pytest.mark.parametrize("seed", [2, 7, 17])
def test_nothing_is_left_that_burns_away(seed):
    """A closing of the curve round the tube by the narrowest width that stands (scipy's) fills no tongue that
    is long for its width; beside the trims the cuts are what they were, and the order length is theirs."""
    from scipy.ndimage import grey_closing

    found, trimmed = node_of(seed), 0
    for (name, end), cut in found.ends.items():
        if not cut.runs:
            continue
        trimmed += bool(cut.trims)
        girth, wall = cut.around_mm[-1], cut.section.wall_mm
        s = np.arange(1500) * girth / 1500
        reach = np.minimum(*(np.interp(s, cut.around_mm, t) for t in (cut.outer_mm, cut.inner_mm)))
        narrow = max(5.0, 2 * wall) - 0.3
        filled = grey_closing(reach, size=int(narrow / s[1]), mode="wrap") - reach
        assert filled.max() < 1.5 * (narrow + 0.5), (name, end)
        bare = Lines(found.all[name].member, end, cut.cutters)
        plain = bare.both(s)[0]
        same = np.ones(len(s), bool)
        for t in cut.trims:
            a, b = t.edges_mm
            same &= ((s - a) % girth) > (b - a)
        kept = cut.line.both(s)[0]
        assert np.array_equal(kept[:, same], plain[:, same], equal_nan=True)
        if cut.trims:
            before = TubeEnd(cut.section, bare, bare.curve_at(wall_faces(cut.section)[0]))
            assert cut.long_mm >= before.long_mm - 1e-3 and cut.lost_mm3 > before.lost_mm3
    assert trimmed


def test_a_finger_between_two_runs_is_trimmed_and_told():
    """A tongue of 4 by 27 mm: words on sheet and finding, T on the strip, rows in the results."""
    found = node_of(2)
    cut = found.ends["tube 2", "from"]
    (tongue,) = [t for t in cut.trims if t.kind == "tongue"]
    assert 3 < tongue.width_mm < 4.5 and 25 < tongue.length_mm < 30
    (said,) = [f for f in found.findings if f.code == "tube-trim" and f.where == "tube 2"]
    words = f"a tongue {tongue.width_mm:.1f} mm wide and {tongue.length_mm:.1f} long"
    assert words in said.text and said.level == "note"
    (row,) = [r for r in junctions_row(found).ends if (r.member, r.end) == ("tube 2", "from")]
    assert [t.kind for t in row.trimmed] == [t.kind for t in cut.trims] and not row.whole
    piece = tube_ends.TubePiece(
        "tube 2", found.tubes["tube 2"], np.eye(3), {"from": "n", "to": ""}, {"from": 1, "to": 0}, 1.0
    )
    assert words in tube_ends.end_in_words(piece, "from")
    ((_, sheet),) = tube_strips.sheets([piece], 0.1)
    assert "T" in [x.words for x in sheet.drawing.items if hasattr(x, "words")]


WAYS = "1 0 0, -1 0 0, 0 1 0, 0 -1 0, 0 0 1, 0 0 -1, 1 0 1, -1 0 1, 1 0 -1, -1 0 -1, 1 1 0, -1 1 0, 0 1 1"
FLAT_WAYS = np.array(
    [[float(v) for v in w.split()] for w in f"{WAYS}, 0 -1 1, 2 0 1, -1 0 2, 1 1 1".split(",")]
)


def drawn_square(seed: int):
    """A node as people draw frames: tubes of one width along the axes and at 45 deg, faces flush, rounds
    that touch flats."""
    rng = np.random.default_rng(seed)
    tubes: list[Tube] = []
    count = int(rng.integers(2, 9))
    for i, k in enumerate(rng.permutation(len(FLAT_WAYS))[:count]):
        a, b = (0.0, 0.0, 0.0), tuple(300 * FLAT_WAYS[k] / np.linalg.norm(FLAT_WAYS[k]))
        square, flat = Member.square(a, b, 25, 2), Member.rectangular(a, b, 40, 25, 2)
        tubes.append(Tube(f"tube {i}", (square, square, flat, Member.tube(a, b, 25, 2))[rng.integers(4)]))
    mitred = SimpleNamespace(members=(tubes[0].name, tubes[1].name), mitre=True, at=None)
    return junctions(tubes, 10.0, [mitred] if rng.random() < 0.5 else [])


@pytest.mark.parametrize("seed", [37, *(pytest.param(k, marks=pytest.mark.slow) for k in (4,))])
def test_flush_faces_leave_no_cut_undone(seed):
    """Seeds 4, 5 and 37: the kernel once left 524 and 872 mm³ that were cut in list and strip (flush faces,
    a round that just touches a flat), or no valid solid."""
    from parts.files.measured import volume_mm3
    from parts.files.solid import solid

    for name, tube in drawn_square(seed).tubes.items():
        made = solid(tube.form())
        box = made.BoundingBox()
        assert volume_mm3(made) == pytest.approx(tube.volume_mm3, rel=1e-3), name
        assert box.zmax - box.zmin == pytest.approx(tube.length_mm, abs=0.05), name
