"""Tolerances: what the errors of measuring and building do to a corner, and which dimensions to measure
twice.

Monte Carlo over every dimension at once (seeded, all builds in one array), beside it the linear estimate:
sensitivities by central differences, root of the sum of squares, and the plain sum as the worst case. Errors
are independent and centred, except weld pull, which only pulls inwards: parts made in one jig share their
error, and then the worst case is the honest figure.
"""

from __future__ import annotations

import math
from dataclasses import field

import numpy as np

from assemblies.motion.hard_points import JOINTS, HardPoints
from assemblies.motion.springing import Spring, Springing
from assemblies.results.terminal import paragraph
from assemblies.setup import words
from assemblies.tolerances.variations import Variations, vary
from parts.base.frozen import dataclass
from parts.calc import torsion

ON_ROCKER = ("rod_inboard", "pivot", "damper_eye")
CHASSIS = tuple(n for n in JOINTS if n not in ON_ROCKER)
CHUNK = 4000
TOE_STEPS = 41


@dataclass(frozen=True)
class Errors:
    """How well the corner is measured and built; each figure is ±, see `dimensions` for how it is spread.

    Defaults are the trade's: tape and bob ±2 mm, a jig ±0.5 mm, strips measured to 0.05 mm."""

    point_mm: float = 2.0  # a hard point on frame or upright, each coordinate
    pivot_mm: float = 2.0  # the rocker's pivot, which carries the whole rocker
    eye_mm: float = 0.5  # an eye of the rocker against its pivot, in the jig
    axis_deg: float = 0.3  # the rocker's axis
    rod_mm: float = 0.5  # length the rod is set to
    hole_play_mm: float = 0.1  # in the clocking joints, at the tube's radius
    play_radius_mm: float = 20.0
    weld_pull_mm: float = 0.5  # an eye of the rocker pulled towards the pivot by welding, 0 to this
    thickness_mm: float = 0.05  # of a strip (bar: diameter)
    length_mm: float = 1.0  # free length of the spring
    modulus_percent: float = 1.0
    mass_kg: float = 2.0  # sprung mass
    points_mm: dict[str, float] = field(default_factory=dict)  # a point's own figure, by its name

    def __post_init__(self) -> None:
        for name, value in [
            *((k, v) for k, v in vars(self).items() if k != "points_mm"),
            *self.points_mm.items(),
        ]:
            if not (math.isfinite(value) and value >= 0):
                raise ValueError(f"errors: {name} is {value}; it must be 0 or more")


@dataclass(frozen=True)
class Dimension:
    """One thing that may be off. `spread`: "normal" (± is two standard deviations), "uniform" (± is the half
    width, σ = a/√3), "inward" (uniform from 0 to a)."""

    name: str
    unit: str
    size: float
    spread: str = "normal"

    @property
    def sigma(self) -> float:
        return self.size / {"normal": 2.0, "uniform": math.sqrt(3), "inward": math.sqrt(12)}[self.spread]

    @property
    def mean(self) -> float:
        return self.size / 2 if self.spread == "inward" else 0.0

    def draw(self, rng: np.random.Generator, count: int) -> np.ndarray:
        if self.spread == "normal":
            return rng.normal(0.0, self.sigma, count)
        return rng.uniform(-self.size if self.spread == "uniform" else 0.0, self.size, count)


OUTPUTS = {  # name: (what it is, unit)
    "ride_height_mm": ("ride height, car up, before correction", "mm"),
    "wind_deg": ("clock angle that corrects it", "deg"),
    "wheel_rate_n_per_mm": ("wheel rate at ride height, corrected", "N/mm"),
    "rise_percent": ("rise of the wheel rate to full bump", "%"),
    "toe_change_deg": ("toe change over the travel, largest less least", "deg"),
    "damper_top_margin_mm": ("damper: longest less its length at full droop", "mm"),
    "damper_bottom_margin_mm": ("damper: length at full bump less shortest", "mm"),
    "droop_twist_deg": ("twist left at full droop, before correction", "deg"),
}


OF_A_COIL = {  # what is said of the same outputs of a coil-over
    "wind_deg": ("collar that corrects it, squeezing the coil +", "mm"),
    "droop_twist_deg": ("coil short of free at full droop, before correction", "mm"),
}


