"""The CAD kernel's look at whole solids: metal that two of them share, nothing cut out, nothing filled.

Everything that is drawn, as it stands (`making.drawn`), against everything else: at droop, ride and bump and
at full lock, and what the gaps look at worst at its own pose. Boxes round the pieces come first, so that the
kernel is asked only where two can meet; two that stand to each other as before are not asked again.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

import numpy as np

from assemblies.clearance.oriented import Box, parted_mm, round_piece, turned
from assemblies.making.drawn import Drawn
from parts.base.frozen import dataclass
from parts.files.cache import keep, kept
from parts.files.measured import digest
from parts.files.solid_cache import salt
from parts.shape.form import Form, Frame

MOST = 3000  # questions to the kernel in a build: some 0.03 s each
NONE_MM = 0.02  # boxes that overlap by less share no metal to speak of: paint and rounding
MOST_KEPT = 10_000  # answers kept; a corner has some hundreds
CHUNK = 256  # pieces held against all others at a time
SAME_MM, SAME_WAY = 6, 9  # decimals of place and direction to which two stand to each other as before


@dataclass(frozen=True)
class Shared:
    """Metal that two drawn solids share at a pose, mm³; NaN where the kernel could not work it out."""

    a: Drawn
    b: Drawn
    common_mm3: float
    wheel_mm: float
    rack_mm: float

    @property
    def unknown(self) -> bool:
        return not np.isfinite(self.common_mm3)


class Looker:
    """Asks the kernel about poses one by one, and remembers how two stood to each other."""

    def __init__(self, most: int = MOST, between_runs: bool = False):
        """`between_runs`: the answers are kept for other runs."""
        self.most, self.asked, self.left = most, 0, 0
        self._seen: set[tuple] = set()
        self._answers = Answers(between_runs)

    def at(
        self,
        things: Sequence[Drawn],
        wheel_mm: float,
        rack_mm: float,
        wanted: Callable[[Drawn, Drawn], bool] = lambda a, b: True,
    ) -> list[Shared]:
        """Every `wanted` pair that shares metal, or could not be looked at, as the things stand; `left`
        counts those for which `most` was spent."""
        out = []
        for i, j in near(things):
            a, b = things[i], things[j]
            if not wanted(a, b):
                continue
            stands = standing(a, b)
            key = (a.name, b.name, stands)
            if key in self._seen:
                continue
            if self.asked >= self.most:
                self.left += 1
                continue
            self._seen.add(key)
            self.asked += 1
            out.append(Shared(a, b, self._answers.common_mm3(a, b, stands), wheel_mm, rack_mm))
        return [s for s in out if not s.common_mm3 <= 0.0]

    def keep(self) -> None:
        """Keep the answers for the next run."""
        self._answers.keep()


def standing(a: Drawn, b: Drawn) -> Frame:
    """Where b stands in a's own axes, to the decimals that tell: what moves together stands the same to the
    last bit, and the kernel is asked the same."""
    m = np.linalg.inv(a.where) @ b.where
    way = m[:3].round(SAME_WAY) + 0.0  # no zero with a sign
    return Frame.looking(m[:3, 3].round(SAME_MM) + 0.0, way[:, 2], way[:, 0])


def common_mm3(a: Drawn, b: Drawn, stands: Frame) -> float:
    from parts.files.measured import common_volume_mm3
    from parts.files.solid import placed

    try:
        return common_volume_mm3(a.shape, placed(b.shape, stands))
    except Exception:  # the kernel raises its own, undocumented kinds
        return float("nan")


# ------------------------------------------------------------ kept


class Answers:
    """The kernel's answers, also of earlier runs, by the content of both solids and where one stands in the
    other's axes; an answer it could not give is asked for again. One file, whatever the corner is called,
    named by how and by which kernel they were found; the oldest answers go first."""

    def __init__(self, between_runs: bool):
        source = hashlib.sha256(Path(__file__).read_bytes()).hexdigest()
        self._file = hashlib.sha256(f"{salt()}|{source}".encode()).hexdigest() if between_runs else None
        body = kept(self._file, "shared") if self._file else None
        self._known: dict[str, float] = json.loads(body) if body else {}
        self._new: dict[str, float] = {}

    def common_mm3(self, a: Drawn, b: Drawn, stands: Frame) -> float:
        key = hashlib.sha256(f"{digest(a.shape)}{digest(b.shape)}{stands}".encode()).hexdigest()
        found = self._new.get(key, self._known.get(key))
        if found is None:
            found = common_mm3(a, b, stands)
        if math.isfinite(found):
            self._new[key] = found
        return found

    def keep(self) -> None:
        older = {k: v for k, v in self._known.items() if k not in self._new}
        if self._file and len(self._new) + len(older) > len(self._known):
            rows = [*older.items(), *self._new.items()][-MOST_KEPT:]
            keep(self._file, "shared", json.dumps(dict(rows)).encode())


# ------------------------------------------------------------ boxes


def near(things: Sequence[Drawn]) -> list[tuple[int, int]]:
    """Pairs of which some piece's box overlaps one of the other's: all that can share metal."""
    owner, centre, axes, half = _boxes(things)
    reach = np.einsum("nij,nj->ni", np.abs(axes), half)
    low, high = centre - reach, centre + reach
    found = []
    for first in range(0, len(owner), CHUNK):
        some = slice(first, first + CHUNK)
        met = owner[some, None] < owner
        for k in range(3):
            met &= (low[some, None, k] < high[:, k]) & (low[:, k] < high[some, None, k])
        i, j = np.nonzero(met)
        found.append(np.stack([i + first, j]))
    i, j = np.concatenate(found, 1)
    overlap = parted_mm(centre[i], axes[i], half[i], centre[j], axes[j], half[j]) <= 0
    return sorted(set(zip(owner[i[overlap]].tolist(), owner[j[overlap]].tolist(), strict=True)))


def _boxes(things: Iterable[Drawn]):
    """(n,) whose, (n, 3) centres, (n, 3, 3) axes as columns, (n, 3) half sizes of a box round each piece."""
    owner, centre, axes, half = [], [], [], []
    for k, d in enumerate(things):
        for middle, own, size in _own_boxes(d):
            owner.append(k)
            centre.append(d.where[:3, :3] @ middle + d.where[:3, 3])
            axes.append(d.where[:3, :3] @ own)
            half.append(np.maximum(size - NONE_MM / 2, 0.0))
    return np.array(owner), np.array(centre), np.array(axes), np.array(half)


def _own_boxes(d: Drawn) -> list[Box]:
    form = d.within if d.within is not None else d.of.form
    if isinstance(form, Form):
        return [round_piece(p) for p in form.pieces]
    b = d.shape.BoundingBox()
    return [turned(np.eye(4), np.array([b.xmin, b.ymin, b.zmin]), np.array([b.xmax, b.ymax, b.zmax]))]
