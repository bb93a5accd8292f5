"""Room for tools and for a bolt on its way out: walls at known distances, poses, both sides, the demos."""

import math
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import demos
import numpy as np
import pytest
from clearance_corner import box, mechanism

from assemblies.clearance import Body, memory, probe
from assemblies.clearance.probe import Probe, ProbedBodies
from assemblies.gaps import tool_access
from assemblies.gaps.interference import Asked
from assemblies.gaps.tool_access import ROOM_MM, access
from assemblies.job import load
from assemblies.layout import bodies as neighbours
from assemblies.layout.account import Bought, NoSeam, Unloaded
from assemblies.layout.placing import Placed
from assemblies.study import study
from parts.fastener import RATCHET_DIAMETER_MM, SOCKETS_MM, BoltAndNut, spanner
from parts.shape.form import Form, Frame, Round

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
BEARINGS = range(0, 360, 15)
DEMOS = ("heronbank-front", "corrie-rear", "tarnside-front")
AT = np.array([1000.0, 0.0, 0.0])  # far from the corner: nothing moves there
BOLT = BoltAndNut("M10", 80, 46, 3)


def _bolt(origin=AT, carrier="frame", z=(0.0, 0.0, 1.0)) -> Placed:
    return Placed(
        "bolt",
        "bolt",
        carrier,
        BOLT.form(),
        Frame.looking(tuple(origin), z, (0.0, 1.0, 0.0) if abs(z[0]) > 0.9 else (1.0, 0.0, 0.0)),
        BOLT,
        Bought("bolt"),
        NoSeam("a bolt"),
        Unloaded("a test"),
    )


def _wall(distance_mm: float, low: float, high: float) -> Body:
    """Parallel to the bolt, its face `distance_mm` from the bolt's axis."""
    x = AT[0] + distance_mm
    return Body("wall", "frame", (box((x, -400.0, low), (x + 20.0, 400.0, high)),), "fixed")


def _look(bodies, heights=(0.0,), bolt=None):
    around, heights = ProbedBodies(bodies, mechanism()), np.array(heights)
    found = tool_access._look([bolt or _bolt()], around, heights)[0]
    return found if found.out_at_mm is not None else tool_access._drawn_out([found], around, heights)[0]


# ------------------------------------------------------------ gaps of things held up


@pytest.mark.parametrize("distance", [9.0, 12.0, 19.0])
def test_gap_and_depth_of_a_round_beside_a_wall(distance):
    """Closed form: distance of the axis less the radius, negative inside."""
    bar = Probe(Form((Round(20.0, 50.0, 0.0, Frame(tuple(AT))),)), "frame")
    room = ProbedBodies([_wall(distance, -10, 60)], mechanism()).room([bar], [0.0, 10.0], 25.0)
    assert room.gap_mm == pytest.approx(np.full((1, 2), distance - 10.0), abs=0.03)
    assert (room.nearest == "wall").all()


def test_what_is_spared_or_far_does_not_count():
    bar = Form((Round(20.0, 50.0, 0.0, Frame(tuple(AT))),))
    around = ProbedBodies([_wall(9.0, -10, 60)], mechanism())
    room = around.room(
        [Probe(bar, "frame", frozenset(("wall",))), Probe(bar.moved(Frame((-500.0, 0.0, 0.0))), "frame")],
        [0.0],
        5.0,
    )
    assert (room.gap_mm == 5.0).all() and (room.nearest == "").all()


