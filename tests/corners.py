"""Corners used as outside references: the points of check rows, planar ones with closed forms, and seeded
random ones."""

from __future__ import annotations

import numpy as np

from assemblies.motion.mechanism import HardPoints

PUSH = HardPoints(  # push rod on the lower arm, oblique rocker axis
    upper_front=(115, 250, 335),
    upper_rear=(-135, 262, 322),
    upper_outer=(-12, 515, 342),
    lower_front=(160, 165, 128),
    lower_rear=(-170, 172, 120),
    lower_outer=(6, 562, 118),
    tie_inner=(72, 185, 148),
    tie_outer=(78, 548, 140),
    wheel_centre=(0, 625, 235),
    contact=(0, 630, -40),
    rod_outboard=(4, 500, 135),
    rod_inboard=(-20, 232, 437),
    pivot=(-20, 180, 390),
    axis=(1, 0.05, -0.08),
    damper_eye=(-22, 130, 450),
    damper_chassis=(-25, 20, 250),
    rod_on="lower_arm",
)

PULL = HardPoints(  # pull rod on the upper arm, oblique rocker axis
    upper_front=(110, 245, 340),
    upper_rear=(-150, 255, 318),
    upper_outer=(-15, 508, 350),
    lower_front=(155, 160, 132),
    lower_rear=(-165, 178, 124),
    lower_outer=(8, 555, 122),
    tie_inner=(68, 176, 156),
    tie_outer=(74, 541, 150),
    wheel_centre=(0, 618, 240),
    contact=(0, 624, -35),
    rod_outboard=(-5, 478, 330),
    rod_inboard=(-8, 205, 100),
    pivot=(-8, 163, 150),
    axis=(1, 0.08, -0.05),
    damper_eye=(-6, 193, 210),
    damper_chassis=(-10, 20, 330),
    rod_on="upper_arm",
)


def planar(**points) -> HardPoints:
    """Parallel equal arms of 300 mm, level, hinges along x, 200 mm apart in height; kingpin vertical; change
    what you need."""
    given = dict(
        upper_front=(100, 400, 300),
        upper_rear=(-100, 400, 300),
        upper_outer=(0, 700, 300),
        lower_front=(100, 400, 100),
        lower_rear=(-100, 400, 100),
        lower_outer=(0, 700, 100),
        tie_inner=(120, 400, 200),
        tie_outer=(120, 700, 200),
        wheel_centre=(0, 760, 200),
        contact=(0, 760, 0),
        rod_outboard=(0, 600, 110),
        rod_inboard=(0, 350, 400),
        pivot=(0, 300, 350),
        axis=(1, 0, 0),
        damper_eye=(0, 250, 400),
        damper_chassis=(0, 50, 300),
        rod_on="lower_arm",
    )
    return HardPoints(**{**given, **points})


def trailing(radius: float) -> HardPoints:
    """Trailing arms level at ride, hinges along y, and a rocker that turns exactly as the arms do (a
    parallelogram)."""
    r = radius
    return HardPoints(
        upper_front=(r, 500, 300),
        upper_rear=(r, 300, 300),
        upper_outer=(0, 600, 300),
        lower_front=(r, 500, 100),
        lower_rear=(r, 300, 100),
        lower_outer=(0, 600, 100),
        tie_inner=(r, 400, 200),
        tie_outer=(0, 400, 200),
        wheel_centre=(0, 700, 200),
        contact=(0, 700, 0),
        rod_outboard=(r, 450, 180),
        rod_inboard=(r + 50, 450, 380),
        pivot=(r + 50, 450, 300),
        axis=(0, 1, 0),
        damper_eye=(r + 50, 420, 360),
        damper_chassis=(r + 300, 420, 350),
        rod_on="lower_arm",
    )


MOUNTS = ("upper_arm", "lower_arm", "upright")


def random_corner(seed: int) -> HardPoints:
    """A plausible corner: every rod mount, both sides, rocker about any axis, static camber and toe."""
    rng = np.random.default_rng(seed)
    u = rng.uniform
    lower_outer, upper_outer = (
        np.array([u(-20, 20), u(550, 720), u(110, 160)]),
        np.array([u(-25, 15), u(500, 680), u(320, 380)]),
    )
    mount = MOUNTS[seed % 3]
    lo, up = ((u(100, 180), u(150, 330), u(120, 170)), (u(80, 140), u(230, 380), u(310, 360)))
    carrier = {
        "upper_arm": upper_outer,
        "lower_arm": lower_outer,
        "upright": 0.5 * (lower_outer + upper_outer),
    }[mount]
    outboard = carrier + np.array([u(-20, 20), u(-90, -40), u(-15, 15)])
    above = -1.0 if mount == "upper_arm" else 1.0
    eye = outboard + np.array([u(-60, 60), u(-290, -200), above * u(170, 240)])
    line = (outboard - eye) / np.linalg.norm(outboard - eye)
    axis = np.array([1.0, 0.0, 0.0]) if seed % 4 == 0 else rng.normal(size=3)
    axis -= 0.9 * line * (axis @ line)  # the rod pulls well across the rocker, whatever the axis
    axis /= np.linalg.norm(axis)
    square = np.cross(axis, line)
    arm = u(60, 100) * (square / np.linalg.norm(square) + u(-0.5, 0.5) * line)
    pivot = eye - arm
    square = np.cross(axis, arm)
    damper_eye = pivot + u(0.6, 1.0) * (arm * np.cos(w := u(1.0, 2.2)) + square * np.sin(w))
    damper_chassis = (
        damper_eye + np.cross(axis, damper_eye - pivot) * u(2.0, 3.5) + [u(-30, 30), u(-20, 20), u(-20, 20)]
    )
    points = dict(
        upper_front=up,
        upper_rear=(-u(80, 160), up[1] + u(-20, 20), up[2] + u(-20, 10)),
        upper_outer=upper_outer,
        lower_front=lo,
        lower_rear=(-u(100, 190), lo[1] + u(-20, 20), lo[2] + u(-15, 10)),
        lower_outer=lower_outer,
        tie_inner=(s := u(60, 110), u(200, 350), u(150, 230)),
        tie_outer=(s + u(-15, 15), u(530, 690), u(150, 230)),
        wheel_centre=(u(-5, 5), u(640, 790), u(235, 280)),
        contact=(u(-3, 3), u(640, 790), u(-45, 0)),
        rod_outboard=outboard,
        rod_inboard=eye,
        pivot=pivot,
        axis=axis * u(0.3, 3),
        damper_eye=damper_eye,
        damper_chassis=damper_chassis,
    )
    flip = np.array([1.0, -1.0, 1.0]) if seed % 2 else np.ones(3)
    return HardPoints(
        **{n: np.asarray(p) * flip for n, p in points.items()},
        rod_on=mount,
        side="right" if seed % 2 else "left",
        static_camber_deg=u(-3, 1),
        static_toe_deg=u(-0.5, 0.5),
    )


def mirrored(p: HardPoints) -> HardPoints:
    """The corner on the other side: y changes sign; the axis, an axial vector, keeps y and changes x and
    z."""
    flip = np.array([1.0, -1.0, 1.0])
    points = {n: getattr(p, n) * flip for n in p.names} | {"axis": -p.axis * flip}
    return p.changed(**points, side="right" if p.side == "left" else "left")
