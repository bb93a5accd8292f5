"""A swing as files: its gaps and findings, a picture with the marks, the silhouette to cut, a STEP file; and
the CAD kernel's word on each least gap."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import numpy as np

from assemblies.clearance.confirm import confirm
from assemblies.clearance.swept import plane
from assemblies.making.picture import Camera, mesh_of, view
from assemblies.making.plots import BLUE, GREY, RED
from assemblies.making.sheets.drawing import to_svg
from assemblies.making.step import COLOURS, Shown, write_assembly
from assemblies.making.sweeping import seen_from, silhouette_dxf, silhouette_paper
from assemblies.results.findings import Finding, worst_first
from assemblies.swing.swing import NOT_CHECKED, PART, Gap, StepFile, Swing, silhouette
from parts.files.imported import Imported
from parts.shape.form import Frame

Say = Callable[..., None]


def write(
    swing: Swing, folder: Path, progress: Say = lambda *_: None
) -> tuple[tuple[Gap, ...], tuple[Finding, ...]]:
    """swing.json, swing.png, swing.step and silhouette.dxf and .svg in `folder`. Returns the gaps, and the
    findings with the kernel's among them."""
    folder = Path(folder)
    folder.mkdir(parents=True, exist_ok=True)
    progress("gaps")
    gaps = swing.gaps()
    shapes = _shapes(swing)
    exact, found = _confirmed(swing, shapes, progress)
    findings = tuple(worst_first([*swing.findings(), *found]))
    progress("silhouette")
    flat = silhouette(swing)
    words = (
        f"{swing.name}, all it sweeps, {swing.from_deg:g} to {swing.to_deg:g} deg",
        f"{seen_from(swing.hinge.pivot, swing.hinge.axis)} - pop: pivot",
        "from outside: holes filled, nothing taken off",
    )
    silhouette_dxf(folder / "silhouette.dxf", flat, words)
    (folder / "silhouette.svg").write_text(to_svg(silhouette_paper(flat), words[0]), encoding="utf-8")
    progress("picture")
    _picture(swing, gaps, shapes, flat, folder / "swing.png")
    progress("STEP")
    _step(swing, shapes, folder / "swing.step")
    told = {
        "name": swing.name,
        "frame": "car coordinates, mm; degrees right-handed about the axis, 0 as given",
        "pivot": list(map(float, swing.hinge.pivot)),
        "axis": list(map(float, swing.hinge.axis)),
        "from_deg": swing.from_deg,
        "to_deg": swing.to_deg,
        "tolerance_mm": swing.tolerance_mm,
        "gaps": [asdict(g) | {"ok": g.ok} | exact.get(g.neighbour, {}) for g in gaps],
        "not_checked": [NOT_CHECKED],
        "findings": [asdict(f) for f in findings],
    }
    (folder / "swing.json").write_text(json.dumps(told, indent=1) + "\n", encoding="utf-8")
    return gaps, findings


def _shapes(swing: Swing) -> dict[str, list]:
    """Solids of every body where it stands at 0 degrees; of a STEP file its own."""
    from parts.files.solid import solid

    out: dict[str, list] = {b.name: [solid(f, allow_many=True) for f in b.forms] for b in swing.bodies}
    files = [(PART, w) for w in swing.turning if isinstance(w, StepFile)] + [*swing.steps().items()]
    for name, w in files:
        out[name] += _of_file(w)
    return out


def _confirmed(swing: Swing, shapes, progress: Say) -> tuple[dict[str, dict], list[Finding]]:
    """The kernel's distance and common volume at each least gap, by neighbour; a stop where it contradicts
    what was proven."""
    files = {n: shapes[n] for n in swing.steps()}
    if any(isinstance(w, StepFile) for w in swing.turning):
        files[PART] = [s for w in swing.turning if isinstance(w, StepFile) for s in _of_file(w)]
    done, left = confirm(swing.results, swing.bodies, swing.hinge, (), progress, imported=files)
    out = [
        Finding(
            level="stop",
            code="gap-disagreement",
            where=c.b,
            text=(
                f"The check and the CAD kernel disagree: {c.fault}. Trust neither: measure this gap on the "
                f"mock-up, and report the file as a fault of the program."
            ),
        )
        for c in done
        if c.fault
    ]
    out += [
        Finding(
            level="note",
            code="not-confirmed",
            where=why.partition(":")[0],
            text=f"Not looked at by the CAD kernel: {why}.",
        )
        for why in left
    ]
    return {c.b: {"exact_gap_mm": c.gap_mm, "common_mm3": c.common_mm3} for c in done}, out


def _of_file(w: StepFile) -> list:
    from parts.files.solid import placed, solid

    return placed(solid(Imported.of(w.path, w.mirrored)), w.matrix()).Solids()


