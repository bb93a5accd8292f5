"""STEP files of other programs as neighbours: read right, met by triangles within a stated error, refused in
one clear line.

casting, casting-inch, plate, pump, pipe and sheet are FreeCAD's (tests/data/neighbours.py made them and
printed the numbers here); the block is written by hand from ISO 10303-21."""

import math
from pathlib import Path

import numpy as np
import pytest
from clearance_corner import bar, box, mechanism
from step_here import read_here
from step_text import block

from assemblies.clearance import Body, check
from assemblies.clearance.imported import Shell, meshes_of, read_step
from parts.files import stranger

DATA, TRAVEL = Path(__file__).parent / "data", (-40.0, 40.0)
FREECAD = {  # file: solids, volume mm³, box low, box high
    "casting.step": (1, 89778.628893, (0, 0, 0), (90, 60, 45)),
    "casting-inch.step": (1, 89778.628893, (0, 0, 0), (90, 60, 45)),
    "pump.step": (2, 189634.151387, (15.8594, -48.1845, -4.1263), (133.1845, 41.8533, 90.4142)),
}
ROD = Body("rod", "rod", (bar(mechanism().points.rod_outboard, mechanism().points.rod_inboard, 18),))


@pytest.fixture(autouse=True)
def own_cache(tmp_path, monkeypatch):
    from assemblies.clearance import imported

    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(stranger, "_read", read_here)
    imported._memory.clear()
    yield
    imported._memory.clear()


def _volume(mesh):
    return (mesh[:, 0] * np.cross(mesh[:, 1], mesh[:, 2])).sum() / 6


def _area(mesh):
    return np.sqrt((np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0]) ** 2).sum(1)).sum() / 2


@pytest.mark.parametrize("name", FREECAD)
def test_volume_and_box_are_those_the_other_program_gives(name):
    count, volume, low, high = FREECAD[name]
    found = meshes_of(DATA / name, 0.05)
    points = np.concatenate(found.solids).reshape(-1, 3)
    assert len(found.solids) == count and found.error_mm <= 0.05 and found.loose_faces == 0
    assert abs(sum(map(_volume, found.solids)) - volume) <= found.error_mm * sum(map(_area, found.solids))
    assert (
        np.abs(points.min(0) - low).max() <= found.error_mm + 1e-4
        and np.abs(points.max(0) - high).max() <= found.error_mm + 1e-4
    )


def test_inches_come_in_as_millimetres():
    inch, mm = (
        np.concatenate(meshes_of(DATA / name, 0.05).solids).reshape(-1, 3)
        for name in ("casting-inch.step", "casting.step")
    )
    assert (
        np.ptp(inch, axis=0) == pytest.approx(np.ptp(mm, axis=0), abs=1e-6)
        and "INCH" in (DATA / "casting-inch.step").read_text()
    )


@pytest.mark.parametrize("mm", [1, 1000])
def test_a_block_written_by_hand_gives_the_gap_of_the_same_block_as_a_form(tmp_path, mm):
    low, high = (-60, 330, 420), (60, 420, 470)
    (tmp_path / "block.stp").write_text(block(low, high, mm))
    shells = read_step(tmp_path / "block.stp")
    assert shells[0].error_mm < 1e-5 and np.array_equal(np.round(shells[0].box, 4), [low, high])
    a = check([ROD, Body("block", "frame", (), "fixed", shells=shells)], mechanism(), TRAVEL).pairs[0]
    b = check([ROD, Body("block", "frame", (box(low, high),), "fixed")], mechanism(), TRAVEL).pairs[0]
    assert a.gap_mm <= b.found_gap_mm and b.gap_mm <= a.found_gap_mm and a.found_gap_mm - a.gap_mm <= 0.1


