"""Proven bounds of how sharply every body's motion bends, over cells of wheel travel (and rack).

The corner's closed chain (see `assemblies.motion.mechanism`) is run once more in ball arithmetic with second
derivatives (jets.py): for a cell of travel the lower arm's angle is enclosed, and with it every rigid motion
R(z), t(z) and its second derivatives by z at fixed rack and by rack at fixed travel. A body point q moves as
p = R q + t, so |p''| is a convex function of q: its greatest value over a piece is at a corner of the piece's
box.

What it is for: between two poses h apart each way from the middle, p(z) stays within h²/2·sup|p''| of the
straight line between the positions at the two ends (error of linear interpolation), and on a rectangle within
the sum of the two directions' terms of the bilinear interpolation of the four corners.

Enclosure of the angle: with |da/dz|, |da/ds| bounded over the box |a - a0| <= r by M, N, the branch that
starts at a0 in the cell's middle stays inside the box if h·M + k·N <= r (it cannot reach the wall before the
cell's edge). The box is widened until that holds; a cell where it never does is reported as not bounded
(infinite).
"""

from __future__ import annotations

from functools import partial

import numpy as np

from assemblies.clearance.jets import WIDEN, EnclosedJet, along, cross, dot, joined, stack, turned
from assemblies.motion.chain import circle
from assemblies.motion.links import LINK
from parts.base.distinct import distinct
from parts.files.remembered import once

CARRIERS = (
    "frame",
    "rocker",
    "rod",
    "damper_body",
    "damper_shaft",
    "upper_arm",
    "lower_arm",
    "tie_rod",
    "upright",
    "rack",
)
SAME = {"wheel": "upright", "spring": "rocker"}  # other names for a carrier
WIDEST_CELLS = 1024  # finer than this a travel is not cut for bounds
ANGLE_ERROR = 1e-8  # rad, far above the rounding with which the lower arm's angle is found
MOST_KNOWN = 4  # corners of as many contents
_known: dict[tuple, CornerBounds] = {}


STEERED = ("tie_rod", "upright", "rack")  # what the rack moves
HUNG = (
    "rod",
    "rocker",
    "damper_body",
    "damper_shaft",
)  # and what a rod moves, where it stands on the upright
OTHER = "other "  # what the carriers (and bodies) of the other side of the car are called by


BOTH = 2 * len(CARRIERS) - 1  # of both sides of the car, which share the frame; links come after them


def carrier_index(name: str) -> int:
    """Place of a carrier in a motion; the other side's follow this side's (see other_side.py), then the
    links, this side's and the other's by turns."""
    own = name.removeprefix(OTHER)
    if own.startswith(LINK) and own[len(LINK) :].isdecimal():
        return BOTH + 2 * (int(own[len(LINK) :]) - 1) + (own != name)
    own = SAME.get(own, own)
    if own not in CARRIERS:
        raise ValueError(f"carrier is {name!r}; it must be one of {', '.join((*CARRIERS, *SAME))}")
    k = CARRIERS.index(own)
    return k + len(CARRIERS) - 1 if k and name.startswith(OTHER) else k


def carrier_name(index: int) -> str:
    """A carrier of this side by its place."""
    return CARRIERS[index] if index < len(CARRIERS) else f"{LINK}{(index - BOTH) // 2 + 1}"


def _references(p) -> np.ndarray:
    """(carriers, 3) the point of each body at ride whose path the chain follows."""
    return np.array(
        [
            np.zeros(3),
            p.pivot,
            p.rod_outboard,
            p.damper_chassis,
            p.damper_eye,
            p.upper_front,
            p.lower_front,
            p.tie_inner,
            p.lower_outer,
            p.tie_inner,
        ]
    )


