"""The exact kernel's word on the worst poses: true distance, or common volume. Loads the CAD kernel.

Like is compared with like: holes, windows and bores count as filled (those of a `hollow` body's round pieces
stay open), and what lies inside a joint's zone is cut away with a true ball. The check rounds outward and
keeps a little of what lies inside the ball, so the kernel's gap is never below what was proven, and without a
joint never above what was found; with a joint the points found must lie on the bodies. Where that does not
hold, one of the two is wrong: `fault` says so.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from types import MappingProxyType

import numpy as np

from assemblies.clearance.bounds import carrier_index
from assemblies.clearance.plan import Body, Joint, form_box
from parts.shape.form import Form, Frame, Piece, Round
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
    tolerance_mm: float = 0.1,
    progress: Callable[..., None] = lambda *_: None,
    imported: Mapping[str, Sequence] = MappingProxyType({}),
) -> tuple[list[Confirmed], list[str]]:
    """Each pair (results of the check) at its worst pose, and which could not be confirmed and why.

    `tolerance_mm`: that of the check. `imported`: solids of other programs by body, car coordinates at ride,
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
        own = [j for j in joints if {j.a, j.b} == {pair.a, pair.b}]
        try:
            done.append(_pair(pair, by_name, mechanism, own, tolerance_mm, imported))
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
    """Distance and common volume of two bodies, filled and without their joints' zones, at one pose."""
    zones = [j for j in joints if {j.a, j.b} == {a, b}]
    one, two = (_standing([x for x in bodies if x.name == name], poses, zones, imported) for name in (a, b))
    common = _common(one, two)
    return (0.0 if common > SOME_MM3 else _distance(one, two)), common


def _pair(pair, by_name, mechanism, zones, tolerance_mm, imported) -> Confirmed:
    poses = mechanism.at(pair.at_wheel_mm, pair.at_rack_mm)
    own = by_name[pair.a], by_name[pair.b]
    gap, common = exact(pair.a, pair.b, own[0] + own[1], poses, zones, imported)
    metal = _metal(*own, poses, zones, imported) if common > SOME_MM3 else 0.0
    fault = _below(pair, gap, common) or (
        _off(pair, own, poses, tolerance_mm, imported) if zones else _above(pair, gap, common)
    )
    return Confirmed(pair.a, pair.b, gap, common, metal, fault)


def _below(pair, gap_mm: float, common_mm3: float) -> str | None:
    if pair.gap_mm > ARITHMETIC_MM and common_mm3 > SOME_MM3:
        return f"{pair.gap_mm:.3f} mm was proven, the CAD kernel finds {common_mm3:.1f} mm³ in common"
    if gap_mm < pair.gap_mm - ARITHMETIC_MM:
        return f"{pair.gap_mm:.3f} mm was proven, the CAD kernel finds {gap_mm:.3f} mm"
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


def _off(pair, own, poses, tolerance_mm: float, imported) -> str | None:
    """With a joint: what the check keeps of its zone may be nearer than what lies outside, so its points are
    held instead."""
    from parts.files.solid import ball

    for name, bodies, point in zip((pair.a, pair.b), own, (pair.point_a, pair.point_b), strict=True):
        spot = ball(point, ARITHMETIC_MM)
        off = min(float(x.shape.distance(spot)) for x in _standing(bodies, poses, (), imported))
        if off > tolerance_mm:
            return f"the point found on {name} lies {off:.3f} mm from it in the CAD kernel"
    return None


# ------------------------------------------------------------ pieces at a pose


@dataclass(frozen=True, eq=False)
class _Import:
    """A solid of another program at a pose: as it is, holes open."""

    carrier: int
    whole: object
    balls: tuple[tuple[np.ndarray, float], ...]

    @cached_property
    def box(self) -> np.ndarray:
        b = self.whole.BoundingBox()
        return np.array([(b.xmin, b.ymin, b.zmin), (b.xmax, b.ymax, b.zmax)]) + np.array(
            [[-ROUND_MM], [ROUND_MM]]
        )

    @cached_property
    def shape(self):
        return _without(self.whole, self.box, self.balls)