def test_an_assembly_keeps_its_own_placements(tmp_path):
    """Written as instances with placements (NEXT_ASSEMBLY_USAGE_OCCURRENCE); the boxes are those of the
    placed blocks, closed form."""
    from parts.files.solid import placed, solid
    from parts.files.step import StepPart, write_step
    from parts.shape.form import Frame

    shape = solid(box((0, 0, 0), (10, 20, 30)))
    where = [Frame((100, 0, 0)), Frame((0, 50, 5), x=(0, 1, 0))]
    write_step(
        tmp_path / "two.step", "two", [StepPart(f"part {i}", placed(shape, f)) for i, f in enumerate(where)]
    )
    assert (tmp_path / "two.step").read_text().count("NEXT_ASSEMBLY_USAGE_OCCURRENCE(") == 2
    boxes = sorted(s.box.round(3).tolist() for s in read_step(tmp_path / "two.step"))
    assert np.allclose(boxes, [[[-20, 50, 5], [0, 60, 35]], [[100, 0, 0], [110, 20, 30]]], atol=1e-3)


def test_placed_and_mirrored_by_the_closed_form(tmp_path):
    (tmp_path / "block.step").write_text(block((1, 2, 3), (11, 22, 33)))
    turn = np.array([[0, -1, 0, 100], [1, 0, 0, 0], [0, 0, 1, 5], [0, 0, 0, 1.0]])  # a quarter turn about z
    (plain,) = read_step(tmp_path / "block.step", turn)
    assert np.allclose(plain.box, [[78, 1, 8], [98, 11, 38]], atol=1e-4)
    (other,) = read_step(tmp_path / "block.step", turn, mirrored=True)
    assert np.allclose(other.box, [[102, 1, 8], [122, 11, 38]], atol=1e-4)
    assert _volume(other.triangles) == pytest.approx(6000) and _volume(plain.triangles) == pytest.approx(6000)


# ------------------------------------------------------------ how near the triangles are


def _true_points(path, each):
    """Points of the true faces: random parameters of each, kept where the kernel's own classifier says they
    are on the face."""
    from OCP.BRepAdaptor import BRepAdaptor_Surface
    from OCP.BRepTools import BRepTools
    from OCP.BRepTopAdaptor import BRepTopAdaptor_FClass2d
    from OCP.gp import gp_Pnt2d
    from OCP.TopAbs import TopAbs_FACE, TopAbs_OUT
    from OCP.TopExp import TopExp_Explorer
    from OCP.TopoDS import TopoDS

    from parts.files.facets import read

    rng, out, seek = np.random.default_rng(4), [], TopExp_Explorer(read(path), TopAbs_FACE)
    while seek.More():
        face = TopoDS.Face_s(seek.Current())
        surface, inside = BRepAdaptor_Surface(face, False), BRepTopAdaptor_FClass2d(face, 1e-9)
        u0, u1, v0, v1 = BRepTools.UVBounds_s(face)
        for u, v in zip(rng.uniform(u0, u1, each), rng.uniform(v0, v1, each), strict=True):
            if inside.Perform(gp_Pnt2d(u, v)) != TopAbs_OUT:
                p = surface.Value(u, v)
                out.append((p.X(), p.Y(), p.Z()))
        seek.Next()
    return np.array(out)


class _Flats:
    """Triangles (n, 3, 3), and what every distance from them asks for."""

    def __init__(self, tri):
        self.tri, self.side = tri, np.roll(tri, -1, 1) - tri
        n = np.cross(self.side[:, 0], -self.side[:, 2])
        self.normal = n / (np.sqrt((n * n).sum(1))[:, None] + 1e-300)
        self.inward = np.cross(self.normal[:, None], self.side)
        self.square = np.maximum((self.side**2).sum(2), 1e-300)

    def distance(self, p, on):
        """Of a point from those of them: to the plane where its foot lies within, else to the sides."""
        off, side = p - self.tri[on], self.side[on]
        height = np.abs((off[:, 0] * self.normal[on]).sum(1))
        within = ((off * self.inward[on]).sum(2) >= 0).all(1)
        t = np.clip((off * side).sum(2) / self.square[on], 0, 1)
        aside = np.sqrt(((off - t[..., None] * side) ** 2).sum(2)).min(1)
        return np.where(within, height, aside).min()


