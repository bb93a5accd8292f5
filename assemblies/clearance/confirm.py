"""The exact kernel's word on the worst poses: true distance, or common volume. Loads the CAD kernel.

Like is compared with like: holes, windows and bores count as filled (those of a `hollow` body's round pieces
stay open), and of joined bodies only the parts are left out that turn in one another. The check rounds
outward, so the kernel's gap is never below what was proven and never above what was found. Where that does
not hold, one of the two is wrong: `fault` says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import cached_property
from types import MappingProxyType
from typing import Any

import numpy as np

from assemblies.clearance.bounds import carrier_index
from assemblies.clearance.oriented import Box, parted_mm, round_piece, turned
from assemblies.clearance.plan import Body, Joint
from parts.base.frozen import dataclass
from parts.shape.form import Frame, Piece, Round
from parts.shape.outline import Outline

NEAREST = 10  # pairs with gap enough that are looked at too, nearest to their limits first
ARITHMETIC_MM = 1e-3  # of the kernel's distances
SOME_MM3 = 1e-3  # less common volume than this is none
ROUND_MM = 0.1  # added to the kernel's box of an imported solid


@dataclass(frozen=True)
class Confirmed:
    """What the kernel finds for a pair at its worst pose.

    `gap_mm`: the filled bodies' distance, 0 where they overlap; `common_mm3`: the volume both fill;
    `metal_mm3`: the same of the true metal, bores and holes open (less, where one stands inside the other's
    tube). `fault`: how it contradicts the check."""

    a: str
    b: str
    gap_mm: float
    common_mm3: float
    metal_mm3: float
    fault: str | None = None


def chosen(pairs: Sequence, nearest: int = NEAREST) -> list:
    """Of pairs, nearest to their limits first: all that are short or clash, and the `nearest` next ones."""
    short = [p for p in pairs if not p.ok]
    return short + [p for p in pairs if p.ok][:nearest]


def confirm(
    pairs: Sequence,
    bodies: Sequence[Body],
    mechanism,
    joints: Sequence[Joint] = (),
    progress: Callable[..., None] = lambda *_: None,
    imported: Mapping[str, Sequence] = MappingProxyType({}),
) -> tuple[list[Confirmed], list[str]]:
    """Each pair (results of the check) at its worst pose, and which could not be confirmed and why.

    `imported`: solids of other programs by body, car coordinates at ride,
    in place of the triangles the check meets them by; without one there is nothing to ask. 0.1 to 3 s a pair,
    free-form ones more."""
    by_name: dict[str, list[Body]] = {}
    for body in bodies:
        by_name.setdefault(body.name, []).append(body)
    done, left = [], []
    for n, pair in enumerate(pairs):
        progress(f"exact gap: {pair.a} to {pair.b}", n + 1, len(pairs))
        why = _unfit(pair, by_name, imported)
        if why:
            left.append(f"{pair.a} to {pair.b}: {why}")
            continue
        try:
            done.append(_pair(pair, by_name, mechanism, joints, imported))
        except Exception as e:  # the kernel raises its own, undocumented kinds
            left.append(f"{pair.a} to {pair.b}: the CAD kernel could not work it out ({e})")
    return done, left


def _unfit(pair, by_name, imported) -> str | None:
    for name in (pair.a, pair.b):
        if name not in by_name:
            return f"{name} is no body with a solid"
        if any(body.shells for body in by_name[name]) and name not in imported:
            return f"{name} is an imported mesh"
    return None


def exact(
    a: str,
    b: str,
    bodies: Sequence[Body],
    poses,
    joints: Sequence[Joint] = (),
    imported: Mapping[str, Sequence] = MappingProxyType({}),
) -> tuple[float, float]:
    """Distance and common volume of two bodies, filled and without what turns in one another, at one pose."""
    one, two = (_standing([x for x in bodies if x.name == name], poses, imported) for name in (a, b))
    met = _against(one, two, _turning(a, b, joints))
    common = _common(met)
    return (0.0 if common > SOME_MM3 else _distance(met)), common


def _turning(a: str, b: str, joints: Sequence[Joint]):
    """Whether a part of body a and one of body b turn in one another."""
    own = [j for j in joints if {j.a, j.b} == {a, b}]
    return lambda one, two: any(j.row(a, one, two) == (None,) for j in own)


def _pair(pair, by_name, mechanism, joints, imported) -> Confirmed:
    poses = mechanism.at(pair.at_wheel_mm, pair.at_rack_mm)
    own = by_name[pair.a], by_name[pair.b]
    gap, common = exact(pair.a, pair.b, own[0] + own[1], poses, joints, imported)
    turning = _turning(pair.a, pair.b, joints)
    metal = _metal(*own, poses, turning, imported) if common > SOME_MM3 else 0.0
    fault = _below(pair, gap, common) or _above(pair, gap, common)
    return Confirmed(pair.a, pair.b, gap, common, metal, fault)


def _below(pair, gap_mm: float, common_mm3: float) -> str | None:
    least = getattr(pair, "least_gap_mm", None)
    proven = pair.gap_mm if least is None else least
    if proven > ARITHMETIC_MM and common_mm3 > SOME_MM3:
        return f"{proven:.3f} mm was proven, the CAD kernel finds {common_mm3:.1f} mm³ in common"
    if gap_mm < proven - ARITHMETIC_MM:
        return f"{proven:.3f} mm was proven, the CAD kernel finds {gap_mm:.3f} mm"
    return None


def _above(pair, gap_mm: float, common_mm3: float) -> str | None:
    """`found_gap_mm` has the tessellation's error in it: nothing is to be added."""
    if pair.found_gap_mm < -ARITHMETIC_MM and common_mm3 <= SOME_MM3:
        return (
            f"an overlap of {-pair.found_gap_mm:.3f} mm was found, the CAD kernel finds no volume in common"
        )
    if gap_mm > max(pair.found_gap_mm, 0.0) + ARITHMETIC_MM:
        return f"{pair.found_gap_mm:.3f} mm was found, the CAD kernel finds {gap_mm:.3f} mm"
    return None


