"""The way of every newton from the contact patch to a tube of the frame, as data, and a walk along it.

Each link says what holds two things together and which parts of a force and a moment it can carry in its own
axes (z along its bolt, hinge or axis). The walk finds links that end in nothing, links that would move under
what they are asked to carry, and tubes that join no frame; each is a stop for the corner as a whole.
"""

from __future__ import annotations

import numpy as np

from assemblies.layout.junctions.standing import groups
from assemblies.layout.placing import Layout
from assemblies.results.findings import Finding
from assemblies.strength.forces import Forces
from parts.base.frozen import dataclass
from parts.shape.form import Frame

LEAST_N, LEAST_NM = 5.0, 0.5  # a demand under this is rounding, or friction carries it
ALL = "xyz"


@dataclass(frozen=True)
class CarryingLink:
    """`part` is held on `on` by a weld, bolts, clamp, press, bearing or contact, by something bought or
    yours, or by nothing. `forces`, `moments`: the directions it carries, of x, y, z in axes whose z is
    `axis`. `force_n`, `moment_nm`: what it must carry, car axes, one an entry of the forces.
    `member`: the tube it ends on. `cure`: the key that closes it where it is open."""

    part: str
    on: str
    by: str
    forces: str
    moments: str
    force_n: np.ndarray
    moment_nm: np.ndarray
    axis: tuple[float, float, float] = (0.0, 0.0, 1.0)
    member: str = ""
    cure: str = ""
    note: str = ""


@dataclass(frozen=True)
class WalkedLink:
    """A link as the walk left it: "held", "open" or "moves"; the worst case with what it carries there."""

    link: CarryingLink
    state: str
    case: str
    wheel_mm: float
    force_n: float
    moment_nm: float
    lost_n: float = 0.0  # of it the part that nothing carries
    lost_nm: float = 0.0


def links(job, layout: Layout, f: Forces) -> list[CarryingLink]:
    """Every link from the tyre on, in the order of the way."""
    none = np.zeros((len(f.case), 3))
    tie = _unit(f.points["tie_outer"] - f.points["tie_inner"]) * f.tie_rod_n[:, None]
    rod = -f.rod_on_rocker_n
    out = [
        CarryingLink(
            "wheel", "upright", "bought", ALL, ALL, f.upper_joint_n + f.lower_joint_n, none, note="its hub"
        ),
        CarryingLink("upright", "upper arm", "bought", ALL, "", -f.upper_joint_n, none, note="ball joint"),
        CarryingLink("upright", "lower arm", "bought", ALL, "", -f.lower_joint_n, none, note="ball joint"),
        CarryingLink("upright", "tie rod", "bought", ALL, "", tie, none, note="ball joint"),
        _lug(job, layout, rod, none),
        CarryingLink("rod", "rocker", "bolts", ALL, "", f.rod_on_rocker_n, none, job.rocker.axis),
        CarryingLink("rocker", "damper", "bolts", ALL, "", -f.damper_on_rocker_n, none, job.rocker.axis),
    ]
    for which in ("upper_arm", "lower_arm"):
        side = which.removesuffix("_arm")
        for end in ("front", "rear"):
            force = -getattr(f.arm(which), f"{end}_n")
            out += _bracket(layout, f"{side} arm", f"{side} arm {end} bracket", force, none)
    out += _bracket(layout, "damper", "damper bracket", -f.damper_on_rocker_n, none)
    held = job.tie_rod.member
    out.append(
        CarryingLink(
            "tie rod's inner end",
            held or "nothing",
            "yours" if held else "nothing",
            ALL,
            ALL,
            tie,
            none,
            member=held or "",
            cure='tie_rod.member = "...", the tube that the rack or the link\'s bracket is bolted to',
            note="its rack or bracket is not drawn",
        )
    )
    return [*out, *_pivot(job, layout, f, none), *_spring(job, layout, f, none)]


def _lug(job, layout: Layout, rod: np.ndarray, none: np.ndarray) -> CarryingLink:
    on = job.rod.on.replace("_", " ")
    if job.rod.on == "upright":
        return CarryingLink(
            on, "rod", "yours", ALL, "", rod, none, note="its lug on the upright is not drawn"
        )
    if layout.lug is None:
        cure = "rod.lug_diameter or rod.lug_thickness, as the finding on the lug says"
        return CarryingLink(on, "nothing", "nothing", "", "", rod, none, cure=cure)
    return CarryingLink(on, "rod", "bolts", ALL, "", rod, none)


def _bracket(layout: Layout, part: str, name: str, force: np.ndarray, none: np.ndarray) -> list[CarryingLink]:
    seat = layout.brackets.get(name)
    if seat is None:
        cure = "a [[member]] within reach of it, as the finding on the bracket says"
        return [CarryingLink(part, "nothing", "nothing", "", "", force, none, cure=cure, note=name)]
    axis = seat.tabs[0].frame.z
    return [
        CarryingLink(part, name, "bolts", ALL, "", force, none, axis),
        CarryingLink(name, seat.member, "weld", ALL, ALL, force, none, axis, seat.member),
    ]


