"""Load cases: the kerb's closed form, the usual set, the job's own tables, their errors, the mirror image."""

from pathlib import Path

import pytest

from assemblies.job import JobError, load
from assemblies.motion.mechanism import HardPoints, Mechanism
from assemblies.strength.load_cases import LoadCase, kerb_direction, load_cases, scrub_torque_nm
from assemblies.strength.loads import loads

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
G = 9.80665


def job(name="heronbank-front", **changes):
    return load(JOBS / f"{name}.toml").changed({k.replace("__", "."): v for k, v in changes.items()})


def by_name(j):
    return {c.name: c for c in load_cases(j)}


@pytest.mark.parametrize(
    ("step", "horizontal", "contact"), [(56, 1200.0, 2000.0), (84, 1632.3265, 2285.7143)]
)
def test_kerb_lifts_a_wheel_off(step, horizontal, contact):
    """Check rows N5 and N6, closed form: wheel of 280 mm radius, 1600 N on it, held by the step's edge
    alone."""
    across, up = kerb_direction(step, 280)
    assert 1600 / up == pytest.approx(contact, rel=1e-7)
    assert 1600 * across / up == pytest.approx(horizontal, rel=1e-7)


def test_a_kerb_as_high_as_the_wheel_is_refused():
    with pytest.raises(ValueError, match=r"kerb_step is 280 mm.*280 mm radius"):
        kerb_direction(280, 280)
    with pytest.raises(ValueError, match="kerb_step"):
        load_cases(job(loads__kerb_step=300))


def test_kerb_strike_puts_no_torque_about_the_axle():
    """The force acts through the wheel's centre."""
    assert by_name(job())["kerb strike"].at == "wheel_centre"


def test_bump_static_and_droop_are_the_given_factors_times_the_corners_weight():
    """Row N4: the factors are inputs; what is given is what is used. A fall starts at full droop: bump
    holds at every height."""
    w = 118 * G
    c = by_name(job(loads__vertical_g=2.5))
    assert c["static"].force_n == pytest.approx((0, 0, w))
    assert c["bump"].force_n == pytest.approx((0, 0, 2.5 * w))
    assert c["bump"].travel_mm is None and c["kerb strike"].travel_mm is None
    assert c["droop stop"].force_n == pytest.approx((0, 0, -3 * 26 * G))
    assert c["droop stop"].travel_mm == (-45, -45)
    assert {n for n, x in c.items() if x.rare} == {"bump", "kerb strike", "sideways kerb", "droop stop"}


def test_full_lock_only_where_there_is_a_rack():
    assert [c.name for c in load_cases(job()) if c.full_lock] == [
        "full lock, wheel scrubbed left",
        "full lock, wheel scrubbed right",
    ]
    assert not any(c.full_lock for c in load_cases(job("corrie-rear")))


def test_scrub_torque_lies_under_a_sliding_disc():
    """A disc of uniform pressure p with radius √(W/(π·p)) turned on the spot: 2/3·μ·W·r, closed form."""
    for w, p in ((1200, 2e5), (5000, 3e5)):
        disc = 2 / 3 * 0.9 * w * (w / 3.141592653589793 / p) ** 0.5
        assert scrub_torque_nm(w, 0.9, p) == pytest.approx(disc * 0.886227, rel=1e-5)


def test_a_table_of_the_job_replaces_or_adds():
    own = [
        {"name": "bump", "g": [0, 0, 4], "travel": [0, 30]},
        {"name": "reverse", "force": [900, 0, 1000], "moment": [0, 0, 50]},
    ]
    c = by_name(job(load_case=own))
    assert c["bump"].force_n == pytest.approx((0, 0, 4 * 118 * G))
    assert c["bump"].travel_mm == (0, 30)
    assert c["reverse"].moment_nm == (0, 0, 50)
    assert "braking" in c
    assert list(by_name(job(load_case=own, loads__usual_cases=False))) == ["bump", "reverse"]


@pytest.mark.parametrize(
    ("case", "said"),
    [
        ({"name": "a"}, "g: missing, and so is force"),
        ({"name": "a", "g": [0, 0, 1], "force": [0, 0, 1]}, "g: is given, and so is force"),
        ({"name": "a", "g": [0, 0]}, "must be 3 numbers"),
        ({"name": "a", "g": [0, 0, 1], "at": "hub"}, 'must be one of "contact", "wheel_centre"'),
        ({"name": "a", "g": [0, 0, 1], "travel": [20, -20]}, "from the lower wheel height"),
        ({"name": "a", "g": [0, 0, 1], "speed": 3}, "unknown key"),
    ],
)
def test_a_wrong_table_is_told(case, said):
    with pytest.raises(JobError, match=said):
        job(load_case=[case])


def test_no_case_at_all_is_told():
    with pytest.raises(ValueError, match="usual_cases is false"):
        load_cases(job(loads__usual_cases=False))


def test_the_mirrored_corner_has_the_mirrored_forces():
    """Reflection in y = 0: forces turn their y, moments (axial vectors) their x and z; every joint force
    follows."""
    own = [{"name": "own", "force": [300, -700, 2000], "moment": [20, 30, 40]}]
    left = job(load_case=own)
    right = left.mirrored()
    assert right.mirrored() == left
    for a, b in zip(load_cases(left), load_cases(right), strict=True):
        if "scrubbed" in a.name:
            continue
        fa, fb = (
            loads(Mechanism(HardPoints.of(j)).at([-20.0, 30.0]), [c]) for j, c in ((left, a), (right, b))
        )
        assert fb.rod_n == pytest.approx(fa.rod_n, rel=1e-9)
        assert fb.tie_rod_n == pytest.approx(fa.tie_rod_n, rel=1e-7, abs=1e-6)
        assert fb.upper_joint_n == pytest.approx(fa.upper_joint_n * [1, -1, 1], rel=1e-8, abs=1e-6)


def test_bad_cases_are_told():
    with pytest.raises(ValueError, match="lower wheel height"):
        LoadCase("x", (0, 0, 1), travel_mm=(10, 0))
    with pytest.raises(ValueError, match="moment_nm"):
        LoadCase("x", (0, 0, 1), moment_nm=(0, 1))
