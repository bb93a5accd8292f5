"""A body between two carriers: a half shaft, a steering column, a link to a bar. Its two ends are points of
two bodies (or of the frame), its line goes from one to the other, and it stays with one of them along that
line.

Its pose follows from its two ends alone; how it is turned about its own line is not told (it is round): the
turn keeps to a fixed direction of the car, as a rod's does.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from parts.base.frozen import dataclass

LINK = "link "  # what the carriers of a corner's links are called by, with their number from 1


@dataclass(frozen=True)
class Link:
    """`from_point`, `to_point`: its ends at ride, mm, car axes; `from_on`, `to_on`: what carries them
    ("frame" or a body). `held`: the end it stays with; at the other it slides."""

    from_point: tuple[float, float, float]
    from_on: str
    to_point: tuple[float, float, float]
    to_on: str
    held: str = "to"

    def __post_init__(self) -> None:
        if self.held not in ("from", "to"):
            raise ValueError(f'link: held is "{self.held}"; it must be from or to')

    @property
    def anchor(self) -> tuple[float, float, float]:
        """The point it stays with, at ride."""
        return self.from_point if self.held == "from" else self.to_point

    @property
    def line(self) -> np.ndarray:
        """From end to end at ride, mm."""
        return np.subtract(self.to_point, self.from_point)

    @property
    def across(self) -> np.ndarray:
        """The car's axis that its turn about its own line keeps to."""
        return np.eye(3)[int(np.argmin(np.abs(self.line)))]

    def mirrored(self) -> Link:
        a, b = ((x, 0.0 - y, z) for x, y, z in (self.from_point, self.to_point))
        return replace(self, from_point=a, to_point=b)

    def ends(self, poses) -> tuple[np.ndarray, np.ndarray]:
        """Both ends at some poses, (..., 3) each."""
        return (
            _carried(poses, self.from_on, np.asarray(self.from_point, float)),
            _carried(poses, self.to_on, np.asarray(self.to_point, float)),
        )

    def frame(self, poses) -> np.ndarray:
        """Rigid motion from ride, (..., 4, 4)."""
        a, b = self.ends(poses)
        turn = _triad(b - a, self.across) @ np.swapaxes(_triad(self.line, self.across), -1, -2)
        now = a if self.held == "from" else b
        out = np.zeros((*now.shape[:-1], 4, 4))
        out[..., :3, :3] = turn
        out[..., :3, 3] = now - turn @ np.asarray(self.anchor, float)
        out[..., 3, 3] = 1.0
        return out


def of_job(job) -> tuple[Link, ...]:
    """The links of a job, in its order."""
    return tuple(
        Link(x.from_, x.from_on, x.to, x.to_on, "to" if x.slides == "from" else "from") for x in job.link
    )


def _carried(poses, on: str, point: np.ndarray) -> np.ndarray:
    shape = (*poses.mechanism.batch, *poses.shape, 3)
    if on == "frame":
        return np.broadcast_to(point, shape)
    frame = poses.frame(on)
    return frame[..., :3, :3] @ point + frame[..., :3, 3]


def _triad(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Frames (..., 3, 3), columns: along `first`, `second` squared off it, their product."""
    x = first / np.linalg.norm(first, axis=-1, keepdims=True)
    y = second - (x @ second)[..., None] * x
    y = y / np.linalg.norm(y, axis=-1, keepdims=True)
    return np.stack([x, y, np.cross(x, y)], -1)
