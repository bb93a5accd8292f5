"""What a part is made of, in words that need no CAD kernel: prisms of flat outlines and round bars.

A part describes itself once as a `Form`; the solid, the collision pieces and the cache key all come from it.
Lengths mm. A `Frame` places a local x, y, z system in the one outside it.
"""

from __future__ import annotations

import hashlib
import math
from dataclasses import field, replace
from functools import cached_property

import numpy as np

from parts.base.frozen import dataclass
from parts.shape.outline import Outline

Vector = tuple[float, float, float]


def vector(values) -> Vector:
    """Three numbers of any kind as plain floats."""
    x, y, z = values
    return float(x), float(y), float(z)


def unit(v) -> np.ndarray:
    """`v` at length one. Raises ValueError for a vector of no length."""
    v = np.asarray(v, float)
    n = math.sqrt(float(v @ v))
    if n < 1e-12:
        raise ValueError("a direction needs a length")
    return v / n


def cross(a, b) -> np.ndarray:
    """a × b over the last axis, as `numpy.cross` gives it, without its care for other axes."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    (ax, ay, az), (bx, by, bz) = (a[..., 0], a[..., 1], a[..., 2]), (b[..., 0], b[..., 1], b[..., 2])
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    out[..., 0], out[..., 1], out[..., 2] = ay * bz - az * by, az * bx - ax * bz, ax * by - ay * bx
    return out


@dataclass(frozen=True)
class Frame:
    """Origin and the directions of local x and z in the outer system (y completes a right-handed set)."""

    origin: Vector = (0.0, 0.0, 0.0)
    x: Vector = (1.0, 0.0, 0.0)
    z: Vector = (0.0, 0.0, 1.0)

    @staticmethod
    def looking(origin, z, x_near) -> Frame:
        """Frame with its z along `z` and its x as near to `x_near` as square axes allow.

        Raises ValueError where the two are parallel."""
        z = unit(z)
        x = np.asarray(x_near, float)
        x = unit(x - (x @ z) * z)
        return Frame(vector(origin), vector(x), vector(z))

    @cached_property
    def _matrix(self) -> np.ndarray:
        (a, b, c), (d, e, f) = self.x, self.z
        m = np.array(
            [
                [a, e * c - f * b, d, self.origin[0]],
                [b, f * a - d * c, e, self.origin[1]],
                [c, d * b - e * a, f, self.origin[2]],
                [0.0, 0.0, 0.0, 1.0],
            ]
        )
        m.flags.writeable = False
        return m

    def matrix(self) -> np.ndarray:
        """4 x 4, read only: outer = matrix @ (local, 1)."""
        return self._matrix

    @staticmethod
    def of(matrix) -> Frame:
        (a, _, d, x), (b, _, e, y), (c, _, f, z) = np.asarray(matrix, float)[:3].tolist()
        return Frame((x, y, z), (a, b, c), (d, e, f))

    def then(self, outer: Frame) -> Frame:
        """This frame, itself given in `outer`'s system, expressed outside `outer`."""
        return Frame.of(outer.matrix() @ self.matrix())


@dataclass(frozen=True)
class Prism:
    """A flat outline extruded from local z = 0 to z = `thickness_mm`; its far end shifted by `lean_mm` in
    local x and y (an oblique prism, only among the cuts of a form)."""

    outline: Outline
    thickness_mm: float
    frame: Frame = Frame()
    lean_mm: tuple[float, float] = field(default=(0.0, 0.0), kw_only=True)

    @property
    def volume_mm3(self) -> float:
        return self.outline.area_mm2 * self.thickness_mm

    @property
    def centroid(self) -> Vector:
        (x, y), (u, v) = self.outline.centroid, self.lean_mm
        x, y = x + u / 2, y + v / 2
        return vector((self.frame.matrix() @ (x, y, self.thickness_mm / 2, 1))[:3])


@dataclass(frozen=True)
class Round:
    """A round bar or tube along local z from 0 to `length_mm`; `bore_mm` 0 is solid."""

    diameter_mm: float
    length_mm: float
    bore_mm: float = 0.0
    frame: Frame = Frame()

    @property
    def volume_mm3(self) -> float:
        return math.pi * (self.diameter_mm**2 - self.bore_mm**2) / 4 * self.length_mm

    @property
    def centroid(self) -> Vector:
        return vector((self.frame.matrix() @ (0, 0, self.length_mm / 2, 1))[:3])


Piece = Prism | Round


@dataclass(frozen=True)
class Form:
    """Pieces joined, then `cuts` taken out of the whole. Joined pieces may touch but should not overlap
    where a part's mass is to be the sum of its pieces. Where the cuts part it and a `heart` is given, only
    the solid at that point is meant: the rest falls off. `volume_mm3`: what its maker knows it must hold."""

    pieces: tuple[Piece, ...]
    cuts: tuple[Piece, ...] = ()
    heart: Vector | None = field(default=None, repr=False)
    volume_mm3: float | None = field(default=None, repr=False, compare=False)

    def moved(self, frame: Frame) -> Form:
        """The same form with its local system placed by `frame`."""

        def put(p: Piece) -> Piece:
            frame_then = p.frame.then(frame)
            if isinstance(p, Round):
                return Round(p.diameter_mm, p.length_mm, p.bore_mm, frame_then)
            return Prism(p.outline, p.thickness_mm, frame_then, lean_mm=p.lean_mm)

        heart = None if self.heart is None else vector((frame.matrix() @ (*self.heart, 1.0))[:3])
        return Form(tuple(map(put, self.pieces)), tuple(map(put, self.cuts)), heart, self.volume_mm3)

    def mirrored(self) -> Form:
        """The form's mirror image in the outer system's xz plane."""
        heart = None if self.heart is None else (self.heart[0], 0.0 - self.heart[1], self.heart[2])
        return Form(
            tuple(map(_mirrored, self.pieces)), tuple(map(_mirrored, self.cuts)), heart, self.volume_mm3
        )

    @cached_property
    def key(self) -> str:
        """A name for exactly this content: two forms share it only if every number is the same."""
        return hashlib.sha256((repr(self) + (f" {self.heart}" if self.heart else "")).encode()).hexdigest()


def _mirrored(p: Piece) -> Piece:
    """Local x turns about, so that the frame stays right-handed; a prism's outline turns with it."""
    (ox, oy, oz), (x, y, z), (u, v, w) = p.frame.origin, p.frame.x, p.frame.z
    frame = Frame((ox, 0.0 - oy, oz), (0.0 - x, y, 0.0 - z), (u, 0.0 - v, w))
    if isinstance(p, Round):
        return replace(p, frame=frame)
    return replace(p, frame=frame, outline=p.outline.mirrored(), lean_mm=(0.0 - p.lean_mm[0], p.lean_mm[1]))
