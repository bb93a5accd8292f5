"""Bug: over a slice of travel thinner than the search's own cells, with the rack free, the ends of a short
gap were sought for ever."""

import demos

from assemblies.clearance import Limits, check
from assemblies.layout import bodies as neighbours


def test_a_thin_slice_of_travel_is_searched_in_few_questions():
    done = demos.corner("tarnside-front")
    names = {"tie_rod", "wheel"}
    bodies = [b for b in neighbours.bodies(done.layout) if b.name in names]
    joints = [j for j in neighbours.joints(done.layout) if {j.a, j.b} == names]
    report = check(bodies, done.mechanism, (54.997, 54.999), 36.0, joints, Limits(tyre=20.0), 0.2)
    (pair,) = report.pairs
    assert pair.gap_mm < 20 and pair.found_gap_mm - pair.gap_mm <= 0.2
    assert pair.under_mm is not None and pair.under_mm[1] <= 54.999 + 1e-9
    assert report.queries < 3000
