"""Do the measured points make sense as a car's corner? What a slip of the pen looks like, and what it was
meant
to be.

Some seventy measures of the corner (a kingpin's lean, a steering arm's length, how far the damper's eye
stands out
of the rocker's plane ...) have each a range that cars keep; the ranges are common practice, wide on purpose.
A
corner that keeps them all is left alone. Where one is broken, the usual slips are undone one at a time (a
sign, a
decimal place, inches, two coordinates or two points swapped), and the one that brings all measures back is
named,
with the value it would give. One slip, one suspicion.

A point that truly is so goes into `corner.as_measured`, and is not doubted again.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from parts.base.frozen import dataclass

POINTS = (
    "wheel.centre",
    "wheel.contact",
    "upper_arm.front_pivot",
    "upper_arm.rear_pivot",
    "upper_arm.outer_joint",
    "lower_arm.front_pivot",
    "lower_arm.rear_pivot",
    "lower_arm.outer_joint",
    "tie_rod.inner",
    "tie_rod.outer",
    "rod.outboard",
    "rod.inboard",
    "rocker.pivot",
    "rocker.damper_eye",
    "damper.chassis_eye",
)
PAIRS = (
    ("upper_arm.front_pivot", "upper_arm.rear_pivot"),
    ("lower_arm.front_pivot", "lower_arm.rear_pivot"),
    ("tie_rod.inner", "tie_rod.outer"),
    ("rod.outboard", "rod.inboard"),
    ("rocker.pivot", "rod.inboard"),
    ("rocker.pivot", "rocker.damper_eye"),
    ("rocker.damper_eye", "damper.chassis_eye"),
    ("rod.inboard", "rocker.damper_eye"),
    ("wheel.centre", "wheel.contact"),
    ("upper_arm.outer_joint", "lower_arm.outer_joint"),
    ("upper_arm.outer_joint", "rod.outboard"),
    ("lower_arm.outer_joint", "tie_rod.outer"),
)
AXES = "xyz"
NEEDED = (*POINTS, "corner.side", "rocker.axis", "rod.on", "damper.shortest", "damper.longest")
SIZES = {  # least and most that such cars have, common practice, wide on purpose
    "wheel.rim_diameter": (230.0, 580.0, "mm"),
    "wheel.tyre_radius": (170.0, 450.0, "mm"),
    "wheel.tyre_width": (90.0, 420.0, "mm"),
    "corner.corner_mass": (30.0, 900.0, "kg"),
    "corner.unsprung_mass": (5.0, 120.0, "kg"),
    "upper_arm.tube_diameter": (10.0, 80.0, "mm"),
    "lower_arm.tube_diameter": (10.0, 80.0, "mm"),
    "tie_rod.diameter": (8.0, 60.0, "mm"),
    "rod.diameter": (8.0, 60.0, "mm"),
    "rocker.plate_thickness": (1.0, 16.0, "mm"),
    "spring.leaf_thickness": (0.8, 20.0, "mm"),
    "spring.leaf_width": (8.0, 150.0, "mm"),
    "damper.body_diameter": (20.0, 110.0, "mm"),
    "damper.shaft_diameter": (6.0, 40.0, "mm"),
}
MIDDLE, TYPICAL = (
    0.02,
    0.35,
)  # weight of a measure's place within its range, and what sound corners have of it
ALIKE = 0.1  # costs so near to each other tell nothing apart
SMALL_MM = 8.0  # a change of less is within measuring a mock-up: no slip can be told from it


@dataclass(frozen=True)
class Suspicion:
    """What is odd about `keys`; `likely`: the slip it looks like and the values then meant, at times two that
    the
    points cannot tell apart, none where no usual slip explains it."""

    keys: tuple[str, ...]
    said: str
    likely: tuple[tuple[str, dict[str, str]], ...]

    @property
    def looks(self) -> str:
        """Which slip, and the values it would be then."""
        if not self.likely:
            return "measure again"
        meant = (f"{slip}: {' and '.join(f'{k} = {v}' for k, v in m.items())}" for slip, m in self.likely)
        return f"looks like {', or '.join(meant)}"

    @property
    def cure(self) -> str:
        names = ", ".join(f'"{k}"' for k in self.keys)
        return f"{self.looks}; if it is truly so, write corner.as_measured = [{names}]"


class Odd(NamedTuple):
    """A measure out of the range that cars keep; `off` grows with the distance, from 1 at the range's
    edge."""

    name: str
    value: float
    low: float
    high: float
    keys: tuple[str, ...]

    @property
    def off(self) -> float:
        if self.low <= self.value <= self.high:
            return 0.0
        out = self.low - self.value if self.value < self.low else self.value - self.high
        return min(1.0 + 10.0 * out / (self.high - self.low), 30.0)

    def __str__(self) -> str:
        return f"{self.name} is {self.value:.4g}; cars have {self.low:.4g} to {self.high:.4g}"


def suspicions(seen: Mapping[str, Any]) -> list[Suspicion]:
    """What looks like a slip: in the hard points none or one, in the sizes one a size. `seen` holds the
    values of
    a job by key ("rod.inboard"). What `corner.as_measured` names is not doubted."""
    return [*_points(seen), *_sizes(seen)]


def of(job) -> dict[str, Any]:
    """The values of a job that are looked at, by key."""
    keys = (*NEEDED, *SIZES, "corner.as_measured")
    return {k: getattr(getattr(job, k.partition(".")[0]), k.partition(".")[2], None) for k in keys}


def _sizes(seen: Mapping[str, Any]) -> Iterator[Suspicion]:
    sure = seen.get("corner.as_measured") or ()
    for key, (low, high, unit) in SIZES.items():
        v = seen.get(key)
        if v is None or key in sure or low <= v <= high:
            continue
        if key == "wheel.tyre_radius" and not _own_radius(seen):
            continue
        ways = [("a decimal place", 0.1), ("a decimal place", 10.0)]
        ways += [("inches", 25.4), ("inches turned to mm twice", 1 / 25.4)] if unit == "mm" else []
        likely = [(slip, {key: f"{v * f:.6g}"}) for slip, f in ways if low <= v * f <= high]
        yield Suspicion((key,), f"is {v:.6g} {unit}; cars have {low:g} to {high:g} {unit}", tuple(likely))


def _own_radius(seen: Mapping[str, Any]) -> bool:
    """Whether the tyre's radius was measured, not taken from the wheel's points."""
    centre, contact, radius = (seen.get(f"wheel.{k}") for k in ("centre", "contact", "tyre_radius"))
    if centre is None or contact is None or radius is None:
        return False
    return abs(centre[2] - contact[2] - radius) > 1e-9


def _points(seen: Mapping[str, Any]) -> list[Suspicion]:
    if any(seen.get(key) is None for key in NEEDED) or not any(seen["rocker.axis"]):
        return []
    with np.errstate(all="ignore"):
        return _looked_at(seen)


def _looked_at(seen: Mapping[str, Any]) -> list[Suspicion]:
    side = 1.0 if seen["corner.side"] == "left" else -1.0
    sure = set(seen.get("corner.as_measured") or ())
    given = {key: np.array(seen[key], float) for key in (*POINTS, "rocker.axis")}
    corner = _Corner(seen, given, side, sure)
    before = [o for o in corner.odd if o.off and not sure.issuperset(o.keys)]
    if not before:
        return []
    worst = max(before, key=lambda o: o.off)
    most, tried = min(0.75 * sum(o.off for o in before), 0.99), []
    for slip, meant, odds in _slips(given, sure):
        cost = corner.cost(meant, most - odds + 1e-9) + odds  # what is over by rounding alone is summed whole
        if cost <= most:
            most = min(most, cost + ALIKE)
            tried.append((cost, len(tried), slip, meant))
    likely = sorted((t for t in tried if t[0] <= most), key=lambda t: t[:2])[:2]
    if not likely:
        return [Suspicion(tuple(k for k in worst.keys if k not in sure), str(worst), ())]
    keys = tuple(dict.fromkeys(k for *_, meant in likely for k in meant))
    said = (
        ", ".join(f"{k} is {_text(given[k])}" for k in keys)
        if len(keys) > 1
        else f"is {_text(given[keys[0]])}"
    )
    meant = tuple((slip, {k: _text(v) for k, v in meant.items()}) for *_, slip, meant in likely)
    return [Suspicion(keys, f"{said}; {worst}", meant)]


class _Noted(dict):
    """Points that note which of them were asked for."""

    def __init__(self, points: Mapping[str, np.ndarray]):
        super().__init__(points)
        self.asked: set[str] = set()

    def __getitem__(self, key: str) -> np.ndarray:
        self.asked.add(key)
        return super().__getitem__(key)


class _Corner:
    """A corner as it is given, looked at as on the left. Of a slip undone only those measures are taken anew
    that asked for what it moves."""

    def __init__(self, seen, given: Mapping[str, np.ndarray], side: float, sure: set[str]):
        self.seen, self.given, self.side, self.sure = seen, given, side, sure
        self.groups = [(asked, odd) for asked, odd in self._measured(given) if odd is not None]

    @cached_property
    def costs(self) -> list[list[float]]:
        """Of each group as given: asked for only where something is odd."""
        return [self._costs(odd) for _, odd in self.groups]

    @property
    def odd(self) -> list[Odd]:
        return [o for _, group in self.groups for o in group]

    def _measured(self, given, moved: Collection[str] = ()) -> Iterator[tuple[set[str], list[Odd] | None]]:
        """Each group of measures with the points it asked for; None for one that asks for nothing moved."""
        over = np.array([1.0, self.side, 1.0])
        points = _Noted({key: given[key] * over for key in POINTS})
        corner = CornerMeasures(self.seen, points, given["rocker.axis"] * over * self.side)
        for k, group in enumerate(corner.groups()):
            points.asked = set()
            wanted = not moved or "rocker.axis" in moved or self.groups[k][0] & set(moved)
            yield points.asked, [Odd._make(m) for m in group] if wanted else None

    def _costs(self, odd: Sequence[Odd]) -> list[float]:
        out = []
        for o in odd:
            out.append(min(abs(2 * o.value - o.low - o.high) / (o.high - o.low), 1.0) ** 2 * MIDDLE)
            out.append(0.0 if self.sure.issuperset(o.keys) else o.off)
        return out

    def cost(self, meant: Mapping[str, np.ndarray], most: float) -> float:
        """How odd it is with some values as they were meant: the measures out of range, and a little of how
        far from the middle the others lie. Where that is more than `most`, something more than it."""
        total = -TYPICAL
        for (_, odd), known in zip(self._measured({**self.given, **meant}, meant), self.costs, strict=True):
            for c in known if odd is None else self._costs(odd):
                total += c
            if total > most:
                break
        return total


def _slips(
    given: Mapping[str, np.ndarray], sure: set[str]
) -> Iterator[tuple[str, dict[str, np.ndarray], float]]:
    """Every usual slip undone: its name, the values as they would be, and a little against the rarer ones (a
    sign
    is more easily lost than two points are swapped)."""
    if "wheel.contact" not in sure:
        x, y, _ = given["wheel.contact"]
        yield "a contact off the ground", {"wheel.contact": np.array([x, y, 0.0])}, -0.02
    for key in POINTS:
        if key in sure:
            continue
        p = given[key]
        for i, axis in enumerate(AXES):
            for factor, slip, odds in (
                (-1.0, f"the wrong sign of {axis}", 0.0),
                (0.1, f"a decimal place too many in {axis}", 0.01),
                (10.0, f"a decimal place too few in {axis}", 0.03),
                (1 / 25.4, f"{axis} turned from inches to mm twice", 0.01),
                (25.4, f"{axis} in inches", 0.03),
            ):
                if abs(p[i] * (factor - 1)) >= SMALL_MM:
                    q = p.copy()
                    q[i] *= factor
                    yield slip, {key: q}, odds
        for order in ((1, 0, 2), (2, 1, 0), (0, 2, 1), (1, 2, 0), (2, 0, 1)):
            q = p[list(order)]
            if np.abs(q - p).max() >= SMALL_MM:
                moved = [a for i, a in enumerate(AXES) if order[i] != i]
                yield f"{', '.join(moved[:-1])} and {moved[-1]} swapped", {key: q}, 0.01 * len(moved)
    for pairs in (*((pair,) for pair in PAIRS), PAIRS[:2]):
        swapped = {k: given[other] for a, b in pairs for k, other in ((a, b), (b, a))}
        if not sure & set(swapped):
            yield "points swapped", swapped, 0.03
    hinge = given["rocker.axis"]
    if "rocker.axis" not in sure and abs(hinge[1]) > 0.05 * _size(hinge) < _size(hinge[::2]):
        yield "an axis that was not mirrored with the points", {"rocker.axis": hinge * (-1, 1, -1)}, 0.04


# ------------------------------------------------------------------------------------------------ what
# cars have


class CornerMeasures:
    """The measures of one corner, as on the left: name, value, least and most that cars have, whose
    points."""

    def __init__(self, seen: Mapping[str, Any], points: Mapping[str, np.ndarray], axis: np.ndarray):
        self.seen, self.points, self.axis = seen, points, axis / _size(axis)

    def groups(self) -> Iterator[Iterator[tuple[str, float, float, float, tuple[str, ...]]]]:
        p = self.points
        yield self._wheel(p)
        yield self._upright(p)
        for which in ("upper_arm", "lower_arm"):
            yield self._arm(p, which)
        yield self._steering(p)
        yield self._rod(p)
        yield self._rocker(p)
        yield self._damper(p)

    def _wheel(self, p):
        c, t = p["wheel.centre"], p["wheel.contact"]
        both = ("wheel.contact", "wheel.centre")
        yield "the contact's height over the ground", t[2], -15.0, 15.0, both[:1]
        yield "the contact ahead of the wheel centre", t[0] - c[0], -20.0, 20.0, both
        yield "the contact outboard of the wheel centre", t[1] - c[1], -40.0, 40.0, both
        yield "the wheel centre's height", c[2], 150.0, 450.0, both[1:]
        yield "the wheel centre's distance from the middle of the car", c[1], 380.0, 1150.0, both[1:]

        if _own_radius(self.seen):
            tyre = self.seen["wheel.tyre_radius"]
            keys = ("wheel.centre", "wheel.tyre_radius")
            yield "the wheel centre's height less the tyre's radius", c[2] - t[2] - tyre, -15.0, 15.0, keys

    def _upright(self, p):
        c, u, lo = p["wheel.centre"], p["upper_arm.outer_joint"], p["lower_arm.outer_joint"]
        ku, kl = ("upper_arm.outer_joint", "wheel.centre"), ("lower_arm.outer_joint", "wheel.centre")
        kb = (ku[0], kl[0])
        tall = u[2] - lo[2]
        yield "the upper joint's height over the lower", tall, 110.0, 420.0, kb
        yield "the kingpin's lean inwards, deg", _deg(lo[1] - u[1], tall), -4.0, 22.0, kb
        yield "the caster, deg", _deg(lo[0] - u[0], tall), -6.0, 18.0, kb
        for name, q, keys, least in (("upper", u, ku, 20.0), ("lower", lo, kl, -20.0)):
            yield f"the {name} joint ahead of the wheel centre", q[0] - c[0], -50.0, 50.0, keys
            yield f"the {name} joint inboard of the wheel centre", c[1] - q[1], least - 25.0, 230.0, keys
        yield "the upper joint's height over the wheel centre", u[2] - c[2], 10.0, 280.0, ku
        yield "the lower joint's depth under the wheel centre", c[2] - lo[2], 20.0, 250.0, kl
        yield "the lower joint's height over the ground", lo[2], 60.0, 330.0, kl[:1]

    def _arm(self, p, which):
        a, b, o = (p[f"{which}.{k}"] for k in ("front_pivot", "rear_pivot", "outer_joint"))
        ka, kb, ko = (f"{which}.{k}" for k in ("front_pivot", "rear_pivot", "outer_joint"))
        name = which.replace("_", " ")
        base = a[0] - b[0]
        yield f"the {name}'s front pivot ahead of its rear one", base, 70.0, 650.0, (ka, kb)
        yield f"the {name}'s pivots apart in y", a[1] - b[1], -160.0, 160.0, (ka, kb)
        yield f"the {name}'s pivots apart in height", a[2] - b[2], -50.0, 50.0, (ka, kb)
        yield f"the {name}'s outer joint ahead of its rear pivot", o[0] - b[0], -60.0, 480.0, (kb, ko)
        yield f"the {name}'s outer joint behind its front pivot", a[0] - o[0], -60.0, 480.0, (ka, ko)
        for q, k, end in ((a, ka, "front"), (b, kb, "rear")):
            wide = o[1] - q[1]
            yield f"the {name}'s reach from its {end} pivot, in y", wide, 110.0, 560.0, (k, ko)
            yield f"the {name}'s {end} pivot from the middle of the car", q[1], 60.0, 700.0, (k,)
            yield (
                f"the {name}'s slope from its {end} pivot, deg",
                _deg(o[2] - q[2], wide),
                -17.0,
                17.0,
                (k, ko),
            )

    def _steering(self, p):
        i, o, c = p["tie_rod.inner"], p["tie_rod.outer"], p["wheel.centre"]
        u, lo = p["upper_arm.outer_joint"], p["lower_arm.outer_joint"]
        ki, ko = "tie_rod.inner", "tie_rod.outer"
        share = (o[2] - lo[2]) / (u[2] - lo[2]) if abs(u[2] - lo[2]) > 1 else 0.5
        pin = lo + np.clip(share, -0.5, 1.5) * (u - lo)
        yield "the tie rod's outer end up the kingpin, share of it", share, -0.25, 1.25, (ko,)
        yield "the steering arm's length fore and aft", abs(o[0] - pin[0]), 45.0, 180.0, (ko,)
        yield "the tie rod's outer end inboard of the kingpin", pin[1] - o[1], -60.0, 90.0, (ko,)
        yield "the tie rod's outer end inboard of the wheel centre", c[1] - o[1], -20.0, 240.0, (ko,)
        wide = o[1] - i[1]
        yield "the tie rod's length in y", wide, 140.0, 640.0, (ki, ko)
        yield "the tie rod's slope, deg", _deg(o[2] - i[2], wide), -14.0, 14.0, (ki, ko)
        yield "the tie rod's lean fore and aft, deg", _deg(o[0] - i[0], wide), -20.0, 20.0, (ki, ko)
        yield "the tie rod's inner end from the middle of the car", i[1], 40.0, 600.0, (ki,)
        u_, l_ = (p[f"{w}.front_pivot"] for w in ("upper_arm", "lower_arm"))
        yield "the tie rod's inner end over the lower pivots", i[2] - l_[2], -90.0, 330.0, (ki,)
        inner = (u_[1] - l_[1]) * 0.5 + l_[1]
        yield "the tie rod's inner end inboard of the arms' pivots", inner - i[1], -150.0, 220.0, (ki,)

    def _rod(self, p):
        o, i, on = p["rod.outboard"], p["rod.inboard"], self.seen["rod.on"]
        ko, ki = "rod.outboard", "rod.inboard"
        long = math.dist(o, i)
        yield "the rod's length", long, 130.0, 680.0, (ko, ki)
        yield "the rod's reach inwards", o[1] - i[1], -10.0, 560.0, (ko, ki)
        if on == "upright":
            near = min(math.dist(o, p[f"{w}.outer_joint"]) for w in ("upper_arm", "lower_arm"))
            yield "the rod's outer end from the nearer ball joint", near, 0.0, 160.0, (ko,)
        else:
            a, b, t = (p[f"{on}.{k}"] for k in ("front_pivot", "rear_pivot", "outer_joint"))
            across = (o[1] - (a[1] + b[1]) / 2) / (t[1] - (a[1] + b[1]) / 2 or 1.0)
            hinge = (a + b) / 2
            yield "the rod's outer end along its arm, share of it", across, 0.35, 1.15, (ko,)
            height = o[2] - (hinge[2] + across * (t[2] - hinge[2]))
            yield "the rod's outer end over its arm", height, -50.0, 60.0, (ko,)
            ahead = o[0] - (hinge[0] + across * (t[0] - hinge[0]))
            yield "the rod's outer end ahead of its arm's middle", ahead, -60.0, 60.0, (ko,)
        up = (i[2] - o[2]) * (1.0 if on != "upper_arm" else -1.0)
        if on != "upright":
            yield "the rod's rise away from its arm", up, 40.0, 560.0, (ki, ko)
        yield "the rod's inner end over the ground", i[2], 60.0, 850.0, (ki,)
        yield (
            "the rod's lean fore and aft, deg",
            _deg(i[0] - o[0], math.hypot(*(i - o)[1:])),
            -40.0,
            40.0,
            (ki, ko),
        )

    def _rocker(self, p):
        i, v, d = p["rod.inboard"], p["rocker.pivot"], p["rocker.damper_eye"]
        ki, kv, kd = "rod.inboard", "rocker.pivot", "rocker.damper_eye"
        o = p["rod.outboard"]
        reach = i - v
        flat = reach - (reach @ self.axis) * self.axis
        arm = _size(flat)
        other = d - v
        far = _size(other - (other @ self.axis) * self.axis)
        yield "the rocker's arm to the rod", arm, 30.0, 190.0, (ki, kv)
        yield "the rocker's arm to the damper", far, 25.0, 190.0, (kd, kv)
        yield "the rod's eye out of the rocker's plane", float(reach @ self.axis), -7.0, 7.0, (ki, kv)
        yield "the damper's eye out of the rocker's plane", float(other @ self.axis), -7.0, 7.0, (kd, kv)
        line = (o - i) / math.dist(o, i)
        tilt = math.degrees(math.asin(float(np.clip(line @ self.axis, -1, 1))))
        yield (
            "the rod's lean out of the rocker's plane, deg",
            tilt,
            -20.0,
            20.0,
            (ki, "rod.outboard", "rocker.axis"),
        )
        if arm > 1e-6:
            turn = math.degrees(math.acos(float(np.clip(abs(flat @ line) / arm, 0, 1))))
            yield "the angle between rod and rocker arm, deg", turn, 30.0, 90.0, (ki, kv)
        yield "the rocker's pivot over the ground", v[2], 60.0, 850.0, (kv,)
        yield "the rocker's pivot from the middle of the car", v[1], -20.0, 640.0, (kv,)

    def _damper(self, p):
        e, c, v = p["rocker.damper_eye"], p["damper.chassis_eye"], p["rocker.pivot"]
        ke, kc = "rocker.damper_eye", "damper.chassis_eye"
        shortest, longest = self.seen["damper.shortest"], self.seen["damper.longest"]
        long = math.dist(c, e)
        yield "the damper's length at ride height", long, shortest - 1e-6, longest + 1e-6, (kc, ke)
        tilt = math.degrees(math.asin(float(np.clip((c - e) @ self.axis / (long or 1.0), -1, 1))))
        yield "the damper's lean out of the rocker's plane, deg", tilt, -6.0, 6.0, (kc, ke)
        yield "the damper's chassis eye from the middle of the car", c[1], -60.0, 680.0, (kc,)
        yield "the damper's chassis eye over the ground", c[2], 50.0, 950.0, (kc,)
        arm = (e - v) - ((e - v) @ self.axis) * self.axis
        size = _size(arm)
        if size > 1e-6 and long > 1e-6:
            turn = math.degrees(math.acos(float(np.clip(abs(arm @ (c - e)) / size / long, 0, 1))))
            yield "the angle between damper and rocker arm, deg", turn, 35.0, 90.0, (kc, ke)


def _size(way: np.ndarray) -> float:
    return math.hypot(*way)


def _deg(rise: float, run: float) -> float:
    return math.degrees(math.atan2(rise, run))


def _text(point) -> str:
    return "[" + ", ".join(f"{v + 0.0:.6g}" for v in point) + "]"