def _without(shape, box: np.ndarray, balls):
    """What balls leave of a solid, None where nothing is left."""
    from parts.files.solid import ball

    for centre, radius in balls:
        apart = np.maximum(np.maximum(box[0] - centre, centre - box[1]), 0)
        if apart @ apart < radius**2:
            shape = shape.cut(ball(centre, radius))
    return shape if shape.Solids() else None


@dataclass(frozen=True, eq=False)
class _Standing:
    """A filled piece at a pose, in car coordinates, and the balls that are cut out of it."""

    carrier: int
    piece: Piece
    balls: tuple[tuple[np.ndarray, float], ...]

    @cached_property
    def box(self) -> np.ndarray:
        return np.array(form_box(Form((self.piece,))))

    @cached_property
    def shape(self):
        """The solid, or None where nothing is left of it."""
        from parts.files.solid import piece_solid

        return _without(piece_solid(self.piece), self.box, self.balls)


def _filled(piece: Piece, hollow: bool) -> Piece:
    if isinstance(piece, Round):
        return piece if hollow or not piece.bore_mm else replace(piece, bore_mm=0.0)
    return replace(piece, outline=Outline(piece.outline.outer))


def _frame(body: Body, poses) -> Frame:
    return Frame() if body.carrier == "frame" else Frame.of(poses.frame(body.carrier))


def _balls(frame: Frame, zones) -> tuple[tuple[np.ndarray, float], ...]:
    return tuple(((frame.matrix() @ (*z.point, 1.0))[:3], z.radius_mm) for z in zones if z.radius_mm > 0)


def _standing(bodies: Sequence[Body], poses, zones, imported) -> list:
    from parts.files.solid import placed

    out = []
    for body in bodies:
        frame, carrier = _frame(body, poses), carrier_index(body.carrier)
        if body.shells:
            out += [_Import(carrier, placed(s, frame), _balls(frame, zones)) for s in imported[body.name]]
        out += [
            _Standing(carrier, replace(q, frame=q.frame.then(frame)), _balls(frame, zones))
            for form in body.forms
            for q in (_filled(p, body.hollow) for p in form.pieces)
        ]
    return out


def _apart(x: _Standing, y: _Standing) -> float:
    gap = np.maximum(np.maximum(x.box[0] - y.box[1], y.box[0] - x.box[1]), 0)
    return float(np.sqrt(gap @ gap))


def _against(one: Sequence, two: Sequence) -> list[tuple]:
    """What of two bodies moves against each other: the check leaves out what rides together."""
    return [(x, y) for x in one for y in two if x.carrier != y.carrier]


def _distance(one: Sequence[_Standing], two: Sequence[_Standing]) -> float:
    best = np.inf
    for far, _, x, y in sorted((_apart(x, y), k, x, y) for k, (x, y) in enumerate(_against(one, two))):
        if far >= best:
            break
        if x.shape is not None and y.shape is not None:
            best = min(best, float(x.shape.distance(y.shape)))
    return best


def _common(one: Sequence[_Standing], two: Sequence[_Standing]) -> float:
    """Volume that both fill, counted once where pieces of one body overlap."""
    met = [(x.shape, y.shape) for x, y in _against(one, two) if _apart(x, y) == 0]
    return _volume([x.intersect(y) for x, y in met if x is not None and y is not None])


def _volume(shapes) -> float:
    from parts.files.solid import volume_mm3

    some = [s for s in shapes if s.Solids() and volume_mm3(s) > 0]
    if not some:
        return 0.0
    return volume_mm3(some[0].fuse(*some[1:]) if len(some) > 1 else some[0])


def _metal(one: Sequence[Body], two: Sequence[Body], poses, zones, imported) -> float:
    """Common volume of the true solids, bores, holes and cuts open."""
    from parts.files.solid import ball, placed, solid

    both = []
    for bodies in (one, two):
        shapes = []
        for body in bodies:
            frame = _frame(body, poses)
            own = [solid(form, allow_many=True) for form in body.forms] + (
                list(imported[body.name]) if body.shells else []
            )
            for shape in (placed(s, frame) for s in own):
                for centre, radius in _balls(frame, zones):
                    shape = shape.cut(ball(centre, radius))
                shapes.append((carrier_index(body.carrier), shape))
        both.append(shapes)
    return _volume(
        [x.intersect(y) for p, x in both[0] for q, y in both[1] if p != q and x.Solids() and y.Solids()]
    )
