"""A whole build of a demo, read back by other routes than the one that wrote it."""

import csv
import math
from pathlib import Path

import demos
import numpy as np
import pytest
from declared import amiss

from assemblies.job import load
from assemblies.making.build import build
from assemblies.results.folder import fresh
from assemblies.results.model import Results, parsed, read

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
OTHERS = [p.stem for p in sorted(JOBS.glob("*.toml")) if p.stem != "heronbank-front"]


@pytest.fixture(scope="module")
def built(tmp_path_factory):
    return build(load(JOBS / "heronbank-front.toml"), tmp_path_factory.mktemp("outputs"), at_wheel_mm=(55.0,))


def _complete(folder: Path, results) -> None:
    assert read(folder / "results.json") == parsed(results.to_json())
    assert amiss(results, Results) == [] and not [f for f in results.findings if f.level == "stop"]
    assert results.clearance.checked and results.clearance.pairs and not results.clearance.shared_metal
    for blank in results.blanks:
        assert (folder / blank.dxf).is_file()
    for part in results.parts:
        assert part.step is None or (folder / part.step).is_file()
    steps = [p.step for p in results.parts if p.step]
    assert len(steps) == len(set(steps)), "two parts share a file"
    assert list((folder / "plots").glob("*.svg")) and (
        folder / "sheets" / "set-up.pdf"
    ).read_bytes().startswith(b"%PDF")


@pytest.mark.slow
def test_a_build_is_complete_and_has_no_stop(built):
    _complete(*built)


@pytest.mark.slow
def test_another_demo_with_one_change_is_built_over_an_older_build_and_keeps_the_users_files(tmp_path):
    job, kinds = load(JOBS / "corrie-rear.toml"), ("blanks", "solids")
    with fresh(tmp_path / job.slug) as older:
        (older / "summary.txt").write_text("older", encoding="utf-8")
    (tmp_path / job.slug / "my-notes.txt").write_text("measured 3.9 mm plate", encoding="utf-8")
    folder, results = build(job.changed({"rocker.plate_thickness": 4, "stock": {}}), tmp_path, kinds=kinds)
    assert not [f for f in results.findings if f.level == "stop"] and not results.clearance.shared_metal
    assert (
        folder == tmp_path / job.slug
        and (folder / "my-notes.txt").read_text(encoding="utf-8") == "measured 3.9 mm plate"
    )
    assert (folder / "summary.txt").read_text(encoding="utf-8") != "older"
    assert {b.thickness_mm for b in results.blanks if b.name.startswith("rocker-plate")} == {4}


@pytest.mark.slow
@pytest.mark.parametrize("name", OTHERS)
def test_the_other_demos_have_no_stop(name):
    results = demos.with_gaps(name).results
    assert (
        results.clearance.checked
        and results.access
        and not [f for f in results.findings if f.level == "stop"]
    )


@pytest.mark.slow
def test_both_hands_of_a_handed_blank_are_mirror_images(built):
    """Read with ezdxf's own reader: the vertices of one are the other's with x negated; each drawing has its
    origin at its own lower left corner."""
    import ezdxf

    folder, _ = built
    points = {}
    for hand in ("left", "right"):
        doc = ezdxf.readfile(folder / "blanks" / f"rocker-plate-{hand}.dxf")
        assert doc.units == 4
        outer = max(doc.modelspace().query("LWPOLYLINE"), key=lambda p: p.dxf.count)
        points[hand] = [(x, y) for x, y, *_ in outer.get_points()]
    width = sum(x for p in points.values() for x, _ in p) / len(points["left"])  # x and width - x, on average
    mirrored = sorted((width - x, y) for x, y in points["right"])
    assert np.allclose(sorted(points["left"]), mirrored, atol=2e-6)