def test_what_cannot_be_nearer_is_not_asked_and_nothing_is_lost(monkeypatch):
    """Seeded bars among seeded walls: the same gaps and neighbours as with every near pair asked, with fewer
    questions."""
    rng = np.random.default_rng(21)

    def bar(radius: float) -> Form:
        frame = Frame.looking(AT + rng.uniform(-80, 80, 3), rng.normal(size=3), rng.normal(size=3))
        return Form((Round(2 * radius, 60.0, 0.0, frame),))

    bodies = [Body(f"bar {k}", "rocker" if k % 3 else "frame", (bar(5.0),)) for k in range(24)]
    probes = [Probe(bar(4.0), "frame", frozenset((f"bar {k}",))) for k in range(8)]
    asked: list[int] = []
    ask = probe.Library.ask
    monkeypatch.setattr(probe.Library, "ask", lambda s, i, *more: (asked.append(len(i)), ask(s, i, *more))[1])
    around = ProbedBodies(bodies, mechanism())
    some = around.room(probes, [-20.0, 0.0, 20.0], 60.0)
    few = sum(asked)
    monkeypatch.setattr(probe, "LEAST_MM", 1e6)  # then all might be nearer
    every = around.room(probes, [-20.0, 0.0, 20.0], 60.0)
    assert np.array_equal(some.gap_mm, every.gap_mm) and (some.nearest == every.nearest).all()
    assert (some.gap_mm < 0).any() and (some.gap_mm > 1).any() and few < 0.6 * (sum(asked) - few)


def test_a_probe_on_the_rocker_moves_with_it():
    """Beside a box that stands still the gap of a thin round follows the eye's own path, from the motion
    alone."""
    m = mechanism()
    heights = np.array([-30.0, 0.0, 30.0])
    eye, axis = (
        np.squeeze(m.at(heights).point("damper_eye")),
        np.array(m.points.axis) / np.linalg.norm(m.points.axis),
    )
    ride = eye[1]
    thin = Form((Round(2.0, 2.0, 0.0, Frame.looking(tuple(ride - axis), tuple(axis), (0.0, 0.0, 1.0))),))
    far = Body("far", "frame", (box((-500, -500, 800.0), (500, 800, 820.0)),), "fixed")  # overhead
    gap = ProbedBodies([far], m).room([Probe(thin, "rocker")], heights, 1000.0).gap_mm[0]
    turned = [np.array(m.at(h).frame("rocker"))[:3, :3] @ axis for h in heights]
    reach = [abs(a[2]) * 1.0 + math.sqrt(1 - a[2] ** 2) * 1.0 for a in turned]  # of a cylinder, upward
    assert gap == pytest.approx(800.0 - eye[:, 2] - reach, abs=0.03)


# ------------------------------------------------------------ tools beside a wall

S = 16.0  # M10
RATCHET, SOCKET = RATCHET_DIAMETER_MM / 2 + ROOM_MM, SOCKETS_MM[S] / 2 + ROOM_MM
TIPS, SWEPT = (
    spanner(S).tips_mm,
    spanner(S).jaw_mm
    / 2
    * math.cos(math.acos(2 * spanner(S).tips_mm / spanner(S).jaw_mm) - math.radians(15)),
)


@pytest.mark.parametrize(
    "distance, tool",
    [
        (RATCHET + 0.1, "socket"),
        (RATCHET - 0.1, "socket on an extension"),
        (SOCKET + 0.1, "socket on an extension"),
        (SWEPT + 0.6, "spanner"),
        (SOCKET - 0.1, "spanner held still"),
        (TIPS + 0.6, "spanner held still"),
        (TIPS + 0.4, ""),
    ],
)
def test_the_tool_that_fits_beside_a_wall_of_known_distance(distance, tool):
    """The wall runs beside the head, as far out as the short socket with its ratchet; a spanner's jaw is cut
    at its tips and sweeps 15 deg each way."""
    high = (
        -BOLT.ring.thickness_mm - 60.0
        if "socket" in tool or tool == "spanner held still"
        else -BOLT.ring.thickness_mm - 200.0
    )
    found = _look([_wall(distance, high, -1.0)])
    if tool == "spanner":  # a wall that is high enough to stop the extension's ratchet too
        assert distance < RATCHET
    assert found.tools == ((tool, "socket") if tool else ("", ""))


def test_both_ends_between_walls_where_neither_can_be_turned():
    walls = [_wall(TIPS + 1.0, -400.0, 400.0)]
    found = _look(walls)
    assert found.tools_at_mm is None and all("wall stands" in t for t in found.blocked)


# ------------------------------------------------------------ on its way out


