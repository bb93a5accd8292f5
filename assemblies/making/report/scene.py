"""The corner as the page's 3D view needs it: meshes of the real solids, and the true motion of every body.

A mesh is stored in the part's own axes with 16-bit coordinates over its box (0.02 mm on a part of 1 m). A
body's motion is its rigid motion from ride, sampled from the mechanism on a grid of wheel height (the grid of
`results.travel`) and, for bodies that the rack moves, rack travel: where a point of the body stands and how
the body is turned (unit quaternion). The page goes between grid poses in a straight line, for turns along the
shortest arc.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Callable, Mapping
from typing import TypeVar

import numpy as np

from assemblies.clearance.bounds import CARRIERS, SAME
from assemblies.layout.placing import Layout, needed
from assemblies.motion.links import LINK
from assemblies.study import Study
from parts.files.imported import Imported
from parts.shape.form import Form

TESSELLATION_MM, TESSELLATION_RAD = 0.1, 0.25
WHEEL_STEPS, RACK_STEP_MM = 2, 4.0  # of the grid of `results.travel`; motion between is told to under 0.01 mm
MOST_MESHES = 500
Mesh = TypeVar("Mesh")
_meshes: dict[str, tuple[np.ndarray, np.ndarray]] = {}
_packed_meshes: dict[str, dict] = {}
POINTS = {  # hard point: its name in words, what carries it
    "upper_front": ("upper arm, front pivot", "frame"),
    "upper_rear": ("upper arm, rear pivot", "frame"),
    "upper_outer": ("upper arm, outer joint", "upper_arm"),
    "lower_front": ("lower arm, front pivot", "frame"),
    "lower_rear": ("lower arm, rear pivot", "frame"),
    "lower_outer": ("lower arm, outer joint", "lower_arm"),
    "tie_inner": ("tie rod, inner", "tie_rod"),
    "tie_outer": ("tie rod, outer", "tie_rod"),
    "rod_outboard": ("rod, outboard", "rod"),
    "rod_inboard": ("rod, inboard", "rocker"),
    "pivot": ("rocker pivot", "frame"),
    "damper_eye": ("damper eye on the rocker", "rocker"),
    "damper_chassis": ("damper eye on the chassis", "frame"),
    "wheel_centre": ("wheel centre", "upright"),
    "contact": ("contact point", "upright"),
}


def carrier_of(name: str) -> str:
    return SAME.get(name, name)


def solids(layout: Layout | None) -> dict[str, object]:
    """Every placed part's solid in its own axes, by name; of those that the CAD kernel makes one of (a build
    tells of the rest). Loads the CAD kernel."""
    from assemblies.making import drawn

    return drawn.solids(layout) if layout is not None else {}


def at_hand(layout: Layout | None, known: Mapping[str, object]) -> dict[str, object]:
    """Of every placed part's solid, by name, those that are known by the form's content."""
    keys = {p.name: p.form.key for p in layout.placed} if layout is not None else {}
    return {name: known[key] for name, key in keys.items() if key in known}


def scene(study: Study, shapes: Mapping[str, object], known: bool = False) -> dict:
    """Parts, meshes, motion and hard points; everything JSON can carry. Needs a study that stands. `known`:
    without a spring that no page has shown twisted so far."""
    from assemblies.making.step import colour_of

    layout = needed(study.layout)
    meshes, place, parts = list[dict](), dict[str, int](), []
    for p in layout.placed:
        if p.name not in shapes:
            continue
        twist = spring_twist(study) if p is layout.pack else None
        key = _twisted_key(study) if twist else p.form.key
        if twist and known and key not in _meshes:
            continue
        if key not in place:
            corners = untwisted(study) if twist else triangles(p.form, shapes[p.name])
            place[key] = len(meshes)
            meshes.append(_mesh(key, *corners))
        parts.append(
            {
                "twist": twist,
                "name": p.name,
                "body": p.body,
                "carrier": carrier_of(p.carrier),
                "mesh": place[key],
                "frame": p.frame.matrix().T.ravel().tolist(),
                "colour": "#" + "".join(f"{round(255 * c):02x}" for c in colour_of(p.body, p.carrier)),
                "mass_kg": p.mass_kg,
                "material": p.material,
            }
        )
    points = study.mechanism.points
    return {
        "parts": parts,
        "meshes": meshes,
        "motion": motion(study),
        "axis": np.ravel(study.mechanism.axis)[:3].tolist(),
        "side": points.side,
        "points": [
            {"name": n, "label": label, "carrier": c, "at": np.ravel(getattr(points, n))[:3].tolist()}
            for n, (label, c) in POINTS.items()
        ],
    }


def spring_twist(study: Study) -> dict:
    """How the page turns a point of the pack (or bar) about its z: by `ride_deg + per_rocker_deg · rocker
    angle` up to z = 0, by nothing from z = `length_mm`, in proportion between (`making.drawn`)."""
    from assemblies.making.drawn import twist_deg

    layout = needed(study.layout)
    ride, turned = (twist_deg(layout, a) for a in (0.0, math.radians(1.0)))
    return {
        "ride_deg": ride,
        "per_rocker_deg": turned - ride,
        "length_mm": needed(layout.pack).part.length_mm,
    }


def untwisted(study: Study) -> tuple[np.ndarray, np.ndarray]:
    """Corners and triangles of the pack where it is twisted most, turned back to no twist: cut along its
    length as finely as any pose asks. Remembered as those of a form are."""
    from assemblies.making.drawn import twisted_pack
    from parts.files import measured

    def made() -> tuple[np.ndarray, np.ndarray]:
        layout, most = needed(study.layout), _most_twist_deg(study)
        corners, faces = measured.triangles(twisted_pack(layout, most), TESSELLATION_MM, TESSELLATION_RAD)
        return turned(corners, -most, needed(layout.pack).part.length_mm), faces

    return _remembered(_meshes, _twisted_key(study), made)


def shown_twisted(study: Study) -> bool:
    """Whether the study's spring, if it twists, has its mesh made already."""
    return study.layout is None or study.layout.pack is None or _twisted_key(study) in _meshes