def _made_here(name, path):
    cq = pytest.importorskip("cadquery")
    shape = {
        "torus": lambda: cq.Solid.makeTorus(80, 20),
        "sphere": lambda: cq.Solid.makeSphere(50),
        "splines": lambda: _splines(cq.Solid.makeTorus(80, 20)),
        "turned": lambda: _turned(cq),
        "twist": lambda: (
            cq.Workplane("XY")
            .spline([(0, 0), (40, 10), (60, 50), (20, 70), (-20, 30)])
            .close()
            .twistExtrude(90, 70)
            .val()
        ),
        "sweep": lambda: (
            cq.Workplane("YZ")
            .circle(9)
            .sweep(cq.Workplane("XY").spline([(0, 0), (30, 20), (60, -10), (100, 30)]))
            .val()
        ),
    }[name]()
    cq.exporters.export(cq.Workplane(obj=shape), str(path))
    return path


def _splines(solid):
    from OCP.BRepBuilderAPI import BRepBuilderAPI_NurbsConvert

    return type(solid)(BRepBuilderAPI_NurbsConvert(solid.wrapped, True).Shape())


def _turned(cq):
    return (
        cq.Workplane("XZ")
        .lineTo(10, 0)
        .spline([(30, 20), (18, 45), (26, 70)], includeCurrent=True)
        .lineTo(0, 70)
        .close()
        .revolve(360, (0, 0), (0, 1))
        .val()
    )


@pytest.mark.slow
def test_the_stated_error_is_never_under_the_true_one_of_a_torus_written_as_splines(tmp_path):
    """Both ways against the closed form: every place of the mesh from the torus, every point of the torus
    from the mesh."""
    found = meshes_of(_made_here("splines", tmp_path / "splines.step"), 1.0)
    assert (
        "B_SPLINE_SURFACE" in (tmp_path / "splines.step").read_text()
        and "TOROIDAL" not in (tmp_path / "splines.step").read_text()
    )
    (mesh,) = found.solids
    grid = np.array([(a, b, 5 - a - b) for a in range(6) for b in range(6 - a)]) / 5
    p = np.einsum("gk,nkx->ngx", grid, mesh)
    off = np.abs(np.hypot(np.hypot(p[..., 0], p[..., 1]) - 80, p[..., 2]) - 20).max()
    u, v = np.random.default_rng(3).uniform(0, 2 * np.pi, (2, 100))
    true = np.stack([(80 + 20 * np.cos(v)) * np.cos(u), (80 + 20 * np.cos(v)) * np.sin(u), 20 * np.sin(v)], 1)
    flats = _Flats(mesh)
    worst = max(off, *(flats.distance(q, slice(None)) for q in true))
    assert found.unproven_faces == 0 and 0 < worst <= found.error_mm  # safe, but some 12 times wide here


@pytest.mark.slow
@pytest.mark.parametrize(
    "name",
    ["casting.step", "pump.step", "pipe.step", "plate.step", "turned", "torus", "sphere", "twist", "sweep"],
)
def test_no_point_of_a_true_face_is_further_from_the_triangles_than_they_say(name, tmp_path):
    """The kernel's own deflection is no such promise: on the loft of pipe.step it was exceeded by 11 %."""
    path = DATA / name if name.endswith(".step") else _made_here(name, tmp_path / f"{name}.step")
    found = meshes_of(path, 0.3)
    mesh = np.concatenate(found.solids)
    low, high, flats, worst = mesh.min(1), mesh.max(1), _Flats(mesh), 0.0
    for p in _true_points(path, 150):
        away = (np.maximum(np.maximum(low - p, p - high), 0) ** 2).sum(1)
        first = flats.distance(p, np.argsort(away)[:40])
        worst = max(worst, flats.distance(p, away <= first * first))
    assert worst <= found.error_mm <= 0.3 and worst > found.error_mm / 4  # nor is it idle talk