def _across(beyond_seat_mm: float, side: int = -1) -> Body:
    """A tube that crosses the bolt's axis so far beyond the head's seat (or what would be, turned round)."""
    seat = BOLT.head_seat_mm if side < 0 else BOLT.stack_mm + BOLT.ring.thickness_mm
    z = sorted((seat + side * beyond_seat_mm, seat + side * (beyond_seat_mm + 25.0)))
    return Body("tube", "frame", (box((AT[0] - 300, -12.5, z[0]), (AT[0] + 300, 12.5, z[1])),), "fixed")


NEEDS = BOLT.length_mm + BOLT.hexagon.head_mm + 1.5 * ROOM_MM


def test_a_bolt_is_drawn_out_past_a_tube_that_is_its_own_length_away():
    assert _look([_across(NEEDS + 0.1)]).out_at_mm == 0.0
    found = _look([_across(NEEDS - 0.4)])
    assert (
        found.out_at_mm is None
        and found.other_way_at_mm is not None
        and "tube stands 0.4 mm in the way on its way out" in found.blocked
    )
    both = [_across(NEEDS - 0.4), Body("other", "frame", _across(NEEDS - 0.4, 1).forms, "fixed")]
    assert _look(both).other_way_at_mm is None


def test_the_height_named_is_the_nearest_to_ride_at_which_the_bolt_is_free():
    """A post stands before the bolt of the damper's eye at ride; by the eye's own path it is free once the
    eye has moved on by both radii and the room."""
    m = mechanism()
    axis = np.array(m.points.axis) / np.linalg.norm(m.points.axis)
    eye = np.array(m.points.damper_eye)
    bolt = _bolt(eye, "rocker", tuple(axis))
    post_mm = 10.0
    post = Body(
        "post",
        "frame",
        (
            Form(
                (
                    Round(
                        post_mm,
                        20.0,
                        0.0,
                        Frame.looking(tuple(eye - 40 * axis), tuple(-axis), (0.0, 0.0, 1.0)),
                    ),
                )
            ),
        ),
        "fixed",
    )
    heights = tool_access._heights((-30.0, 30.0), 41)
    found = _look([post], heights, bolt)
    moved = np.linalg.norm(np.squeeze(m.at(heights).point("damper_eye")) - eye, axis=1)
    need = BOLT.hexagon.across_corners_mm / 2 + post_mm / 2 + ROOM_MM
    free = heights[moved >= need]
    assert 0 < len(free) < len(heights)
    assert found.out_at_mm == pytest.approx(
        free[0], abs=1.6
    )  # one step: the polygons are a little larger than their rounds


# ------------------------------------------------------------------------------------------------ in a corner


@lru_cache(maxsize=8)
def _made(name: str, mirrored: bool = False):
    job = load(JOBS / f"{name}.toml")
    return study(job.mirrored() if mirrored else job)


@pytest.mark.slow
@pytest.mark.parametrize("name", DEMOS)
def test_the_other_side_is_reached_alike(name):
    one, two = _made(name).results.access, _made(name, True).results.access
    assert [(a.bolt, a.head, a.head_tool, a.nut_tool) for a in one] == [
        (a.bolt, a.head, a.head_tool, a.nut_tool) for a in two
    ]
    for a, b in zip(one, two, strict=True):
        assert (a.out_at_wheel_mm, a.tools_at_wheel_mm) == pytest.approx(
            (b.out_at_wheel_mm, b.tools_at_wheel_mm)
        )


def test_a_wall_before_the_damper_bracket_is_a_finding_and_its_bolt_is_named():
    job = load(JOBS / "corrie-rear.toml")
    done = _made("corrie-rear")
    p = next(p for p in done.layout.placed if p.name == "damper bracket bolt")
    before = next(a for a in done.results.access if a.bolt == p.name)
    assert before.out_at_wheel_mm is not None and before.head_tool
    z, b = np.array(p.frame.z), p.part
    members = [m.model_dump(by_alias=True, exclude_unset=True) for m in job.member]
    for k, (reach, sense) in enumerate(
        ((b.head_seat_mm - b.hexagon.head_mm - 3.0, -1), (b.tip_mm + 3.0, 1))
    ):  # lids over both ends
        start = np.array(p.frame.origin) + reach * z
        members.append(
            {
                "name": f"lid {k}",
                "shape": "cylinder",
                "from": start.tolist(),
                "to": (start + sense * 20 * z).tolist(),
                "diameter": 60,
            }
        )
    made = demos.known(job.changed({"member": members}))
    told = {f.code: f for f in made.results.findings if f.where == p.name}
    assert told["bolt-out"].level == "warn" and "lid" in told["bolt-out"].text
    row = next(a for a in made.results.access if a.bolt == p.name)
    assert row.out_at_wheel_mm is None and any("lid" in t for t in row.in_the_way)


