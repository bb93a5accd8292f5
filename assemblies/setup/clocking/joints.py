"""The joints of a rotary spring's adjustment chain, what settings they combine to, and the fewest teeth that
reach one.

From the rocker outward: sleeve (drilled, toothed, slotted, or free until drilled) - socket - spring - anchor
(toothed or drilled plates, or clamped) - frame; everywhere in this order. Every joint's turn
is counted in the loading sense, the way bump turns the rocker: a turn on the rocker's side winds the spring
up, a turn on the frame's side unwinds it. Angles deg.
"""

from __future__ import annotations

import math

import numpy as np

from parts.base.frozen import dataclass

MOST_COMBINATIONS = 2_000_000


@dataclass(frozen=True)
class AdjustableJoint:
    """One adjustable joint. `kind`: "toothed" or "drilled" (`steps` a turn), "slotted" (`steps` bolt places a
    turn, each with `range_deg` of slot in all), "free" (any angle until it is drilled or welded) or "clamped"
    (none)."""

    name: str
    kind: str
    steps: int = 0
    range_deg: float = 0.0
    side: str = "rocker"  # or "frame": which side of the spring it is on

    def __post_init__(self) -> None:
        if self.kind not in ("toothed", "drilled", "slotted", "free", "clamped"):
            raise ValueError(
                f'joint {self.name}: kind is "{self.kind}"; it must be toothed, drilled, slotted, free or '
                f"clamped"
            )
        if self.stepped and self.steps < 1:
            raise ValueError(
                f"joint {self.name}: steps is {self.steps}; a {self.kind} joint needs at least 1"
            )
        if self.side not in ("rocker", "frame"):
            raise ValueError(f'joint {self.name}: side is "{self.side}"; it must be rocker or frame')
        if not 0 <= self.range_deg < 360 or (self.kind == "slotted" and self.range_deg == 0):
            raise ValueError(
                f"joint {self.name}: range_deg is {self.range_deg:g}; a slot's range is above 0 and under "
                f"360 deg"
            )

    @property
    def stepped(self) -> bool:
        return self.kind in ("toothed", "drilled", "slotted")

    @property
    def step_deg(self) -> float:
        """One step; 0 for a joint without steps."""
        return 360 / self.steps if self.stepped else 0.0

    @property
    def winds(self) -> int:
        """Wind of the spring by a turn in the loading sense: +1 on the rocker's side, -1 on the frame's."""
        return 1 if self.side == "rocker" else -1


@dataclass(frozen=True)
class Setting:
    """A combination: teeth moved at each stepped joint (loading sense +), what a slot or free joint adds, and
    the wind it makes."""

    wind_deg: float
    teeth: tuple[int, ...]
    turn_deg: float = 0.0


def settings_a_turn(counts) -> int:
    """Different settings of toothed joints that combine: lcm of the counts, not their product.

    >>> settings_a_turn([24, 30]), settings_a_turn([20, 21])
    (120, 420)
    """
    return math.lcm(*counts) if counts else 1


def vernier_step_deg(*counts: int) -> float:
    """The finest step of joints with these counts, 360/lcm.

    >>> vernier_step_deg(24, 25), vernier_step_deg(8, 9)
    (0.6, 5.0)
    """
    return 360 / settings_a_turn(counts)


def nearest_deg(wanted_deg, *counts: int) -> np.ndarray:
    """The nearest reachable angle to each wanted one.

    >>> nearest_deg([7.0, 1.0, -2.5], 24, 25).round(9).tolist()
    [7.2, 1.2, -2.4]
    """
    step = vernier_step_deg(*counts)
    return np.round(np.asarray(wanted_deg, float) / step) * step


def wind_of(joints, teeth: dict[str, int]) -> float:
    """Wind of stepped joints moved by `teeth` from the design setting, the nearest way round, deg."""
    turn = sum(j.winds * teeth.get(j.name, 0) * j.step_deg for j in joints if j.stepped)
    return (turn + 180) % 360 - 180


