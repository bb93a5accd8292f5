# ruff: noqa: RUF005
"""Sound corners drawn at random from how such cars are laid out, for the sense check: it must leave them
alone.

Wheel, kingpin, arms, rack and rocker are put together in the order in which a builder chooses them, each from
a
range of common practice; a tape's error goes over every point."""

import copy
import math
import tomllib

import numpy as np

from assemblies.job import STARTER

_BASE = tomllib.loads(STARTER.read_text(encoding="utf-8"))


def sound(seed: int, tape_mm: float = 1.0) -> dict:
    """Tables of a job. Front or rear, left or right, push or pull, on an arm or the upright, rocker along or
    across the car."""
    rng = np.random.default_rng(seed)
    u, pick = rng.uniform, rng.choice
    radius, x0 = u(220, 340), float(pick([0.0, u(-1300, 2400)]))
    centre = np.array([x0, u(500, 820), radius])
    contact = np.array([x0, centre[1] + u(-2, 10), 0.0])
    lower = centre + [u(-3, 12), -u(25, 90), -radius * u(0.32, 0.55)]
    tall, lean, caster = radius * u(0.65, 0.95), math.radians(u(3, 14)), math.radians(u(0, 9))
    upper = lower + [-tall * math.tan(caster), -tall * math.tan(lean), tall]
    points = {"wheel.centre": centre, "wheel.contact": contact}
    for name, joint, wide in (("lower_arm", lower, u(260, 430)), ("upper_arm", upper, u(210, 340))):
        slope, inner = u(-0.14, 0.14), max(90.0, joint[1] - wide)
        wide = joint[1] - inner
        ahead, behind = u(70, 210), u(80, 230)
        tilt, turn = u(-12, 12), u(-30, 30)
        at = [joint[0], inner, joint[2] - slope * wide]
        points[f"{name}.front_pivot"] = np.add(at, [ahead, turn / 2, tilt / 2])
        points[f"{name}.rear_pivot"] = np.add(at, [-behind, -turn / 2, -tilt / 2])
        points[f"{name}.outer_joint"] = joint
    share, ahead = u(0.05, 0.9), float(pick([-1, 1])) * u(65, 130)
    outer = lower + share * (upper - lower) + [ahead, -u(-10, 40), 0.0]
    low, high = (points[f"{a}.front_pivot"] for a in ("lower_arm", "upper_arm"))
    inner_y = low[1] + share * (high[1] - low[1]) + u(-40, 40)
    inner = np.array([outer[0] + u(-25, 25), inner_y, outer[2] + u(-0.1, 0.1) * (outer[1] - inner_y)])
    points |= {"tie_rod.inner": inner, "tie_rod.outer": outer}

    on = str(pick(["upper_arm", "lower_arm", "upright"]))
    pull = on == "upper_arm"
    joint = upper if pull else lower
    hinge = (
        points[f"{'upper' if pull else 'lower'}_arm.front_pivot"]
        + points[f"{'upper' if pull else 'lower'}_arm.rear_pivot"]
    ) / 2
    along = u(0.6, 0.95)
    outboard = hinge + along * (joint - hinge) + [u(-12, 12), 0.0, u(-8, 18)]
    outboard[0] = hinge[0] + along * (joint[0] - hinge[0]) + u(-12, 12)
    if on == "upright":
        outboard = lower + [u(-15, 15), -u(15, 45), u(15, 50)]
    rise, reach = u(120, 300) * (-1 if pull else 1), u(170, 330)
    inboard = outboard + [u(-30, 30), -min(reach, outboard[1] - 110), rise]
    inboard[2] = max(inboard[2], 90.0)
    line = (outboard - inboard) / np.linalg.norm(outboard - inboard)
    axis = np.array([1.0, u(-0.15, 0.15), u(-0.15, 0.15)]) if rng.random() < 0.7 else rng.normal(size=3)
    axis -= (axis @ line) * line
    axis /= np.linalg.norm(axis)
    axis += math.tan(math.radians(u(-12, 12))) * line  # as far as rod ends tilt
    axis /= np.linalg.norm(axis)
    square = np.cross(axis, line)
    arm, far = u(55, 105), u(50, 100)
    turn = math.radians(u(60, 120))
    away = math.cos(turn) * (line - (line @ axis) * axis) + math.sin(turn) * square * float(pick([-1, 1]))
    away /= np.linalg.norm(away)
    pivot = inboard - arm * away
    swing = math.radians(u(60, 130)) * float(pick([-1, 1]))
    eye = pivot + far * (math.cos(swing) * away + math.sin(swing) * np.cross(axis, away))
    out = (eye - pivot) / far
    stroke, share = u(50, 90), u(0.35, 0.65)
    long = u(200, 330)
    best = max(
        (eye + long * s * np.cross(axis, out) for s in (-1, 1)),
        key=lambda c: min(c[1], 60.0) + min(c[2], 120.0),
    )
    points |= {
        "rod.outboard": outboard,
        "rod.inboard": inboard,
        "rocker.pivot": pivot,
        "rocker.damper_eye": eye,
        "damper.chassis_eye": best,
    }
    if (
        best[1] > centre[1] - 150
        or best[1] < -40
        or best[2] < 70
        or pivot[1] < 0
        or pivot[2] < 80
        or eye[2] < 60
    ):  # no room for it in a car
        return sound(seed + 100_000, tape_mm)
    side = float(pick([-1, 1]))
    job = copy.deepcopy(_BASE)
    job["corner"]["side"] = "left" if side > 0 else "right"
    for key, p in points.items():
        table, name = key.split(".")
        p = p * [1, side, 1] + (rng.normal(0, tape_mm / 2, 3) if key != "wheel.contact" else 0.0)
        job[table][name] = [round(float(v), 1) + 0.0 for v in p]
    job["rocker"]["axis"] = [round(float(v), 5) for v in axis * ([1, 1, 1] if side > 0 else [-1, 1, -1])]
    job["rod"] |= {"on": on, "kind": "pull" if pull else "push"}
    job["damper"] |= {
        "shortest": round(long - share * stroke, 1),
        "longest": round(long + (1 - share) * stroke, 1),
    }
    job["spring"]["towards"] = ("rear", "inboard", "down")[int(np.argmax(abs(axis)))]
    return job
