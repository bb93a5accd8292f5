"""State of a nest in the making, and its shapes and plate as the flat arrays the compiled search works on."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from shapely import Polygon as Cover

from assemblies.nesting.container import Container
from assemblies.nesting.kernel import Copies, Kinds, Pieces, PlateArrays, contacts, cosine_sine, overlaps
from assemblies.nesting.polygons import ConvexPiece, convex_pieces, grown


@dataclass(eq=False)
class Shape:
    """One kind of blank: its true cover, the allowed angles (where `free` the favourite ones, any other may
    be taken), pieces with half the spacing round them, pieces without."""

    cover: Cover
    angles: tuple[float, ...]
    half_spacing_mm: float
    fill_mm: float = 0.8
    free: bool = False

    def __post_init__(self) -> None:
        from shapely import Polygon

        self.near = [
            ConvexPiece(p) for p in convex_pieces(grown(self.cover, self.half_spacing_mm), self.fill_mm)
        ]
        self.bare = [ConvexPiece(p) for p in convex_pieces(Polygon(self.cover.exterior), self.fill_mm)]
        self.area_mm2 = float(self.cover.area)
        outer = np.concatenate([p.points for p in self.bare])
        self.reach_mm = float(np.hypot(outer[:, 0], outer[:, 1]).max())

    def box(self, turn: float) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y when turned (rad)."""
        p = np.concatenate([b.points for b in self.bare])
        c, s = cosine_sine.py_func(float(turn))
        x, y = c * p[:, 0] - s * p[:, 1], s * p[:, 0] + c * p[:, 1]
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())


def flat(things: list[list[ConvexPiece]]) -> Pieces:
    """A row of things, each of convex pieces, as the compiled search takes them."""
    pieces = [p for some in things for p in some]
    if not pieces:
        return Pieces(
            np.zeros((0, 5)), np.zeros(0), np.zeros(1, np.int64), np.zeros((0, 3)), np.zeros(1, np.int64)
        )
    corner = np.concatenate([np.column_stack([p.points, p.all_normals, p.loose]) for p in pieces])
    middle = [(p.points.min(axis=0) + p.points.max(axis=0)) / 2 for p in pieces]
    radius = [np.hypot(*(p.points - m).T).max() for p, m in zip(pieces, middle, strict=True)]
    return Pieces(
        corner,
        np.concatenate([p.reaches for p in pieces]),
        np.cumsum([0, *(len(p.points) for p in pieces)]),
        np.column_stack([np.array(middle), radius]),
        np.cumsum([0, *(len(some) for some in things)]),
    )


def kinds_of(shapes: list[Shape]) -> Kinds:
    return Kinds(
        flat([s.near for s in shapes]),
        flat([s.bare for s in shapes]),
        np.radians(np.concatenate([s.angles for s in shapes])),
        np.cumsum([0, *(len(s.angles) for s in shapes)]),
        np.array([s.free for s in shapes]),
        np.array([s.reach_mm for s in shapes]),
    )


def plate_of(container: Container) -> PlateArrays:
    normals, reach = container.hull_rows
    hull = np.column_stack([normals, reach])
    if math.isfinite(container.length_mm):
        hull = np.concatenate([hull, [[1.0, 0.0, container.length_mm]]])
    return PlateArrays(hull, flat([list(g) for g in container.obstacles]), np.array(container.bounds))


@dataclass(eq=False)
class Arrangement:
    """Copies of shapes in a container. Arrays over the copies: kind, turn (rad), x, y."""

    shapes: list[Shape]
    container: Container
    kind: np.ndarray
    turn: np.ndarray
    x: np.ndarray
    y: np.ndarray
    kinds: Kinds = field(default=None, repr=False)  # pyrefly: ignore[bad-assignment]  # worked out below

    def __post_init__(self) -> None:
        self.kinds = self.kinds or kinds_of(self.shapes)
        self.kind, self.turn, self.x, self.y = (
            np.ascontiguousarray(self.kind, np.int64),
            *(np.ascontiguousarray(a, float) for a in (self.turn, self.x, self.y)),
        )
        self.plate = plate_of(self.container)

    @staticmethod
    def empty(shapes: list[Shape], container: Container) -> Arrangement:
        none = np.zeros(0)
        return Arrangement(shapes, container, none, none, none, none)

    def __len__(self) -> int:
        return len(self.kind)

    @property
    def copies(self) -> Copies:
        """The arrays themselves: what the search does to them it does to this layout."""
        return Copies(self.kind, self.turn, self.x, self.y)

    @property
    def area_mm2(self) -> float:
        return float(sum(self.shapes[k].area_mm2 for k in self.kind))

    def copy(self) -> Arrangement:
        return replace(self, **{name: getattr(self, name).copy() for name in ("kind", "turn", "x", "y")})

    def within(self, container: Container) -> Arrangement:
        """The same copies in another container."""
        return replace(self.copy(), container=container)

    def with_(self, kind: int, turn: float, x: float, y: float) -> Arrangement:
        add = {"kind": kind, "turn": turn, "x": x, "y": y}
        longer: dict[str, Any] = {name: np.append(getattr(self, name), v) for name, v in add.items()}
        return replace(self, **longer)

    def without(self, i: int) -> Arrangement:
        names = ("kind", "turn", "x", "y")
        shorter: dict[str, Any] = {name: np.delete(getattr(self, name), i) for name in names}
        return replace(self, **shorter)

    def limits(self, kind: int, turn: float) -> tuple[float, float, float, float]:
        """Least x, least y, greatest x, greatest y of a copy's origin inside the container's box."""
        x0, y0, x1, y1 = self.container.bounds
        a, b, c, d = self.shapes[kind].box(turn)
        return x0 - a, y0 - b, x1 - c, y1 - d

    def overlaps(self) -> tuple[np.ndarray, np.ndarray]:
        """Depth of each pair of copies (n x n, symmetric) and of each copy in its walls (n), mm."""
        return overlaps(self.kinds, self.plate, self.copies)

    def contacts(self, within_mm: float, lowest_only: bool) -> np.ndarray:
        return contacts(self.kinds, self.plate, self.copies, within_mm, lowest_only)

    @property
    def deepest_mm(self) -> float:
        """The worst overlap by the search's own measure; 0 where all is clear."""
        pair, wall = self.overlaps()
        return float(max(pair.max(initial=0.0), wall.max(initial=0.0)))

    @property
    def length_mm(self) -> float:
        """Greatest x of a copy."""
        return max(
            (self.x[i] + self.shapes[self.kind[i]].box(self.turn[i])[2] for i in range(len(self))),
            default=0.0,
        )