def test_a_head_with_no_room_for_its_washer_stops():
    done = _made("corrie-rear")
    p = next(p for p in done.layout.placed if p.name == "upper arm front bracket bolt")
    job = load(JOBS / "corrie-rear.toml")
    side = np.array(p.frame.x)
    both = []
    for z in (p.part.head_end_mm, p.part.nut_end_mm):
        at = (
            np.array(p.frame.origin) + z * np.array(p.frame.z) + 12.0 * side
        )  # 4 mm into flats of 8, beside the axis
        both.append(
            {
                "name": f"post {z:.0f}",
                "shape": "cylinder",
                "from": at.tolist(),
                "to": (at + 30 * side).tolist(),
                "diameter": 6,
            }
        )
    members = [m.model_dump(by_alias=True, exclude_unset=True) for m in job.member]
    plain = demos.known(job.changed({"member": [*members, *both]}), interference=False)
    assert not [f for f in access(plain.layout, plain.mechanism, (-50.0, 50.0))[1] if f.code == "bolt-seat"]
    near = [{**m, "from": (np.array(m["from"]) - 8.0 * side).tolist()} for m in both]
    tight = demos.known(job.changed({"member": [*members, *near]}), interference=False)
    told = [f for f in access(tight.layout, tight.mechanism, (-50.0, 50.0))[1] if f.code == "bolt-seat"]
    assert told and all(f.level == "stop" and f.where == p.name for f in told)


def test_switched_off_there_are_no_rows():
    made = demos.known(load(JOBS / "corrie-rear.toml").changed({"clearance.tools": False}))
    assert not made.results.access and not [f for f in made.results.findings if f.code.startswith("bolt-")]


def test_a_bolt_is_put_in_from_the_other_side_by_its_name():
    """Its axis turned, its middle where it was, all else as it stood; a name that no bolt has is said."""
    job = load(JOBS / "corrie-rear.toml").changed(
        {"clearance.turned": ["rod lug bolt", "lower arm rear bracket bolts"]}
    )
    now, before = (
        {p.name: p for p in s.layout.bolts}
        for s in (demos.known(job, interference=False), demos.corner("corrie-rear"))
    )
    for name, p in now.items():
        here, there = (np.array(x.frame.z) for x in (p, before[name]))
        assert here @ there == pytest.approx(-1.0 if name == "rod lug bolt" else 1.0)
    seats = [
        {tuple(np.round(p.frame.matrix() @ (0, 0, z, 1), 6)[:3]) for z in (0.0, p.part.stack_mm)}
        for p in (now["rod lug bolt"], before["rod lug bolt"])
    ]
    assert seats[0] == seats[1]
    (said,) = [f for f in demos.known(job, interference=False).results.findings if f.code == "bolt-turned"]
    assert said.text.endswith("no bolt is called so: lower arm rear bracket bolt.")


@pytest.mark.slow
def test_a_bolt_that_cannot_be_drawn_out_gets_a_cure_that_cures():
    """Turned round, a post stands before its head; the cure that is told lets it out."""
    name = "lower arm rear bracket bolt"
    plain = load(JOBS / "corrie-rear.toml")
    told = []
    for turned in ([name], []):
        s = study(plain.changed({"clearance.turned": turned}), interference=False)
        told.append(tool_access.tools(s.job, s.mechanism, s.springing.ends, s.layout)[1])
    (said,) = [f for f in told[0] if f.code == "bolt-out"]
    assert said.where == name and "Tried: clearance.turned = []:" in said.text and "bay post" in said.text
    assert not [f for f in told[1] if f.where == name]


