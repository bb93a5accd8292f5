"""A part that the CAD kernel makes no solid of takes nothing else down: all else is drawn, written and looked
at, and what lacks stands beside it. Two refusals are planted."""

from dataclasses import replace

import demos
import pytest
from test_frame_job import bay

from assemblies.job import FrameJob
from assemblies.making import drawn as drawing
from assemblies.making import solid_files
from assemblies.making.build import build
from assemblies.making.compare.comparison import compared
from assemblies.making.compare.overlaid import laid_over, page
from assemblies.making.drawn import drawn, lacking
from assemblies.making.gap_views.confirming import _whole
from assemblies.study import study
from parts.files.solid import SolidError
from parts.files.step import read_step

WHY = "piece 1 holds nothing"
ALSO = (
    "Its blanks and lengths stand as drawn, but no STEP file, picture or 3D view shows it, and the CAD "
    "kernel has not looked for metal that it shares with anything."
)


@pytest.fixture
def few(refuse):
    """Four things of a demo: a rail that is refused, a rocker's plate, the rod with its balls, the pack."""
    done = demos.corner("heronbank-front")
    layout = done.layout
    by = {p.name: p for p in layout.placed}
    rail, plate = by["lower rail"], next(p for p in layout.placed if p.body == "rocker")
    refuse(rail, WHY)
    few = replace(layout, placed=[rail, plate, layout.rod_placed, layout.pack])
    few.is_whole()
    return replace(done, layout=few)


def test_all_but_what_is_refused_is_drawn_and_written_and_a_stop_says_so(few, tmp_path):
    _, plate, rod, pack = (p.name for p in few.layout.placed)
    rest = [plate, rod, f"{rod} outboard ball", f"{rod} inboard ball", pack]
    assert [d.name for d in drawn(few)] == [d.name for d in drawn(few, 20.0)] == rest
    [stop] = lacking(few.layout)
    assert (stop.level, stop.where) == ("stop", "lower rail")
    assert stop.text == f"No solid of it can be made: {WHY}. {ALSO}"
    rows = solid_files.write(few, tmp_path, (), [], lambda *_: None)
    steps = {r.name: r.step for r in rows}
    assert list(steps) == ["lower rail", plate, rod, pack]
    assert steps["lower rail"] is None and steps[plate] and (tmp_path / steps[plate]).exists()
    back = {p.name.removesuffix(" left") for p in read_step(tmp_path / f"{few.job.slug}.step")}
    assert back == set(rest)


def test_the_second_look_says_what_it_has_not_looked_at(few):
    seen = _whole(few, [], lambda *_: None)
    assert seen.poses and seen.not_looked_at == [
        "lower rail: the CAD kernel makes no solid of it, and has not looked for metal that it shares"
    ]


def test_what_is_refused_as_it_stands_is_left_out_and_at_another_height_alone_is_an_error(monkeypatch):
    done, twist, at_ride = demos.corner("heronbank-front"), drawing.twisted_pack, [False]

    def twisted(layout, degrees):
        if at_ride[0] or abs(degrees - drawing.twist_deg(layout, 0.0)) > 1e-9:
            raise SolidError(WHY)
        return twist(layout, degrees)

    def alone():
        layout = replace(done.layout, placed=[done.layout.pack])
        layout.is_whole()
        return replace(done, layout=layout)

    monkeypatch.setattr(drawing, "twisted_pack", twisted)
    one = alone()
    assert len([*drawn(one)]) == 1 and not lacking(one.layout)
    with pytest.raises(SolidError, match=WHY):
        [*drawn(one, 20.0)]
    at_ride[0], one = True, alone()
    assert not [*drawn(one)] and [f.where for f in lacking(one.layout)] == [one.layout.pack.name]


@pytest.mark.slow
def test_a_frame_is_built_without_a_tube_that_is_refused(refuse, tmp_path):
    job = FrameJob.from_dict(bay())
    placed = study(job).layout.placed
    refuse(next(p for p in placed if p.name == "brace"), WHY)
    for kind in ("solids", "pictures"):
        _, results = build(job, tmp_path / kind, kinds=(kind,))
        [stop] = [f for f in results.findings if f.where == "brace" and f.level == "stop"]
        assert stop.text.endswith(ALSO)
    back = {p.name for p in read_step(tmp_path / "solids" / "bay" / "bay.step")}
    assert back == {"low", "high", "rear", "front", "cross"}


@pytest.mark.slow
def test_a_comparison_names_what_it_does_not_show(refuse):
    job = demos.corner("corrie-rear").job
    c = compared(job, job.changed({"spring.rate": 75}), interference=False)
    refuse(next(p for p in c.b.layout.placed if p.name == "damper body"), WHY)
    scene = laid_over(c)
    assert scene and scene["not_shown"] == ["damper body of A", "damper body of B"]
    said = "Not shown, since the CAD kernel makes no solid of it: damper body of A, damper body of B."
    assert said in page(c, scene) and "Not shown" not in page(c, scene | {"not_shown": []})