def _most_twist_deg(study: Study) -> float:
    from assemblies.making.drawn import twist_deg

    poses = needed(study.springing).poses
    rocker = poses.rocker_rad[np.asarray(poses.valid, bool)]
    return max((twist_deg(needed(study.layout), float(r)) for r in rocker), key=abs)


def _twisted_key(study: Study) -> str:
    """All that the twisted pack is made of."""
    layout = needed(study.layout)
    edge_mm = needed(layout.socket).part.spring_corner_mm
    return f"{needed(layout.pack).part!r}, edges {edge_mm!r}, twisted by {_most_twist_deg(study)!r}"


def turned(points: np.ndarray, degrees: float, length_mm: float) -> np.ndarray:
    """Points (..., 3) of a pack in its own axes with its rocker's end turned by so much."""
    x, y, z = np.moveaxis(points, -1, 0)
    turn = math.radians(degrees) * np.clip(1 - z / length_mm, 0, 1)
    c, s = np.cos(turn), np.sin(turn)
    return np.stack([c * x - s * y, s * x + c * y, z], -1)


def triangles(form: Form | Imported, shape) -> tuple[np.ndarray, np.ndarray]:
    """Corners (n, 3) and triangles (m, 3) of a form's solid, wound outwards; no corner is shared across an
    edge of the solid.

    Remembered by the form's content, so that a part that did not change is not meshed again."""
    from parts.files import measured

    return _remembered(
        _meshes, form.key, lambda: measured.triangles(shape, TESSELLATION_MM, TESSELLATION_RAD)
    )


def _remembered(known: dict[str, Mesh], key: str, make: Callable[[], Mesh]) -> Mesh:
    if key not in known:
        if len(known) >= MOST_MESHES:
            known.clear()
        known[key] = make()
    return known[key]


def _mesh(key: str, corners: np.ndarray, faces: np.ndarray) -> dict:
    """The mesh as the page has it, by its content, so that a page anew packs only what changed."""
    return _remembered(_packed_meshes, key, lambda: mesh(corners, faces))


def mesh(corners: np.ndarray, faces: np.ndarray) -> dict:
    """A mesh with 16-bit coordinates: x = low + step · number, each axis its own; little-endian, base64."""
    low, high = corners.min(0), corners.max(0)
    step = np.maximum(high - low, 1e-6) / 65535
    index = "<u2" if len(corners) <= 65536 else "<u4"
    return {
        "low": low.tolist(),
        "step": step.tolist(),
        "corners": _packed(np.rint((corners - low) / step), "<u2"),
        "faces": _packed(faces, index),
        "wide": index == "<u4",
    }


