"""How far a piece may stray from straight lines between poses, over any cell of travel (and rack)."""

from __future__ import annotations

import numpy as np

from assemblies.clearance.bounds import sharpest
from assemblies.clearance.scene import Grid, Scene, spread

ROOTS = 16  # cells of travel to begin with
FINEST = 2048  # cells beyond which no bound is looked for
SIDES = 4  # cells of rack for the first boxes


class Bends:
    """sup|p''| of every piece over any dyadic cell: the finest table, and its greatest values over wider
    cells."""

    def __init__(self, scene: Scene, grid: Grid):
        self.grid = grid
        steers = bool(grid.rack)
        heads, self.head = np.unique(scene.family, return_inverse=True)
        carrier = scene.carrier[heads]
        points = scene.corners()[heads] - grid.motion.references[carrier][:, None]
        cells, sides = ROOTS, 2 * SIDES
        while True:
            edges = spread(grid.rack, sides + 1) if steers else np.zeros(1)
            table = sharpest(*grid.motion.bends(spread(grid.travel, cells + 1), edges), carrier, points)
            if np.isfinite(table).all():
                break
            if cells * (sides if steers else 1) >= FINEST:
                raise ValueError(
                    "clearance: the motion is too quick to be bounded; end travel and rack further from "
                    "where the corner stops closing"
                )
            cells, sides = 2 * cells, 2 * sides
        self.z_cell, self.s_cell = Grid.FINE // cells, Grid.FINE // (table.shape[3])
        flat: list[np.ndarray] = []
        offset: list[list[int]] = []
        start = 0
        while True:
            rows = table
            self_row: list[int] = []
            while True:
                flat.append(rows.reshape(*rows.shape[:2], -1))
                self_row.append(start)
                start += rows.shape[2] * rows.shape[3]
                if rows.shape[3] == 1:
                    break
                rows = np.maximum(rows[..., ::2], rows[..., 1::2])
            offset.append(self_row)
            if table.shape[2] == 1:
                break
            table = np.maximum(table[:, :, ::2], table[:, :, 1::2])
        self.flat, self.offset = np.concatenate(flat, 2), np.array(offset)
        self.half_z = (grid.travel[1] - grid.travel[0]) / Grid.FINE / 2
        self.half_s = (grid.rack[1] - grid.rack[0]) / Grid.FINE / 2 if grid.rack else 0.0

    def slack(self, some, z, wz, s, ws) -> list[np.ndarray]:
        """h²/2·sup|p''| of pieces (of the whole pieces that hold them) over cells, the sum of all `some` that
        are given, for travel and (if there is any) rack, mm."""
        lz = np.maximum(0, np.log2(wz / self.z_cell)).astype(int)
        ls = np.maximum(0, np.log2(ws / self.s_cell)).astype(int)
        columns = np.maximum(Grid.FINE // self.s_cell >> ls, 1)
        place = self.offset[lz, ls] + (z // (self.z_cell << lz)) * columns + s // (self.s_cell << ls)
        heads = [self.head[which] for which in some]
        halves = (self.half_z * wz, self.half_s * ws)
        return [
            0.5 * half**2 * sum(table[head, place] for head in heads)
            for table, half in zip(self.flat, halves, strict=False)
        ]
