"""Picture of a nest: one drawing a remnant. matplotlib is imported only here and only when a picture is drawn."""

from __future__ import annotations

from pathlib import Path as File

from assemblies.nesting.cutting import Plan
from assemblies.nesting.model import Nest, Remnant
from parts.outline import Loop, circle


def save(path: str | File, nest: Nest, remnant: Remnant, plan: Plan | None = None, dpi: int = 150) -> File:
    """Draw one remnant with its blanks (and, given a plan, pierces, leads and the order of cutting)."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure
    from matplotlib.patches import PathPatch

    x0, y0, x1, y1 = remnant.outline.bounds
    wide = 10.0
    figure = Figure(figsize=(wide, max(3.0, wide * (y1 - y0) / (x1 - x0)) + 0.9), layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.subplots()
    axes.add_patch(
        PathPatch(
            _path([remnant.outline] + [circle(h.x, h.y, h.diameter_mm) for h in remnant.holes]),
            facecolor="#e4e6e8",
            edgecolor="#555b61",
            linewidth=1.0,
        )
    )
    for side, s in enumerate(remnant.outline.segments):
        if side in remnant.torch_edges:
            pts = [s.at(k / 20) for k in range(21)]
            axes.plot(*zip(*pts, strict=True), color="#b3432b", linewidth=2.2, solid_capstyle="butt")
    for loop in remnant.keep_outs:
        axes.add_patch(PathPatch(_path([loop]), facecolor="none", edgecolor="#b3432b", hatch="///", linewidth=0.8))
    names = list(dict.fromkeys(p.blank.name for p in nest.placements))
    for p in nest.on(remnant):
        o = p.outline
        tint = _tint(names.index(p.blank.name), len(names))
        loops = [o.outer, *o.inner, *[circle(h.x, h.y, h.diameter_mm) for h in o.holes]]
        axes.add_patch(PathPatch(_path(loops), facecolor=tint, edgecolor="#1d2328", linewidth=0.8))
        x, y = _label_place(p)
        words = p.label + (f"\n{p.blank.hand}" if p.blank.hand else "")
        axes.text(x, y, words, ha="center", va="center", fontsize=6.5, color="#10151a")
    for cut in plan.cuts if plan else ():
        if cut.pierce:
            axes.plot(*zip(cut.pierce, cut.entry, strict=True), color="#0b6e4f", linewidth=1.0)
            axes.plot(*cut.pierce, marker="o", markersize=2.6, color="#0b6e4f")
            axes.annotate(str(cut.number), cut.pierce, xytext=(2, 2), textcoords="offset points", fontsize=5.5, color="#0b6e4f")
    margin = 0.02 * max(x1 - x0, y1 - y0)
    axes.set_xlim(x0 - margin, x1 + margin)
    axes.set_ylim(y0 - margin, y1 + margin)
    axes.set_aspect("equal")
    axes.set_xlabel("mm")
    axes.tick_params(labelsize=7)
    length = f", {plan.cut_length_mm / 1000:.2f} m to cut" if plan else ""
    axes.set_title(
        f"{remnant.name}: {remnant.thickness_mm:g} mm {remnant.material}, {len(nest.on(remnant))} blanks, "
        f"{nest.use_percent(remnant):.0f} % used{length}",
        fontsize=9,
    )
    figure.savefig(path, dpi=dpi)
    return File(path)


def _path(loops: list[Loop]):
    """One path of several rings, outer counter-clockwise and the rest clockwise so that holes stay open."""
    import numpy as np
    from matplotlib.path import Path

    points, codes = [], []
    for k, loop in enumerate(loops):
        turned = loop if (loop.area_mm2 > 0) == (k == 0) else loop.reversed()
        ring = turned.points(0.05)
        points += [*ring, ring[0]]
        codes += [Path.MOVETO, *[Path.LINETO] * (len(ring) - 1), Path.CLOSEPOLY]
    return Path(np.array(points), codes)


def _tint(k: int, count: int):
    import colorsys

    return colorsys.hls_to_rgb((0.55 + k / max(1, count)) % 1.0, 0.78, 0.45)


def _label_place(p) -> tuple[float, float]:
    """The spot in the metal furthest from its edges."""
    from shapely import Polygon
    from shapely.algorithms.polylabel import polylabel

    o = p.outline
    voids = [w.points(0.2) for w in o.inner] + [circle(h.x, h.y, h.diameter_mm).points(0.2) for h in o.holes]
    spot = polylabel(Polygon(o.outer.points(0.2), voids), 1.0)
    return spot.x, spot.y