class CornerBounds:
    """The motion of one corner's bodies, in the order of CARRIERS and its links where `carrier_index` puts
    them: poses, and how sharply the paths between them bend. Places of the other side stand still."""

    def __init__(self, mechanism, kept: bool = False):
        """`kept`: how sharply they bend is known from run to run."""
        p = mechanism.points
        self.mechanism, self.points, self._kept = mechanism, p, kept
        self._bends: dict[tuple[bytes, bytes], tuple[np.ndarray, np.ndarray]] = {}
        self.references = _references(p)
        self.links = tuple(f"{LINK}{k}" for k, _ in enumerate(p.links, 1))
        if self.links:
            self._at = np.array([carrier_index(n) for n in (*CARRIERS, *self.links)])
            self.references = self._spread(
                np.concatenate([self.references, [x.anchor for x in p.links]]), axis=0
            )

    @property
    def content(self) -> str:
        """Exactly this motion."""
        return f"{type(self.mechanism).__name__} {self.points.content}"

    def _spread(self, values: np.ndarray, axis: int) -> np.ndarray:
        """CARRIERS and links one after the other, put where `carrier_index` has them; zero elsewhere."""
        shape = list(values.shape)
        shape[axis] = BOTH + 2 * len(self.links)
        out = np.zeros(shape)
        out[(slice(None),) * axis + (self._at,)] = values
        return out

    @classmethod
    def of(cls, motion) -> CornerBounds:
        """The corner of a mechanism, for those of one content the same, with the bounds that it has worked
        out; one given is taken as it is."""
        if isinstance(motion, CornerBounds):
            return motion
        content = type(motion), repr(motion.points.content)
        if content not in _known:
            if len(_known) == MOST_KNOWN:
                del _known[next(iter(_known))]
            _known[content] = cls(motion, kept=True)
        return _known[content]

    def frames(self, wheel_mm: np.ndarray, rack_mm: np.ndarray) -> np.ndarray:
        """(poses, carriers, 3, 4) rigid motions from ride; NaN where the corner cannot reach."""
        poses = self.mechanism.at(wheel_mm, rack_mm)
        out = np.zeros((len(wheel_mm), len(self.references), 3, 4))
        out[..., :3] = np.eye(3)
        out[:, 1 : len(CARRIERS)] = poses.frames(CARRIERS[1:])
        for name in self.links:
            out[:, carrier_index(name)] = poses.frame(name)[:, :3]
        return out

    def bends(self, z_edges: np.ndarray, rack_edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """See `bends`; each grid of cells is worked out once."""
        key = z_edges.tobytes(), rack_edges.tobytes()
        if key not in self._bends:
            make = partial(bends, self.mechanism, z_edges, rack_edges)
            given = self.content, z_edges, rack_edges
            mid, rad = once("bends", given, make) if self._kept else make()
            self._bends[key] = (
                (self._spread(mid, axis=1), self._spread(rad, axis=1)) if self.links else (mid, rad)
            )
        return self._bends[key]

    def riding(self, carriers) -> frozenset[int]:
        """The places of some carriers and of the links that have an end on one of them."""
        links = zip(self.links, self.mechanism.points.links, strict=True)
        on = [name for name, x in links if {SAME.get(e, e) for e in (x.from_on, x.to_on)} & set(carriers)]
        return frozenset(map(carrier_index, (*carriers, *on)))

    @property
    def steered(self) -> frozenset[int]:
        """The carriers that the rack moves; the others stand where the lower arm's angle puts them."""
        return self.riding(STEERED + HUNG if self.mechanism.chain.on_upright else STEERED)


def arm_angle(p, lower_outer: np.ndarray) -> np.ndarray:
    """Angle (rad) of the lower arm from ride, right-handed about rear - front, from its outer joint's
    position (..., 3)."""
    centre, e1, e2, _ = circle(p.lower_front, p.lower_rear - p.lower_front, p.lower_outer)
    d = lower_outer - centre
    return np.arctan2(d @ e2, d @ e1)


def bends(mechanism, z_edges: np.ndarray, rack_edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Second derivatives of all rigid motions over the cells between the edges (mm).

    Returns (mid, rad), each (directions, carriers, 12, z cells, rack cells): rows of R'' (9) and of the
    reference point's t'' (3); directions are travel and, where there is more than one rack edge, rack. NaN or
    inf: not bounded."""
    p = mechanism.points
    across = [np.ravel(mechanism.reference(b)) for b in ("rod", "damper_body", "tie_rod")]
    steers = len(rack_edges) > 1
    z, hz = _cells(z_edges)
    s, hs = _cells(rack_edges) if steers else (np.zeros(1), np.zeros(1))
    shape = len(z), len(s)
    zc, sc = (g.ravel() for g in np.meshgrid(z, s, indexing="ij"))
    zh, sh = (g.ravel() for g in np.meshgrid(hz, hs, indexing="ij"))
    angle = arm_angle(p, mechanism.at(zc, sc).point("lower_outer"))
    step = np.abs(arm_angle(p, mechanism.at(zc + zh * 0.01, sc).point("lower_outer")) - angle) * 100
    radius = 1.1 * np.where(np.isfinite(step), step, 0.0) + 2e-3 * sh + 4 * ANGLE_ERROR
    out: list[np.ndarray] = []
    todo = np.arange(len(zc))
    for _ in range(4):
        with np.errstate(all="ignore"):
            boxes = ([angle[todo]], [radius[todo]])
            if steers:
                boxes = ([angle[todo], sc[todo]], [radius[todo], sh[todo]])
            motions, height = chain(p, across, *boxes)
            mid, rad, slopes = _by_height(motions, height)
            need = zh[todo] * slopes[0] + (sh[todo] * slopes[1] if steers else 0.0) + 2 * ANGLE_ERROR
            held = need <= radius[todo]
        if not out:
            out = [np.full((*mid.shape[:-1], len(zc)), np.nan) for _ in range(2)]
        out[0][..., todo[held]], out[1][..., todo[held]] = mid[..., held], rad[..., held]
        radius[todo] = np.where(held, radius[todo], 1.2 * need)
        todo = todo[~held & np.isfinite(need)]
        if not len(todo):
            break
    mid, rad = (a.reshape(*a.shape[:-1], *shape) for a in out)
    return mid, rad


def sharpest(mid: np.ndarray, rad: np.ndarray, carriers: np.ndarray, points: np.ndarray) -> np.ndarray:
    """sup |p''| of each piece over each cell: (directions, pieces, z cells, rack cells), mm/mm².

    `carriers` (pieces,), `points` (pieces, n, 3) corners of a box round each piece relative to its carrier's
    reference."""
    directions, _, _, *cells = mid.shape
    q = np.concatenate([points, np.ones((*points.shape[:2], 1))], -1)  # (pieces, n, 4)
    out = np.empty((directions, len(points), *cells))

    def length(bend: np.ndarray, at: np.ndarray) -> np.ndarray:
        """|R'' q + t''| of points (pieces, n, 4) by a carrier's second derivatives (directions, 12, ...)."""
        turn, shift = bend[:, :9].reshape(directions, 3, 3, -1), bend[:, 9:].reshape(directions, 3, 1, -1)
        rows = np.concatenate([turn, shift], 2).swapaxes(1, 2).reshape(directions, 4, -1)
        path = (at.reshape(-1, 4) @ rows).reshape(directions, *at.shape[:2], 3, -1)
        return np.sqrt((path**2).sum(3))

    for carrier in distinct(carriers):
        some = carriers == carrier
        size = length(mid[:, carrier], q[some]) + length(rad[:, carrier], np.abs(q[some]))
        out[:, some] = size.max(2).reshape(directions, -1, *cells)
    out *= WIDEN
    return np.where(np.isfinite(out), out, np.inf)


def _cells(edges: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    return (edges[1:] + edges[:-1]) / 2, (edges[1:] - edges[:-1]) / 2 * (1 + 1e-12)


def _by_height(motions: EnclosedJet, height: EnclosedJet):
    """Second derivatives by wheel height (and rack) in place of arm angle (and rack); and sup |da/dz|,
    |da/ds|.

    a_z = 1/z_a, so X_zz = (X_aa - X_a·z_aa/z_a)/z_a²; at fixed z, a_s = -z_s/z_a, a_ss = -(z_ss + 2 z_as a_s
    + z_aa a_s²)/z_a, X_ss|z = X_ss + 2 X_as a_s + X_aa a_s² + X_a a_ss (implicit differentiation)."""

    def of(jet: EnclosedJet, *power: int) -> Ball:
        scale = 2.0 if 2 in power else 1.0
        mid, rad = jet.coefficient(*power)
        return Ball(scale * mid, scale * rad)

    tail = (0,) if len(height.box) == 2 else ()
    x_a, x_aa = of(motions, 1, *tail), of(motions, 2, *tail)
    z_a, z_aa = of(height, 1, *tail), of(height, 2, *tail)
    per = z_a.reciprocal()
    out, slopes = [(x_aa - x_a * (z_aa * per)) * (per * per)], [per.size]
    if tail:
        z_s, z_as, z_ss = of(height, 0, 1), of(height, 1, 1), of(height, 0, 2)
        a_s = -(z_s * per)
        a_ss = -((z_ss + z_as * a_s * 2.0 + z_aa * (a_s * a_s)) * per)
        out.append(of(motions, 0, 2) + of(motions, 1, 1) * a_s * 2.0 + x_aa * (a_s * a_s) + x_a * a_ss)
        slopes.append(a_s.size)
    shape = (len(out), -1, 12, out[0].mid.shape[-1])
    return (
        np.stack([x.mid for x in out]).reshape(shape),
        np.stack([x.rad for x in out]).reshape(shape),
        slopes,
    )


class Ball:
    """An enclosed array: |x - mid| <= rad."""

    __slots__ = ("mid", "rad")

    def __init__(self, mid, rad):
        self.mid, self.rad = mid, rad

    @property
    def size(self):
        return np.abs(self.mid) + self.rad

    def __neg__(self):
        return Ball(-self.mid, self.rad)

    def __add__(self, other):
        return Ball(self.mid + other.mid, self.rad + other.rad)

    def __sub__(self, other):
        return self + -other

    def __mul__(self, other):
        if not isinstance(other, Ball):
            return Ball(self.mid * other, self.rad * abs(other))
        return Ball(self.mid * other.mid, np.abs(self.mid) * other.rad + self.rad * other.size)

    def reciprocal(self):
        """NaN where zero is inside."""
        low, high = self.mid - self.rad, self.mid + self.rad
        low = np.where(low * high > 0, low, np.nan)
        return Ball(0.5 / low + 0.5 / high, np.abs(0.5 / low - 0.5 / high))


# ------------------------------------------------------------ the chain itself


def chain(p, across, middles, radii) -> tuple[EnclosedJet, EnclosedJet]:
    """(`across`: the directions that fix the spin of rod, damper and tie rod.) All rigid motions and the
    wheel's height over boxes of the lower arm's angle (rad) and, optionally, rack (mm, +y).

    Returns a jet (coefficients, carriers · 12, boxes) - R by rows, then the reference point - and the wheel's
    rise."""
    variables = EnclosedJet.variables(middles, radii)
    c, s = variables[0].turn()
    axis = p.lower_rear - p.lower_front
    centre, e1, e2, _ = circle(p.lower_front, axis, p.lower_outer)
    lo = _on_circle(centre, e1, e2, c, s)
    lower = _turning(axis, c, s, p.lower_front)

    uaxis = p.upper_rear - p.upper_front
    ucircle = circle(p.upper_front, uaxis, p.upper_outer)[:3]
    cu, su = _held(*ucircle, lo, p.upper_outer, p.lower_outer)
    uo = _on_circle(*ucircle, cu, su)
    upper = _turning(uaxis, cu, su, p.upper_front)

    if len(variables) > 1:
        nil = c.constant(0.0)
        ti = stack(nil, variables[1], nil) + p.tie_inner[:, None]
    else:
        ti = c.constant(p.tie_inner)
    m = _third(lo, uo, ti, p)
    frame0 = _square(p.upper_outer - p.lower_outer, p.tie_outer - p.lower_outer)
    k0 = p.upper_outer - p.lower_outer
    m0 = p.tie_outer - p.lower_outer
    x = (uo - lo) * (1 / np.linalg.norm(k0))
    y = (m - x * float(m0 @ frame0[0])) * (1 / float(m0 @ frame0[1]))
    rotation = _rotation(frame0, x, y)
    upright = joined(rotation, lo)
    height = _carried(rotation, lo, p.wheel_centre - p.lower_outer)[2] - float(p.wheel_centre[2])

    if p.rod_on == "upright":
        ro = _carried(rotation, lo, p.rod_outboard - p.lower_outer)
    else:
        arm, foot = (upper, p.upper_front) if p.rod_on == "upper_arm" else (lower, p.lower_front)
        ro = _carried(arm[slice(0, 9)], arm[slice(9, 12)], p.rod_outboard - foot)
    rcircle = circle(p.pivot, p.axis, p.rod_inboard)[:3]
    cr, sr = _held(*rcircle, ro, p.rod_inboard, p.rod_outboard)
    ri = _on_circle(*rcircle, cr, sr)
    rocker = _turning(p.axis, cr, sr, p.pivot)
    de = _on_circle(*circle(p.pivot, p.axis, p.damper_eye)[:3], cr, sr)

    rod = joined(
        _pointing(
            (ri - ro) * (1 / np.linalg.norm(p.rod_inboard - p.rod_outboard)),
            p.rod_inboard - p.rod_outboard,
            across[0],
        ),
        ro,
    )
    tie = m + lo - ti
    tie_rod = joined(
        _pointing(
            tie * (1 / np.linalg.norm(p.tie_outer - p.tie_inner)), p.tie_outer - p.tie_inner, across[2]
        ),
        ti,
    )
    damper = de - p.damper_chassis[:, None]
    aim = _pointing(
        along(dot(damper, damper).sqrt().reciprocal(), damper), p.damper_eye - p.damper_chassis, across[1]
    )
    body, shaft = joined(aim, c.constant(p.damper_chassis)), joined(aim, de)
    still = c.constant(np.concatenate([np.eye(3).ravel(), np.zeros(3)]))
    rack = joined(c.constant(np.eye(3).ravel()), ti)
    own = (still, rocker, rod, body, shaft, upper, lower, tie_rod, upright, rack)
    links = _links(p, dict(zip(CARRIERS, own, strict=True)))
    return joined(*own, *links), height


def _links(p, motions: dict[str, EnclosedJet]) -> list[EnclosedJet]:
    """The motions of bodies between two others, whose references are where the chain puts them."""
    feet = dict(zip(CARRIERS, _references(p), strict=True))
    out = []
    for x in p.links:
        ends = []
        for on, point in ((x.from_on, x.from_point), (x.to_on, x.to_point)):
            m, on = motions[SAME.get(on, on)], SAME.get(on, on)
            ends.append(_carried(m[slice(0, 9)], m[slice(9, 12)], np.asarray(point, float) - feet[on]))
        line = ends[1] - ends[0]
        u = along(dot(line, line).sqrt().reciprocal(), line)
        out.append(joined(_pointing(u, x.line, x.across), ends[x.held == "to"]))
    return out


def _on_circle(centre, e1, e2, c: EnclosedJet, s: EnclosedJet) -> EnclosedJet:
    return turned(np.stack([e1, e2], 1), stack(c, s)) + centre[:, None]


def _turning(direction, c: EnclosedJet, s: EnclosedJet, foot) -> EnclosedJet:
    """Rows of the rotation about an axis and its fixed point: R = c·1 + (1 - c)·u·uᵀ + s·[u]x (Rodrigues)."""
    u = direction / np.linalg.norm(direction)
    uu = np.outer(u, u)
    cross_u = np.array([[0, -u[2], u[1]], [u[2], 0, -u[0]], [-u[1], u[0], 0]])
    r = turned(np.stack([(np.eye(3) - uu).ravel(), cross_u.ravel()], 1), stack(c, s)) + uu.ravel()[:, None]
    return joined(r, c.constant(foot))


def _held(centre, e1, e2, far: EnclosedJet, point0, far0) -> tuple[EnclosedJet, EnclosedJet]:
    """cos and sin of the angle from ride of a point on a circle that stays at a constant distance from `far`:
    `motion.linkage.held_on_circle` once more, in balls, which divide and take roots dearly; that both say the
    same is held by tests/test_clearance_bounds.

    |centre + e1 c + e2 s - far| = const gives A c + B s = C with A, B = (far - centre)·e1, e2; the branch
    is ride's."""
    d = far - centre[:, None]
    a, b = dot(d, e1), dot(d, e2)
    c = (dot(d, d) + float(e1 @ e1 - (point0 - far0) @ (point0 - far0))) * 0.5
    q = a * a + b * b
    root = (q - c * c).sqrt() * (-np.sign(float((far0 - centre) @ e2)))
    per = q.reciprocal()
    return (a * c - b * root) * per, (b * c + a * root) * per


def _third(lo: EnclosedJet, uo: EnclosedJet, ti: EnclosedJet, p) -> EnclosedJet:
    """Tie rod's outer end less the lower joint: constant distances to the two ball joints and to the tie
    rod's inner end."""
    k, t = uo - lo, ti - lo
    k0, m0, t0 = p.upper_outer - p.lower_outer, p.tie_outer - p.lower_outer, p.tie_inner - p.lower_outer
    kk, alpha, rho2 = float(k0 @ k0), float(k0 @ m0), float(m0 @ m0)
    tie2 = float((p.tie_outer - p.tie_inner) @ (p.tie_outer - p.tie_inner))
    tt, kt = dot(t, t), dot(k, t)
    beta = (tt + (rho2 - tie2)) * 0.5
    per = (tt * kk - kt * kt).reciprocal()
    x, y = (tt * alpha - beta * kt) * per, (beta * kk - kt * alpha) * per
    w = ((-(x * alpha + y * beta) + rho2) * per).sqrt() * np.sign(float(m0 @ np.cross(k0, t0)))
    return along(x, k) + along(y, t) + along(w, cross(k, t))


def _pointing(u: EnclosedJet, ride, across) -> EnclosedJet:
    """Rows of the rotation that takes the ride direction to u and keeps `across` in the plane of u and the
    body's second axis, as `Poses.frame` has it."""
    frame0 = _square(ride, across)
    y = u * 0.0 + np.asarray(across, float)[:, None] - along(dot(u, across), u)
    y = along(dot(y, y).sqrt().reciprocal(), y)
    return _rotation(frame0, u, y)


def _rotation(frame0: np.ndarray, x: EnclosedJet, y: EnclosedJet) -> EnclosedJet:
    """Rows of R = x·x0ᵀ + y·y0ᵀ + z·z0ᵀ for unit axes x, y (z = x × y) that were the rows of `frame0` at
    ride."""
    mix = np.einsum("kj,im->ijkm", frame0, np.eye(3)).reshape(9, 9)
    return turned(mix, joined(x, y, cross(x, y)))


def _square(k, m) -> np.ndarray:
    """Unit vectors along k, along m's part square to k, and their product, as rows."""
    x = k / np.linalg.norm(k)
    y = m - (m @ x) * x
    y = y / np.linalg.norm(y)
    return np.array([x, y, np.cross(x, y)])


def _carried(rotation: EnclosedJet, origin: EnclosedJet, arm) -> EnclosedJet:
    """origin + R·arm, R by rows."""
    return turned(np.kron(np.eye(3), np.asarray(arm)[None, :]), rotation) + origin
