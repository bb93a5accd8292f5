"""One strength check: what is asked, what is there, by which rule, in which case and pose; and what would
cure it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from assemblies.results.findings import Level
from assemblies.strength.forces import Forces
from assemblies.strength.sizing import Cure, Option
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class WeldStress:
    """What a weld's row is in fatigue: stress on the throat is the flow over `throat_mm`; `shear`: it runs
    along the seam alone (one slope of 5). `peak`: how many times the row's flow its ends bear where nothing
    yields. EN 1993-1-9:2005 Table 8.5, details 3 and 8."""

    throat_mm: float
    category_mpa: float = 36.0
    shear: bool = False
    source: str = "Table 8.5 detail 3"
    peak: float = 1.0

    @staticmethod
    def along(throat_mm: float) -> WeldStress:
        """A seam that is loaded along its run alone, as round a twisted tube."""
        return WeldStress(throat_mm, 80.0, True, "Table 8.5 detail 8")


@dataclass(frozen=True)
class Check:
    """`demand` carries the job's safety factor, as its forces do, unless `service` says why not; `use` =
    demand/resistance, at most 1.

    `level`: what a use over 1 means: "stop" it would break, "warn" it would wear or the limit is only a
    guide."""

    item: str
    check: str
    case: str
    demand: float
    resistance: float
    unit: str
    source: str
    wheel_mm: float | None = None
    rack_mm: float | None = None
    note: str = ""
    cure: str = ""
    level: Level = "stop"
    damage: float | None = None
    seam: WeldStress | None = None  # of a weld's row: demand N/mm
    options: tuple[Option | str, ...] = ()  # what may cure it, best first; empty while it holds
    remedy: Cure | None = None  # gives them for a use
    service: str = ""  # why the demand is one of service, without the safety factor

    @property
    def use(self) -> float:
        return _use(self.demand, self.resistance)

    @property
    def ok(self) -> bool:
        return self.use <= 1.0


def _use(demand: float, resistance: float) -> float:
    return demand / resistance if resistance > 0 else float("inf") if demand > 0 else 0.0


def worst(  # noqa: PLR0913  # a row of the table, by name
    f: Forces,
    item: str,
    check: str,
    demand,
    resistance,
    unit: str,
    source: str,
    *,
    usual: bool = False,
    note: str = "",
    cure: Cure | None = None,
    level: Level = "stop",
    seam: WeldStress | None = None,
    service: str = "",
) -> list[Check]:
    """The check at the case and pose that use most of it, as a list of one (none where no case applies).

    `demand` and `resistance` broadcast over the entries of `f`, which carry the job's safety; `usual` leaves
    the rare cases out; `service`: the demand is made of `f.service(...)`, and why."""
    if f.welds_only and seam is None:
        return []
    demand, limit = np.abs(demand), np.asarray(resistance, float)
    with np.errstate(all="ignore"):
        use = np.where(demand > 0, demand / limit, 0.0) + np.zeros(len(f.case))
    use[(limit <= 0) & (demand > 0)] = np.inf
    if usual:
        use[~f.usual] = -1.0
    if not len(use) or use.max() < 0:
        return []
    k = int(np.argmax(use))
    asked, there = _at(demand, k), _at(limit, k)
    said, options = _cured(_use(asked, there), cure)
    row = Check(
        item,
        check,
        f.name(k),
        asked,
        there,
        unit,
        source,
        float(f.wheel_mm[k]),
        float(f.rack_mm[k]),
        note,
        said,
        level,
        seam=seam,
        options=options,
        remedy=cure,
        service=service,
    )
    return [row]


def with_cure(c: Check, cure: Cure | None) -> Check:
    """The row with what may cure it, the first in words; nothing while it holds."""
    said, options = _cured(c.use, cure)
    return replace(c, cure=said, options=options, remedy=cure)


def _cured(use: float, cure: Cure | None) -> tuple[str, tuple[Option | str, ...]]:
    options = tuple(cure(use)) if cure and use > 1 else ()
    return next((o if isinstance(o, str) else o.words for o in options), ""), options


def _at(values, k: int) -> float:
    return float(values[k]) if np.ndim(values) else float(values)
