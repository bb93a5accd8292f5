"""Pictures of the corner without a browser's 3D: for print, and for a page that has no WebGL. The wheel is
laid over the rest like glass."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from io import BytesIO
from pathlib import Path

import numpy as np

from assemblies.layout.placing import needed
from assemblies.making.picture import Camera, Facets, view
from assemblies.making.report.scene import triangles, turned, untwisted
from assemblies.making.step import colour_of
from assemblies.study import Study

WIDE_PX, SHEET_PX, BORDER = 900, 1400, 0.02  # dots; empty rim as a share of the width
PAPER, BLACK = np.array((246, 247, 243)) / 255, np.zeros(3)
GLASS, GLASS_COLOUR, GLASS_SHARE = ("wheel",), np.array((70, 66, 70)) / 255, 0.22


def pictures(study: Study, shapes: Mapping[str, object], heights_mm: list[float]) -> list[str]:
    """PNG as data addresses, one for each wheel height, all to the same scale and from the same place."""
    camera = Camera.usual(study.job.corner.side)
    meshes, layout = [], needed(study.layout)
    for p in layout.placed:
        if p.name in shapes:
            pack = p is layout.pack
            corners, faces = untwisted(study) if pack else triangles(p.form, shapes[p.name])
            meshes.append((p, corners[faces]))
    stood = [_standing(study, meshes, z) for z in heights_mm]
    window = _window(camera, stood)
    return [_png(items, glass, camera, window) for items, glass in stood]


def gap_picture(folder: Path | None) -> tuple[str, str] | None:
    """The build's own picture of the gaps, if there is one: where it lies, and as a data address."""
    from PIL import Image

    path = folder and Path(folder) / "plots" / "gaps.png"
    if not path or not path.is_file():
        return None
    image = Image.open(path).convert("RGB")
    if image.width > SHEET_PX:
        image = image.resize(
            (SHEET_PX, round(image.height * SHEET_PX / image.width)), Image.Resampling.LANCZOS
        )
    out = BytesIO()
    image.quantize(128, Image.Quantize.MAXCOVERAGE).save(out, "PNG", optimize=True)
    return "plots/gaps.png", "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")


def _standing(study: Study, meshes, wheel_mm: float) -> tuple[list, list]:
    """What is solid and what is glass at a wheel height: triangles in car axes, frame, colour."""
    from assemblies.making.drawn import twist_deg

    layout, poses = needed(study.layout), study.mechanism.at(wheel_mm)
    items, glass = list[Facets](), list[Facets]()
    for p, mesh in meshes:
        where = p.frame.matrix() if p.carrier == "frame" else poses.frame(p.carrier) @ p.frame.matrix()
        if layout.pack is not None and p is layout.pack:
            mesh = turned(mesh, twist_deg(layout, float(poses.rocker_rad)), p.part.length_mm)
        at = mesh @ where[:3, :3].T + where[:3, 3]
        clear = p.body in GLASS
        (glass if clear else items).append(
            (at, None, (1.0, 1.0, 1.0) if clear else colour_of(p.body, p.carrier))
        )
    return items, glass


def _window(camera: Camera, stood) -> tuple[np.ndarray, np.ndarray]:
    """Lower left and upper right of all pictures together, right and up, with a rim."""
    seen = np.concatenate(
        [camera.seen(mesh.reshape(-1, 3))[:, :2] for items, glass in stood for mesh, *_ in (*items, *glass)]
    )
    low, high = seen.min(0), seen.max(0)
    rim = BORDER * (high[0] - low[0])
    return low - rim, high + rim


def _png(items, glass, camera: Camera, window) -> str:
    from PIL import Image

    image = view(items, camera, window, WIDE_PX, PAPER).image
    if glass:
        veil = GLASS_SHARE * (view(glass, camera, window, WIDE_PX, BLACK).image.max(-1, keepdims=True) > 0)
        image = (1 - veil) * image + veil * GLASS_COLOUR
    out = BytesIO()
    Image.fromarray((255 * image).round().astype(np.uint8)).quantize(128).save(out, "PNG", optimize=True)
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode("ascii")
