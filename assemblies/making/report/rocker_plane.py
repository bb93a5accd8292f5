"""The rocker in its own plane: seen along its axis, as it stands at every wheel height with the rack straight
ahead, with rod, damper and the moment arm of either.

Places are dots of the drawing, worked out here from the mechanism's poses; the numbers beside them are those
of `results.travel`. The page's script only goes from one height to the next.
"""

from __future__ import annotations

from html import escape

import numpy as np

from assemblies.results.curves import BLUE, GREEN, ORANGE
from assemblies.results.model import Results
from assemblies.study import Study
from parts.shape.drawing import path

WIDE, TALL, EDGE = 640, 440, 46  # dots of the drawing, and of them left round what moves
LABEL = 6.6  # dots a letter of a stop's name
ROD, DAMPER = GREEN, BLUE  # colours of the two lines of force
STOPS = ORANGE


class Plane:
    """The plane square to the rocker's axis, seen from ahead where the axis runs fore and aft; mm from the
    pivot."""

    def __init__(self, axis, pivot):
        n = np.asarray(axis, float) / np.linalg.norm(axis)
        self.to_eye = -n if abs(n[0]) > 0.3 and n[0] < 0 else n
        self.turns = 1.0 if self.to_eye @ n > 0 else -1.0  # a right-handed turn is anticlockwise as seen
        up = np.array([0.0, 0.0, 1.0]) if abs(n[2]) < 0.99 else np.array([1.0, 0.0, 0.0])
        self.right = np.cross(up, self.to_eye)
        self.right /= np.linalg.norm(self.right)
        self.up = np.cross(self.to_eye, self.right)
        self.pivot = np.asarray(pivot, float)

    def seen(self, points) -> np.ndarray:
        """(..., 2) right and up of points (..., 3)."""
        out = np.asarray(points, float) - self.pivot
        return np.stack([out @ self.right, out @ self.up], -1)


def foot(eye, far) -> np.ndarray:
    """Where the line through two points (..., 2) is nearest to the origin."""
    way = far - eye
    way = way / np.linalg.norm(way, axis=-1, keepdims=True)
    return eye - (eye * way).sum(-1, keepdims=True) * way


def rocker_plane(study: Study, r: Results) -> dict | None:
    """What the page shows: `svg` at rest, `moving` for its script; None where there is no motion, or an older
    build has no arm of the damper."""
    t = r.travel
    if t is None or t.damper_moment_arm_mm is None:
        return None
    points, mechanism = study.mechanism.points, study.mechanism
    plane = Plane(np.ravel(mechanism.axis)[:3], np.ravel(points.pivot)[:3])
    poses = mechanism.at(np.asarray(t.wheel_mm, float))
    rod, out, eye = (plane.seen(poses.point(n)) for n in ("rod_inboard", "rod_outboard", "damper_eye"))
    chassis = np.broadcast_to(plane.seen(np.ravel(points.damper_chassis)[:3]), eye.shape)
    moving = {"rod": rod, "out": out, "eye": eye, "chassis": chassis}
    moving |= {"rodFoot": foot(rod, out), "eyeFoot": foot(eye, chassis)}
    stops = _stops(study, r, plane)
    plate = study.layout.rocker_plates[0] if study.layout and study.layout.rocker_plates else None
    round_it = [np.zeros((1, 2)), *(moving[k] for k in ("rod", "eye", "rodFoot", "eyeFoot"))]
    round_it += [at.reshape(-1, 2) for _, _, at in stops]
    if plate is not None:
        rim = _rim(plate, plane)
        turn = np.radians(np.array([t.rocker_deg[0], 0.0, t.rocker_deg[-1]], float)) * plane.turns
        round_it += [rim @ np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]]) for a in turn]
    all_ = np.concatenate(round_it)
    all_ = all_[np.isfinite(all_).all(1)]
    low, high = all_.min(0), all_.max(0)
    words = LABEL * max((len(_label(*s[:2])) for s in stops), default=0)
    ways = [np.sign(at[0, 0]) or 1.0 for _, _, at in stops]
    room = WIDE - 2 * EDGE - words  # the stops' names stand outside the rod's eye
    scale = min(room / (high[0] - low[0]), (TALL - 2 * EDGE) / (high[1] - low[1]))
    middle = (low + high) / 2 + (words / 2 / scale * (np.sign(sum(ways)) or 1.0) if ways else 0.0, 0.0)

    def dots(xy) -> np.ndarray:
        xy = np.asarray(xy, float)
        return np.stack(
            [WIDE / 2 + (xy[..., 0] - middle[0]) * scale, TALL / 2 - (xy[..., 1] - middle[1]) * scale], -1
        )

    toggle = [None if v is None else min(v, 180.0 - v) for v in t.rod_to_arm_deg]
    return {
        "svg": _svg(plate, plane, dots, scale, moving, stops),
        "moving": {
            "pivot": _list(dots(np.zeros(2))),
            "turn": [None if v is None else round(-plane.turns * v, 4) for v in t.rocker_deg],
            **{k: _list(dots(v)) for k, v in moving.items()},
            "numbers": {
                "rodArm": _plain(abs_(t.rod_moment_arm_mm)),
                "eyeArm": _plain(abs_(t.damper_moment_arm_mm)),
                "toggle": _plain(toggle),
                "toArm": _plain(t.rod_to_arm_deg),
            },
        },
    }


