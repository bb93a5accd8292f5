"""The whole corner at ride height with the names of its bodies, from its real solids; the wheel is laid over
the rest like glass, so that the joints show. A name's line ends on what is seen of its body; dashed, where
nothing of it is, at its middle."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np

from assemblies.layout.placing import Placed, needed
from assemblies.making.picture import WIDTH_PX, Camera, Facets, View, mesh_of, spread, view
from assemblies.making.sheets.leaders import seen_ends
from assemblies.making.step import colour_of
from assemblies.study import Study

BORDER, NAMES = 0.02, 0.17  # empty rim, and room for names at either side, as shares of the width
GLASS, RUBBER = 0.3, 0.45  # share of the wheel in what is seen through it, and its grey
TWO_LINES_PX = 44.0
CLEAR_PX = 2.0  # a body is seen where no edge of what is seen of it is nearer
INK = "#23282b"


def draw(done: Study, path: Path, progress: Callable[..., None] = lambda *_: None) -> Path:
    """PNG seen from ahead and outside."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    progress("picture")
    shot, at = whole(done)
    rows, columns = shot.image.shape[:2]
    fig = plt.figure(figsize=(columns / 100, rows / 100), dpi=100)
    ax = fig.add_axes((0, 0, 1, 1))
    ax.imshow(shot.image, interpolation="nearest")
    middle = float(np.median([x for x, *_ in at.values()] or [0.0]))
    for right in (False, True):
        own = sorted((n for n, (x, *_) in at.items() if (x > middle) == right), key=lambda n: at[n][1])
        for name, y in zip(
            own, spread([at[n][1] for n in own], rows, max(0.07 * rows, TWO_LINES_PX)), strict=True
        ):
            x = (1 - 0.62 * NAMES if right else 0.62 * NAMES) * columns
            column, row, seen = at[name]
            ax.plot([x, column], [y, row], "-" if seen else "--", color=INK, linewidth=1.2)
            if seen:
                ax.plot(
                    column, row, "o", color=INK, markersize=5, markeredgecolor="white", markeredgewidth=0.9
                )
            side, words = "left" if right else "right", name if seen else f"{name},\nnot seen"
            ax.text(x + (6 if right else -6), y, words, ha=side, va="center", fontsize=13, color=INK)
    ax.set_xlim(0, columns)
    ax.set_ylim(rows, 0)
    ax.set_axis_off()
    path.parent.mkdir(parents=True, exist_ok=True)
    fig.savefig(path, dpi=100, metadata={"Software": None})
    plt.close(fig)
    return path


def whole(done: Study) -> tuple[View, dict[str, tuple[float, float, bool]]]:
    """Everything, the wheel like glass, with room at the sides; of each body's name the column and row where
    its line ends, and whether the body is seen there."""
    from assemblies.making.drawn import drawn

    camera = Camera.usual(done.job.corner.side)
    solid, glass = list[Facets](), list[Facets]()
    points, numbers = named(done), list[int]()
    names = list(points)
    for d in drawn(done):
        wheel = d.of.body == "wheel"
        colour = (RUBBER,) * 3 if wheel else colour_of(d.of.body, d.of.carrier)
        (glass if wheel else solid).append((mesh_of(d.shape, d.where), None, colour))
        if not wheel:
            name = _name(done, d.of)
            numbers.append(names.index(name) + 1 if name in names else 0)
    flat = np.concatenate([camera.seen(m.reshape(-1, 3))[:, :2] for m, *_ in (*solid, *glass)])
    low, high = flat.min(0), flat.max(0)
    rim = BORDER * (high[0] - low[0])
    wide = (high[0] - low[0]) / (1 - 2 * NAMES)
    room = np.array([(wide - (high[0] - low[0])) / 2 + rim, rim])
    window = low - room, high + room
    shot = view(solid, camera, window, WIDTH_PX)
    seen = {names[n - 1]: end.scaled(shot.scale) for n, end in seen_ends(shot, numbers).items()}
    pixels = {name: shot.pixel(point) for name, point in points.items()}
    at = {name: (float(x), float(y), name == "wheel") for name, (x, y) in pixels.items()}
    at |= {n: (e.x, len(shot.shown) - e.y, True) for n, e in seen.items() if e.clear_mm >= CLEAR_PX}
    if not glass:
        return shot, at
    tyre = view(glass, camera, window, WIDTH_PX, (0.0, 0.0, 0.0)).image
    share = GLASS * (tyre.max(-1, keepdims=True) > 0)
    return replace(shot, image=(1 - share) * shot.image + share * tyre), at


def _name(done: Study, placed: Placed) -> str:
    """Of the body that a solid is of, as `named` has it; of the spring the pack alone."""
    pack = needed(done.layout).pack
    if pack is not None and placed.name == pack.name:
        return done.job.spring.kind.replace("-", " ")
    return {"rod": f"{done.job.rod.kind} rod", "spring": ""}.get(placed.body, placed.body.replace("_", " "))


def named(done: Study) -> dict[str, np.ndarray]:
    """A point of each body that is there, car coordinates at ride, by the body's name in words."""
    p, layout, job = done.mechanism.points, needed(done.layout), done.job

    def at(name: str) -> np.ndarray:
        return np.ravel(getattr(p, name))[:3]

    tread = job.wheel.tyre_radius * np.array([0.75, 0.0, -0.65])
    out = {
        "rocker": (at("pivot") + at("damper_eye")) / 2 if layout.rocker_plates else None,
        f"{job.rod.kind} rod": (at("rod_inboard") + at("rod_outboard")) / 2 if layout.rod_placed else None,
        "damper": (4 * at("damper_eye") + at("damper_chassis")) / 5 if layout.damper_body else None,
        "tie rod": (at("tie_inner") + at("tie_outer")) / 2 if layout.tie_rod else None,
        "wheel": at("wheel_centre") + tread if layout.wheel else None,
    }
    for arm in ("upper", "lower"):
        if f"{arm}_arm" in layout.arms:
            out[f"{arm} arm"] = (at(f"{arm}_front") + 2 * at(f"{arm}_outer")) / 3
    if layout.pack is not None:
        m, part = layout.pack.frame.matrix(), layout.pack.part
        out[job.spring.kind.replace("-", " ")] = (m @ (0.0, 0.0, 0.5 * part.length_mm, 1.0))[:3]
    return {k: v for k, v in out.items() if v is not None}
