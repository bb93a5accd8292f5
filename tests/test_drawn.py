"""A corner drawn as it stands: no metal in common where a spring sits in its sockets, a ball in its housing
or on its bolt, at droop, ride and bump."""

from __future__ import annotations

import math
from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.making.drawn import PARTS, ball_radius_mm, drawn, twist_deg
from parts.fastener import BoltAndNut
from parts.files.measured import centre_mm, volume_mm3
from parts.files.solid import placed, solid

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
SOME_MM3 = 0.01
ROD_BOLTS = ("rod to rocker bolt", "rod lug bolt")


@lru_cache(maxsize=3)
def corner(name: str):
    return demos.corner(name)


@lru_cache(maxsize=8)
def stood(name: str, wheel_mm: float):
    """What the tests look at, by name."""
    done = corner(name)
    some = (done.layout.pack, done.layout.socket, done.layout.anchor_socket, done.layout.rod_placed)
    return {d.name: d for d in drawn(done, wheel_mm, 0.0, lambda p: p in some or (p.name in ROD_BOLTS))}


def common_mm3(a, b) -> float:
    return sum(volume_mm3(s.intersect(b)) for s in a.Solids())


@pytest.mark.parametrize("name", ["heronbank-front", "tarnside-front"])
@pytest.mark.parametrize("end", [-1, 0, 1])
def test_a_spring_sits_in_both_its_sockets_as_it_is_twisted_there(name, end):
    done = corner(name)
    layout = done.layout
    z = {-1: -done.job.corner.droop, 0: 0.0, 1: done.job.corner.bump}[end]
    by = stood(name, z)
    pack, socket = by[layout.pack.name].standing, by["spring socket"].standing
    assert pack.isValid()
    assert common_mm3(pack, socket) < SOME_MM3
    assert common_mm3(pack, by["anchor socket"].standing) < SOME_MM3
    if end == 1:  # drawn straight it would cut the turned socket: what this test is for
        straight = placed(solid(layout.pack.form), layout.pack.frame)
        assert common_mm3(straight, socket) > 50.0
    turn = twist_deg(layout, float(done.mechanism.at(z).rocker_rad))
    assert abs(turn) == pytest.approx(
        abs(math.degrees(float(done.mechanism.at(z).rocker_rad)) - layout.slack_rocker_deg)
    )
    # steel is neither made nor lost: area x length by hand, less the dressed edges
    lost = (4 - math.pi) * layout.socket.part.spring_corner_mm**2 * layout.pack.part.length_mm * 2
    assert abs(volume_mm3(pack) - layout.pack.part.volume_mm3) < lost


@pytest.mark.parametrize("wheel_mm", [-55.0, 0.0, 60.0])
def test_a_rods_balls_stay_with_their_bolts_and_nothing_shares_metal(wheel_mm):
    done = corner("heronbank-front")
    job, rod = done.job, done.layout.rod
    by = stood("heronbank-front", wheel_mm)
    name = done.layout.rod_placed.name
    metal = by[name].standing
    poses = done.mechanism.at(wheel_mm)
    for end, bolt, point in (
        ("inboard", ROD_BOLTS[0], "rod_inboard"),
        ("outboard", ROD_BOLTS[1], "rod_outboard"),
    ):
        ball = by[f"{name} {end} ball"]
        assert np.allclose(ball.where[:3, 3], poses.point(point), atol=1e-6)
        along = by[bolt].where[:3, 2]
        assert abs(ball.where[:3, 2] @ along) == pytest.approx(1.0, abs=1e-9)
        assert common_mm3(metal, ball.standing) < SOME_MM3
        for part in PARTS:
            fastener = by[bolt if part == "bolt" else f"{bolt}'s {part}"].standing
            assert common_mm3(metal, fastener) < SOME_MM3 and common_mm3(ball.standing, fastener) < SOME_MM3
    tilt = np.radians(float(poses.rod_inboard_tilt_deg))
    assert abs(by[name].where[:3, 0] @ by[f"{name} inboard ball"].where[:3, 2]) == pytest.approx(
        math.cos(tilt), abs=1e-6
    )
    # a ball by hand: a sphere's slice less its bore (the bore's ends lie inside the slice)
    r, w = ball_radius_mm(rod) - 0.01, rod.rod_end.ball_width_mm
    slice_mm3 = math.pi * (r**2 * w - w**3 / 12) - math.pi / 4 * job.rod.rod_end.bore**2 * w
    assert volume_mm3(by[f"{name} inboard ball"].shape) == pytest.approx(slice_mm3, rel=1e-4)


