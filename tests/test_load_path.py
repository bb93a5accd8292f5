"""The way of every newton from the tyre to a tube of the frame: what closes it, what each thing taken away
opens, and that what goes in at the tyre comes out at the frame."""

from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest

from assemblies.job import Job, load
from assemblies.job.job import starter
from assemblies.strength import path
from assemblies.strength.forces import corner_forces
from assemblies.strength.load_cases import load_cases
from parts.anchor_plates import AnchorPlates

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")


@lru_cache
def demo(name: str):
    return demos.corner(name)


@lru_cache
def forces(name: str):
    s = demo(name)
    cases = load_cases(s.job, s.springing.ride_rate_n_per_mm)
    return corner_forces(s.job, s.mechanism, s.springing, cases)


def stops(job) -> list[str]:
    found = demos.known(job, interference=False).results.findings
    return [f.text for f in found if f.level == "stop" and f.code == "load-path"]


@pytest.mark.parametrize("name", DEMOS)
def test_every_demo_ends_with_a_closed_path(name):
    s = demo(name)
    assert s.results.strength.path and {w.state for w in s.results.strength.path} == {"held"}
    assert not [f for f in s.results.findings if f.level == "stop"]
    ends = {w.member for w in s.results.strength.path if w.member}
    main = path.frames(s.layout)[0]
    assert ends <= main, ends - main
    assert all(r.on in s.layout.members for r in s.results.strength.frame)


def test_the_starter_ends_with_a_closed_path():
    import tomllib

    s = demos.known(Job.from_dict(tomllib.loads(starter())), interference=False)
    assert not [f for f in s.results.findings if f.level == "stop"]
    assert {w.state for w in s.results.strength.path} == {"held"}


@pytest.mark.parametrize("name", DEMOS)
def test_what_goes_in_at_the_tyre_comes_out_at_the_frame(name):
    """Statics: at every pose of every case the links that end on the frame carry the case's force, and all
    of them together its moment about any point."""
    s, f = demo(name), forces(name)
    ends = [link for link in path.links(s.job, s.layout, f) if link.member]
    applied = np.array([c.force_n for c in f.cases])[f.case]
    # the pivot's support counts once, the anchor brings a torque and no force
    total = sum(link.force_n for link in ends)
    assert np.abs(total - applied).max() < 1e-6 * np.abs(applied).max()
    at = {"rocker": "pivot"}
    about = np.zeros_like(total)
    for link in ends:
        where = {
            "upper arm front bracket": "upper_front",
            "upper arm rear bracket": "upper_rear",
            "lower arm front bracket": "lower_front",
            "lower arm rear bracket": "lower_rear",
            "damper bracket": "damper_chassis",
            "tie rod's inner end": "tie_inner",
        }.get(link.part, at["rocker"])
        about += np.cross(f.points[where], link.force_n) + 1e3 * link.moment_nm
    centre = f.points["wheel_centre"]
    plain = np.array([c.at == "wheel_centre" and not any(c.moment_nm) for c in f.cases])[f.case]
    wanted = np.cross(centre, applied)
    if plain.any():
        size = np.abs(wanted[plain]).max()
        assert np.abs(about[plain] - wanted[plain]).max() < 1e-6 * size


OPENED = [
    ("heronbank-front", {"tie_rod.member": None}, "tie rod's inner end must carry", "tie_rod.member"),
    (
        "heronbank-front",
        {"pivot": None, "spring.housing": {"outer": 60.3, "wall": 2.9}},
        "The rocker must carry 1",
        'pivot.kind = "stub"',
    ),
    (
        "heronbank-front",
        {"pivot": None, "spring.housing": {"outer": 60.3, "wall": 2.9}},
        "The anchor plate must carry 26",
        "spring.housing = { member",
    ),
    ("corrie-rear", {"pivot": None}, "The rocker must carry 1", 'pivot.kind = "spindle"'),
    (
        "heronbank-front",
        {"member.keel": None, "member.damper cross tube": None},
        "'damper post' carries",
        "goes_on",
    ),
    (
        "tarnside-front",
        {"member.nose cross tube": None, "member.nose hanger": None, "member.tail hanger": None}
        | {"member.rear post": None},
        "'spring tube' carries",
        "goes_on",
    ),
]


@pytest.mark.parametrize("name, changes, says, cure", OPENED, ids=[f"{i}" for i in range(len(OPENED))])
def test_each_thing_taken_away_opens_an_end_that_is_named_with_its_cure(name, changes, says, cure):
    found = [t for t in stops(load(JOBS / f"{name}.toml").changed(changes)) if says in t]
    assert len(found) == 1 and cure in found[0]


def test_a_tube_that_goes_on_beyond_the_job_is_held_there():
    """The cure that the finding names, followed."""
    loose = {"member.keel": None, "member.damper cross tube": None}
    job = load(JOBS / "heronbank-front.toml").changed(loose | {"frame.goes_on": ["damper post"]})
    assert stops(job) == []


def test_one_bolt_in_the_anchor_is_a_mechanism(monkeypatch):
    """Row B17: statics; a plate on one bolt beside the axis turns about it."""
    s, f = demo("heronbank-front"), forces("heronbank-front")
    whole = AnchorPlates.bolts
    monkeypatch.setattr(AnchorPlates, "bolts", lambda a, teeth=0: whole(a, teeth)[:1])
    monkeypatch.delitem(vars(s.layout.anchor), "worst", raising=False)  # what these plates know of their two
    walked = path.walk(s.job, s.layout, f)
    (moves,) = (w for w in walked if w.state == "moves")
    assert (moves.link.part, moves.link.on) == ("anchor socket", "anchor plate")
    assert moves.lost_nm == pytest.approx(np.abs(f.spring_nm).max(), rel=1e-9)
    (text,) = (x.text for x in path.findings(s.job, s.layout, walked))
    assert "is a mechanism under its load" in text and "262 N·m" in text


def test_a_joint_carries_only_what_it_says():
    """A hinge along z with nothing on its axis: the force along it and the moment about it are lost, the rest
    held; vectors by hand."""
    f = forces("heronbank-front")
    n = len(f.case)
    force, moment = np.tile((300.0, 400, 1200), (n, 1)), np.tile((0.0, 0, 50), (n, 1))
    hinge = path.CarryingLink("a", "b", "bearing", "xy", "xy", force, moment, (0.0, 0.0, 1.0))
    found = path._look(f, hinge)
    assert (found.state, found.lost_n, found.lost_nm) == ("moves", pytest.approx(1200), pytest.approx(50))
    turned = path._look(
        f, path.CarryingLink("a", "b", "bearing", "xyz", "xy", force, moment, (1.0, 0.0, 0.0))
    )
    assert turned.state == "held" and turned.force_n == pytest.approx(1300)


def test_names_that_hold_something_must_be_there():
    job = load(JOBS / "heronbank-front.toml")
    for change, says in (
        ({"tie_rod.member": "lower rial"}, "tie_rod.member: names 'lower rial'; must name a member"),
        ({"frame.goes_on": ["keal"]}, "frame.goes_on: names 'keal'"),
        ({"spring.housing.member": "header tank"}, "must name a round tube that is fixed"),
        ({"pivot.kind": "spindle"}, "a spring on the rocker's axis leaves no room"),
        ({"pivot.kind": "cantilever"}, "pivot.member"),
        ({"spring.housing": {"outer": 60.3, "wall": 2.9}}, "its bearings sit in a spring tube"),
    ):
        with pytest.raises(ValueError, match=says):
            job.changed(change)
