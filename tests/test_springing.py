"""Springs on the corner against closed forms and against force differentiated over travel."""

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace as Spec

import numpy as np
import pytest
from corners import PULL, PUSH, trailing

from assemblies.job import load
from assemblies.motion.adjusting import rod_length_shifts_mm
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.motion.springing import Preload, Spring, frequency_hz, springing
from tests.settled import settle_mm

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"


def rotary(rate_nm_per_rad: float) -> Spring:
    return Spring("solid-bar", rate_nm_per_rad, stress_mpa_per_rad=500.0)


# springs: check rows T, through the job's words


def test_solid_bar_rate_and_stress():
    """T3, closed form: d 25, L 1000, G 80 GPa, 500 N·m."""
    s = Spring.of(Spec(kind="solid-bar", diameter=25, length=1000, shear_modulus=80_000))
    assert s.rate * np.pi / 180 == pytest.approx(53.546031, rel=1e-6)
    assert 500 / s.rate * s.stress_mpa_per_rad == pytest.approx(162.97466, rel=1e-6)


def test_tube_rate_and_stress():
    """T4, closed form: 30 x 3 tube, L 800, G 79.3 GPa, 300 N·m."""
    s = Spring.of(Spec(kind="tube", outer=30, wall=3, length=800, shear_modulus=79_300))
    assert s.rate * np.pi / 180 == pytest.approx(81.225395, rel=1e-6)
    assert 300 / s.rate * s.stress_mpa_per_rad == pytest.approx(95.847602, rel=1e-6)


def test_leaf_pack_rate_and_bounds():
    """T5 (free), T6 (stress by twist), T15 and T16 (bounds): closed forms, 3-D elastic model within 1 and 3
    %."""
    s = Spring.of(
        Spec(kind="leaf-pack", leaves=5, leaf_width=30, leaf_thickness=3, length=500, shear_modulus=80_000)
    )
    assert s.rate == pytest.approx(202.38662, rel=1e-6)
    one = Spring.of(
        Spec(kind="leaf-pack", leaves=1, leaf_width=40, leaf_thickness=3, length=600, shear_modulus=79_300)
    )
    assert np.radians(30) * one.stress_mpa_per_rad == pytest.approx(207.60691, rel=1e-6)
    four = Spring.of(
        Spec(kind="leaf-pack", leaves=4, leaf_width=40, leaf_thickness=5, length=400, shear_modulus=79_300)
    )
    assert four.rate == pytest.approx(1217.5443, rel=1e-6)
    assert four.rate_clamped / four.rate == pytest.approx(1.0509454, rel=1e-5)
    assert four.rate_held - four.rate_clamped == pytest.approx(128.75, rel=1e-5)


# wheel rate: check rows K6, K7, K14, K18, K19, V5, V11


def test_trailing_arm_on_a_torsion_spring():
    """K6, closed form: force and both terms of the rate at arm angles of -10, 0, 10 deg."""
    m = Mechanism(trailing(400))
    c = Preload.for_weight(rotary(1500), m, 2500.0).curves(m.at(400 * np.sin(np.radians([-10, 0, 10]))))
    assert c.wheel_force_n == pytest.approx([1873.9714, 2500, 3203.1617], rel=1e-6)
    assert c.wheel_rate_n_per_mm == pytest.approx([8.8276572, 9.375, 11.100272], rel=1e-6)
    assert c.rate_spring_n_per_mm == pytest.approx([9.66648, 9.375, 9.66648], rel=1e-6)
    assert c.rate_geometry_n_per_mm == pytest.approx([-0.83882289, 0, 1.4337921], rel=1e-6, abs=1e-9)


def test_coil_over_rate():
    """K7, closed form: k 60 N/mm, ratio 0.62 rising 0.0015 per mm, 3200 N."""
    one = np.array([0.0])
    pose = Spec(
        damper_mm=one + 300,
        ddamper_dz=one - 0.62,
        d2damper_dz2=one - 0.0015,
        damper_moment_arm_mm=one + 60,
        rod_moment_arm_mm=one + 80,
    )
    c = Preload(Spring("coil-over", 60.0), -1.0, 3200.0, 300.0).curves(pose)
    assert c.wheel_rate_n_per_mm == pytest.approx([27.864], rel=1e-9)
    assert c.rate_spring_n_per_mm == pytest.approx([23.064], rel=1e-9)
    assert c.rod_force_n * 80 == pytest.approx([3200 * 60])


