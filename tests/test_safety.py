"""The job's safety factor comes in at one place, and every demand follows it but those that say why not."""

from pathlib import Path

import demos
import pytest

from assemblies.strength import strength

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
# use is no straight line of the force: a square, a strut that bows, a limit of its own sum
BENT = (
    "bending and shear of the bolt",
    "bowed strut, tube",
    "bowed strut, stem",
    "strut or tie with bending",
)


@pytest.mark.parametrize("demo", ["heronbank-front", "corrie-rear", "tarnside-front"])
def test_twice_the_safety_is_twice_every_demand_but_those_of_service(demo):
    """On the same parts: each row by its item and check."""
    done = demos.corner(demo)
    double = done.job.changed({"loads.safety": 2 * done.job.loads.safety})
    once, twice = (
        {(c.item, c.check): c for c in strength(j, done.mechanism, done.springing, done.layout).checks}
        for j in (done.job, double)
    )
    assert once.keys() == twice.keys() and len(once) > 100
    for key, row in once.items():
        if row.service:
            assert twice[key].demand == row.demand, key
        elif row.check in BENT:
            assert twice[key].demand >= 2 * row.demand * (1 - 1e-9), key
        else:
            assert twice[key].demand == pytest.approx(2 * row.demand, rel=1e-9), key
    service = {c.check for c in once.values() if c.service}
    assert {c for c in service if not c.startswith("fatigue") and not c.endswith("at class preload")} <= {
        "bearing in service",
        "contact in service",
        "shear at the greatest twist",
        "leaves' edges at the sockets' mouths",
        "pressure of the bush",
    }
    assert sum(c.startswith("fatigue") for c in service) >= 3