@dataclass(frozen=True)
class Band:
    """One output over all builds. Percentiles of the Monte Carlo; `linear_sigma` from the sensitivities."""

    name: str
    what: str
    unit: str
    nominal: float
    mean: float
    sigma: float
    low: float  # 2.5 %
    high: float  # 97.5 %
    skew: float
    failed: int  # builds that have no such value: the corner could not stand
    linear_sigma: float
    linear_mean: float
    # that one corner with every dimension at its limit, each the bad way for this output; normal errors taken
    # at ±
    worst_low: float
    worst_high: float
    top: tuple[
        tuple[str, float, float], ...
    ]  # dimension, change per 1 mm (deg, %, kg), share of the linear variance

    @property
    def linear_holds(self) -> bool:
        """Whether the linear estimate tells the same story: spread within 10 %, mean within a tenth of the
        spread, skew small."""
        return (
            abs(self.linear_sigma - self.sigma) <= 0.1 * self.sigma
            and abs(self.mean - self.linear_mean) <= 0.1 * self.sigma + 1e-12
            and abs(self.skew) < 0.3
        )


@dataclass(frozen=True)
class Tolerances:
    builds: int
    seed: int
    bands: tuple[Band, ...]
    dimensions: tuple[Dimension, ...]

    def band(self, name: str) -> Band:
        return next(b for b in self.bands if b.name == name)


def dimensions(job, errors: Errors) -> list[Dimension]:
    """Everything that may be off on this corner."""
    out = []
    for point in CHASSIS:
        size = errors.points_mm.get(point, errors.point_mm)
        out += [Dimension(f"{point}.{c}", "mm", size) for c in "xyz"]
    out += [Dimension(f"pivot.{c}", "mm", errors.points_mm.get("pivot", errors.pivot_mm)) for c in "xyz"]
    for eye in ("rod_inboard", "damper_eye"):
        size = errors.points_mm.get(eye, errors.eye_mm)
        out += [
            Dimension(f"{eye} in the rocker, outwards", "mm", size),
            Dimension(f"{eye} in the rocker, across", "mm", size),
        ]
        out.append(Dimension(f"{eye} pulled in by welding", "mm", errors.weld_pull_mm, "inward"))
    out += [
        Dimension("axis, first tilt", "deg", errors.axis_deg),
        Dimension("axis, second tilt", "deg", errors.axis_deg),
        Dimension("rod length", "mm", errors.rod_mm, "uniform"),
    ]
    if job.spring.kind != "coil-over":
        out += [
            Dimension(
                "clocking joint play",
                "deg",
                math.degrees(errors.hole_play_mm / errors.play_radius_mm),
                "uniform",
            ),
            Dimension(_size_name(job.spring), "mm", errors.thickness_mm, "uniform"),
            Dimension("spring length", "mm", errors.length_mm, "uniform"),
            Dimension("shear modulus", "%", errors.modulus_percent, "uniform"),
        ]
    out.append(Dimension("sprung mass", "kg", errors.mass_kg))
    names = {d.name.split(".")[0].split(" ")[0] for d in out}
    unknown = set(errors.points_mm) - names
    if unknown:
        raise ValueError(
            f"errors: points_mm names {', '.join(sorted(unknown))}; known points: {', '.join(sorted(JOINTS))}"
        )
    return [d for d in out if d.size > 0]


def outputs(job, s: Springing, dims: list[Dimension], values: np.ndarray) -> dict[str, np.ndarray]:
    """All outputs (V,) of builds whose dimensions are off by `values` (V, dimensions)."""
    return _read(job, s, _variations(job, s, dims, np.atleast_2d(np.asarray(values, float))))


def monte_carlo(
    job,
    s: Springing,
    errors: Errors | None = None,
    builds: int = 10_000,
    seed: int = 1,
    top: int = 5,
    progress=lambda *_: None,
) -> Tolerances:
    """Bands of every output over `builds` corners, sensitivities and the linear estimate beside them."""
    if builds < 2:
        raise ValueError(f"builds is {builds}; at least 2 are needed, 10000 is usual")
    dims = dimensions(job, errors or Errors())
    rng = np.random.default_rng(seed)
    drawn = np.stack([d.draw(rng, builds) for d in dims], -1)
    parts = []
    for i in range(0, builds, CHUNK):
        progress("builds", min(i + CHUNK, builds), builds)
        parts.append(outputs(job, s, dims, drawn[i : i + CHUNK]))
    found = {k: np.concatenate([p[k] for p in parts]) for k in parts[0]}
    nominal, slopes = sensitivities(job, s, dims)
    ends = _worst(job, s, dims, nominal, slopes)
    return Tolerances(
        builds,
        seed,
        tuple(_band(k, found[k], nominal[k], slopes[k], dims, ends[k], top, s.spring.linear) for k in found),
        tuple(dims),
    )


