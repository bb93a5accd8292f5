"""Numbers of two corners in pairs: what a builder asks for first, uses of strength, gaps, masses, cost."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from assemblies.layout.placing import Layout
from assemblies.making.sheets.cut_list import rows as listed
from assemblies.results.findings import guaranteed, lacking
from assemblies.results.model import Results
from parts.base.frozen import dataclass


def told(value: float, decimals: int) -> str:
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


@dataclass(frozen=True)
class RowOfBoth:
    """A quantity of both corners; None where one has none."""

    name: str
    unit: str
    decimals: int
    a: float | None
    b: float | None
    asked: float | None = None  # the least it should be, where it has one
    round: Callable[[float, int], str] = told  # never to the side that makes a claim better

    @property
    def said(self) -> tuple[str, str]:
        """Both in figures."""
        a, b = ("-" if v is None else self.round(v, self.decimals) for v in (self.a, self.b))
        return a, b

    @property
    def seen(self) -> bool:
        """The figures show a difference."""
        return self.said[0] != self.said[1]

    @property
    def short(self) -> bool:
        """B has less than is asked."""
        return self.asked is not None and self.b is not None and self.b < self.asked

    @property
    def change(self) -> float | None:
        return None if self.a is None or self.b is None else self.b - self.a

    @property
    def differs(self) -> bool:
        if self.a is None or self.b is None:
            return self.a is not self.b
        if not math.isfinite(self.b - self.a):
            return self.a != self.b
        return abs(self.b - self.a) > 1e-7 * max(abs(self.a), abs(self.b), 1e-3)


def rows(a: Results, b: Results) -> tuple[RowOfBoth, ...]:
    """The numbers a builder asks for first, of both."""
    one, two = _numbers(a), _numbers(b)
    return tuple(
        RowOfBoth(k, *(one.get(k) or two[k])[:2], one.get(k, (0, 0, None))[2], two.get(k, (0, 0, None))[2])
        for k in [*one, *(k for k in two if k not in one)]
    )


def _numbers(r: Results) -> dict[str, tuple[str, int, float | None]]:
    t, s, e = r.travel, r.spring, r.ends
    if t is None or s is None or e is None:
        return {}
    out: dict[str, tuple[str, int, float | None]] = {}
    for name, unit, decimals, curve in (
        ("rocker angle", "deg", 1, t.rocker_deg),
        ("damper, eye to eye", "mm", 1, t.damper_mm),
        ("damper per wheel", "mm/mm", 3, t.damper_per_wheel),
        ("wheel rate", "N/mm", 2, t.wheel_rate_n_per_mm),
        ("wheel force", "N", 0, t.wheel_force_n),
        ("rod force", "N", 0, t.rod_force_n),
        ("camber", "deg", 2, t.camber_deg),
        ("toe-in", "deg", 3, t.toe_deg),
    ):
        for pose, z in (("full droop", t.wheel_mm[0]), ("ride", 0.0), ("full bump", t.wheel_mm[-1])):
            if not (pose == "ride" and name in ("rocker angle", "camber", "toe-in")):
                out[f"{name}, {pose}"] = (unit, decimals, _at(t.wheel_mm, curve, z))
    out |= {
        "ride frequency": ("Hz", 2, s.ride_frequency_hz),
        "rate rise, ride to bump": ("%", 0, s.rise_percent),
        "spring rate, rotary": ("N·m/rad", 1, s.rate_nm_per_rad),
        "spring rate": ("N/mm", 2, s.rate_n_per_mm),
        "spring torque at ride": ("N·m", 1, s.ride_torque_nm),
        "spring force at ride": ("N", 0, s.ride_force_n),
        "twist at ride": ("deg", 1, s.ride_twist_deg),
        "twist left at full droop": ("deg", 1, s.droop_twist_deg),
        "greatest shear stress": ("MPa", 0, s.stress_max_mpa),
        "margin to toggle": ("deg", 1, e.toggle_margin_deg),
        "damper left, longest": ("mm", 1, e.damper_margin_longest_mm),
        "damper left, shortest": ("mm", 1, e.damper_margin_shortest_mm),
        "spring slack at wheel height": ("mm", 1, e.spring_slack_at_wheel_mm),
    }
    return {k: v for k, v in out.items() if v[2] is not None}


def _at(x, y, z: float) -> float | None:
    v = float(np.interp(z, x, np.array([math.nan if k is None else k for k in y])))
    return v if math.isfinite(v) else None


def pairs(a: Results, b: Results) -> tuple[RowOfBoth, ...]:
    """Guaranteed gaps of both, tightest of either first."""
    one, two = ({f"{p.a} to {p.b}": p for p in r.clearance.pairs} for r in (a, b))
    room = {k: min(p.gap_mm - p.required_mm for p in (one.get(k), two.get(k)) if p) for k in one | two}
    return tuple(
        RowOfBoth(
            k,
            "mm",
            2,
            one[k].gap_mm if k in one else None,
            two[k].gap_mm if k in two else None,
            (two.get(k) or one[k]).required_mm,
            lambda mm, _: guaranteed(mm),
        )
        for k in sorted(room, key=room.__getitem__)
    )


def uses(a: Results, b: Results) -> tuple[RowOfBoth, ...]:
    """Greatest use of each item of the strength table where it differs, B's worst first; rounded up."""
    one, two = map(_greatest_use, (a, b))
    found = [RowOfBoth(k, "of 1", 2, one.get(k), two.get(k), round=_used) for k in one | two]
    return tuple(sorted((r for r in found if r.differs), key=lambda r: -(r.b if r.b is not None else 0.0)))


def _greatest_use(r: Results) -> dict[str, float]:
    out: dict[str, float] = {}
    for c in r.strength.checks:
        out[c.item] = max(math.inf if c.use is None else c.use, out.get(c.item, 0.0))
    return out


def _used(use: float, decimals: int) -> str:
    return "nothing" if math.isinf(use) else lacking(use, decimals)


def masses(a: Layout | None, b: Layout | None) -> tuple[RowOfBoth, ...]:
    """Steel of the rocker, and of all that is placed but the frame's members; cost, where priced."""
    kg = (
        RowOfBoth(name, "kg", 3, _mass(a, of_rocker), _mass(b, of_rocker))
        for name, of_rocker in (("mass, rocker", True), ("mass, made parts", False))
    )
    return *kg, *_costs(a, b)


def _costs(a: Layout | None, b: Layout | None) -> list[RowOfBoth]:
    """What the priced lines of the cut lists come to, where either job has prices."""
    if not any(x is not None and x.job.prices is not None for x in (a, b)):
        return []

    def cost(x: Layout | None) -> float | None:
        if x is None or x.job.prices is None:
            return None
        return sum((r.cost or 0.0 for r in listed(x) if not r.of_the_frame), 0.0)

    return [RowOfBoth("cost of what is priced", "", 2, cost(a), cost(b))]


def _mass(layout: Layout | None, of_rocker: bool) -> float | None:
    if layout is None:
        return None
    made = (p for p in layout.placed if p.name not in layout.members)
    return sum(p.mass_kg or 0.0 for p in made if not of_rocker or p.body == "rocker")
