"""A job's blanks on its own plate: nothing lost, nothing overlapping, hands kept."""
from pathlib import Path

from shapely import Polygon

from assemblies.job import load
from assemblies.nest_job import blanks_of, nest_job, remnants_of
from assemblies.study import study

DEMO = Path(__file__).parent.parent / "assemblies" / "jobs" / "heronbank-front.toml"


def test_every_blank_of_both_sides_is_placed_or_named_as_missing(tmp_path):
    layout = study(load(DEMO), interference=False).layout
    done = nest_job(layout, tmp_path, effort=30)
    wanted = {b.name: b.count for b in blanks_of(layout)}
    got = {name: sum(p.blank.name == name for p in done.nest.placements) + sum(m.count for m in done.nest.missing if m.blank.name == name) for name in wanted}
    assert got == wanted
    assert wanted["rocker plate left"] == wanted["rocker plate right"] == 2
    assert (tmp_path / "plate-1.dxf").is_file() and (tmp_path / "plate-1.png").is_file()
    assert any(f.code == "plate-grade" for f in done.findings)
    # shapely on the drawn shapes, an independent route: 5 mm apart (plasma, common practice), inside the sheet
    shapes = [Polygon(p.outline.outer.points(0.01)) for p in done.nest.placements]
    sheet = Polygon(load(DEMO).stock.plate[0].outline)
    assert all(sheet.contains(s) for s in shapes)
    assert min(a.distance(b) for i, a in enumerate(shapes) for b in shapes[i + 1:]) >= 5 - 0.03


def test_a_plate_of_another_thickness_takes_nothing():
    job = load(DEMO).changed({"stock.plate.1.thickness": 5})
    layout = study(job, interference=False).layout
    plates, _ = remnants_of(job, blanks_of(layout))
    assert plates[0].thickness_mm == 5