def test_ride_frequency():
    assert frequency_hz(22, 170) == pytest.approx(1.8105354, rel=1e-7)  # K14, closed form


ROWS = [  # K18, K19: scipy loop closure with 4th-order differences
    (
        PUSH,
        350,
        2400,
        260.79272,
        [1239.327, 1806.656, 2400, 3072.8719, 3894.9891],
        [28.623709, 28.583682, 31.180036, 36.664282, 46.481043],
        [-2.4423951, -0.99174284, 1.5385751, 5.5434767, 12.167147],
        1.4907309,
    ),
    (
        PULL,
        380,
        2600,
        310.74529,
        [1685.6647, 2178.7984, 2600, 2987.1586, 3365.505],
        [27.386663, 22.459792, 19.963526, 18.956639, 19.044688],
        [-7.7994376, -7.5151992, -6.6388968, -5.4286512, -3.9316356],
        0.95397418,
    ),
]


@pytest.mark.parametrize(
    ("points", "rate", "weight", "torque", "force", "wheel", "geometry", "rise"), ROWS, ids=["K18", "K19"]
)
def test_torsion_pack_on_a_full_corner(points, rate, weight, torque, force, wheel, geometry, rise):
    m = Mechanism(points)
    preload = Preload.for_weight(rotary(rate), m, weight)
    c = preload.curves(m.at([-40, -20, 0, 20, 40]))
    assert preload.ride == pytest.approx(torque, rel=1e-6)
    assert c.wheel_force_n == pytest.approx(force, rel=1e-6)
    assert c.wheel_rate_n_per_mm == pytest.approx(wheel, rel=1e-5)
    assert c.rate_geometry_n_per_mm == pytest.approx(geometry, rel=1e-4)
    assert c.wheel_rate_n_per_mm[-1] / c.wheel_rate_n_per_mm[2] == pytest.approx(rise, rel=1e-5)


@pytest.mark.parametrize(("step_deg", "shift"), [(0.6, -4.2034373), (3, -21.312647), (6, -43.374898)])
def test_winding_the_spring_up(step_deg, shift):
    """V5, closed form with a root find: ride height of a trailing arm by clock steps at constant wheel
    load."""
    m = Mechanism(trailing(400))
    preload = Preload.for_weight(rotary(1500), m, 2500.0)
    assert settle_mm(preload, m, 2500.0, np.radians(step_deg)) == pytest.approx(shift, abs=1e-6)


def test_lengthening_the_rod():
    """V11: scipy loop closure, rod -1 and +1 mm with the rocker held."""
    assert rod_length_shifts_mm(Mechanism(PULL), [-1, 1]) == pytest.approx([-1.8347175, 1.8431877], abs=1e-6)
    assert rod_length_shifts_mm(Mechanism(PUSH), [-1, 1]) == pytest.approx([1.5678649, -1.5694094], abs=1e-6)


# properties


@pytest.mark.parametrize("points", [PUSH, PULL, PULL.changed(rod_on="upright")])
@pytest.mark.parametrize("spring", [rotary(350.0), Spring("coil-over", 45.0)])
def test_rate_is_force_by_travel_and_force_is_energy_by_travel(points, spring):
    """Wheel rate = dF/dz and F = dU/dz, 4th-order differences over 1 mm; U = K·deflection²/2."""
    m, z = Mechanism(points), np.linspace(-40, 40, 9)
    p = Preload.for_weight(spring, m, 2000.0)

    def by_travel(f):
        return (f(z - 2) - 8 * f(z - 1) + 8 * f(z + 1) - f(z + 2)) / 12

    def energy(z):
        c = p.curves(m.at(z))
        return spring.rate / 2 * (c.compression_mm**2 if spring.linear else c.twist_rad**2 * 1000)

    c = p.curves(m.at(z))
    assert by_travel(lambda z: p.curves(m.at(z)).wheel_force_n) == pytest.approx(
        c.wheel_rate_n_per_mm, rel=1e-6
    )
    assert by_travel(energy) == pytest.approx(c.wheel_force_n, rel=1e-7)