def motion(study: Study, wheel: np.ndarray | None = None, rack: np.ndarray | None = None) -> dict:
    """Rigid motions of the carriers over the grid: `wheel_mm`, `rack_mm`, and per carrier `from` (a point at
    ride) and `poses`, float32 x y z of that point and quaternion x y z w, wheel height slowest, rack
    fastest. On a grid of another corner, where this one cannot be it stands at the nearest height it can."""
    if wheel is None or rack is None:
        sprung = needed(study.springing)
        every = np.asarray(sprung.wheel_mm, float)[np.asarray(sprung.poses.valid, bool)]
        ride = int(np.argmin(np.abs(every)))
        wheel = every[sorted({0, len(every) - 1, *range(ride % WHEEL_STEPS, len(every), WHEEL_STEPS)})]
        rack = _rack_grid(study, wheel)
    poses = study.mechanism.at(wheel[:, None], rack[None])
    stands = np.asarray(poses.valid, bool)
    nearest = np.abs(wheel[:, None, None] - wheel[None, :, None]) + np.where(stands, 0.0, 1e9)[None]
    take = nearest.argmin(1), np.arange(len(rack))[None]
    bodies = {}
    links = {f"{LINK}{k}": x.anchor for k, x in enumerate(study.mechanism.points.links, 1)}
    for carrier in (*CARRIERS[1:], *links):
        frames = poses.frame(carrier)[take]
        start = (
            np.asarray(links[carrier], float)
            if carrier in links
            else np.ravel(study.mechanism.ride(study.mechanism.anchor(carrier)))[:3]
        )
        if np.abs(frames - frames[:, :1]).max() < 1e-9:
            frames = frames[:, :1]
        at = frames[..., :3, :3] @ start + frames[..., :3, 3]
        bodies[carrier] = {
            "from": start.tolist(),
            "steered": frames.shape[1] > 1,
            "poses": _packed(np.concatenate([at, quaternions(frames[..., :3, :3])], -1), "<f4"),
        }
    return {"wheel_mm": wheel.tolist(), "rack_mm": rack.tolist(), "bodies": bodies}


def _rack_grid(study: Study, wheel: np.ndarray) -> np.ndarray:
    """Rack travel from end to end, as far as the corner closes at every wheel height; just 0 where nothing is
    steered."""
    most = abs(study.job.tie_rod.rack_travel)
    half = int(np.ceil(most / RACK_STEP_MM))
    grid = np.linspace(-most, most, 2 * half + 1)
    good = np.all(study.mechanism.at(wheel[:, None], grid[None]).valid, axis=0)
    reach = next((k for k in range(half + 1) if not (good[half + k] and good[half - k])), half + 1)
    return grid[half - reach + 1 : half + reach] if reach else np.zeros(1)


def quaternions(turns: np.ndarray) -> np.ndarray:
    """Unit quaternions x y z w of rotation matrices (..., 3, 3), of the sign with w ≥ 0 (turns up to half a
    turn).

    The largest of the four is taken from the diagonal, the rest by division: Shepperd, J. Guidance and
    Control 1 (1978) 223."""
    m = turns
    d = np.stack([m[..., 0, 0], m[..., 1, 1], m[..., 2, 2]], -1)
    trace = d.sum(-1, keepdims=True)
    four = np.concatenate([1 + 2 * d - trace, 1 + trace], -1)  # 4x², 4y², 4z², 4w²
    x_y, x_z, y_z = m[..., 0, 1] + m[..., 1, 0], m[..., 0, 2] + m[..., 2, 0], m[..., 1, 2] + m[..., 2, 1]
    w_x, w_y, w_z = m[..., 2, 1] - m[..., 1, 2], m[..., 0, 2] - m[..., 2, 0], m[..., 1, 0] - m[..., 0, 1]
    rows = np.stack(
        [
            np.stack([four[..., 0], x_y, x_z, w_x], -1),
            np.stack([x_y, four[..., 1], y_z, w_y], -1),
            np.stack([x_z, y_z, four[..., 2], w_z], -1),
            np.stack([w_x, w_y, w_z, four[..., 3]], -1),
        ],
        -2,
    )
    q = np.take_along_axis(rows, np.argmax(four, -1)[..., None, None], -2)[..., 0, :]
    q = q / np.linalg.norm(q, axis=-1, keepdims=True)
    return q * np.where(q[..., 3:] < 0, -1.0, 1.0)


def _packed(values: np.ndarray, kind: str) -> str:
    return base64.b64encode(np.ascontiguousarray(values, kind).tobytes()).decode("ascii")
