"""What turns, what stands round it, and the proven gaps between over the whole swing.

Two systems, and each thing says in which it is given: the car's (mm, as `Hinge.pivot`; a `Member`, an
`InCar`, a `StepFile`) and the hinge's own (`OnHinge`: origin on the pivot, z along the axis, x towards
`Hinge.x_towards`). A neighbour that does not say where it stands is refused: a part's `form()` is in the
part's own axes, and would stand at the car's origin, far from everything.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import field, replace
from functools import cached_property
from html import escape
from pathlib import Path
from typing import Any

import numpy as np

from assemblies.clearance import Body, Limits, PairResult, swept
from assemblies.clearance.hinge import CARRIER, Hinge, check_turning
from assemblies.clearance.imported import read_step
from assemblies.layout.step_neighbours import placement
from assemblies.results.findings import Finding, guaranteed, lacking, worst_first
from parts.base.frozen import dataclass
from parts.member import Member
from parts.shape.form import Form, Frame, Vector

PART = "part"  # what the turning body is called in a pair
FAR_MM = 500.0  # a neighbour further off than this was probably given in other coordinates
MESH_SHARE = 0.25  # of the tolerance: how far the triangles of a STEP file may be from its surface
NOT_CHECKED = "What stands is not held against what else stands, nor the part against itself."


@dataclass(frozen=True)
class OnHinge:
    """A part (with `form()`) or a `Form` in the hinge's own axes, moved `along_mm` along its axis."""

    part: Any
    along_mm: float = 0.0


@dataclass(frozen=True)
class InCar:
    """A part or a `Form`, and the frame that takes its own axes to the car's (at 0 degrees, if it turns)."""

    part: Any
    frame: Frame


@dataclass(frozen=True)
class StepFile:
    """All solids of a STEP file. Its origin comes to lie `at` a point of the car, turned about the car's x,
    then y, then z (deg); `mirrored` first turns the sign of the file's y."""

    path: str | Path
    at: Vector = (0.0, 0.0, 0.0)
    turn: Vector = (0.0, 0.0, 0.0)
    mirrored: bool = False

    def matrix(self) -> np.ndarray:
        """4 x 4 from the file's axes to the car's."""
        return placement(self)


@dataclass(frozen=True)
class Gap:
    """The least gap to a neighbour over the swing: proven (`gap_mm`), and found at `at_deg` between two
    points of the car. `short_deg`, `clash_deg`: the angles outside which it is proven to be enough, or not to
    touch."""

    neighbour: str
    gap_mm: float
    found_gap_mm: float
    required_mm: float
    at_deg: float
    point_on_part: Vector
    point_on_neighbour: Vector
    short_deg: tuple[float, float] | None = None
    clash_deg: tuple[float, float] | None = None

    @property
    def ok(self) -> bool:
        return self.gap_mm >= self.required_mm

    @property
    def clash(self) -> bool:
        return self.found_gap_mm < 0

    def __str__(self) -> str:
        if self.clash:
            return (
                f"{self.neighbour}: CLASH, {lacking(-self.gap_mm)} mm deep at most, at {self.at_deg:+z.1f} "
                f"deg; {_span(self.clash_deg or (self.at_deg, self.at_deg))}"
            )
        said = "ok" if self.ok else "SHORT"
        return (
            f"{self.neighbour}: {guaranteed(self.gap_mm)} mm guaranteed at {self.at_deg:+z.1f} deg, "
            f"{self.required_mm:g} asked: {said}"
        )


