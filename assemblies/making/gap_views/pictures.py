"""The gaps to look at: where they are in the corner, and each from near by at its worst pose."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np

from assemblies.making.gap_views.marks import GapMark, standing
from assemblies.making.picture import Camera, View, corner, mesh_of, spread, view
from assemblies.making.plots import BLUE, GREY, RED
from assemblies.making.step import COLOURS
from assemblies.results.model import Results
from assemblies.study import Study
from parts.files.remembered import once

CLOSE_UPS = 6
NEAR_MM, NEAR = 120.0, 7.0  # a close-up is so wide, or so many times the gap
CLOSE_PX, CLOSE_TALL = 520, 0.72
ROUND = 24  # directions across the gap that are tried for a clear view of it


def draw(
    done: Study,
    results: Results,
    shown: Sequence[GapMark],
    folder: Path,
    progress: Callable[..., None] = lambda *_: None,
) -> list[Path]:
    """gaps.png in `folder`; nothing where there is no gap to show. How they go along the travel is a plot."""
    if not shown:
        return []
    progress("picture of the gaps")
    return [_sheet(done, results, shown, folder / "gaps.png")]


# ------------------------------------------------------------ where they are


def _sheet(done: Study, results: Results, shown: Sequence[GapMark], path: Path) -> Path:
    """The corner with numbered marks, the table, and each gap from near by."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    close = shown[:CLOSE_UPS]
    whole = corner(done)
    rows = -(-len(close) // 3)
    wide = 15.0
    tall = 0.55 * wide * whole.image.shape[0] / whole.image.shape[1]
    below = wide / 3 * CLOSE_TALL + 0.45
    fig = plt.figure(figsize=(wide, 0.7 + tall + rows * below), layout="none")
    height = fig.get_figheight()
    fig.text(
        0.012,
        1 - 0.36 / height,
        f"{results.name}, {results.side} corner: the tightest gaps",
        fontsize=15,
        va="center",
        weight="bold",
    )
    ax = fig.add_axes((0.0, 1 - (0.6 + tall) / height, 0.55, tall / height))
    _placed_marks(ax, whole, shown)
    _table(fig.add_axes((0.56, 1 - (0.6 + tall) / height, 0.43, tall / height)), shown)
    for k, mark in enumerate(close):
        top = 1 - (0.7 + tall + (k // 3) * below + 0.35) / height
        at = fig.add_axes(
            (
                (k % 3) / 3 + 0.008,
                top - (wide / 3 - 0.24) * CLOSE_TALL / height,
                1 / 3 - 0.016,
                (wide / 3 - 0.24) * CLOSE_TALL / height,
            )
        )
        _close(at, done, mark)
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, dpi=100, metadata={"Software": None})
    plt.close(fig)
    return path


def _placed_marks(ax, whole: View, shown: Sequence[GapMark]) -> None:
    """Numbers at the left and right edge, each with a line to its gap."""
    ax.imshow(whole.image, interpolation="nearest")
    rows, columns = whole.image.shape[:2]
    at = {m.number: (whole.pixel(m.ends[0]) + whole.pixel(m.ends[1])) / 2 for m in shown}
    middle = np.median([x for x, _ in at.values()])
    for side, own in (
        (0, [n for n, p in at.items() if p[0] <= middle]),
        (1, [n for n, p in at.items() if p[0] > middle]),
    ):
        own.sort(key=lambda n: at[n][1])
        for n, y in zip(own, spread([at[n][1] for n in own], rows, 0.07 * rows), strict=True):
            mark = next(m for m in shown if m.number == n)
            colour = RED if not mark.pair.ok else BLUE
            ax.plot(
                [(0.965 if side else 0.035) * columns, at[n][0]], [y, at[n][1]], color=colour, linewidth=1.2
            )
            ax.plot(
                *at[n], "o", color=COLOURS["gap"], markersize=6, markeredgecolor="white", markeredgewidth=0.8
            )
            ax.text(
                (0.965 if side else 0.035) * columns,
                y,
                str(n),
                ha="center",
                va="center",
                fontsize=12,
                weight="bold",
                color="white",
                bbox={"boxstyle": "circle,pad=0.25", "facecolor": colour, "edgecolor": "white"},
            )
    ax.set_axis_off()
    ax.set_xlim(0, columns)
    ax.set_ylim(rows, 0)


def _table(ax, shown: Sequence[GapMark]) -> None:
    """Number, pair, what is guaranteed, what is asked, where."""
    ax.set_axis_off()
    ax.set_xlim(0, 1)
    step = min(0.075, 0.9 / (len(shown) + 2))
    columns = ((0.0, "left"), (0.06, "left"), (0.665, "right"), (0.765, "right"), (0.79, "left"))
    y = 0.97
    for (x, side), text in zip(columns, ("", "pair", "guaranteed", "asked", "least at (mm)"), strict=True):
        ax.text(x, y, text, ha=side, va="center", fontsize=9, color=GREY)
    for m in shown:
        y -= step
        colour = RED if not m.pair.ok else "black"
        for (x, side), text in zip(
            columns,
            (str(m.number), m.bodies, f"{m.gap.removeprefix('gap ')}", f"{m.pair.required_mm:g}", m.pose),
            strict=True,
        ):
            ax.text(
                x,
                y,
                text,
                ha=side,
                va="center",
                fontsize=9.5,
                color=colour,
                weight="bold" if x == 0 else "normal",
            )
        ax.plot([0, 1], [y - step / 2] * 2, color="#dddddd", linewidth=0.6)
    ax.text(
        0,
        y - 1.1 * step,
        "Red: short of what is asked. The corner stands at ride height, the marks where each gap is "
        "least;\nbelow, both bodies as they then stand.",
        va="top",
        fontsize=9,
        color=GREY,
    )
    ax.set_ylim(0, 1)


def _close(ax, done: Study, mark: GapMark) -> None:
    """Both bodies at the worst pose, seen across the gap from where the least stands before it."""
    items = [
        (mesh_of(shape, where), None, colour)
        for name in (mark.pair.a, mark.pair.b)
        for _, shape, where, colour in standing(done, name, mark.pair)
    ]
    a, b = mark.ends
    given = (np.concatenate([mesh for mesh, *_ in items]), a, b, Camera.usual(done.job.corner.side))
    camera = once("clear view", given, lambda: clear_view(*given))
    half = max(NEAR_MM, NEAR * float(np.linalg.norm(b - a))) / 2
    middle = camera.seen((a + b) / 2)[:2]
    size = np.array([half, half * CLOSE_TALL])
    shot = view(items, camera, (middle - size, middle + size), CLOSE_PX)
    ax.imshow(shot.image, interpolation="nearest")
    (x0, y0), (x1, y1) = shot.pixel(a), shot.pixel(b)
    ax.plot([x0, x1], [y0, y1], color="white", linewidth=4)
    ax.plot(
        [x0, x1], [y0, y1], "o-", color=COLOURS["gap"], linewidth=2, markersize=5, markeredgecolor="white"
    )
    ax.set_title(
        f"{mark.number}  {mark.bodies}: {mark.gap} of {mark.pair.required_mm:g}",
        loc="left",
        fontsize=10,
        color=RED if not mark.pair.ok else "black",
    )
    long = 20.0 * shot.scale
    ax.plot([12, 12 + long], [shot.image.shape[0] - 14] * 2, color="white", linewidth=5)
    ax.plot([12, 12 + long], [shot.image.shape[0] - 14] * 2, color="black", linewidth=2)
    ax.text(
        18 + long,
        shot.image.shape[0] - 14,
        f"20 mm; {mark.pose}",
        va="center",
        fontsize=8.5,
        bbox={"facecolor": "white", "alpha": 0.75, "edgecolor": "none", "pad": 1.5},
    )
    ax.set_xlim(0, shot.image.shape[1])
    ax.set_ylim(shot.image.shape[0], 0)
    ax.set_xticks([])
    ax.set_yticks([])
    for edge in ax.spines.values():
        edge.set_color("#cccccc")


def clear_view(mesh: np.ndarray, a: np.ndarray, b: np.ndarray, usual: Camera) -> Camera:
    """Of the directions across the gap from a to b, the one in which the least stands before it; of equals
    the nearest to the usual one."""
    along = b - a if np.linalg.norm(b - a) > 1e-6 else np.cross(usual.forward, [0.0, 0.0, 1.0])
    along = along / np.linalg.norm(along)
    first = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    first /= np.linalg.norm(first)
    turn = 2 * np.pi * np.arange(ROUND) / ROUND
    ways = np.cos(turn)[:, None] * first + np.sin(turn)[:, None] * np.cross(along, first)
    points = a + (b - a) * np.linspace(0.2, 0.8, 4)[:, None]
    hidden = [sum(_before(mesh, p, way) for p in points) for way in ways]
    best = min(range(ROUND), key=lambda k: (hidden[k], -round(float(ways[k] @ usual.forward), 6)))
    return Camera.looking(ways[best])


def _before(mesh: np.ndarray, point: np.ndarray, way: np.ndarray) -> int:
    """How many triangles the ray from the point against `way`, to the viewer, meets (T. Möller, B. Trumbore,
    J. Graphics Tools 2, 1997)."""
    e1, e2 = mesh[:, 1] - mesh[:, 0], mesh[:, 2] - mesh[:, 0]
    h = np.cross(-way, e2)
    det = (e1 * h).sum(1)
    with np.errstate(all="ignore"):
        s = point - mesh[:, 0]
        u = (s * h).sum(1) / det
        q = np.cross(s, e1)
        v = -(q @ way) / det
        t = (e2 * q).sum(1) / det
        return int(((np.abs(det) > 1e-12) & (u >= 0) & (v >= 0) & (u + v <= 1) & (t > 0.2)).sum())
