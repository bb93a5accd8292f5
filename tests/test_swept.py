"""Room swept by moving bodies: closed forms, watertight meshes, containment by sampling, and the files read
back."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

import numpy as np
import pytest
from clearance_corner import PUSH, Turning, bar, box, mechanism

from assemblies.clearance import Body
from assemblies.clearance import swept as room
from assemblies.clearance.bounds import CornerBounds, carrier_index
from assemblies.clearance.swept import envelope, silhouette, write_stl
from parts.shape.form import Form, Round

TRAVEL = (-40.0, 40.0)
ROD = Body("rod", "rod", (bar(PUSH["rod_outboard"], PUSH["rod_inboard"], 18),))


def closed(mesh) -> bool:
    """Every directed edge once, and once the other way: watertight and one way round."""
    edges = Counter((int(t[k]), int(t[(k + 1) % 3])) for t in mesh.faces for k in range(3))
    return all(n == 1 and edges[b, a] == 1 for (a, b), n in edges.items())


def inside(mesh, points) -> np.ndarray:
    """Winding number of the mesh round each point over a half (van Oosterom and Strackee, IEEE Trans. Biomed.
    Eng. 30, 1983)."""
    out = []
    for p in points:
        a, b, c = (mesh.triangles[:, k] - p for k in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        top = (a * np.cross(b, c)).sum(1)
        foot = la * lb * lc + (a * b).sum(1) * lc + (b * c).sum(1) * la + (c * a).sum(1) * lb
        out.append(np.arctan2(top, foot).sum() / (2 * np.pi))
    return np.array(out) > 0.5


@dataclass(frozen=True)
class Points:
    rod_on: str = "lower_arm"


class Table:
    """A mechanism that only turns about z, by wheel travel in degrees."""

    points = Points()


@pytest.fixture
def turning(monkeypatch):
    """Carrier 1 of the motion turns about z through the origin: `upper_arm` stands for it."""
    monkeypatch.setattr(room, "CornerBounds", lambda mechanism: Turning())
    monkeypatch.setattr("assemblies.clearance.plan.carrier_index", lambda name: 0 if name == "frame" else 1)
    return Table()


def sector(r1, r2, w, turn_rad) -> tuple[float, float]:
    """Area and perimeter (from above) of what a rectangle r1 <= x <= r2, |y| <= w sweeps, turned about the
    origin.

    In polar coordinates it covers |phi| <= f(rho) from r1 to the far corners' R, and turn + 2·f when it has
    turned: the integral of rho·(turn + 2·f) is turn·(R² - r1²)/2, the rectangle, and the circle's segment
    beyond its far face. Closed form; a union of 6001 turned rectangles, a little less, has 5840.43 in shapely
    for 20, 100, 5, 60 deg."""
    far = math.hypot(r2, w)
    beta = math.atan2(w, r2)
    area = turn_rad * (far**2 - r1**2) / 2 + 2 * w * (r2 - r1) + far**2 * beta - r2 * w
    return area, far * (turn_rad + 2 * beta) + r1 * turn_rad + 2 * w + 2 * (r2 - r1)


def test_a_bar_turned_about_an_axis_sweeps_its_sector(turning):
    """Volume between the closed form and that of all within the stated error of it (Steiner: area + length·e
    + π·e²)."""
    area, length = sector(20, 100, 5, math.pi / 3)
    assert 5840.43 < area < 5840.43 + 0.1
    body = Body("arm", "upper_arm", (box((20, -5, 0), (100, 5, 6)),))
    for error in (4.0, 1.0):
        mesh = envelope("arm", [body], turning, (0.0, 60.0), error_mm=error)
        e = mesh.error_mm
        assert closed(mesh) and e <= error
        assert 6 * area <= mesh.volume_mm3 <= (6 + 2 * e) * (area + length * e + math.pi * e * e)


def test_a_disc_turned_about_its_own_axis_sweeps_itself(turning):
    """Volume of a cylinder, π·r²·h, from outside only and no further than a layer of the stated error."""
    disc = Body("arm", "upper_arm", (Form((Round(140, 3),)),))
    mesh = envelope("arm", [disc], turning, (0.0, 6.0), error_mm=2.0)
    e = mesh.error_mm
    assert closed(mesh) and math.pi * 70**2 * 3 <= mesh.volume_mm3 <= math.pi * (70 + e) ** 2 * (3 + 2 * e)
    (outline,) = silhouette("arm", [disc], turning, (0, 0, 0), (0, 0, 1), (0.0, 6.0), error_mm=0.4)
    assert math.pi * 70**2 <= outline.area_mm2 <= math.pi * 70.4**2


def test_the_silhouette_of_a_turning_bar_is_its_sector(turning):
    """Area between the closed form and that of all within the stated error, for a bar from the axis and one
    that stands off."""
    for r1, r2, w in ((0, 100, 10), (20, 100, 5)):
        area, length = sector(r1, r2, w, math.pi / 3)
        outlines = silhouette(
            "arm",
            [Body("arm", "upper_arm", (box((r1, -w, 0), (r2, w, 5)),))],
            turning,
            (0, 0, 0),
            (0, 0, 1),
            (0.0, 60.0),
            error_mm=0.2,
        )
        assert len(outlines) == 1 and area <= outlines[0].area_mm2 <= area + 0.2 * length + math.pi * 0.04


@pytest.mark.parametrize("name, rack", [("rod", 0.0), pytest.param("tie_rod", 30.0, marks=pytest.mark.slow)])
def test_no_point_of_the_body_is_ever_outside(name, rack):
    """Points of the bar's surface at random poses of travel and rack, seeded, all lie inside the mesh."""
    mech, rng = mechanism(), np.random.default_rng(7)
    ends = ("rod_outboard", "rod_inboard") if name == "rod" else ("tie_inner", "tie_outer")
    a, b = (np.array(PUSH[k], float) for k in ends)
    mesh = envelope(name, [Body(name, name, (bar(a, b, 18),))], mech, TRAVEL, rack, error_mm=2.0)
    assert closed(mesh)
    along = (b - a) / np.linalg.norm(b - a)
    u = np.cross(along, (0, 0, 1.0))
    u /= np.linalg.norm(u)
    v = np.cross(along, u)
    n = 250
    turn, share = rng.uniform(0, 2 * np.pi, n), rng.choice([0.0, 1.0, 0.5], n)
    points = a + share[:, None] * (b - a) + 9 * (np.cos(turn)[:, None] * u + np.sin(turn)[:, None] * v)
    z, s = rng.uniform(*TRAVEL, n), rng.uniform(-rack, rack, n)
    z[:40], s[40:80] = rng.choice(TRAVEL, 40), rack
    frames = CornerBounds(mech).frames(z, s)[:, carrier_index(name)]
    assert inside(mesh, np.einsum("nij,nj->ni", frames[:, :, :3], points) + frames[:, :, 3]).all()