def test_turned_round_into_something_is_no_cure():
    """A box that the turned head would stand in: said with what is short, not offered."""
    s = demos.corner("corrie-rear")
    found = tool_access.Access(s.layout.bolts[0], other_way_at_mm=3.0, blocked=("x stands in the way",))
    (said,) = [
        f
        for f in tool_access._findings(found, s.job, lambda p: "it to box then keeps 1.00 mm of 8")
        if f.code == "bolt-out"
    ]
    assert "comes out at wheel +3 mm, but it to box then keeps 1.00 mm of 8." in said.text
    assert "Tried" not in said.text


def _plainly(p: Placed, around: ProbedBodies, heights: np.ndarray) -> tuple:
    """Tools, where they do, and where the bolt comes out: all heights at once, each gap of all."""

    def free(probes, room_mm: float) -> np.ndarray:
        return around.room(probes, heights, room_mm).gap_mm >= room_mm

    def spanners(swing_deg: float) -> np.ndarray:
        return np.array(
            [free(tool_access._spanners(p, end, swing_deg, BEARINGS), 0.5).any(0) for end in (0, 1)]
        )

    out = free([tool_access._way_out(p, tool_access.HEAD)], ROOM_MM)[0]
    away = float(heights[out.argmax()]) if out.any() else None
    sockets = [tool_access._socket(p, end, extension) for extension in (False, True) for end in (0, 1)]
    have, turning = [*free(sockets, ROOM_MM).reshape(2, 2, -1)], 2
    for swing_deg in (None, tool_access.SWING_DEG, 0.0):
        if swing_deg is not None:
            have.append(spanners(swing_deg))
            turning = 3
        turns, holds = np.any(have[:turning], 0), np.any(have, 0)
        both = (turns[0] & holds[1]) | (holds[0] & turns[1])
        if both.any():
            at = both.argmax()
            tools = tuple(tool_access.TOOLS[np.array(have)[:, end, at].argmax()] for end in (0, 1))
            return tools, float(heights[at]), away
    return ("", ""), None, away


@pytest.mark.parametrize("name", DEMOS)
def test_step_by_step_finds_what_all_at_once_finds(name):
    """Ride before other heights, some of a spanner's bearings before all, no more asked than it takes."""
    s = demos.corner(name)
    travel, bolts = (-40.0, 40.0), [p for p in s.layout.placed if isinstance(p.part, BoltAndNut)]
    own = {p.body for p in bolts}
    bodies = [b for b in neighbours.bodies(s.layout) if b.kind != "tyre" and b.name not in own]
    bodies += [Body(p.name, p.carrier, (p.part.envelope().moved(p.frame),)) for p in bolts]
    around = ProbedBodies(bodies, s.mechanism)
    few = tool_access._heights(travel, tool_access.COARSE)
    fine = tool_access._heights(travel, tool_access.FINE)
    for a in tool_access._tried(bolts, around, travel):
        tools, tools_at, out_at = _plainly(a.placed, around, few)
        assert (a.tools, a.tools_at_mm) == (tools, tools_at) and tools_at is not None
        if out_at is None:
            out_at = _plainly(a.placed, around, fine)[2]
        assert a.out_at_mm == out_at


def test_a_spanner_that_finds_room_at_another_height_alone_is_found_there():
    """Lids that ride along leave no room for a socket; posts round the bolt at ride none for a spanner, until
    the damper's eye has moved on."""
    m = mechanism()
    axis, eye = np.array(m.points.axis) / np.linalg.norm(m.points.axis), np.array(m.points.damper_eye)
    bolt = _bolt(eye, "rocker", tuple(axis))
    x, y = np.array(bolt.frame.x), np.cross(axis, bolt.frame.x)

    def bar(radius_mm: float, low: float, high: float, turn: float | None = None) -> Form:
        aside = 0.0 if turn is None else 14.0 * (math.cos(turn) * x + math.sin(turn) * y)
        at = Frame.looking(tuple(eye + aside + low * axis), tuple(axis), tuple(x))
        return Form((Round(2 * radius_mm, high - low, 0.0, at),))

    posts = tuple(bar(1.0, -60.0, 120.0, k * math.pi / 4) for k in range(8))
    lids = (bar(40.0, -80.0, BOLT.head_end_mm - 5.0), bar(40.0, BOLT.tip_mm + 5.0, 150.0))
    around = ProbedBodies([Body("posts", "frame", posts, "fixed"), Body("lids", "rocker", lids)], m)
    (found,) = tool_access._tried([bolt], around, (-45.0, 45.0))
    plain = _plainly(bolt, around, tool_access._heights((-45.0, 45.0), tool_access.COARSE))
    assert (found.tools, found.tools_at_mm) == plain[:2]
    assert found.tools == ("spanner", "spanner") and abs(found.tools_at_mm) > 10


