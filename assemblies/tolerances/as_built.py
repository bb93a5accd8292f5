"""As built: from readings on the welded corner to what differs from the job, how sure that is, and the
correction.

Unknowns: clock error, spring rate, strip thickness, rod length, coordinates of hard points. What the builder
said of his measuring and building is information too: each unknown starts at zero with a stated standard
deviation. Weighted least squares of readings and that information (Gauss-Newton, numpy's SVD); the covariance
is the inverse of the whole information. Reading errors are taken as independent and normal, the stated
accuracy as two standard deviations. A wheel height that is off makes its reading off by slope times it.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from assemblies.motion.springing import Springing
from assemblies.tolerances.bands import _rate_factor, _size_name
from assemblies.tolerances.reading_sense import slip
from assemblies.tolerances.readings import EXPECTED, KINDS, Reading, Readings, Unknown
from assemblies.tolerances.variations import Variations, vary
from parts.base.frozen import dataclass
from parts.base.units import G_M_S2

TOLD = 0.5  # readings that leave more than this share of an unknown's spread have told little about it
FITS = 1.6  # root mean square of residuals that chance alone still explains
ALIKE = 0.9  # two causes cannot be told apart beyond this correlation,
OPEN = 0.3  # where more than this share of one's spread is left


@dataclass(frozen=True)
class Estimate:
    """What the readings say. `wind` brings ride height back under the job's load with the corner as
    estimated."""

    unknowns: tuple[Unknown, ...]
    value: np.ndarray
    covariance: np.ndarray
    residual: np.ndarray  # reading less fit, in its own standard deviations
    wind: float
    wind_sigma: float
    stands_mm: float  # where the estimated corner stands as set, + low
    unclear: tuple[str, ...]  # what the readings cannot tell, a sentence each
    left_out: tuple[str, ...] = ()  # readings that no such corner can give, a sentence each
    doubtful: str = ""  # where the readings do not fit: the one without which the others do, a sentence

    @property
    def sigma(self) -> np.ndarray:
        return np.sqrt(np.diag(self.covariance))

    @property
    def misfit(self) -> float:
        """Root mean square of the residuals; well above 1 says that something else is wrong."""
        return float(np.sqrt((self.residual**2).mean()))


def estimate(job, s: Springing, given: Readings, rounds: int = 12) -> Estimate:
    """Weighted least squares over the readings that the corner can give; those it cannot are left out and
    told. Raises ValueError where none is left."""
    if not given.readings:
        raise ValueError("as built: there are no readings")
    unknowns = tuple(
        replace(u, name="collar") if u.name == "clock" and s.spring.linear else u for u in given.unknowns
    )
    kinds, names = {r.kind for r in given.readings}, {u.name for u in unknowns}
    if "thickness" in kinds - names and not s.spring.linear:
        unknowns = (*unknowns, Unknown("thickness", EXPECTED["thickness"]))
    readings: tuple[Reading, ...]
    left_out: tuple[str, ...]
    readings, left_out = _possible(job, s, given.readings, unknowns)
    while readings:
        found = _fitted(job, s, readings, unknowns, rounds)
        if found is not None:
            doubtful = _doubtful(job, s, readings, unknowns, found, rounds)
            return replace(found, left_out=left_out, doubtful=doubtful)
        worst = _furthest(job, s, readings, unknowns)
        left_out = (
            *left_out,
            f"{_of(worst, s)}: no corner near to the job's gives that: check it and its unit.",
        )
        readings = tuple(r for r in readings if r is not worst)
    raise ValueError(f"as built: no reading is left. {' '.join(left_out)}")


def _fitted(job, s: Springing, readings, unknowns, rounds: int) -> Estimate | None:
    """None where the corner cannot go where the readings draw it."""
    prior = np.array([u.sigma for u in unknowns])
    value = np.zeros(len(unknowns))
    measured = np.array([r.value for r in readings])
    for _ in range(rounds):
        fit, slopes, sigma = _linear(job, s, readings, unknowns, value)
        if not np.isfinite(fit).all():
            return None
        weighted = np.concatenate([slopes / sigma[:, None], np.diag(1 / prior)]) * prior
        right = np.concatenate([(measured - fit) / sigma, -value / prior])
        step = np.linalg.lstsq(weighted, right, rcond=None)[0] * prior
        value = value + step
        if (np.abs(step) < 1e-5 * prior).all():
            break
    fit, slopes, sigma = _linear(job, s, readings, unknowns, value)
    if not np.isfinite(fit).all():
        return None
    weighted = np.concatenate([slopes / sigma[:, None], np.diag(1 / prior)]) * prior
    _, size, vt = np.linalg.svd(weighted, full_matrices=False)
    half = (vt.T / size) * prior[:, None]
    covariance = half @ half.T
    wind, wind_slope, stands = _correction(job, s, unknowns, value)
    return Estimate(
        unknowns,
        value,
        covariance,
        (measured - fit) / sigma,
        wind,
        float(np.sqrt(wind_slope @ covariance @ wind_slope)),
        stands,
        tuple(_unclear(unknowns, covariance, prior)),
    )


def model(job, s: Springing, readings, unknowns, values: np.ndarray) -> np.ndarray:
    """What the readings would be (V, readings) on corners whose unknowns are `values` (V, unknowns)."""
    values = np.atleast_2d(values)
    v = corner(job, s, unknowns, values)
    return _predict(job, v, readings, thickness_of(job, unknowns, values))


def corner(job, s: Springing, unknowns, values: np.ndarray) -> Variations:
    """The corners (V,) with those differences, over a range a little beyond the travel and the readings."""
    off = {u.name: values[:, i] for i, u in enumerate(unknowns)}
    none = np.zeros(len(values))
    offsets: dict[str, np.ndarray] = {}
    for name, x in off.items():
        point, _, axis = name.partition(".")
        if axis:
            offsets.setdefault(point, np.zeros((len(values), 3)))[:, "xyz".index(axis)] = x
    nominal = s.mechanism.points
    points = nominal.moved(**offsets) if offsets else nominal
    factor = (1 + off.get("rate", none) / 100) * _thickness_factor(job, off.get("thickness", none))
    clock = off.get("collar", off.get("clock", none))
    reach = s.ends.closes_mm
    return vary(
        s,
        points,
        off.get("rod", none),
        clock if s.spring.linear else np.radians(clock),
        factor,
        droop_mm=min(1.2 * job.corner.droop, -0.98 * reach[0]),
        bump_mm=min(1.2 * job.corner.bump, 0.98 * reach[1]),
    )


def _predict(job, v: Variations, readings, thickness: np.ndarray, nudge_mm: float = 0.0) -> np.ndarray:
    out = np.empty((len(v.rate), len(readings)))
    zero = np.zeros(1)
    for i, r in enumerate(readings):
        z = np.array([r.at + nudge_mm])
        if r.kind == "rocker":
            out[:, i] = _rocker_deg(v, z)
        elif r.kind == "damper":
            out[:, i] = v.at(v.damper_mm, z)[:, 0]
        elif r.kind == "toe":
            out[:, i] = (v.at(v.toe_deg, z) - v.at(v.toe_deg, zero))[:, 0]
        elif r.kind == "torque":
            out[:, i] = v.rate * v.at(v.deflection, z)[:, 0]
        elif r.kind == "ride":
            out[:, i] = v.settle((r.at - job.corner.unsprung_mass) * G_M_S2)
        else:
            out[:, i] = thickness
    return out


def _rocker_deg(v: Variations, z) -> np.ndarray:
    return np.degrees((v.at(v.rocker_rad, z) - v.at(v.rocker_rad, np.zeros(1)))[:, 0])


def _linear(
    job, s: Springing, readings, unknowns, value: np.ndarray
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Fit, slopes by central differences, and each reading's standard deviation with its wheel height's error
    in it."""
    n, steps = len(unknowns), np.array([0.05 * u.sigma for u in unknowns])
    trials = value + np.concatenate([np.zeros((1, n)), np.diag(steps), -np.diag(steps)])
    v = corner(job, s, unknowns, trials)
    thick = thickness_of(job, unknowns, trials)
    found = _predict(job, v, readings, thick)
    by_height = _predict(job, v, readings, thick, 0.5)[0] - _predict(job, v, readings, thick, -0.5)[0]
    by_height = np.where([r.wheel_sigma_mm > 0 for r in readings], by_height, 0.0)
    sigma = np.hypot([r.sigma for r in readings], by_height * np.array([r.wheel_sigma_mm for r in readings]))
    return found[0], ((found[1 : n + 1] - found[n + 1 :]) / (2 * steps)[:, None]).T, sigma


