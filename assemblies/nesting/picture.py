"""Picture of a nest: one drawing a remnant, a letter on each blank and a key beside it, the order of cutting
in numbers.

matplotlib is imported only here and only when a picture is drawn."""

from __future__ import annotations

import colorsys
from pathlib import Path as File

import numpy as np

from assemblies.nesting.cutting import Plan
from assemblies.nesting.labels import roomiest
from assemblies.nesting.model import Nest, Remnant
from parts.shape.outline import Loop, circle

HOT, GREEN, INK = "#b3432b", "#0b6e4f", "#10151a"


def load() -> None:
    """Have what draws ready, its letters too: most of the time of a first picture."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure()
    figure.add_subplot().set_title("plate")
    FigureCanvasAgg(figure).draw()


def save(path: str | File, nest: Nest, remnant: Remnant, plan: Plan | None = None, dpi: int = 150) -> File:
    """Draw one remnant with its blanks (and, given a plan, pierces, leads and the order of cutting)."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    x0, y0, x1, y1 = remnant.outline.bounds
    names = list(dict.fromkeys(p.blank.name for p in nest.on(remnant)))
    scale = min(max(INCH_PER_MM, LEAST_IN / max(x1 - x0, y1 - y0)), MOST_IN / max(x1 - x0, y1 - y0))
    margin = 0.02 * max(x1 - x0, y1 - y0)
    across, up = scale * (x1 - x0 + 2 * margin), scale * (y1 - y0 + 2 * margin)
    wide, high = LEFT_IN + across + KEY_IN, max(up + LOW_IN + HEAD_IN, 0.17 * len(names) + 1.2)
    figure = Figure(figsize=(wide, high))
    FigureCanvasAgg(figure)
    axes = figure.add_axes((LEFT_IN / wide, 1 - (HEAD_IN + up) / high, across / wide, up / high))
    _plate(axes, remnant)
    for p in nest.on(remnant):
        o = p.outline
        n = names.index(p.blank.name)
        drilled = [
            (round(x, 6), round(y, 6)) for label, x, y, _ in (plan.popped if plan else ()) if label == p.label
        ]
        _area(
            axes,
            [
                o.outer,
                *o.inner,
                *[
                    circle(h.x, h.y, h.diameter_mm)
                    for h in o.holes
                    if (round(h.x, 6), round(h.y, 6)) not in drilled
                ],
            ],
            facecolor=_tint(n, len(names)),
            edgecolor="#1d2328",
            linewidth=0.8,
        )
        for m in o.marks:
            if m.kind == "line":
                axes.plot(*zip(*m.points, strict=True), color="#5b6570", linewidth=0.7, linestyle=(0, (6, 3)))
        x, y, _ = roomiest(p)
        axes.text(
            x,
            y,
            letter(n),
            ha="center",
            va="center",
            fontsize=10,
            color=INK,
            path_effects=_halo(_tint(n, len(names)), 2.0),
        )
    _drilled(axes, plan)
    _order(axes, plan)
    axes.set_xlim(x0 - margin, x1 + margin)
    axes.set_ylim(y0 - margin, y1 + margin)
    axes.set_aspect("equal")
    axes.set_xlabel("mm", fontsize=8)
    axes.tick_params(labelsize=7)
    for edge in axes.spines.values():
        edge.set_visible(False)
    length = f", {plan.cut_length_mm / 1000:.2f} m to cut" if plan else ""
    axes.set_title(
        f"{remnant.name}: {remnant.thickness_mm:g} mm {remnant.material}, {len(nest.on(remnant))} blanks, "
        f"{nest.use_percent(remnant):.0f} % used{length}",
        fontsize=9,
    )
    _key(figure, nest, remnant, names, plan, ((LEFT_IN + across) / wide, 1 - 0.1 / high))
    figure.savefig(path, dpi=dpi)
    return File(path)


LEFT_IN, LOW_IN, HEAD_IN = 0.5, 0.5, 0.35  # beside, below and over the plate: scales, title
KEY_IN = 2.8  # width of the key
INCH_PER_MM, LEAST_IN, MOST_IN = (
    0.02,
    6.0,
    20.0,
)  # of the plate's longer side: numbers stay readable, the file small