@pytest.mark.slow
def test_of_a_bolt_turned_round_only_what_can_come_too_near_is_searched():
    """Its worst gap is as with all its pairs searched; the wheel, the tie rod and most members are not asked
    for."""
    job = load(JOBS / "tarnside-front.toml").changed({"rocker.plate_thickness": 4.37})
    s = demos.known(job, interference=False)
    (bolt,) = [p for p in s.layout.placed if p.name == "rod to rocker bolt"]
    there = replace(bolt, frame=tool_access._turned(bolt))
    turned = replace(s.layout, placed=[there if p is bolt else p for p in s.layout.placed])
    asked = Asked.of(s.job, s.springing.ends, turned)
    short = {(p.a, p.b): p for p in asked.check(s.mechanism, bolt.body).pairs if not p.ok}
    near = asked.near(s.mechanism, only=bolt.body)
    assert 1 < len(near.bodies) < len(asked.bodies) / 2
    some = {(p.a, p.b): p for p in near.check(s.mechanism, bolt.body).pairs if not p.ok}
    assert some == short and ("rocker bolts", "upper rail front") in short
    said = tool_access._if_turned(s.job, s.mechanism, s.springing.ends, s.layout, bolt)
    assert said.startswith("rocker bolts to upper rail front then keeps ")


# ------------------------------------------------------------ kept between runs


def test_what_is_found_of_a_probe_is_kept_under_all_that_it_hangs_on():
    """Form, place, carrier, what is spared, height, share asked for, tolerance and each body near."""
    bar = Form((Round(20.0, 50.0, 0.0, Frame(tuple(AT))),))
    wall, far = _wall(11.0, -40, 60), _wall(20.0, -40, 60)

    def name(probe=None, bodies=(wall, far), heights=(0.0, 5.0), within=2.0, tolerance=0.1):
        around, probes = ProbedBodies(bodies, mechanism(), tolerance), [probe or Probe(bar, "frame")]
        return around.contents(probes, np.array(heights), within)[0]

    whole = name()
    assert name(bodies=(wall, _wall(20.001, -40, 60))) == whole == name(bodies=(wall,))
    others = [name(bodies=bodies) for bodies in ((_wall(11.001, -40, 60), far), ())]
    others += [name(bodies=(replace(wall, **other),)) for other in ({"name": "box"}, {"hollow": True})]
    others += [name(probe=p) for p in (Probe(bar.moved(Frame((0.0, 1e-6, 0.0))), "frame"), Probe(bar, "rod"))]
    others += [
        name(probe=Probe(bar, "frame", frame=Frame(at))) for at in ((0.0, 1e-6, 0.0), (0.0, 2e-6, 0.0))
    ]
    others += [name(within=2.5), name(tolerance=0.2)]
    assert name(probe=Probe(bar, "frame", frozenset(("wall",)))) == name(bodies=())
    assert len({whole, *others}) == 1 + len(others)
    moving = (Body("wall", "rod", wall.forms),)
    told = [name(None, moving, heights) for heights in ((0.0, 5.0), (0.0, 5.1), (0.0,))]
    assert len(set(told)) == 3 and all("wall" in t for t in told)