@pytest.mark.parametrize("name", ["heronbank-front", "tarnside-front", "corrie-rear"])
def test_a_rod_and_its_mirror_image_come_back_from_step_as_they_went(name, tmp_path):
    """One end's hollow came back as whole balls once, 7 cm³ short: the write itself compares volumes."""
    from assemblies.making.step import write_assembly

    done = corner(name)
    own = list(drawn(done, 0.0, 0.0, lambda p: p is done.layout.rod_placed))
    write_assembly(tmp_path / "a.step", [(d.name, d.shape, d.where, d.colour) for d in own])
    write_assembly(tmp_path / "b.step", [(d.name, *d.twin(), d.colour) for d in own])
    for d in own:  # by hand: x, -y, z in the car
        x, y, z = centre_mm(d.standing)
        assert centre_mm(placed(*d.twin())) == pytest.approx((x, -y, z), abs=1e-6)


def test_a_bolt_is_four_bodies_that_add_up_to_it():
    by = stood("heronbank-front", 0.0)
    for bolt in ROD_BOLTS:
        own = [d for d in by.values() if d.of.name == bolt]
        assert [d.name for d in own] == [bolt, *(f"{bolt}'s {p}" for p in PARTS[1:])]
        part = own[0].of.part
        assert isinstance(part, BoltAndNut)
        assert sum(volume_mm3(d.shape) for d in own) == pytest.approx(part.volume_mm3, rel=1e-6)


@pytest.mark.slow
def test_a_name_in_the_picture_of_the_corner_ends_on_its_body():
    """Rays along the camera through each line's end against the kernel's solids: the first met is of the body
    named; of what is called not seen no ray to its length meets it first. The wheel is glass."""
    from OCP.gp import gp_Dir, gp_Lin, gp_Pnt
    from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector

    from assemblies.making.overview import named, whole

    done = corner("tarnside-front")
    shot, ends = whole(done)
    assert {n for n, (_, _, seen) in ends.items() if not seen} == {"solid bar"}
    met = []
    for d in drawn(done):
        if d.of.body != "wheel":
            met.append((d, IntCurvesFace_ShapeIntersector()))
            met[-1][1].Load(d.standing.wrapped, 1e-6)

    def first(point):
        start = np.asarray(point) - 1e4 * shot.camera.forward
        line = gp_Lin(gp_Pnt(*map(float, start)), gp_Dir(*map(float, shot.camera.forward)))
        near = []
        for d, by in met:
            by.Perform(line, 0.0, 1e6)
            near += [(by.WParameter(k), d.of.name, d.of.body) for k in range(1, by.NbPnt() + 1)]
        return min(near)[1:]

    right, up = shot.camera.right, shot.camera.up
    at = {n: (np.array([c, r]), seen) for n, (c, r, seen) in ends.items() if n != "wheel"}
    zero = shot.pixel(np.zeros(3))
    for name, (pixel, seen) in at.items():
        across, down = (pixel - zero) / shot.scale
        if seen:
            body = first(across * right - down * up)[1].replace("_", " ")
            assert body == ("rod" if name == "push rod" else name)
    m, long = done.layout.pack.frame.matrix(), done.layout.pack.part.length_mm
    along = [(m @ (0.0, 0.0, share * long, 1.0))[:3] for share in np.linspace(0.01, 0.99, 25)]
    assert not [1 for q in along if first(q)[0] == done.layout.pack.name]
    assert np.allclose(shot.pixel(named(done)["solid bar"]), at["solid bar"][0])