# ------------------------------------------------------------ pieces at a pose


@dataclass(frozen=True, eq=False)
class _Import:
    """A solid of another program at a pose: as it is, holes open."""

    carrier: int
    part: str
    shape: Any  # the CAD kernel's

    @cached_property
    def box(self) -> Box:
        b = self.shape.BoundingBox()
        low, high = np.array([b.xmin, b.ymin, b.zmin]), np.array([b.xmax, b.ymax, b.zmax])
        return turned(np.eye(4), low - ROUND_MM, high + ROUND_MM)


@dataclass(frozen=True, eq=False)
class _Standing:
    """A filled piece at a pose, in car coordinates."""

    carrier: int
    part: str
    piece: Piece

    @cached_property
    def box(self) -> Box:
        return round_piece(self.piece)

    @cached_property
    def shape(self):
        from parts.files.solid import piece_solid

        return piece_solid(self.piece)


def _filled(piece: Piece, hollow: bool) -> Piece:
    if isinstance(piece, Round):
        return piece if hollow or not piece.bore_mm else replace(piece, bore_mm=0.0)
    return replace(piece, outline=Outline(piece.outline.outer))


def _frame(body: Body, poses) -> Frame:
    return Frame() if body.carrier == "frame" else Frame.of(poses.frame(body.carrier))


def _standing(bodies: Sequence[Body], poses, imported) -> list:
    from parts.files.solid import placed

    out: list[_Import | _Standing] = []
    for body in bodies:
        frame, carrier = _frame(body, poses), carrier_index(body.carrier)
        if body.shells:
            out += [_Import(carrier, body.part, placed(s, frame)) for s in imported[body.name]]
        out += [
            _Standing(carrier, body.part, replace(q, frame=q.frame.then(frame)))
            for form in body.forms
            for q in (_filled(p, body.hollow) for p in form.pieces)
        ]
    return out


def _apart(met: Sequence[tuple]) -> list[float]:
    """By how much the boxes of each two are parted at least, mm."""
    if not met:
        return []
    one, two = zip(*((x.box, y.box) for x, y in met), strict=True)
    gaps = parted_mm(*map(np.array, zip(*one, strict=True)), *map(np.array, zip(*two, strict=True)))
    return np.maximum(gaps - ARITHMETIC_MM, 0.0).tolist()


def _against(one: Sequence, two: Sequence, turning) -> list[tuple]:
    """What of two bodies moves against each other and does not turn in one another: the check leaves out the
    rest."""
    return [(x, y) for x in one for y in two if x.carrier != y.carrier and not turning(x.part, y.part)]


def _distance(met: Sequence[tuple]) -> float:
    best = np.inf
    for far, _, x, y in sorted((f, k, *met[k]) for k, f in enumerate(_apart(met))):
        if far >= best:
            break
        best = min(best, float(x.shape.distance(y.shape)))
    return best


def _common(met: Sequence[tuple]) -> float:
    """Volume that both fill, counted once where pieces of one body overlap."""
    from parts.files.boolean import common

    return _volume([common(x.shape, y.shape) for (x, y), f in zip(met, _apart(met), strict=True) if f == 0])


def _volume(shapes) -> float:
    from parts.files.boolean import united
    from parts.files.measured import volume_mm3

    some = [s for s in shapes if s.Solids() and volume_mm3(s) > 0]
    return volume_mm3(united(*some)) if some else 0.0


def _metal(one: Sequence[Body], two: Sequence[Body], poses, turning, imported) -> float:
    """Common volume of the true solids, bores, holes and cuts open."""
    from parts.files.boolean import common
    from parts.files.solid import placed, solid

    both = []
    for bodies in (one, two):
        shapes = []
        for body in bodies:
            frame = _frame(body, poses)
            own = [solid(form, allow_many=True) for form in body.forms] + (
                list(imported[body.name]) if body.shells else []
            )
            shapes += [(carrier_index(body.carrier), body.part, placed(s, frame)) for s in own]
        both.append(shapes)
    return _volume(
        [
            common(x, y)
            for p, one_part, x in both[0]
            for q, other_part, y in both[1]
            if p != q and not turning(one_part, other_part) and x.Solids() and y.Solids()
        ]
    )