def test_a_mesh_file_and_a_step_of_it_read_back(tmp_path):
    """STL: count and size of the file by its public layout. STEP: one valid solid of the mesh's volume, by
    cadquery's own importer."""
    import cadquery as cq

    from parts.files.shapes import faceted
    from parts.files.step import StepPart, write_step

    mesh = envelope("rod", [ROD], mechanism(), TRAVEL, error_mm=4.0)
    data = write_stl(tmp_path / "rod.stl", mesh.triangles, "rod").read_bytes()
    assert int.from_bytes(data[80:84], "little") == len(mesh.faces) and len(data) == 84 + 50 * len(mesh.faces)
    write_step(tmp_path / "rod.step", "rod", [StepPart("rod", faceted(mesh.corners, mesh.faces))])
    (solid,) = cq.importers.importStep(str(tmp_path / "rod.step")).solids().vals()
    assert solid.isValid() and len(solid.Faces()) == len(mesh.faces)
    assert solid.Volume() == pytest.approx(mesh.volume_mm3, rel=1e-6)
    length = math.dist(PUSH["rod_outboard"], PUSH["rod_inboard"])
    assert mesh.volume_mm3 > math.pi / 4 * 18**2 * length


def test_an_open_mesh_is_no_solid():
    from parts.files.shapes import faceted
    from parts.files.solid import SolidError

    mesh = envelope("rod", [ROD], mechanism(), TRAVEL, error_mm=8.0)
    with pytest.raises(SolidError, match="no valid solid"):
        faceted(mesh.corners, mesh.faces[1:])


def test_a_body_that_is_not_there():
    with pytest.raises(ValueError, match="no body 'rudder'; the bodies are rod"):
        envelope("rudder", [ROD], mechanism(), TRAVEL)
    with pytest.raises(ValueError, match="nothing to write"):
        write_stl("x.stl", np.zeros((0, 3, 3)), "x")


@pytest.mark.slow
def test_the_verb_writes_a_folder_that_other_readers_understand(tmp_path):
    """DXF by ezdxf: one closed path a loop on its own layer, the pivot's pop at 0, 0, the area of the
    silhouette; STEP by cadquery."""
    import cadquery as cq
    import ezdxf
    from typer.testing import CliRunner

    from assemblies.command.cli import app

    done = CliRunner().invoke(
        app,
        [
            "swept",
            "assemblies/jobs/corrie-rear.toml",
            "--body",
            "rocker",
            "--body",
            "rod",
            "--error",
            "8",
            "--out",
            str(tmp_path),
        ],
    )
    assert done.exit_code == 0, done.output
    folder = tmp_path / "corrie-rear-swept"
    steps = sorted(p.name for p in folder.glob("*.step"))  # a rod comes with its outboard end
    assert steps == ["rocker-swept.step", "rod-end-swept.step", "rod-swept.step"]
    (solid,) = cq.importers.importStep(str(folder / "rod-swept.step")).solids().vals()
    # 1.2 kB a facet: the largest of the demos, 2300 facets at 2 mm, stays under 5 MB
    assert solid.isValid() and (folder / "rod-swept.step").stat().st_size < 1200 * len(solid.Faces()) + 4000
    (dxf,) = folder.glob("rocker-swept-*.dxf")
    space = ezdxf.readfile(dxf).modelspace()
    loops = space.query('LWPOLYLINE[layer=="SWEPT"]')
    assert loops and all(p.closed for p in loops)
    (pop,) = space.query("POINT")
    assert tuple(pop.dxf.location)[:2] == (0, 0)
    lines = [e for e in space.query("LINE") if abs(e.dxf.start.distance(e.dxf.end) - 100) < 1e-9]
    assert len(lines) == 1
    assert dxf.with_suffix(".pdf").read_bytes().startswith(b"%PDF") and (folder / "rod-swept.stl").is_file()
    wrong = CliRunner().invoke(
        app, ["swept", "assemblies/jobs/corrie-rear.toml", "--body", "rudder", "--out", str(tmp_path)]
    )
    assert wrong.exit_code == 2 and "no body of that name moves" in wrong.output