def _possible(job, s: Springing, readings, unknowns) -> tuple[tuple[Reading, ...], tuple[str, ...]]:
    """The readings that the job's own corner can give, and a sentence for each that it cannot."""
    values = np.zeros((1, len(unknowns)))
    v = corner(job, s, unknowns, values)
    can = np.isfinite(_predict(job, v, readings, thickness_of(job, unknowns, values))[0])
    for i, r in enumerate(readings):  # curves go on past their ends, the corner does not
        if r.wheel_sigma_mm > 0 and not v.low_mm <= r.at <= v.high_mm:
            can[i] = False
    low, high = v.low_mm, v.high_mm
    out = []
    said = [slip(job, r) for r in readings]
    can &= [not why for why in said]
    for r, good, why in zip(readings, can, said, strict=True):
        if not good:
            why = why or (
                "a coil-over has no strips"
                if r.kind == "thickness"
                else "the corner cannot stand under that mass within its travel: check it and its unit"
                if r.kind == "ride"
                else f"readings can be at {low:+z.0f} to {high:+z.0f} mm of wheel height: check it and "
                "its sign"
            )
            out.append(f"{_of(r, s)}: {why}.")
    return tuple(r for r, good in zip(readings, can, strict=True) if good), tuple(out)


def _furthest(job, s: Springing, readings, unknowns) -> Reading:
    """The reading that is furthest, in its own standard deviations, from what the job's own corner gives."""
    fit, _, sigma = _linear(job, s, readings, unknowns, np.zeros(len(unknowns)))
    off = np.abs(np.array([r.value for r in readings]) - fit) / sigma
    return readings[int(np.argmax(np.where(np.isfinite(off), off, np.inf)))]


