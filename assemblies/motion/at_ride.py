"""One corner, or a batch of as-built variations of it, at ride height: its points, axes and constants."""

from __future__ import annotations

import numpy as np

from assemblies.motion.chain import Chain, dot, norm
from assemblies.motion.hard_points import HardPoints
from assemblies.motion.links import LINK, Link

# bodies that are a straight member between two points; the spin about their own line follows the reference
# direction
MEMBERS = {
    "rod": ("rod_outboard", "rod_inboard"),
    "damper_body": ("damper_chassis", "damper_eye"),
    "damper_shaft": ("damper_eye", "damper_chassis"),
    "tie_rod": ("tie_inner", "tie_outer"),
}


class AtRide:
    """The hard points, flattened to one row a variation, and what follows from them alone."""

    def __init__(self, points: HardPoints):
        self.points = points
        self.batch = points.batch
        self._flat = points.changed(
            **{n: np.broadcast_to(getattr(points, n), (*self.batch, 3)).reshape(-1, 3) for n in points.names}
        )
        self.chain = Chain.of(self._flat)
        self.axis = self._flat.axis / norm(self._flat.axis)[:, None]
        self._hinges: dict[str, np.ndarray] = {}
        self._triads: dict[str, np.ndarray] = {}
        self._references: dict[str, np.ndarray] = {}

    def ride(self, name: str) -> np.ndarray:
        """A point at ride height, variations flattened: (V, 3), mm."""
        return getattr(self._flat, name)

    def hinge(self, body: str) -> np.ndarray:
        """Unit axis (V, 3) about which the angle of the rocker (spring) or of an arm is right-handed;
        an arm's lifts its outer joint."""
        if body not in self._hinges:
            if body in ("rocker", "spring"):
                self._hinges[body] = self.axis * self.chain.rocker_sense
            else:
                circle = self.chain.upper if body == "upper_arm" else self.chain.lower
                axis = np.cross(circle[:, :, 1], circle[:, :, 2])
                self._hinges[body] = axis / norm(axis)[:, None]
        return self._hinges[body]

    def anchor(self, body: str) -> str:
        """The name of a point that the body carries."""
        own = {
            "rocker": "rod_inboard",
            "spring": "rod_inboard",
            "upper_arm": "upper_outer",
            "lower_arm": "lower_outer",
            "upright": "lower_outer",
            "wheel": "lower_outer",
            "rack": "tie_inner",
        }
        return own[body] if body in own else MEMBERS[body][0]

    def link(self, name: str) -> Link:
        """The link that "link 1", "link 2" ... names."""
        return self.points.links[int(name.removeprefix(LINK)) - 1]

    def reference(self, body: str) -> np.ndarray:
        """Direction (V, 3) that fixes a straight member's spin: the rocker's axis (tie rod: z) unless it lies
        along it."""
        if body not in self._references:
            start, end = (self.ride(n) for n in MEMBERS[body])
            line = (end - start) / norm(end - start)[:, None]
            wanted = np.broadcast_to([0.0, 0.0, 1.0], line.shape) if body == "tie_rod" else self.axis
            spare = np.eye(3)[np.argmin(abs(line), -1)]
            self._references[body] = np.where(
                abs((line * wanted).sum(-1, keepdims=True)) > 0.9, spare, wanted
            )
        return self._references[body]

    def ride_triad(self, body: str) -> np.ndarray:
        """The frame (V, 3, 3) of a straight member at ride."""
        if body not in self._triads:
            start, end = MEMBERS[body]
            self._triads[body] = triad(self.ride(end) - self.ride(start), self.reference(body))
        return self._triads[body]


def triad(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Orthonormal frames (..., 3, 3) of directions (..., 3), columns: along `first`, `second` squared off it,
    their product."""
    out = np.empty((*np.broadcast_shapes(first.shape, second.shape), 3))
    e1, e2, e3 = (out[..., k] for k in range(3))
    e1[:] = first / norm(first)[..., None]
    e2[:] = second - dot(second, e1)[..., None] * e1
    e2 /= norm(e2)[..., None]
    for i, j, k in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        e3[..., i] = e1[..., j] * e2[..., k] - e1[..., k] * e2[..., j]
    return out