def letter(n: int) -> str:
    """A, B ... Z, AA, AB ..."""
    return (letter(n // 26 - 1) if n >= 26 else "") + chr(ord("A") + n % 26)


def _plate(axes, remnant: Remnant) -> None:
    _area(
        axes,
        [remnant.outline] + [circle(h.x, h.y, h.diameter_mm) for h in remnant.holes],
        facecolor="#e4e6e8",
        edgecolor="#555b61",
        linewidth=1.0,
    )
    for side, s in enumerate(remnant.outline.segments):
        if side in remnant.torch_edges:
            axes.plot(
                *zip(*[s.at(k / 20) for k in range(21)], strict=True),
                color=HOT,
                linewidth=2.6,
                solid_capstyle="butt",
            )
    for loop in remnant.keep_outs:
        _area(axes, [loop], facecolor="#ffffff", edgecolor=HOT, hatch="////", linewidth=0.8)


def _drilled(axes, plan: Plan | None) -> None:
    """Holes that are popped and drilled later: their circle broken, a cross in the middle."""
    for _, x, y, d in plan.popped if plan else ():
        axes.plot(
            *zip(*circle(x, y, d).points(0.02), (x + d / 2, y), strict=True),
            color=INK,
            linewidth=0.6,
            linestyle=(0, (4, 2)),
        )
        for ux, uy in ((1.5, 0), (0, 1.5)):
            axes.plot((x - ux, x + ux), (y - uy, y + uy), color=INK, linewidth=0.6)


def _order(axes, plan: Plan | None) -> None:
    for cut in plan.cuts if plan else ():
        if cut.pierce and cut.entry:
            axes.plot(*zip(cut.pierce, cut.entry, strict=True), color=GREEN, linewidth=1.0)
            axes.plot(*cut.pierce, marker="o", markersize=2.6, color=GREEN)
        x, y = cut.number_place
        axes.text(
            x,
            y,
            str(cut.number),
            fontsize=6,
            color=GREEN,
            ha="center",
            va="center",
            path_effects=_halo("white", 1.6),
        )


def _halo(colour, width: float):
    from matplotlib.patheffects import withStroke

    return [withStroke(linewidth=width, foreground=colour)]


def _key(figure, nest: Nest, remnant: Remnant, names: list[str], plan: Plan | None, at) -> None:
    """What the letters, the red and the green mean, beside the plate."""
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    count = {n: sum(p.blank.name == n for p in nest.on(remnant)) for n in names}
    rows: list[Patch | Line2D] = [
        Patch(
            facecolor=_tint(k, len(names)),
            edgecolor="#1d2328",
            linewidth=0.6,
            label=f"{letter(k)}  {n}, {count[n]} off",
        )
        for k, n in enumerate(names)
    ]
    if remnant.torch_edges:
        rows.append(Line2D([], [], color=HOT, linewidth=2.6, label="torch-cut edge"))
    if remnant.keep_outs:
        rows.append(Patch(facecolor="#ffffff", edgecolor=HOT, hatch="////", label="keep out"))
    if plan and plan.popped:
        rows.append(
            Line2D([], [], color=INK, linewidth=0, marker="+", markersize=6, label="pop, drill later")
        )
    if any(m.kind == "line" for p in nest.on(remnant) for m in p.outline.marks):
        rows.append(
            Line2D([], [], color="#5b6570", linewidth=0.8, linestyle=(0, (6, 3)), label="marked, not cut")
        )
    if plan and plan.cuts:
        rows.append(
            Line2D(
                [],
                [],
                color=GREEN,
                marker="o",
                markersize=3,
                linewidth=1.0,
                label="pierce, lead, order of cutting",
            )
        )
    figure.legend(
        handles=rows, loc="upper left", bbox_to_anchor=at, fontsize=7, frameon=False, handlelength=1.6
    )


def _area(axes, loops: list[Loop], **style) -> None:
    from matplotlib.patches import PathPatch

    axes.add_patch(PathPatch(_path(loops), **style))


def _path(loops: list[Loop]):
    """One path of several rings, outer counter-clockwise and the rest clockwise so that holes stay open."""
    from matplotlib.path import Path

    points, codes = [], []
    for k, loop in enumerate(loops):
        turned = loop if (loop.area_mm2 > 0) == (k == 0) else loop.reversed()
        ring = turned.points(0.01)
        points += [*ring, ring[0]]
        codes += [Path.MOVETO, *[Path.LINETO] * (len(ring) - 1), Path.CLOSEPOLY]
    return Path(np.array(points), codes)


def _tint(k: int, count: int):
    return colorsys.hls_to_rgb((0.55 + k / max(1, count)) % 1.0, 0.78, 0.45)