@pytest.mark.slow
def test_step_of_the_corner_stands_where_the_motion_says(built):
    """Read with cadquery's importer: the rod's end near the rocker lies at the hard point at ride, and at the
    pose solved at +55 mm."""
    import cadquery as cq

    folder, _ = built
    job = load(JOBS / "heronbank-front.toml")
    from assemblies.motion.hard_points import HardPoints
    from assemblies.motion.mechanism import Mechanism

    at_bump = Mechanism(HardPoints.of(job)).at(55.0).point("rod_inboard")
    for file, eye in (("heronbank-front.step", job.rod.inboard), ("heronbank-front-at-+55mm.step", at_bump)):
        solids = cq.importers.importStep(str(folder / file)).solids().vals()
        end = job.rod.rod_end
        slab = math.pi / 4 * (end.housing_diameter**2 - end.bore**2) * end.ball_width
        balls = [
            s
            for s in solids
            if np.linalg.norm(np.array(s.Center().toTuple()) - np.asarray(eye)) < 0.01 and s.Volume() < slab
        ]
        assert balls, f"the rod end's ball is not at {eye} in {file}"


@pytest.mark.slow
def test_check_table_agrees_with_results(built):
    folder, results = built
    with (folder / "sheets" / "check-table.csv").open(encoding="utf-8-sig", newline="") as f:
        head, *rows = csv.reader(f)
    assert len(head) == 7 and all(r[4:] == ["", "", ""] for r in rows)
    t = results.travel
    for row in rows:
        z = float(row[0])
        i = int(np.argmin(np.abs(np.array(t.wheel_mm) - z)))
        assert abs(t.wheel_mm[i] - z) < 1e-6
        assert float(row[1]) == pytest.approx(t.rocker_deg[i], abs=0.051)
        assert float(row[2]) == pytest.approx(t.damper_mm[i], abs=0.051)


@pytest.mark.slow
def test_common_practice_of_a_plate_rocker(built):
    """Common practice, no source: the rod arm of such a rocker is about 80 to 100 mm and its sides come from
    3 mm (1/8 in) plate."""
    _, results = built
    job = load(JOBS / "heronbank-front.toml")
    arm = math.dist(job.rod.inboard[1:], job.rocker.pivot[1:])
    assert 80 <= arm <= 100
    plate = next(b for b in results.blanks if b.part == "rocker plate")
    assert plate.thickness_mm == 3 and plate.count == 2


@pytest.mark.slow
def test_a_build_confirms_marks_and_draws_its_gaps(built):
    """STEP by cadquery's importer: in each file of a short pair some two solids are as far apart as the
    kernel said, and the mark's balls touch both; nothing disagrees. A square tube is drawn with its
    standard's usual corner and its gap proven for the sharpest (EN 10219-2: 2 and 1.6 walls), so that a ball
    may stand off the drawn corner by (2 - 1.6)·wall·(√2 - 1)."""
    import cadquery as cq

    from assemblies.making import gap_views as gaps

    folder, results = built
    job = load(JOBS / "heronbank-front.toml")
    assert not [f for f in results.findings if f.code == "gap-disagreement"]
    shown = gaps.marks(results)
    for mark in shown:
        p = mark.pair
        proven = p.gap_mm if p.least_gap_mm is None else p.least_gap_mm
        assert proven - 1e-3 <= p.exact_gap_mm and p.common_mm3 == 0
    close = [m for m in shown if not m.pair.ok][:6]
    files = [folder / "gaps" / m.file_name for m in close]
    assert close and sorted(files) == sorted((folder / "gaps").iterdir())
    for mark, file in zip(close, files, strict=True):
        solids = cq.importers.importStep(str(file)).solids().vals()
        named = mark.solid()
        thin = [s for s in solids if abs(s.Volume() - named.Volume()) < 1e-6 * named.Volume()]
        assert len(thin) == 1
        ends = [cq.Vertex.makeVertex(*p) for p in mark.ends]
        near = [min(e.distance(s) for s in solids if s is not thin[0]) for e in ends]
        square = [m.wall for m in job.member if m.shape == "square" and m.name in (mark.pair.a, mark.pair.b)]
        assert max(near) < 0.1 + 0.4 * max(square, default=0.0) * (math.sqrt(2) - 1) + 1e-6
    for name in ("gaps.png", "gap-travel.png", "gap-travel.svg"):
        assert (folder / "plots" / name).stat().st_size > 10_000