def _worst(
    job, s: Springing, dims: list[Dimension], nominal: dict[str, float], slopes: dict[str, np.ndarray]
) -> dict[str, tuple[float, float]]:
    """Each output on the two corners that have every dimension at its limit the way that lowers and raises
    it."""
    low, high = (
        np.array([side(d) for d in dims])
        for side in (lambda d: 0.0 if d.spread == "inward" else -d.size, lambda d: d.size)
    )
    trials = np.stack(
        [np.where((np.nan_to_num(slopes[k]) > 0) == up, high, low) for k in slopes for up in (False, True)]
    )
    out = outputs(job, s, dims, trials)
    found = {}
    for i, k in enumerate(slopes):
        three = [
            *map(float, out[k][2 * i : 2 * i + 2]),
            nominal[k],
        ]  # an output that is least in the middle keeps its middle
        found[k] = min(three), max(three)
    return found


def sensitivities(job, s: Springing, dims: list[Dimension]) -> tuple[dict[str, float], dict[str, np.ndarray]]:
    """Nominal outputs, and their change per unit of each dimension (per 1 mm, deg, %, kg): central
    differences over one standard deviation either way."""
    steps = np.array([d.sigma for d in dims])
    trials = np.concatenate([np.zeros((1, len(dims))), np.diag(steps), -np.diag(steps)])
    out = outputs(job, s, dims, trials)
    n = len(dims)
    return {k: float(v[0]) for k, v in out.items()}, {
        k: (v[1 : n + 1] - v[n + 1 :]) / (2 * steps) for k, v in out.items()
    }


def stack(sensitivity, sigma) -> tuple[float, np.ndarray]:
    """Linear stack: root of the sum of squares of slope·σ, and each term's share of it.

    >>> total, share = stack([1, 1, 1, 1, 1], [0.2, 0.2, 0.2, 0.2, 0.5])
    >>> round(total, 8), round(float(share[-1]), 3)
    (0.64031242, 0.61)
    """
    terms = (np.asarray(sensitivity, float) * np.asarray(sigma, float)) ** 2
    total = float(terms.sum())
    return math.sqrt(total), terms / total if total else 0 * terms


def _band(
    name: str,
    values: np.ndarray,
    nominal: float,
    slopes: np.ndarray,
    dims: list[Dimension],
    worst: tuple[float, float],
    top: int,
    linear: bool,
) -> Band:
    good = values[np.isfinite(values)]
    slopes = np.where(np.isfinite(slopes), slopes, 0.0)
    sigma_lin, share = stack(slopes, [d.sigma for d in dims])
    shift = float(sum(a * d.mean for a, d in zip(slopes, dims, strict=True)))
    what, unit = (OF_A_COIL if linear else {}).get(name, OUTPUTS[name])
    order = np.argsort(-share, kind="stable")[:top]
    mean, sigma = (float(good.mean()), float(good.std(ddof=1))) if len(good) > 1 else (math.nan, math.nan)
    skew = float(((good - mean) ** 3).mean() / sigma**3) if sigma > 0 else 0.0
    ends = np.percentile(good, [2.5, 97.5]) if len(good) else (math.nan, math.nan)
    return Band(
        name,
        what,
        unit,
        nominal,
        mean,
        sigma,
        float(ends[0]),
        float(ends[1]),
        skew,
        len(values) - len(good),
        sigma_lin,
        nominal + shift,
        *worst,
        tuple((dims[i].name, float(slopes[i]), float(share[i])) for i in order),
    )


def _variations(job, s: Springing, dims: list[Dimension], values: np.ndarray) -> Variations:
    get = _off(dims, values)
    return vary(
        s,
        built_points(s, dims, values),
        get("rod length"),
        np.radians(get("clocking joint play")),
        _rate_factor(job.spring, get),
        s.sprung_mass_kg + get("sprung mass"),
    )


def _off(dims: list[Dimension], values: np.ndarray):
    off, none = {d.name: values[:, i] for i, d in enumerate(dims)}, np.zeros(len(values))
    return lambda name: off.get(name, none)


def built_points(s: Springing, dims: list[Dimension], values: np.ndarray) -> HardPoints:
    """Hard points (V, 3) of builds whose dimensions are off by `values`, the rocker not yet turned by its
    rod."""
    get, count = _off(dims, values), len(values)
    nominal = s.mechanism.points
    moved = {p: np.stack([get(f"{p}.{c}") for c in "xyz"], -1) for p in (*CHASSIS, "pivot")}
    axis = nominal.axis / np.linalg.norm(nominal.axis)
    for eye in (
        "rod_inboard",
        "damper_eye",
    ):  # carried by the pivot, with errors of their own in the rocker's plane
        arm = getattr(nominal, eye) - nominal.pivot
        out = arm - (arm @ axis) * axis
        out = out / np.linalg.norm(out)
        outwards = get(f"{eye} in the rocker, outwards") - get(f"{eye} pulled in by welding")
        moved[eye] = (
            moved["pivot"]
            + outwards[:, None] * out
            + get(f"{eye} in the rocker, across")[:, None] * np.cross(axis, out)
        )
    points = nominal.moved(**moved)
    return points.changed(
        axis=_tilted(axis, np.radians(get("axis, first tilt")), np.radians(get("axis, second tilt")), count)
    )