def _step(swing: Swing, shapes, path: Path) -> None:
    """The part at both ends of the swing and at 0, and what stands, in car coordinates."""
    angles = sorted({swing.from_deg, swing.to_deg} | ({0.0} if swing.from_deg < 0 < swing.to_deg else set()))
    items: list[Shown] = [
        Shown(f"{PART} {k} at {angle:+g} deg", s, swing.hinge.at(angle).frame("rocker"), COLOURS["rocker"])
        for angle in angles
        for k, s in enumerate(shapes[PART], 1)
    ]
    items += [
        Shown(name if len(own) == 1 else f"{name} {k}", s, Frame(), COLOURS["frame"])
        for name, own in shapes.items()
        if name != PART
        for k, s in enumerate(own, 1)
    ]
    write_assembly(path, items, swing.name)


# ------------------------------------------------------------ picture


def _picture(swing: Swing, gaps, shapes, flat, path: Path) -> None:
    """Seen from the axis' tip with all that is swept, each least gap numbered; and the list of them."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    camera = Camera.looking(-np.asarray(swing.hinge.axis, float))
    start = 0.0 if swing.from_deg <= 0 <= swing.to_deg else swing.from_deg
    items = [
        (mesh_of(s, swing.hinge.at(start).frame("rocker")), None, COLOURS["rocker"]) for s in shapes[PART]
    ]
    items += [
        (mesh_of(s, Frame()), None, COLOURS["frame"]) for n, own in shapes.items() if n != PART for s in own
    ]
    m = plane(swing.hinge.pivot, swing.hinge.axis).matrix()

    def car(xy) -> np.ndarray:
        xy = np.asarray(xy, float)
        return m[:3, 3] + xy @ m[:3, :2].T

    rings = [
        car([s.at(t) for s in loop.segments for t in (0.0, 0.5)])
        for o in flat
        for loop in (o.outer, *o.inner)
    ]
    seen = camera.seen(np.concatenate(rings))[:, :2]
    ends = camera.seen(np.array([[g.point_on_part, g.point_on_neighbour] for g in gaps if g.gap_mm < 300.0]))
    if len(ends):
        seen = np.concatenate([seen, ends.reshape(-1, 3)[:, :2]])
    low, high = seen.min(0), seen.max(0)
    edge = 0.12 * max(high - low)
    low, high = low - edge, high + edge
    shot = view(items, camera, (low, high), 900)
    rows = shot.image.shape[0]
    fig = plt.figure(figsize=(9, 9 * rows / 900 + 0.35 + 0.24 * (len(gaps) + 2)), layout="none")
    tall = fig.get_figheight()
    ax = fig.add_axes((0, 1 - (9 * rows / 900 + 0.35) / tall, 1, 9 * rows / 900 / tall))
    ax.imshow(shot.image, interpolation="nearest")
    for ring in rings:
        at = np.array([shot.pixel(p) for p in [*ring, ring[0]]])
        ax.plot(*at.T, color=BLUE, linewidth=1.2, linestyle="--")
    ax.plot(*shot.pixel(swing.hinge.pivot), "+", color="black", markersize=12)
    for k, g in enumerate(gaps, 1):
        a, b = shot.pixel(g.point_on_part), shot.pixel(g.point_on_neighbour)
        colour = BLUE if g.ok else RED
        ax.plot([a[0], b[0]], [a[1], b[1]], "o-", color=COLOURS["gap"], linewidth=2, markersize=4)
        ax.annotate(
            str(k),
            tuple((a + b) / 2),
            xytext=(14, 14),
            textcoords="offset points",
            color="white",
            weight="bold",
            bbox={"boxstyle": "circle,pad=0.2", "facecolor": colour, "edgecolor": "white"},
            annotation_clip=True,
        )
    ax.set_axis_off()
    ax.set_xlim(0, shot.image.shape[1])
    ax.set_ylim(rows, 0)
    fig.text(
        0.01,
        1 - 0.2 / tall,
        f"{swing.name}: {swing.from_deg:g} to {swing.to_deg:g} deg, "
        f"{seen_from(swing.hinge.pivot, swing.hinge.axis)}",
        fontsize=11,
        weight="bold",
        va="center",
    )
    for k, g in enumerate(gaps, 1):
        fig.text(
            0.01,
            (0.24 * (len(gaps) + 1.3 - k) + 0.1) / tall,
            f"{k}  {g}",
            fontsize=9.5,
            color="black" if g.ok else RED,
        )
    fig.text(
        0.01,
        0.08 / tall,
        "Dashed: all that the part sweeps. Each mark joins the nearest points at its own angle; the part "
        f"stands at {start:g} deg.",
        fontsize=8.5,
        color=GREY,
    )
    fig.savefig(path, dpi=100, metadata={"Software": None})
    plt.close(fig)