def _pivot(job, layout: Layout, f: Forces, none: np.ndarray) -> list[CarryingLink]:
    pivot = f.points["pivot"]
    axis = np.asarray(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    about = np.cross(f.points["rod_inboard"] - pivot, f.rod_on_rocker_n)
    about += np.cross(f.points["damper_eye"] - pivot, f.damper_on_rocker_n)
    moment = (about - (about @ axis)[:, None] * axis) / 1e3
    m = layout.pivot
    if m is None:
        kinds = '"spindle" or "cantilever"' if job.spring.kind == "coil-over" else '"stub" or "cantilever"'
        cure = f"pivot.kind = {kinds}, with the tube it stands on"
        if job.pivot.kind is not None:
            told = "spring" if job.pivot.kind == "stub" else "pivot"
            cure = f'as the finding on the {told} says: pivot.kind = "{job.pivot.kind}" could not be made'
        return [
            CarryingLink(
                "rocker", "nothing", "nothing", "", "", -f.pivot_n, moment, job.rocker.axis, cure=cure
            )
        ]
    carrier = {"stub": "pivot stub", "spindle": "pivot bracket", "cantilever": "pivot spindle"}[m.kind]
    by = {"stub": "press", "spindle": "weld", "cantilever": "weld"}[m.kind]
    # washers and shims take what runs along the axis; two bearings apart hold a couple square to it
    return [
        CarryingLink("rocker", carrier, "bearing", ALL, "xy", -f.pivot_n, moment, job.rocker.axis),
        CarryingLink(carrier, m.member, by, ALL, "xy", -f.pivot_n, moment, job.rocker.axis, m.member),
    ]


def _spring(job, layout: Layout, f: Forces, none: np.ndarray) -> list[CarryingLink]:
    """A rotary spring: the sleeve's bolt, the sockets' windows, the anchor's bolts and its plate's seam."""
    if job.spring.kind == "coil-over":
        return [CarryingLink("coil spring", "damper", "contact", "z", "", none, none)]
    axis = np.asarray(job.rocker.axis, float) / np.linalg.norm(job.rocker.axis)
    torque = -f.spring_nm[:, None] * axis
    if layout.sleeve is None or layout.anchor is None:
        cure = "as the finding on the spring says"
        return [
            CarryingLink("spring", "nothing", "nothing", "", "", none, torque, job.rocker.axis, cure=cure)
        ]
    anchor = layout.anchor
    turns = "z" if anchor.always_holds else ""
    member = layout.pivot.member if layout.pivot is not None and layout.pivot.kind == "stub" else ""
    return [
        CarryingLink("rocker", "sleeve", "bolts", ALL, "z", none, torque, job.rocker.axis, note="cross bolt"),
        CarryingLink("sleeve", "spring", "contact", "xy", "z", none, torque, job.rocker.axis, note="window"),
        CarryingLink(
            "spring", "anchor socket", "contact", "xy", "z", none, torque, job.rocker.axis, note="window"
        ),
        CarryingLink(
            "anchor socket",
            "anchor plate",
            "bolts",
            ALL,
            turns,
            none,
            torque,
            job.rocker.axis,
            note="two bolts straight across",
            cure="spring.teeth.anchor with settings that two bolts hold",
        ),
        CarryingLink(
            "anchor plate",
            member or "nothing",
            "weld" if member else "nothing",
            ALL if member else "",
            ALL if member else "",
            none,
            torque,
            job.rocker.axis,
            member,
            'pivot.kind = "stub" with spring.housing = { member = "..." }: the plate is then welded '
            "on that tube",
        ),
    ]


# ------------------------------------------------------------ the walk


def walk(job, layout: Layout, f: Forces) -> list[WalkedLink]:
    """Every link in its worst case: held, open, or moving under what it must carry."""
    return [_look(f, link) for link in links(job, layout, f)]


def _look(f: Forces, link: CarryingLink) -> WalkedLink:
    size = np.linalg.norm(link.force_n, axis=1)
    turn = np.linalg.norm(link.moment_nm, axis=1)
    axes = Frame.looking((0.0, 0.0, 0.0), link.axis, _square(link.axis)).matrix()[:3, :3]
    lost_n = np.linalg.norm((link.force_n @ axes)[:, [d not in link.forces for d in ALL]], axis=1)
    lost_nm = np.linalg.norm((link.moment_nm @ axes)[:, [d not in link.moments for d in ALL]], axis=1)
    bad = (lost_n > LEAST_N) | (lost_nm > LEAST_NM)
    worst = int(np.argmax(np.where(bad, lost_n + lost_nm, -1.0) if bad.any() else size + turn))
    if link.by == "nothing":
        state = "open" if size.max() > LEAST_N or turn.max() > LEAST_NM else "held"
        worst = int(np.argmax(size + turn))
    else:
        state = "moves" if bad.any() else "held"
    return WalkedLink(
        link,
        state,
        f.name(worst),
        float(f.wheel_mm[worst]),
        float(size[worst]),
        float(turn[worst]),
        float(lost_n[worst]),
        float(lost_nm[worst]),
    )


def findings(job, layout: Layout, walked: list[WalkedLink]) -> list[Finding]:
    """A stop for every open end, every joint that moves, and every tube that carries and joins no frame."""
    out = []
    for w in walked:
        at = f"{w.case} at wheel {w.wheel_mm:+z.1f} mm"
        if w.state == "open":
            what = w.link.note if w.link.note.endswith("bracket") else w.link.part
            text = (
                f"The {what} must carry {_said(w.force_n, w.moment_nm)} ({at}) and ends in nothing: "
                f"nothing in "
                f"the job holds it. Cure: {w.link.cure}."
            )
        elif w.state == "moves":
            text = (
                f"The {w.link.part} on the {w.link.on} is a mechanism under its load: of "
                f"{_said(w.force_n, w.moment_nm)} ({at}) {_said(w.lost_n, w.lost_nm)} has nothing "
                f"that holds it. "
                f"Cure: {w.link.cure or 'a joint that holds it'}."
            )
        else:
            continue
        out.append(Finding(level="stop", code="load-path", where=w.link.part, text=text))
    return out + _frame(job, layout, walked)


def missing(walked: list[WalkedLink]) -> list[str]:
    """Links that are named and not drawn."""
    return [
        f"{w.link.part} on {w.link.on}: {w.link.note}; it must bear {_said(w.force_n, w.moment_nm)}"
        for w in walked
        if w.link.by == "yours"
    ]


def _said(force_n: float, moment_nm: float) -> str:
    words = [f"{force_n / 1e3:.2f} kN"] if force_n > LEAST_N else []
    words += [f"{moment_nm:.0f} N·m"] if moment_nm > LEAST_NM else []
    return " and ".join(words) or "nothing"


# ------------------------------------------------------------ the frame


def frames(layout: Layout) -> list[frozenset[str]]:
    """The tubes of the frame in groups that are welded to each other. What meets only through a bracket or
    a bolt is not welded."""
    return groups(layout.members, layout.junctions)


def nearest_node(layout: Layout, member: str) -> float | None:
    """Station along the rocker's axis of the node of a tube that is nearest the rocker; None without one."""
    if layout.eyes is None:
        return None
    z, origin = np.array(layout.eyes.frame.z), np.array(layout.eyes.frame.origin)
    at = [float((np.array(n.point) - origin) @ z) for n in layout.junctions.nodes if member in n.members]
    return min(at, key=abs, default=None)


def _frame(job, layout: Layout, walked: list[WalkedLink]) -> list[Finding]:
    """Every tube that carries must belong to one frame, or to one that goes on beyond the job."""
    loaded: dict[str, WalkedLink] = {}
    for w in walked:
        name = w.link.member
        if name in layout.members and (name not in loaded or w.force_n > loaded[name].force_n):
            loaded[name] = w
    groups = [g for g in frames(layout) if g & loaded.keys()]
    on = set(job.frame.goes_on)
    out = []
    main = next((g for g in groups if len(g) > 1), None)
    for g in groups:
        if g & on or g == main:
            continue
        names = sorted(g & loaded.keys())
        w = max((loaded[n] for n in names), key=lambda w: w.force_n)
        joins = "joins no node" if len(g) == 1 else f"joins only {', '.join(sorted(g - {w.link.member}))}"
        rest = f" and nothing ties it to {', '.join(sorted(main)[:3])}" if main else ""
        out.append(
            Finding(
                level="stop",
                code="load-path",
                where=w.link.member,
                text=(
                    f"'{w.link.member}' carries {_said(w.force_n, w.moment_nm)} of the {w.link.part} "
                    f"({w.case} at "
                    f"wheel {w.wheel_mm:+z.1f} mm) and {joins}{rest}. Cure: [[member]] tubes that tie "
                    f"it to the "
                    f'frame, or frame.goes_on = ["{w.link.member}"] where it goes on into a frame '
                    f"that is not "
                    "in this job."
                ),
            )
        )
    return out


def _unit(v: np.ndarray) -> np.ndarray:
    return v / np.linalg.norm(v, axis=-1, keepdims=True)


def _square(axis) -> np.ndarray:
    return np.eye(3)[int(np.argmin(np.abs(axis)))]
