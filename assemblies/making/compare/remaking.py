"""Which parts of corner A serve for corner B, and which must be cut again."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.layout.placing import FlatPart, Layout
from parts.base.frozen import dataclass

SAME = 1e-4  # two numbers of a shape (mm, directions, bulges) nearer than this are one


@dataclass(frozen=True)
class PartFate:
    """A part and what becomes of it when corner B is built from the parts of A: again, stays, new or gone."""

    name: str
    fate: str
    why: str = ""


def parts(a: Layout | None, b: Layout | None) -> tuple[PartFate, ...]:
    """Every blank and every other made part: whether B can use what was cut for A."""
    flat_a, flat_b = ({f.name: f for f in x.flat} if x else {} for x in (a, b))
    out = [
        _fate(name, flat_a.get(name), flat_b.get(name), _flat_why)
        for name in [*flat_a, *(n for n in flat_b if n not in flat_a)]
    ]
    drawn = set(flat_a) | set(flat_b)
    rest_a, rest_b = (_others(x, drawn) if x else {} for x in (a, b))
    return tuple(
        out
        + [
            _fate(name, rest_a.get(name), rest_b.get(name), _form_why)
            for name in [*rest_a, *(n for n in rest_b if n not in rest_a)]
        ]
    )


def _others(layout: Layout, drawn: set[str]) -> dict[str, Any]:
    """Parts to make that are no blank: those with a mass of their own whose blank is not listed already."""

    def blank(name: str) -> bool:
        return (
            name in drawn
            or any(name.startswith(d) for d in drawn)
            or re.sub(r" (front|rear|upper|lower|inner|outer|left|right) plate$", " plate", name) in drawn
        )

    return {p.name: p for p in layout.placed if p.mass_kg is not None and not blank(p.name)}


def _fate(name: str, a, b, why: Callable[[Any, Any], str]) -> PartFate:
    if a is None or b is None:
        return PartFate(name, "new" if a is None else "gone")
    reason = why(a, b)
    return PartFate(name, "again", reason) if reason else PartFate(name, "stays")


def _flat_why(a: FlatPart, b: FlatPart) -> str:
    said = []
    if a.thickness_mm != b.thickness_mm:
        said.append(f"{a.thickness_mm:g} to {b.thickness_mm:g} mm thick")
    if a.material != b.material:
        said.append(f"{a.material} to {b.material}")
    if not same(a.outline, b.outline):
        said.append(
            f"outline: {_size(a)} to {_size(b)} mm, {a.outline.area_mm2:.0f} to {b.outline.area_mm2:.0f} mm²"
        )
    if not said and a.count != b.count:
        return f"{a.count} to {b.count} off" if b.count > a.count else ""
    return "; ".join(said)


def _size(f: FlatPart) -> str:
    x0, y0, x1, y1 = f.outline.bounds
    return f"{x1 - x0:.1f} x {y1 - y0:.1f}"


def _form_why(a, b) -> str:
    if a.material != b.material:
        return f"{a.material} to {b.material}"
    return (
        ""
        if same(a.form, b.form)
        else f"{a.mass_kg:.3f} to {b.mass_kg:.3f} kg"
        if abs(a.mass_kg - b.mass_kg) > 5e-4
        else "its shape"
    )


_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w])")


def same(a: Any, b: Any) -> bool:
    """Two outlines or forms alike to within SAME in every number, and in everything else exactly."""
    one, two = _essence(a), _essence(b)
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", two):
        return False
    numbers = [np.array([float(x) for x in _NUMBER.findall(t)]) for t in (one, two)]
    return numbers[0].shape == numbers[1].shape and bool(np.all(np.abs(numbers[0] - numbers[1]) <= SAME))


def _essence(shape: Any) -> str:
    """The shape in words less its marks, which are scribed and not cut."""
    return repr(replace(shape, marks=()) if hasattr(shape, "marks") else shape)
