"""Advice is tried before it is given: the value that is printed, put into the job, gives what is printed."""

import re

import numpy as np
import pytest

from assemblies.job import STARTER, load
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.mechanism import Mechanism
from assemblies.motion.springing import springing
from assemblies.study.verdict import verdict


def worked(job):
    return springing(job, Mechanism(HardPoints.of(job)))


@pytest.fixture(scope="module")
def falling():
    """The starter, a pull rod, with its rod arm turned until the wheel rate falls in bump."""
    job = load(STARTER)
    pivot, arm = np.array(job.rocker.pivot), np.subtract(job.rod.inboard, job.rocker.pivot)
    for deg in range(-40, 41, 4):
        c, s = np.cos(np.radians(deg)), np.sin(np.radians(deg))
        turned = pivot + np.array([arm[0], c * arm[1] - s * arm[2], s * arm[1] + c * arm[2]])
        tried = job.changed({"rod.inboard": [round(float(v), 1) for v in turned]})
        rise = worked(tried).rise_percent
        if -30 < rise < -3:
            return tried
    raise AssertionError("no turn makes it fall")


def test_a_falling_rate_is_told_with_a_point_that_mends_it(falling):
    before = worked(falling)
    (text,) = [f.text for f in verdict(falling, before) if f.code == "falling-rate"]
    point, said = re.search(r"rod\.inboard = (\[.*?\]) gives ([+-]\d+) %", text).groups()
    after = worked(falling.changed({"rod.inboard": [float(v) for v in point[1:-1].split(",")]}))
    assert f"{after.rise_percent:+.0f}" == said
    assert after.rise_percent > before.rise_percent