# trade notes, section 6: a plain rigid-link solution made apart from the library, with its stated tolerances
DEMOS = {
    "heronbank-front": dict(
        f=1.77,
        rate=(11.7, 11.4, 15.6),
        twist=(11.2, 26.5, 45.2),
        stress=(245, 417),
        rise=37,
        damper=(277.0, 258.8, 236.1),
        droop=-65,
    ),
    "corrie-rear": dict(
        f=1.60,
        rate=(None, 13.5, None),
        force=(1250, 2870, 4550),
        rise=None,
        damper=(331.9, 305.0, 277.0),
        droop=-69,
    ),
    "tarnside-front": dict(
        f=2.27,
        rate=(13.9, 16.5, 27.9),
        twist=(1.8, 23.6, 49.8),
        stress=(236, 498),
        rise=69,
        damper=(249.9, 223.5, 196.0),
        droop=-60,
        slack=-54,
    ),
}


@pytest.mark.parametrize("name", DEMOS)
def test_demo_figures(name):
    """Loose outside check: lengths ±0.3 mm, angles ±0.1 deg, frequency ±2 %, end rates ±5 %."""
    job, want = load(JOBS / f"{name}.toml"), DEMOS[name]
    m = Mechanism(HardPoints.of(job))
    s = springing(job, m)
    ride = int(np.argmin(abs(s.wheel_mm)))
    ends = [0, ride, -1]
    assert s.wheel_mm[ends].tolist() == [-job.corner.droop, 0, job.corner.bump]
    assert np.diff(s.wheel_mm).max() <= 1
    assert s.ride_frequency_hz == pytest.approx(want["f"], rel=0.02)
    for got, expected, rel in zip(
        s.curves.wheel_rate_n_per_mm[ends], want["rate"], (0.05, 0.02, 0.05), strict=True
    ):
        assert expected is None or got == pytest.approx(expected, rel=rel)
    assert s.poses.damper_mm[ends] == pytest.approx(want["damper"], abs=0.3)
    assert s.ends.damper_longest_mm[0] == pytest.approx(want["droop"], abs=0.7)
    if "twist" in want:
        assert [s.twist_deg[k] for k in ("droop", "ride", "bump")] == pytest.approx(want["twist"], abs=0.1)
        assert [s.stress_mpa[k] for k in ("ride", "bump")] == pytest.approx(want["stress"], rel=0.01)
        slack = s.mechanism.at(s.slack_wheel_mm)
        assert np.degrees(slack.rocker_rad) == pytest.approx(s.slack_rocker_deg, abs=1e-9)
    else:
        assert s.curves.force_n[ends] == pytest.approx(want["force"], rel=0.005)
    if "slack" in want:
        assert s.slack_wheel_mm == pytest.approx(want["slack"], abs=0.5)
    pull = job.rod.kind == "pull"
    assert (np.sign(s.curves.rod_force_n) == (1 if pull else -1)).all()
    beyond = s.preload.curves(m.at([s.slack_wheel_mm + 0.1, s.slack_wheel_mm - 0.1])).rod_force_n
    assert np.sign(beyond).tolist() == (
        [1, -1] if pull else [-1, 1]
    )  # the rod's force changes sign where the spring is slack


def test_ride_force_carries_the_sprung_weight():
    """Only the sprung weight rests on the spring, whatever the rate."""
    job = load(JOBS / "heronbank-front.toml")
    m = Mechanism(HardPoints.of(job))
    s = springing(job, m)
    ride = int(np.argmin(abs(s.wheel_mm)))
    assert s.curves.wheel_force_n[ride] == pytest.approx((118 - 26) * 9.80665, rel=1e-12)
    stiffer = replace(s.spring, rate=2 * s.spring.rate)
    assert Preload.for_weight(stiffer, m, (118 - 26) * 9.80665).ride == pytest.approx(
        s.preload.ride, rel=1e-12
    )


def test_a_coil_that_would_be_stretched_is_refused():
    with pytest.raises(ValueError, match="lengthens"):
        Preload.for_weight(
            Spring("coil-over", 60.0), Mechanism(PULL.changed(damper_chassis=(-10, 320, 60))), 2000.0
        )