def _tilted(axis: np.ndarray, first: np.ndarray, second: np.ndarray, count: int) -> np.ndarray:
    """The axis tilted about two directions square to it (small angles)."""
    side = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    side = side / np.linalg.norm(side)
    return np.broadcast_to(axis, (count, 3)) + first[:, None] * side + second[:, None] * np.cross(axis, side)


def _size_name(spec) -> str:
    return "strip thickness" if spec.kind == "leaf-pack" else "bar diameter"


def _rate_factor(spec, get) -> np.ndarray:
    """Rate of the built spring over the nominal one, by the torsion formulas themselves."""
    if spec.kind == "coil-over":
        return np.ones(1)

    size, length, g = (
        get(_size_name(spec)),
        spec.length + get("spring length"),
        spec.shear_modulus * (1 + get("shear modulus") / 100),
    )
    if spec.kind == "leaf-pack":
        rate = torsion.pack_rate_nm_per_rad(
            spec.leaf_width, spec.leaf_thickness + size, length, g, spec.leaves
        )
    else:
        outer, wall = (spec.diameter, None) if spec.kind == "solid-bar" else (spec.outer, spec.wall)
        rate = torsion.round_rate_nm_per_rad(outer + size, length, g, wall)
    return rate / Spring.of(spec).rate


def _read(job, s: Springing, v: Variations) -> dict[str, np.ndarray]:
    scale = 1.0 if v.linear else 180 / math.pi
    ends = np.array([v.low_mm, 0.0, v.high_mm])
    rates = v.set_rates(ends)
    toe = v.at(v.toe_deg, np.linspace(v.low_mm, v.high_mm, TOE_STEPS))
    damper = v.at(v.damper_mm, np.linspace(v.low_mm, v.high_mm, TOE_STEPS))
    return {
        "ride_height_mm": -v.settle(),
        "wind_deg": v.wind_to_ride() * scale,
        "wheel_rate_n_per_mm": rates[:, 1],
        "rise_percent": (rates[:, 2] / rates[:, 1] - 1) * 100,
        "toe_change_deg": np.ptp(toe, -1),
        "damper_top_margin_mm": job.damper.longest - damper.max(-1),
        "damper_bottom_margin_mm": damper.min(-1) - job.damper.shortest,
        "droop_twist_deg": v.at(v.deflection, ends[:1])[:, 0] * scale,
    }


def lines(t: Tolerances, worst: bool = False) -> list[tuple[str, list[str]]]:
    """Blocks of text for the terminal."""
    rows = [
        [
            b.what,
            *map(_figure, (b.nominal, b.low, b.high)),
            _figure(b.sigma, 3),
            _figure(b.linear_sigma, 3),
            *(map(_figure, (b.worst_low, b.worst_high)) if worst else ()),
            b.unit,
            "" if b.linear_holds else "skewed: trust the builds",
        ]
        for b in t.bands
    ]
    head = [
        "",
        "nominal",
        "95 % from",
        "to",
        "sigma",
        "linear",
        *(("worst from", "to") if worst else ()),
        "",
        "",
    ]
    failed = max(b.failed for b in t.bands)
    those = "of those that stand within the travel" if failed else "such corners"
    blocks = [(f"95 of 100 {those} lie between", words.table(head, rows))]
    blocks += [
        (
            f"{b.what}: what matters most",
            words.table(
                ["dimension", "per 1 mm (deg, %, kg)", "share of variance"],
                [[n, f"{x:+z.3f} {b.unit}", f"{q * 100:.0f} %"] for n, x, q in b.top],
            ),
        )
        for b in t.bands
    ]
    said = (
        [f"{failed} of {t.builds} builds could not stand within the travel; they are left out."]
        if failed
        else []
    )
    if any("-" in row[1:8] for row in rows):
        said.append("A dash: there no such corner stands within the travel.")
    if "coil" in t.band("droop_twist_deg").what:
        said.append(
            "The coil's own rate and free length are taken as the job gives them: press it, or ask its maker."
        )
    said.append(
        "Errors are taken as independent and centred. Parts made in one jig share their error: for those the "
        "worst case is the honest figure."
    )
    return [*blocks, ("", [paragraph(x, "  ") for x in said])]


def _figure(x: float, digits: int = 2) -> str:
    return f"{round(x, digits) + 0.0:.{digits}f}" if math.isfinite(x) else "-"