def fewest_teeth(joints) -> np.ndarray:
    """For every setting m (wind = m·360/lcm, m = 0 ... lcm - 1; a whole turn counts as none) the teeth moved
    at each joint, fewest in all: an array (lcm, joints). Ties: fewest at the last joint.

    Raises ValueError where there are more than two million combinations."""
    joints = [j for j in joints if j.stepped]
    if not joints:
        return np.zeros((1, 0), int)
    size = math.prod(j.steps for j in joints)
    if size > MOST_COMBINATIONS:
        raise ValueError(
            f"the joints' counts {[j.steps for j in joints]} give {size} combinations; the most is "
            f"{MOST_COMBINATIONS}"
        )
    whole = settings_a_turn([j.steps for j in joints])
    moves = [np.arange(-((j.steps - 1) // 2), j.steps // 2 + 1) for j in joints]
    grid = np.stack([g.ravel() for g in np.meshgrid(*moves, indexing="ij")], -1)
    m = grid @ [j.winds * (whole // j.steps) for j in joints] % whole
    effort = np.abs(grid)
    order = np.lexsort((-grid[:, -1], effort[:, -1], effort.sum(1), m))
    _, first = np.unique(m[order], return_index=True)
    return grid[order[first]]


def nearest_settings(joints, wanted_deg: float, count: int = 9) -> list[Setting]:
    """The `count` settings nearest to a wanted wind, nearest first. A slot or a free joint makes up what the
    teeth leave, as far as it goes; with a free joint one setting, exact."""
    joints = tuple(joints)
    teeth = fewest_teeth(joints)
    free = any(j.kind == "free" for j in joints)
    slack = math.inf if free else sum(j.range_deg / 2 for j in joints if j.kind == "slotted")
    if not any(j.stepped for j in joints):
        return [Setting(wanted_deg if free else 0.0, (), wanted_deg if free else 0.0)]
    step = 360 / len(teeth)
    if free:
        return [Setting(wanted_deg, (0,) * teeth.shape[1], wanted_deg)]
    middle = round(wanted_deg / step)
    near = sorted(range(middle - count, middle + count + 1), key=lambda m: (abs(m * step - wanted_deg), m))[
        :count
    ]
    out = []
    for m in near:
        extra = min(max(wanted_deg - m * step, -slack), slack)
        out.append(Setting(m * step + extra, tuple(map(int, teeth[m % len(teeth)])), float(extra)))
    return out


def wrong_teeth(joints, most: int = 1) -> list[Setting]:
    """Every mistake of up to `most` teeth at each stepped joint, the right setting left out, by the wind it
    makes."""
    stepped = [j for j in joints if j.stepped]
    if not stepped:
        return []
    moves = np.stack(
        [g.ravel() for g in np.meshgrid(*[np.arange(-most, most + 1)] * len(stepped), indexing="ij")], -1
    )
    found = [
        Setting(
            float(sum(j.winds * int(k) * j.step_deg for j, k in zip(stepped, row, strict=True))),
            tuple(map(int, row)),
        )
        for row in moves
        if row.any()
    ]
    return sorted(found, key=lambda s: s.wind_deg)


def chain(job) -> tuple[AdjustableJoint, ...]:
    """The joints of a job's rotary spring: drilled sleeve and drilled anchor plates where teeth are given,
    else a sleeve free until drilled and a clamped anchor. Empty for a coil-over."""
    if job.spring.kind == "coil-over":
        return ()
    teeth = job.spring.teeth
    if teeth is None:
        return AdjustableJoint("sleeve", "free"), AdjustableJoint("anchor", "clamped", side="frame")
    across = (
        teeth.sleeve if teeth.sleeve % 2 == 0 else 2 * teeth.sleeve
    )  # a bolt straight across comes round twice a turn
    return AdjustableJoint("sleeve", "drilled", across), AdjustableJoint(
        "anchor", "drilled", teeth.anchor, side="frame"
    )
