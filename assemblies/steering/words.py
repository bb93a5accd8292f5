"""Steering and geometry in some ten lines, from the rows of results.json."""

from __future__ import annotations

import math

from assemblies.results.model import Results
from assemblies.results.steering import BumpSteer, Geometry, Steering


def lines(r: Results) -> list[str]:
    """One idea a line: lock, Ackermann, circle, bump steer, joints, steering axis, roll centre, anti figures,
    axle. Empty where the corner does not stand."""
    s, g = r.steering, r.geometry
    out = [*_lock(s), *_rack(s)] if s else []
    if s and s.bump:
        out += _bump(s, g)
    if s and s.tilts:
        joints = "; ".join(
            f"{t.end} end {t.deg:.1f} of {t.limit_deg:g} deg ({t.joint}, typical)" for t in s.tilts
        )
        toggle = (
            ""
            if s.toggle_margin_deg is None
            else f"; steering arm to tie rod at least {math.floor(s.toggle_margin_deg)} deg from one line"
            if s.toggle_margin_deg
            else "; steering arm and tie rod come into one line"
        )
        out.append(f"joints: {joints}{toggle}")
    return out + (place(s) if s else []) + (_geometry(g) if g else [])


def _rack(s: Steering) -> list[str]:
    k = s.rack
    if k is None:
        return []
    x, y, z = k.centre_mm
    ends = (
        f"extensions {k.extension_mm:.1f} mm this side, {k.other_extension_mm:.1f} mm the other, {k.thread} "
        f"engaged {k.engagement_mm:g} mm, {k.jam_nuts} jam nuts"
        if k.jam_nuts
        else "no extensions"
    )
    where = "" if k.place_given else ", its place not yet given: taken in line with tie_rod.inner"
    return [f"rack: {k.length_mm:g} mm between its inner joints at x {x:g}, y {y:g}, z {z:g}{where}; {ends}"]


def _lock(s: Steering) -> list[str]:
    if s.lock_rack_mm is None:
        return ["toe link: no rack steers this axle"]
    turns = f", {s.turns_lock_to_lock:.2f} turns lock to lock" if s.turns_lock_to_lock is not None else ""
    if s.inner_lock_deg is None or s.outer_lock_deg is None:
        return [f"lock: the corner does not close at rack ±{s.lock_rack_mm:g} mm"]
    gaps = (
        ""
        if s.lock_by_gaps_mm is None
        else "; the gaps allow all of it"
        if s.lock_by_gaps_mm >= s.lock_rack_mm
        else f"; the gaps allow ±{math.floor(10 * s.lock_by_gaps_mm) / 10:g} mm"
    )
    out = [
        f"lock: inner wheel {s.inner_lock_deg:.1f} deg, outer {s.outer_lock_deg:.1f} deg at rack "
        f"±{s.lock_rack_mm:g} mm{turns}; ended by {s.lock_by}{gaps}"
    ]
    limit, at_lock, cotangents = s.ackermann_limit, s.ackermann_lock, s.ackermann_cotangents_lock
    if limit is not None and at_lock is not None and cotangents is not None:
        out.append(
            f"Ackermann: {100 * limit:.0f} % near straight ahead, {100 * at_lock:.0f} % at full lock (share "
            f"of the angle difference; of the cotangents {100 * cotangents:.0f} %), "
            f"pivots {s.pivots_mm:.0f} mm apart, wheelbase {s.wheelbase_mm:.0f} mm"
        )
    by = {
        t.about: (t.circle_mm / 1000, t.radius_to_middle_mm / 1000)
        for t in s.turning
        if t.circle_mm is not None and t.radius_to_middle_mm is not None
    }
    if s.turning and len(by) == len(s.turning):
        mean, inner, outer = (by[about] for about in ("mean", "inner wheel", "outer wheel"))
        out.append(
            f"turning circle of the outer contact: {mean[0]:.1f} m (about the inner wheel's centre "
            f"{inner[0]:.1f}, the outer's {outer[0]:.1f}); radius to the car's middle {mean[1]:.1f} m "
            f"({inner[1]:.1f} and {outer[1]:.1f})"
        )
    return out


def _bump(s: Steering, g: Geometry | None) -> list[str]:
    span = f" over {g.wheel_mm[0]:+g} to {g.wheel_mm[-1]:+g} mm" if g else ""
    straight = min(s.bump, key=lambda b: abs(b.rack_mm))
    text = f"bump steer straight ahead: {_toe(straight)}{span}"
    others = []
    for name, share in (("half", 0.5), ("full", 1.0)):
        rows = [
            b.worst_deg
            for b in s.bump
            if s.lock_rack_mm
            and abs(abs(b.rack_mm) - share * s.lock_rack_mm) < 1e-6
            and b.worst_deg is not None
        ]
        if rows:
            others.append(f"{name} lock {max(rows, key=abs):+z.2f} deg")
    return [text + (f"; at {', '.join(others)}" if others else "")]