def _of(r: Reading, s: Springing) -> str:
    """A reading in words."""
    at = "" if r.kind == "thickness" else f" under {r.at:g} kg" if r.kind == "ride" else f" at {r.at:+g} mm"
    force = r.kind == "torque" and s.spring.linear
    return (
        f"The reading of {'force' if force else r.kind}{at} ({r.value:g} {'N' if force else KINDS[r.kind]})"
    )


def _doubtful(job, s: Springing, readings, unknowns, found: Estimate, rounds: int) -> str:
    """Where the readings do not fit: the one without which all the others do."""
    if found.misfit < FITS or len(readings) < 3:
        return ""
    for i in np.argsort(-np.abs(found.residual)):
        rest = [r for k, r in enumerate(readings) if k != i]
        other = _fitted(job, s, rest, unknowns, rounds)
        if other is not None and other.misfit < FITS:
            return (
                f"{_of(readings[i], s)} is the one: without it the other {len(rest)} agree. Take it again; "
                f"leave it out till then."
            )
    return ""


def thickness_of(job, unknowns, values: np.ndarray) -> np.ndarray:
    base = {"leaf-pack": "leaf_thickness", "solid-bar": "diameter", "tube": "outer"}.get(job.spring.kind)
    off = next((values[:, i] for i, u in enumerate(unknowns) if u.name == "thickness"), np.zeros(len(values)))
    return (getattr(job.spring, base) if base else math.nan) + off


def _thickness_factor(job, off: np.ndarray) -> np.ndarray:
    if job.spring.kind == "coil-over" or not np.any(off):
        return np.ones(1)

    return _rate_factor(job.spring, lambda name: off if name == _size_name(job.spring) else np.zeros(1))


def _correction(job, s: Springing, unknowns, value: np.ndarray) -> tuple[float, np.ndarray, float]:
    """Wind that brings the estimated corner to ride height, its slope by the unknowns, and where it stands
    now."""
    n, steps = len(unknowns), np.array([0.05 * u.sigma for u in unknowns])
    v = corner(job, s, unknowns, value + np.concatenate([np.zeros((1, n)), np.diag(steps), -np.diag(steps)]))
    wind = v.wind_to_ride() * (1.0 if v.linear else 180 / math.pi)
    return float(wind[0]), (wind[1 : n + 1] - wind[n + 1 :]) / (2 * steps), float(v.settle()[0])


def _unclear(unknowns, covariance: np.ndarray, prior: np.ndarray):
    """Which causes the readings leave open: those they said little of, and pairs that look alike."""
    sigma = np.sqrt(np.diag(covariance))
    correlation = covariance / np.outer(sigma, sigma)
    for i, u in enumerate(unknowns):
        if sigma[i] > TOLD * prior[i]:
            yield (
                f"The readings say little about {u.name}: ±{2 * sigma[i]:.2g} {u.unit} is left of the "
                f"±{u.expected:.2g} it started with. The figure leans on what you said of your measuring."
            )
    for i in range(len(unknowns)):
        for j in range(i + 1, len(unknowns)):
            if abs(correlation[i, j]) > ALIKE and (sigma[[i, j]] > OPEN * prior[[i, j]]).any():
                a, b = unknowns[i], unknowns[j]
                how = "one more and the other less" if correlation[i, j] < 0 else "both more or both less"
                yield (
                    f"{a.name} and {b.name} cannot be told apart: {how} gives the same readings. Their "
                    f"figures hold together only; "
                    f"a reading that moves one of them alone would decide ({_decider(a.name, b.name)})."
                )


def _decider(a: str, b: str) -> str:
    if {a, b} == {"clock", "rate"}:
        return "the torque on a lever at a known height, or ride height under a second, quite different load"
    if {a, b} == {"collar", "rate"}:
        return (
            "the coil's force in a press at a known length, or ride height under a second, quite different "
            "load"
        )
    if "rate" in (a, b) and "thickness" in (a, b):
        return "the strips' thickness to 0.01 mm, or the torque on a lever"
    return "measure that point again, from three datum points"