def test_the_guaranteed_gap_allows_for_the_triangles_error():
    """A ball met by coarse triangles: its true least gap to the rod, by dense closed form, is not under the
    guaranteed one."""
    k, r, centre = 12, 60.0, np.array([60.0, 330.0, 480.0])
    i, j = np.meshgrid(np.linspace(0, math.pi, k + 1), np.linspace(0, 2 * math.pi, 2 * k + 1), indexing="ij")
    p = centre + r * np.stack([np.sin(i) * np.cos(j), np.sin(i) * np.sin(j), np.cos(i)], -1)
    quads = [
        np.stack([p[:-1, :-1], p[1:, :-1], p[1:, 1:]], 2),
        np.stack([p[:-1, :-1], p[1:, 1:], p[:-1, 1:]], 2),
    ]
    mesh = np.concatenate([q.reshape(-1, 3, 3) for q in quads])
    mesh = mesh[np.sqrt((np.cross(mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0]) ** 2).sum(1)) > 1e-6]
    grid = np.array([(a, b, 8 - a - b) for a in range(9) for b in range(9 - a)]) / 8
    error = float((r - np.sqrt(((np.einsum("gk,nkx->ngx", grid, mesh) - centre) ** 2).sum(-1))).max())
    mech = mechanism()
    pair = check([ROD, Body("ball", "frame", (), "fixed", shells=(Shell(mesh, error),))], mech, TRAVEL).pairs[
        0
    ]
    f = mech.at(np.linspace(*TRAVEL, 20_001)).frame("rod")
    a, b = (f[:, :3, :3] @ x + f[:, :3, 3] for x in (mech.points.rod_outboard, mech.points.rod_inboard))
    t = np.clip(((centre - a) * (b - a)).sum(1) / ((b - a) ** 2).sum(1), 0, 1)
    true = np.sqrt(((a + t[:, None] * (b - a) - centre) ** 2).sum(1)).min() - 9 - r
    assert 0 < t[0] < 1 and true > 0 and error > 0.3
    assert pair.gap_mm <= true <= pair.found_gap_mm


@pytest.mark.slow
def test_no_dense_exact_distance_to_the_true_casting_is_under_the_guaranteed_gap():
    cq = pytest.importorskip("cadquery")
    from parts.files.facets import read
    from parts.files.solid import placed, solid

    at = np.eye(4)
    at[:3, 3] = (-20, 330, 430)
    mech = mechanism()
    pair = check(
        [ROD, Body("casting", "frame", (), "fixed", shells=read_step(DATA / "casting.step", at))],
        mech,
        TRAVEL,
    ).pairs[0]
    true, rod = placed(cq.Shape.cast(read(DATA / "casting.step")), at), solid(ROD.forms[0])
    wheel = np.unique(np.concatenate([np.linspace(*TRAVEL, 25), pair.at_wheel_mm + np.linspace(-1, 1, 5)]))
    wheel = wheel[(wheel >= TRAVEL[0]) & (wheel <= TRAVEL[1])]
    exact = [placed(rod, f).distance(true) for f in mech.at(wheel).frame("rod")]
    assert (
        pair.gap_mm - 1e-6 <= min(exact) <= pair.found_gap_mm + 1e-3
        and pair.found_gap_mm - pair.gap_mm <= 0.1
    )


# ------------------------------------------------------------------------------------------------ how deep


def _apart(frames, half, low, high):
    """Signed gaps (n,) of a box (half sizes, at n frames) and a box along the axes: the most room along the
    15 axes on which boxes can be parted. Source: S. Gottschalk, M. Lin, D. Manocha, OBBTree, SIGGRAPH
    1996."""
    m, t, size = frames[:, :3, :3], frames[:, :3, 3] - np.add(low, high) / 2, np.subtract(high, low) / 2
    own = m.swapaxes(1, 2)  # the box's axes as rows
    across = np.cross(np.eye(3)[None, :, None], own[:, None]).reshape(-1, 9, 3)
    axes = np.concatenate([np.broadcast_to(np.eye(3), own.shape), own, across], 1)
    long = np.sqrt((axes**2).sum(2))
    n = axes / np.where(long > 1e-9, long, np.nan)[..., None]
    room = np.abs((n * t[:, None]).sum(2)) - np.abs(n) @ size - half * np.abs(n @ m).sum(2)
    return np.nanmax(room, 1)


