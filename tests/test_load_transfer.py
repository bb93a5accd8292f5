"""Load that the whole car's inertia moves from wheel to wheel, against the equilibrium of the whole car."""

import math

import numpy as np
import pytest

from assemblies.job import load
from assemblies.job.job import STARTER
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.strength.load_cases import load_cases
from assemblies.strength.load_transfer import kerb_from_the_side_n, load_at_grip, roll_share, wheel_loads
from assemblies.strength.loads import loads

G = 9.80665
FRONT_KG, REAR_KG = 3161.664 / 2 / G, 2918.459 / 2 / G  # check row N1
N12 = {
    "car.mass": 620,
    "car.wheelbase": 2250,
    "car.cg_height": 420,
    "car.track": 1420,
    "car.other_track": 1400,
}
ROLL = {"front": 400.0, "rear": 280.0}  # N·m/deg, row N13


def corner(axle, **changes):
    """A corner of the car of rows N12, N13 and N15; its own spring is left out of the roll rate, its bar is
    all of it."""
    kg, other = (FRONT_KG, "rear") if axle == "front" else (REAR_KG, "front")
    tracks = {} if axle == "front" else {"car.track": 1400, "car.other_track": 1420}
    own = {"corner.corner_mass": kg, "car.axle": axle, "car.bar_rate": ROLL[axle]}
    changes = {k.replace("__", "."): v for k, v in changes.items()}
    return load(STARTER).changed({**N12, **own, **tracks, "car.other_roll_rate": ROLL[other], **changes})


def cases(axle, **changes):
    return {c.name: c for c in load_cases(corner(axle, **changes), 0.0)}


def test_braking_of_one_front_and_one_rear_wheel():
    """Check row N12: statics of a rigid car on two axles."""
    front, rear = (cases(a, loads__braking_g=1.0)["braking"].force_n for a in ("front", "rear"))
    assert front == pytest.approx((-2148.3101, 0, 2148.3101), rel=1e-6)
    assert rear == pytest.approx((-891.75137, 0, 891.75137), rel=1e-6)


def test_cornering_outer_and_inner_wheels_of_both_axles():
    """Check row N13. A left wheel is outside in a right turn: its force points inward, to -y; as
    inner wheel in a left turn it points outward, to +y."""
    for axle, inner, outer in (("front", 522.98125, 2638.6827), ("rear", 708.1555, 2210.3035)):
        c = cases(axle, loads__cornering_g=1.0)
        assert c["cornering"].force_n == pytest.approx((0, -outer, outer), rel=1e-6)
        assert c["cornering, inner wheel"].force_n == pytest.approx((0, inner, inner), rel=1e-6)


def test_rolling_backwards_the_rear_axle_leads():
    """Check row N15."""
    front, rear = (cases(a, loads__braking_g=0.6)["reverse braking"].force_n for a in ("front", "rear"))
    assert front == pytest.approx((744.20706, 0, 1240.3451), rel=1e-6)
    assert rear == pytest.approx((1079.8298, 0, 1799.7164), rel=1e-6)


def test_sideways_into_a_kerb():
    """Check row N14: ½·m·v² = F²/(2·k); at the kerb's edge, so the tilt about the wheel's centre is the force
    times what the centre stands above it."""
    assert kerb_from_the_side_n(155, 1.5, 300) == pytest.approx(10228.636, rel=1e-6)
    job = load(STARTER).changed(
        {
            "wheel.centre": [0, 750, 275],
            "corner.corner_mass": 155,
            "loads.side_kerb_speed": 1.5,
            "loads.side_kerb_height": 100,
        }
    )
    c = {c.name: c for c in load_cases(job)}["sideways kerb"]
    assert c.force_n == pytest.approx((0, -10228.636, 155 * G), rel=1e-6)
    about_centre = c.moment_nm[0] + np.cross((0, 0, -job.wheel.centre[2] / 1e3), c.force_n)[0]
    assert abs(about_centre) == pytest.approx(1790.0113, rel=1e-6)


@pytest.mark.parametrize("ahead", [-0.9, -0.4, 0.0, 0.5])
@pytest.mark.parametrize("sideways", [0.0, 0.6, 1.1, 1.6])
def test_four_wheels_hold_the_whole_car_up_and_level(ahead, sideways):
    """The independent route: four loads at their contacts and the inertia force at the centre of gravity are
    in balance about both ground axes, whichever wheel has lifted."""
    m, h, wb, behind = 620, 0.42, 2.25, 1.08
    up, pitch, roll = -m * G, 0.0, 0.0
    for axle, x, half in (("front", behind, 0.71), ("rear", behind - wb, 0.70)):
        job = corner(axle)
        outer, inner = wheel_loads(
            job.car, job.corner.corner_mass * G, roll_share(job.car, 0.0), ahead, sideways
        )
        assert min(outer, inner) >= 0
        up += outer + inner
        pitch += x * (outer + inner)
        roll += half * (outer - inner)
    assert up == pytest.approx(0, abs=1e-3)
    assert pitch == pytest.approx(-m * G * ahead * h, abs=1e-2)
    assert roll == pytest.approx(m * G * sideways * h, abs=1e-2)


