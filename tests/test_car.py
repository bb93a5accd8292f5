"""The car a corner belongs to: what is worked out, what is assumed, what is refused."""

import pytest

from assemblies.job import JobError, load
from assemblies.job.job import STARTER


def car(**changes):
    return load(STARTER).changed({f"car.{k}": v for k, v in changes.items()}).car


def test_everything_follows_from_the_corner_where_nothing_is_given():
    c = car()
    assert (c.axle, c.driven, c.mass, c.track, c.other_track) == ("front", False, 440, 1554, 1554)
    assert c.cg_from_front == pytest.approx(c.wheelbase / 2)
    assert c.brake_share is None and c.other_roll_rate is None
    told = {a.key for a in load(STARTER).assumed}
    assert {"car.mass", "car.wheelbase", "car.cg_height", "car.other_roll_rate"} <= told


def test_mass_and_centre_of_gravity_are_one_truth_with_the_corner():
    """Check row N1: 620 kg, wheelbase 2250, 1080 behind the front axle: 161.2 kg on a front wheel, 148.8 on a
    rear one."""
    job = load(STARTER)
    n1 = {"car.mass": 620, "car.wheelbase": 2250}
    front = job.changed({**n1, "corner.corner_mass": 3161.664 / 2 / 9.80665}).car
    assert front.cg_from_front == pytest.approx(1080, rel=1e-6)
    rear = job.changed({**n1, "corner.corner_mass": 2918.459 / 2 / 9.80665, "car.axle": "rear"}).car
    assert rear.cg_from_front == pytest.approx(1080, rel=1e-6) and rear.driven
    by_cg = job.changed({"car.cg_from_front": 1080, "corner.corner_mass": 161.2}).car
    assert by_cg.mass == pytest.approx(620)


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"mass": 200}, "twice corner.corner_mass"),
        ({"cg_from_front": 2250}, "less than car.wheelbase"),
        ({"mass": 440, "cg_from_front": 300}, "must be within"),
        ({"mass": float("nan")}, "finite"),
        ({"brake_share": 65}, "0 to 1"),
        ({"axle": "middle"}, '"front", "rear"'),
        ({"trak": 1400}, "did you mean 'track'"),
    ],
)
def test_a_car_that_cannot_be_is_one_clear_error(changes, said):
    with pytest.raises(JobError, match=said) as e:
        car(**changes)
    assert len(e.value.problems) == 1