@pytest.mark.parametrize(
    "low, high",
    [
        ((-300, -300, -300), (300, 300, 300)),
        ((-100, -100, 2), (100, 100, 250)),
        ((-100, -100, -200), (100, 100, -2)),
        ((-100, -100, 4.2), (100, 100, 250)),
        ((-12, -60, -60), (12, 60, 60)),
    ],
)
def test_a_body_inside_an_import_is_as_deep_as_said(low, high, tmp_path):
    """A cube on the rod in a block from a STEP file, wholly, in part, or only at one end of the travel: the
    true depth (the shortest shift that parts them) and all travel with a clash lie within what is said."""
    mech, half = mechanism(), 4.0
    p = mech.points
    middle = np.round((p.rod_outboard + p.rod_inboard) / 2)
    cube = Body("cube", "rod", (box(middle - half, middle + half),))
    (tmp_path / "block.step").write_text(block(middle + low, middle + high))
    (pair,) = check(
        [cube, Body("block", "frame", (), "fixed", shells=read_step(tmp_path / "block.step"))], mech, TRAVEL
    ).pairs
    wheel = np.linspace(*TRAVEL, 801)
    at = mech.at(wheel).frame("rod") @ np.block([[np.eye(3), middle[:, None]], [np.zeros(3), 1]])
    true = _apart(at, half, middle + low, middle + high)
    assert true.min() < -1 and pair.clash and pair.gap_mm <= true.min() <= pair.found_gap_mm + 1e-3
    for span, value in ((pair.clash_mm, 0.0), (pair.under_mm, 8.0)):
        short = wheel[true < value]
        assert span[0] <= short[0] and span[1] >= short[-1]


def test_a_body_that_fills_an_import_is_a_clash(tmp_path):
    """Its surface nearly everywhere on the block's: no room between surfaces, yet the one is in the other."""
    mech, middle = mechanism(), np.array((0.0, 370.0, 300.0))
    (tmp_path / "block.step").write_text(block(middle - 10, middle + 10))
    cube = Body("cube", "rod", (box(middle - 9.9999, middle + 9.9999),))
    (pair,) = check(
        [cube, Body("block", "rocker", (), shells=read_step(tmp_path / "block.step"))], mech, (-1e-5, 1e-5)
    ).pairs
    assert pair.clash and pair.gap_mm <= -19.9999 < pair.found_gap_mm < 0 and pair.clash_mm == (-1e-5, 1e-5)


# ------------------------------------------------------------ what is refused


def _pump():
    return (DATA / "pump.step").read_text()


REFUSED = {
    "empty.step": (lambda: "", "no STEP file"),
    "other.step": (lambda: "solid of another kind", "no STEP file"),
    "cut-short.step": (lambda: _pump()[: len(_pump()) // 2], "no STEP file, or a damaged one"),
    "closed-after-half.step": (
        lambda: _pump()[: len(_pump()) // 2] + "\nENDSEC;\nEND-ISO-10303-21;\n",
        "damaged|no solid",
    ),
    "lines-lost.step": (
        lambda: "\n".join(t for i, t in enumerate(_pump().split("\n")) if not 400 < i < 420),
        "damaged",
    ),
    "nothing.step": (
        lambda: "ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n",
        "nothing|no solid",
    ),
    "surface.step": (
        lambda: (DATA / "sheet.step").read_text(),
        "holds no solid; export solids, not surfaces",
    ),
    "open.step": (lambda: _without_a_face(block((0, 0, 0), (10, 20, 30))), "not closed|no solid|damaged"),
    "flat.step": (lambda: block((0, 0, 0), (10, 20, 1e-5)), "empty|cannot be made into triangles"),
}


def _without_a_face(text):
    shell = next(line for line in text.split("\n") if "CLOSED_SHELL" in line)
    first = shell[shell.index("(#") + 1 :].split(",")[0]
    return text.replace(shell, shell.replace(f"{first},", ""))


@pytest.mark.parametrize("name", REFUSED)
def test_a_file_that_cannot_be_used_is_refused_in_one_line(name, tmp_path, capfd):
    make, words = REFUSED[name]
    (tmp_path / name).write_text(make())
    with pytest.raises(ValueError, match=words) as e:
        read_step(tmp_path / name)
    assert str(e.value).startswith(name) and "\n" not in str(e.value)
    said = capfd.readouterr()
    assert said.out == said.err == ""  # the kernel talks past Python


def test_a_missing_file_and_a_folder_are_refused(tmp_path):
    for path, words in ((tmp_path / "none.step", "no such file"), (tmp_path, "cannot be read")):
        with pytest.raises(ValueError, match=words):
            read_step(path)
