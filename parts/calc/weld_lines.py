"""A fillet weld of any path in space as a line: the elastic spread of a force and a moment over it, many
loads at once.

The joined parts turn rigidly against each other; the traction per mm is t(r) = F/L + θ × (r - c), with
(∫(|r|²·1 - r·rᵀ)ds)·θ = M about the line's centroid c. In one plane this is the textbook weld group treated
as a line (Shigley's Mechanical Engineering Design). On straight runs the traction is linear, so its size is
greatest at an end.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from parts.base.frozen import dataclass
from parts.base.units import positive
from parts.shape.form import cross


@dataclass(frozen=True)
class LineWeld:
    """Straight runs, each from a point to a point, mm: (runs, 2, 3)."""

    runs: np.ndarray

    @property
    def length_mm(self) -> float:
        return float(self._weights.sum())

    @cached_property
    def _weights(self) -> np.ndarray:
        return np.linalg.norm(self.runs[:, 1] - self.runs[:, 0], axis=1)

    @cached_property
    def centroid(self) -> np.ndarray:
        return self._weights @ self.runs.mean(1) / self.length_mm

    @cached_property
    def second_mm3(self) -> np.ndarray:
        """∫(|r|²·1 - r·rᵀ)ds about the centroid; exact on straight runs (Simpson's rule is, for squares)."""
        a, b = self.runs[:, 0] - self.centroid, self.runs[:, 1] - self.centroid
        outer = sum(
            w * np.einsum("ni,nj,n->ij", p, p, self._weights)
            for w, p in ((1 / 6, a), (4 / 6, (a + b) / 2), (1 / 6, b))
        )
        return np.trace(outer) * np.eye(3) - outer

    def worst_n_per_mm(self, force_n: np.ndarray, moment_nmm: np.ndarray, about: np.ndarray) -> np.ndarray:
        """Greatest traction per mm of run for each load: force (k, 3), moment (k, 3) about the point
        `about`."""
        force, moment = np.atleast_2d(force_n), np.atleast_2d(moment_nmm)
        turned = moment + cross(np.asarray(about) - self.centroid, force)
        theta = turned @ np.linalg.pinv(self.second_mm3, rcond=1e-9)
        ends = self.runs.reshape(-1, 3)
        ends = ends[np.append(True, (ends[1:] != ends[:-1]).any(1))] - self.centroid  # each corner once
        even = force / self.length_mm
        # |even + θ × r|² as a polynomial of r: one product of matrices for all loads and corners
        (tx, ty, tz), (x, y, z) = theta.T, ends.T
        xx, yy, zz = tx * tx, ty * ty, tz * tz
        of_load = [(even * even).sum(1), *2 * cross(even, theta).T, yy + zz, zz + xx, xx + yy]
        of_load += [-2 * tx * ty, -2 * ty * tz, -2 * tz * tx]
        of_corner = [np.ones(len(ends)), x, y, z, x * x, y * y, z * z, x * y, y * z, z * x]
        square = np.array(of_load).T @ np.array(of_corner)
        return np.sqrt(np.maximum(square.max(1), 0.0))


def polyline(points: np.ndarray) -> LineWeld:
    """An open run through points (n, 3)."""
    p = np.asarray(points, float)
    return LineWeld(np.stack([p[:-1], p[1:]], 1))


def circle_flow(diameter_mm: float, in_plane_n, torque_nmm, axial_n, bending_nmm) -> np.ndarray:
    """Greatest force per mm of a fillet all round a tube: √((F/2πr + T/2πr²)² + (N/2πr + M/πr²)²), the two
    peaks taken together.

    Source: weld treated as a line, Shigley's Mechanical Engineering Design (I = πr³, J = 2πr³).

    >>> round(float(circle_flow(42.4, 0, 500e3, 0, 0)), 4), round(float(circle_flow(42.4, 0, 0, 0, 300e3)), 4)
    (177.0592, 212.471)
    """
    positive(diameter_mm=diameter_mm)
    r = diameter_mm / 2
    turn = 2 * math.pi * r
    flat = np.abs(in_plane_n) / turn + np.abs(torque_nmm) / (turn * r)
    return np.sqrt(flat**2 + (np.abs(axial_n) / turn + np.abs(bending_nmm) / (math.pi * r * r)) ** 2)
