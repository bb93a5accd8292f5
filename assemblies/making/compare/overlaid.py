"""A comparison as one page: the same curves and both corners laid over each other."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from assemblies.making.compare.comparison import Comparison
from assemblies.making.report.overlay import overlay
from assemblies.making.report.page import filled
from assemblies.making.report.scene import solids
from assemblies.results.curves import Curve, figures
from assemblies.results.findings import worst_first


def laid_over(c: Comparison, progress: Callable[..., None] = lambda *_: None) -> dict[str, Any] | None:
    """Both corners as one scene of the page; None where one of them does not stand. Loads the CAD kernel."""
    if any(s.layout is None or s.results.travel is None for s in (c.a, c.b)):
        return None

    progress("solids of both")
    return overlay(c.a, solids(c.a.layout), c.b, solids(c.b.layout))


def page(c: Comparison, scene: dict[str, Any] | None = None) -> str:
    """The comparison as one file to open in a browser; `scene`: both corners laid over each other."""
    figures = overlaid(c)
    data = {
        "figures": [
            {
                "key": f.key,
                "unit": f.unit,
                "decimals": f.decimals,
                "curves": [list(k.y) for k in (*f.curves, *f.also)],
            }
            for f in figures
        ],
        "x": list(figures[0].x) if figures else [],
        "travel": [],
        "scene": scene,
        "pairs": [],
    }
    new = [f for f in worst_first(c.new) if f.level != "note"]
    return filled(
        "compare.html.j2",
        data,
        c=c,
        figures=figures,
        new=new,
        has_view=scene is not None,
        not_shown=scene["not_shown"] if scene else [],
        before=True,
        zone=None,
        pairs=[],
        strength_key=[],
        rack=bool(scene and len(scene["motion"]["rack_mm"]) > 1),
    )


def overlaid(c: Comparison) -> list:
    """The curves of B with those of A beside them, both over the heights of either."""
    fa, fb = ({f.key: f for f in figures(s.results, s.job)} for s in (c.a, c.b))
    out = []
    for key in (k for k in fb if k in fa):
        a, b = fa[key], fb[key]
        x = sorted(set(a.x) | set(b.x))
        out.append(
            replace(
                b,
                x=x,
                curves=tuple(Curve(k.label, _over(b.x, k.y, x)) for k in b.curves),
                also=tuple(Curve(k.label, _over(a.x, k.y, x)) for k in a.curves),
            )
        )
    return out


def _over(x, y, onto) -> list[float | None]:
    """A curve read at other heights, nothing outside its own."""
    v = np.interp(onto, x, np.array([math.nan if k is None else k for k in y]), left=math.nan, right=math.nan)
    return [float(f"{k:.7g}") if math.isfinite(k) else None for k in v]