def test_a_kept_room_is_the_room_found(monkeypatch, tmp_path):
    """Made, then read, then one of two probes anew: the same gaps and the same names; another share asked is
    another question."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    around, heights = ProbedBodies([_wall(11.0, -40, 60)], mechanism()), np.array([0.0, 5.0])
    bars = [Form((Round(d, 50.0, 0.0, Frame(tuple(AT))),)) for d in (20.0, 19.0)]
    probes, spared = [Probe(bar, "frame") for bar in bars], Probe(bars[0], "frame", frozenset(("wall",)))
    own = around.room(probes, heights, 2.0)
    for asked in (probes, probes, [probes[1], spared, probes[0]]):
        memory.forget()
        room = tool_access._room(around, asked, heights, 2.0)
        k = [0, len(asked) - 1] if len(asked) == 2 else [2, 0]
        assert np.array_equal(room.gap_mm[k], own.gap_mm) and (room.nearest[k] == own.nearest).all()
    assert (room.gap_mm[1] == 2.0).all() and (room.nearest[1] == "").all()
    looked, look = [], ProbedBodies.room
    monkeypatch.setattr(ProbedBodies, "room", lambda s, p, *more: (looked.append(more), look(s, p, *more))[1])
    tool_access._room(around, probes, heights, 2.0)
    assert not looked
    tool_access._room(around, probes, heights, 2.0, 2.0)
    assert looked
    memory.forget()


def test_a_probe_s_content_names_whatever_its_room_is_told_by():
    """Seeded bars at any slant, in their own axes, among seeded bars: what is nearest is in the name."""
    rng = np.random.default_rng(23)

    def at() -> Frame:
        return Frame.looking(AT + rng.uniform(-60, 60, 3), rng.normal(size=3), rng.normal(size=3))

    bodies = [Body(f"bar {k:02}", "rocker", (Form((Round(9.0, 50.0),)).moved(at()),)) for k in range(24)]
    around, heights = ProbedBodies(bodies, mechanism()), np.array([-30.0, 0.0, 30.0])
    probes = [Probe(Form((Round(30.0, 40.0),)), "frame", frozenset(("bar 03",)), at()) for _ in range(12)]
    nearest = around.room(probes, heights, 20.0).nearest
    named = [{name for name in row if name} for row in nearest]
    assert sum(map(len, named)) > 12 and not any("bar 03" in some for some in named)
    for content, some in zip(around.contents(probes, heights, 20.0), named, strict=True):
        assert all(name in content for name in some) and "bar 03" not in content


@pytest.mark.parametrize("seed", range(3))
def test_room_enough_is_found_with_fewer_questions_and_the_most_is_told(seed, monkeypatch):
    """Seeded bars in a thicket of seeded bars: where there is room enough, and of what has it nowhere the
    most room and what lacks it, are as with every question asked."""
    rng = np.random.default_rng(seed)

    def bar(across: float) -> Form:
        frame = Frame.looking(AT + rng.uniform(-60, 60, 3), rng.normal(size=3), rng.normal(size=3))
        return Form((Round(across, 60.0, 0.0, frame),))

    bodies = [Body(f"bar {k}", "frame", (bar(10.0),)) for k in range(60)]
    probes = [Probe(bar(4.0 + k), "rocker") for k in range(20)]
    asked: list[int] = []
    ask = probe.Library.ask
    monkeypatch.setattr(probe.Library, "ask", lambda s, i, *more: (asked.append(len(i)), ask(s, i, *more))[1])
    around, heights = ProbedBodies(bodies, mechanism()), np.linspace(-2.0, 2.0, 9)

    def room(*more, **other) -> tuple[np.ndarray, np.ndarray, int]:
        asked.clear()
        found = around.room(probes, heights, 4.0, *more, **other)
        return found.gap_mm, found.nearest, sum(asked)

    (every, nearest, all_), (some, told, few), (least, _, fewest) = room(), room(4.0), room(4.0, told=False)
    free = every >= 4.0
    assert np.array_equal(some >= 4.0, free) and np.array_equal(least >= 4.0, free) and fewest < few < all_
    lacking = np.flatnonzero(~free.any(1))
    at = every[lacking].argmax(1)
    assert 0 < len(lacking) < len(probes) and np.array_equal(some[lacking].argmax(1), at)
    assert some[lacking, at] == pytest.approx(every[lacking, at], abs=1e-6)
    assert (told[lacking, at] == nearest[lacking, at]).all()
    assert (least[lacking].max(1) > every[lacking].max(1) + 0.01).any()  # what is not told is not known