def abs_(curve) -> list[float | None]:
    return [None if v is None else abs(v) for v in curve]


def _plain(curve) -> list[float | None]:
    return [None if v is None else float(f"{v:.6g}") for v in curve]


def _list(xy: np.ndarray) -> list:
    return np.where(np.isfinite(xy), np.round(xy, 2), 0.0).tolist()


def _stops(study: Study, r: Results, plane: Plane) -> list[tuple[str, float, np.ndarray]]:
    """What ends the travel: words, wheel height, and (rod's eye, damper's eye) there."""
    told: dict[float, list[str]] = {}
    if r.stops is not None:
        for end in (r.stops.bump, r.stops.droop):
            told.setdefault(end.wheel_mm, []).append(end.by)
    if r.ends is not None:
        for what, z in (
            ("damper longest", r.ends.damper_tops_out_at_wheel_mm),
            ("damper shortest", r.ends.damper_bottoms_at_wheel_mm),
        ):
            if z is not None:
                told.setdefault(z, []).append(what)
    out = []
    for z, words in told.items():
        pose = study.mechanism.at(z)
        at = plane.seen(np.stack([np.ravel(pose.point(n))[:3] for n in ("rod_inboard", "damper_eye")]))
        if np.isfinite(at).all():
            out.append((" and ".join(words), z, at))
    return out


def _label(words: str, wheel_mm: float) -> str:
    return f"{words}, {wheel_mm:+z.1f}".replace("-", "−")


def _placed(plate, plane: Plane) -> np.ndarray:
    """(2, 3): right and up of a point x, y, 1 of the plate's own drawing."""
    m = plate.frame.matrix()
    ways = np.stack([m[:3, 0], m[:3, 1]])
    flat = np.stack([ways @ plane.right, ways @ plane.up])
    return np.column_stack([flat, plane.seen(m[:3, 3])])


def _rim(plate, plane: Plane) -> np.ndarray:
    xy = np.array(plate.part.outline().outer.points(1.0))
    return np.column_stack([xy, np.ones(len(xy))]) @ _placed(plate, plane).T


def _svg(plate, plane: Plane, dots, scale: float, moving: dict, stops) -> str:
    """The drawing without what moves but for the plate, which stands as at ride."""
    x, y = dots(np.zeros(2))
    out = [
        f'<svg class="rockerplane" viewBox="0 0 {WIDE} {TALL}" role="img" aria-label="The rocker seen along '
        f'its axis with rod, damper and both moment arms, at the wheel height of the slider">'
    ]
    if plate is not None:
        (a, c, e), (b, d, f) = _placed(plate, plane) * scale
        shift = dots(np.zeros(2))
        # the plate's path has y turned down already, and so has the drawing
        turned = f"matrix({a:.5f} {-b:.5f} {-c:.5f} {d:.5f} {shift[0] + e:.3f} {shift[1] - f:.3f})"
        outline = plate.part.outline()
        metal = "".join(path(loop) for loop in (outline.outer, *outline.inner))
        holes = "".join(
            f'<circle cx="{h.x:.3f}" cy="{-h.y:.3f}" r="{h.diameter_mm / 2:.3f}"/>' for h in outline.holes
        )
        out.append(
            f'<g class="turns"><g class="plate" transform="{turned}"><path d="{metal}" fill-rule="evenodd"/>'
            f"{holes}</g></g>"
        )
    for key in ("rod", "eye"):
        at = dots(moving[key])
        at = at[np.isfinite(at).all(1)]
        out.append(f'<path class="way" d="M{"L".join(f"{u:.1f} {v:.1f}" for u, v in at)}"/>')
    for words, z, at in stops:
        (u, v), (s, t) = dots(at)
        out.append(f'<path class="stop" d="M{u:.1f} {v:.1f}L{x:.1f} {y:.1f}L{s:.1f} {t:.1f}"/>')
        way = np.array([u - x, v - y]) / max(np.hypot(u - x, v - y), 1e-9)
        side = "start" if way[0] >= 0 else "end"
        lx, ly = u + 12 * way[0], min(max(v + 12 * way[1] + 5, 16), TALL - 6)
        label = escape(_label(words, z))
        out.append(f'<text class="stop" x="{lx:.1f}" y="{ly:.1f}" text-anchor="{side}">{label}</text>')
    line = '<path class="{0}" stroke="{1}"/>'
    for key, colour in (("rod", ROD), ("eye", DAMPER)):
        out += [
            line.format(f"beyond {key}", colour),
            line.format(f"force {key}", colour),
            line.format(f"arm {key}", colour),
        ]
    out.append('<path class="toggle"/>')
    out.append(f'<circle class="pivot" cx="{x:.1f}" cy="{y:.1f}" r="5"/>')
    out += [f'<circle class="pin {key}" r="4.5" fill="{c}"/>' for key, c in (("rod", ROD), ("eye", DAMPER))]
    out += [
        f'<text class="name {key}" fill="{c}"></text>'
        for key, c in (("rodArm", ROD), ("eyeArm", DAMPER), ("toggle", "#23282b"))
    ]
    return "".join(out) + "</svg>"