def test_a_car_that_tips_stands_on_its_outer_wheels():
    job = corner("front")
    outer, inner = wheel_loads(job.car, FRONT_KG * G, 0.5, 0.0, 5.0)
    assert (outer, inner) == (pytest.approx(2 * FRONT_KG * G), 0)


def test_drive_at_the_edge_of_grip_moves_its_own_load():
    """F = μ·N on both driven wheels is the car's m·a, and N holds m·a·h/L: put back into the balance."""
    for axle, sign in (("front", -1), ("rear", 1)):
        job = corner(axle)
        for grip in (1.1, -0.8):
            load_n = load_at_grip(job.car, job.corner.corner_mass * G, grip)
            acceleration_g = 2 * grip * load_n / (620 * G)
            moved = 620 * G * acceleration_g * 420 / 2250 / 2
            assert load_n == pytest.approx(job.corner.corner_mass * G + sign * moved, rel=1e-9)
    for grip in (4.8, 9.0):  # the other axle has lifted: the whole car stands on this one
        assert load_at_grip(job.car, 1500, grip) == pytest.approx(620 * G / 2)


def test_drive_puts_its_force_at_the_wheels_centre():
    """Row N9, inboard: a shaft takes the torque of the force at the ground, so nothing of it is on the
    upright."""
    job = corner("rear", loads__braking_g=1.0, car__driven=True)
    c = {c.name: c for c in load_cases(job, 0.0)}["drive"]
    down = np.subtract(job.wheel.contact, job.wheel.centre) / 1e3
    assert (np.cross(down, c.force_n) + c.moment_nm)[1] == pytest.approx(0, abs=1e-9)
    assert not {"drive", "engine braking"} & cases("front").keys()


def test_a_given_brake_share_is_what_the_axle_brakes_with():
    for axle, share in (("front", 0.7), ("rear", 0.3)):
        c = cases(axle, loads__braking_g=0.8, car__brake_share=0.7)
        for name, sign in (("braking", -1), ("reverse braking", 1)):
            assert c[name].force_n[0] == pytest.approx(sign * share * 620 * G * 0.8 / 2)
    assert cases("front")["braking in a corner"].force_n[0] < 0


def test_roll_share_from_the_springs_and_the_bar():
    """Check row N11: 400 to 280 N·m/deg is 0.58823529; a wheel rate K makes ½·K·t² (closed form)."""
    car = corner("front").car
    assert roll_share(car, 0.0) == pytest.approx(0.58823529, rel=1e-7)
    rate = 2 * 400e3 * 180 / math.pi / 1420**2  # N/mm that gives the same 400 N·m/deg
    assert roll_share(corner("front", car__bar_rate=0).car, rate) == pytest.approx(0.58823529, rel=1e-7)
    assert roll_share(load(STARTER).car, 20.0) == 0.6  # the other axle's is not known


def test_both_together_stay_inside_the_friction_circle_and_balance():
    """Braking in a corner on both axles, outer and inner: 0.7071 of each, the car's whole m·a along and
    across."""
    along = across = 0.0
    for axle in ("front", "rear"):
        c = cases(axle, loads__braking_g=1.0, loads__cornering_g=0.8)
        outer, inner = c["braking in a corner"].force_n, c["braking in a corner, inner wheel"].force_n
        along += outer[0] + inner[0]
        across += outer[1] - inner[1]  # the inner wheel is shown for the turn the other way
    assert along == pytest.approx(-620 * G * math.sqrt(0.5), rel=1e-6)
    assert across == pytest.approx(-620 * G * math.sqrt(0.5) * 0.8, rel=1e-6)


def test_a_kerb_from_the_side_loads_the_arms_as_a_force_at_its_edge():
    """The joints bear the tilting moment of the edge's height: moved to the edge by hand, the same forces."""
    job = load(STARTER)
    case = {c.name: c for c in load_cases(job)}["sideways kerb"]
    pose = Mechanism(HardPoints.of(job)).at([0.0])
    f = loads(pose, [case])
    p = {n: pose.point(n)[0] for n in ("upper_outer", "lower_outer", "tie_outer", "tie_inner", "contact")}
    tie = (p["tie_inner"] - p["tie_outer"]) / np.linalg.norm(p["tie_inner"] - p["tie_outer"])
    edge = p["contact"] + (0, 0, job.loads.side_kerb_height)
    moment = (
        np.cross(p["upper_outer"], f.upper_joint_n[0, 0])
        + np.cross(p["lower_outer"], f.lower_joint_n[0, 0])
        + np.cross(p["tie_outer"], tie * f.tie_rod_n[0, 0])
        + np.cross(edge, (0, case.force_n[1], 0))
        + np.cross(p["contact"], (0, 0, case.force_n[2]))
    )
    assert job.rod.on != "upright"
    assert abs(moment).max() < 1e-3  # N·mm of some 1e6