@dataclass(frozen=True)
class Swing:
    """`turning`: an `OnHinge`, an `InCar`, a `Member` (car coordinates) or a part in the hinge's own axes.
    `standing`: neighbours by name, each a `Member`, an `InCar` or a `StepFile`. `kinds`: neighbours that are
    no plain metal ("hose", "exhaust" ...: see `Limits`); `margins_mm`: building tolerance of a neighbour.

    Raises ValueError, naming the entry, for what does not say where it is and for a STEP file that cannot be
    read."""

    hinge: Hinge
    from_deg: float
    to_deg: float
    turning: tuple
    standing: Mapping[str, Any]
    limits: Limits = field(default_factory=Limits)
    tolerance_mm: float = 0.1
    kinds: Mapping[str, str] = field(default_factory=dict)
    margins_mm: Mapping[str, float] = field(default_factory=dict)
    name: str = "swing"

    def __post_init__(self) -> None:
        if not self.turning:
            raise ValueError("swing: nothing turns; give `turning` a part")
        if not self.standing:
            raise ValueError("swing: nothing stands; give `standing` a neighbour")
        for what, given in (("kinds", self.kinds), ("margins_mm", self.margins_mm)):
            for name in given:
                if name not in self.standing:
                    raise ValueError(
                        f"swing: {what} names {name!r}; the neighbours are {', '.join(self.standing)}"
                    )
        _ = self.bodies

    def _repr_html_(self) -> str:
        """What a notebook shows: each least gap."""
        return "<pre>" + escape("\n".join(map(str, self.gaps()))) + "</pre>"

    @cached_property
    def bodies(self) -> tuple[Body, ...]:
        """All of it as the check sees it, car coordinates at 0 degrees."""
        forms: list[Form] = []
        shells: list = []
        for k, what in enumerate(self.turning, 1):
            form, shell = self._placed(f"turning {k}", what, self.hinge.frame)
            forms, shells = forms + form, shells + shell
        out = [Body(PART, CARRIER, tuple(forms), "moving", shells=tuple(shells))]
        for name, what in self.standing.items():
            form, shell = self._placed(f"standing {name!r}", what, None)
            out.append(
                Body(
                    name,
                    "frame",
                    tuple(form),
                    self.kinds.get(name, "fixed"),
                    self.margins_mm.get(name, 0.0),
                    shells=tuple(shell),
                )
            )
        if PART in self.standing:
            raise ValueError(f"swing: a neighbour is called {PART!r}, as the one that turns; rename it")
        return tuple(out)

    def _placed(self, where: str, what, own: Frame | None) -> tuple[list[Form], list]:
        """Forms and shells in car coordinates; `own`: the frame of what says nothing, None: that is an
        error."""
        if isinstance(what, StepFile):
            try:
                return [], list(
                    read_step(
                        what.path, what.matrix(), self.tolerance_mm * MESH_SHARE, mirrored=what.mirrored
                    )
                )
            except ValueError as e:
                raise ValueError(f"swing: {where}: {e}") from None
        if isinstance(what, Member):
            return [what.hull_form(sharp=True).moved(what.frame)], []
        if isinstance(what, InCar):
            return [_form(where, what.part).moved(what.frame)], []
        if own is None:
            raise ValueError(
                f"swing: {where} is a {type(what).__name__}, which does not say where in the car it stands: "
                f"its form is in its own axes. Give a Member, or of assemblies.swing InCar(part, frame) or "
                f"StepFile(path)"
            )
        if isinstance(what, OnHinge):
            return [_form(where, what.part).moved(Frame((0.0, 0.0, what.along_mm)).then(own))], []
        return [_form(where, what).moved(own)], []

    @cached_property
    def results(self) -> tuple[PairResult, ...]:
        """The pairs as the check gives them, degrees in place of wheel travel; nearest to its limit first."""
        report = check_turning(
            self.bodies, self.hinge, (self.from_deg, self.to_deg), self.limits, self.tolerance_mm
        )
        return tuple(_part_first(p) for p in report.pairs)

    def gaps(self) -> tuple[Gap, ...]:
        """One a neighbour, nearest to its limit first."""
        return tuple(
            Gap(
                p.b,
                p.gap_mm,
                p.found_gap_mm,
                p.required_mm,
                p.at_wheel_mm,
                p.point_a,
                p.point_b,
                p.under_mm,
                p.clash_mm,
            )
            for p in self.results
        )

    def findings(self) -> tuple[Finding, ...]:
        """A clash is a stop, a short gap a warning, and so is a neighbour so far away that its coordinates
        are hardly the car's."""
        out = []
        for g in self.gaps():
            if g.clash or not g.ok:
                out.append(
                    Finding(
                        level="stop" if g.clash else "warn",
                        code="clash" if g.clash else "gap",
                        where=g.neighbour,
                        text=(
                            f"{g}. It lacks {lacking(g.required_mm - g.gap_mm)} mm; "
                            f"{_span(g.short_deg or (g.at_deg, g.at_deg))} there may be too little, "
                            f"outside that enough is proven. Move it, trim the part, or swing less."
                        ),
                    )
                )
            elif g.gap_mm > FAR_MM:
                out.append(
                    Finding(
                        level="warn",
                        code="far",
                        where=g.neighbour,
                        text=(
                            f"It stands {guaranteed(g.gap_mm)} mm clear of the part, over {FAR_MM:g}: look "
                            f"whether it is given in the car's coordinates, as the pivot is "
                            f"({', '.join(f'{v:g}' for v in self.hinge.pivot)})."
                        ),
                    )
                )
        return tuple(worst_first(out))

    def steps(self) -> dict[str, StepFile]:
        """What of it comes as STEP files, by body."""
        return {n: w for n, w in self.standing.items() if isinstance(w, StepFile)}


def _span(degrees: tuple[float, float]) -> str:
    """A stretch of the swing in words, never rounded inward.

    >>> _span((-21.98, 0.34))
    'from -22.0 to +0.4 deg'
    """
    first, last = math.floor(10 * degrees[0] + 1e-6) / 10, math.ceil(10 * degrees[1] - 1e-6) / 10
    return f"from {first:+z.1f} to {last:+z.1f} deg"


def _form(where: str, what) -> Form:
    made = what if isinstance(what, Form) else what.form() if callable(getattr(what, "form", None)) else None
    if not isinstance(made, Form):
        raise ValueError(
            f"swing: {where} is a {type(what).__name__}; it must be a part with a form(), a Form, a Member "
            f"or a StepFile"
        )
    return made


def _part_first(p: PairResult) -> PairResult:
    if p.a == PART:
        return p
    return replace(p, a=p.b, b=p.a, point_a=p.point_b, point_b=p.point_a)


def silhouette(swing: Swing, error_mm: float = 0.2) -> list:
    """Flat outlines of all that the part sweeps, seen along the axis from its tip: `swept.silhouette`."""
    return swept.silhouette(
        PART,
        swing.bodies,
        swing.hinge,
        swing.hinge.pivot,
        np.asarray(swing.hinge.axis, float),
        (swing.from_deg, swing.to_deg),
        0.0,
        error_mm,
    )