def _toe(b: BumpSteer) -> str:
    if b.worst_deg is None or b.slope_at_ride_deg_per_mm is None:
        return "not known"
    return (
        f"{b.worst_deg:+z.3f} deg at wheel {b.worst_at_wheel_mm:+z.0f} mm, slope "
        f"{b.slope_at_ride_deg_per_mm:+z.4f} "
        f"deg/mm at ride, steepest {b.steepest_deg_per_mm:+z.4f}"
    )


def _geometry(g: Geometry) -> list[str]:
    v = {row.key: row.value for row in g.rows}

    def said(key: str, places: int, unit: str = "") -> str:
        return "none" if v.get(key) is None else f"{v[key]:.{places}f}{unit}"

    anti = [r for r in g.rows if r.key.startswith("anti")]
    out = [
        f"steering axis: kingpin inclination {said('kingpin_inclination_deg', 1)} deg, caster "
        f"{said('caster_deg', 1)} deg, scrub radius {said('scrub_radius_mm', 1)} mm, trail "
        f"{said('trail_mm', 1)} mm",
        f"roll centre {said('roll_centre_mm', 1)} mm over the ground by the contact's motion "
        f"({said('roll_centre_by_arms_mm', 1)} by the arms' construction); camber "
        f"{said('camber_deg_per_mm', 4)} "
        f"deg/mm, track of one wheel {said('track_change_per_mm', 3)} mm/mm; swing arm "
        f"{said('front_view_swing_arm_mm', 0)} mm in front view, "
        f"{said('side_view_swing_arm_mm', 0)} mm in side view",
        "; ".join(f"{r.name} {said(r.key, 0, ' %')}" for r in anti),
    ]
    if (a := g.axle) is not None:
        roll = f", {a.roll_deg_per_g:.1f} deg of roll" if a.roll_deg_per_g is not None else ""
        out.append(
            f"axle: roll rate {a.roll_rate_springs_nm_per_deg + a.roll_rate_bar_nm_per_deg:.0f} N·m/deg (bar "
            f"{a.roll_rate_bar_nm_per_deg:g}), {100 * a.roll_share:.0f} % of the car's roll moment "
            f"({a.roll_share_from}); at 1 g {a.load_transfer_n_per_g:.0f} N to the outer wheel, "
            f"{a.jacking_n_at_1_g:+z.0f} N of jacking{roll}"
        )
        if (leant := next((x for x in a.rolled if x.roll_deg == 3.0), None)) is not None and None not in (
            leant.left_camber_to_road_deg,
            leant.right_camber_to_road_deg,
        ):
            out.append(
                f"rolled 3 deg: outer wheel {leant.right_wheel_mm:+z.0f} mm and "
                f"{leant.right_camber_to_road_deg:+z.1f} "
                f"deg of camber to the road, inner {leant.left_wheel_mm:+z.0f} mm and "
                f"{leant.left_camber_to_road_deg:+z.1f} deg"
            )
    return out


def place(s: Steering) -> list[str]:
    """Where the inner joint should be: the sentence, and the keys that put it there."""
    z = s.zone
    if z is None:
        return []
    keys = " ".join(f"--change {key}={_value(v)}" for key, v in z.changes.items())
    out = [f"best place: {z.sentence}"]
    if (z.raise_mm or z.outboard_mm) and z.best.clear:
        out.append(
            f"room there: all gaps of tie rod and rack in order over travel and rack, proven. Try: {keys}"
        )
    if z.tried:
        good = [p for p in z.tried if p.clear]
        within = sum(p.toe_deg is not None and p.toe_deg <= z.limit_deg for p in good)
        out.append(
            f"of {len(z.tried)} places tried, y {z.y_mm[0]:.0f} to {z.y_mm[-1]:.0f} and z {z.z_mm[0]:.0f} to "
            f"{z.z_mm[-1]:.0f}, tie rod and rack have room at {len(good)}, "
            f"{within} of them "
            f"within {z.limit_deg:g} deg of toe"
        )
    return out


def _value(v) -> str:
    return "'[" + ", ".join(f"{x:g}" for x in v) + "]'" if isinstance(v, list) else f"{v:g}"


def definitions(r: Results) -> list[str]:
    """What each number means, what is usual and what it feels like: a line each."""
    out = [f"{key}: {text}" for key, text in (r.steering.definitions if r.steering else {}).items()]
    for row in r.geometry.rows if r.geometry else []:
        feels = f"; {row.feels}" if row.feels else ""
        out.append(f"{row.name}: {row.definition}; usual {row.usual}{feels}")
    return out
