"""Steering and geometry in the report: curves over wheel height, the lock slider's numbers, the map of
places."""

from __future__ import annotations

from html import escape

from assemblies.results.curves import Curve, Figure
from assemblies.results.model import Results
from assemblies.results.steering import ZoneRow

SHADES = ((0.25, "#00785A"), (0.5, "#56A98F"), (1.0, "#A9D5C7"))  # of the limit, from the inside
WIDE, TALL, EDGE = 520, 360, 48


def figures(r: Results) -> list[Figure]:
    """Bump steer straight ahead and at both locks, roll centre both ways, scrub radius and trail."""
    s, g = r.steering, r.geometry
    if s is None or g is None or not s.bump:
        return []
    ends = [b for b in s.bump if b.rack_mm == 0 or abs(b.rack_mm) == s.lock_rack_mm]
    return [
        Figure(
            "bump-steer",
            "Bump steer: toe change from ride at the same rack",
            "deg",
            g.wheel_mm,
            tuple(
                Curve("straight ahead" if not b.rack_mm else f"rack {b.rack_mm:+g} mm", b.toe_change_deg)
                for b in ends
            ),
            zero=True,
            decimals=3,
            note="One wheel, positive toe-in; rack positive to the car's left.",
        ),
        Figure(
            "roll-centre",
            "Roll centre over the ground",
            "mm",
            g.wheel_mm,
            (
                Curve("by the motion of the contact", g.roll_centre_mm),
                Curve("by the arms' construction, a check", g.roll_centre_by_arms_mm),
            ),
            zero=True,
        ),
        Figure(
            "scrub-trail",
            "Scrub radius and caster trail",
            "mm",
            g.wheel_mm,
            (Curve("scrub radius", g.scrub_radius_mm), Curve("trail", g.trail_mm)),
            zero=True,
        ),
    ]


def lock(r: Results) -> dict | None:
    """What the lock slider shows, by place along the lock; None where nothing steers or a lock does not
    close."""
    s = r.steering
    if s is None or s.lock is None or None in (*s.lock.inner_deg, *s.lock.outer_deg):
        return None
    return {
        "rack_mm": s.lock.rack_mm,
        "inner_deg": s.lock.inner_deg,
        "outer_deg": s.lock.outer_deg,
        "ackermann": [s.ackermann_limit, *s.lock.ackermann[1:]],
    }


def present_seen(z: ZoneRow) -> bool:
    """Whether the present place lies on the map."""
    _, y, height = z.present.place_mm
    return min(z.y_mm) <= y <= max(z.y_mm) and z.z_mm[0] <= height <= z.z_mm[-1]


def zone_levels(z: ZoneRow) -> list[list[int]]:
    """Of every place of the map, rows by z: the first of SHADES it is within, -1 beyond the limit."""
    return [
        [
            next((k for k, (part, _) in enumerate(SHADES) if v is not None and v <= part * z.limit_deg), -1)
            for v in row
        ]
        for row in z.worst_deg
    ]


def zone_sheet(z: ZoneRow) -> dict:
    """The map for the 3D view, at its fore-aft: the same places, shades and marks as `zone_svg`."""
    return {
        "x": z.x_mm,
        "y": z.y_mm,
        "z": z.z_mm,
        "levels": zone_levels(z),
        "colours": [colour for _, colour in SHADES],
        "present": z.present.place_mm,
        "best": z.best.place_mm,
    }


def zone_svg(z: ZoneRow) -> str:
    """The map of places seen from the front, outboard to the right: shaded within the limit and parts of it,
    the present place a ring, the advised one a cross; squares tried for room."""
    side = 1.0 if z.y_mm[-1] >= 0 else -1.0
    ys, zs = [side * y for y in z.y_mm], z.z_mm
    sx, sz = (WIDE - 2 * EDGE) / (max(ys) - min(ys)), (TALL - 2 * EDGE) / (zs[-1] - zs[0])
    scale = min(sx, sz)

    def at(place) -> tuple[float, float]:
        return EDGE + (side * place[1] - min(ys)) * scale, TALL - EDGE - (place[2] - zs[0]) * scale

    step = abs(ys[1] - ys[0]), zs[1] - zs[0]
    out = []
    for k, row in enumerate(zone_levels(z)):
        for i, level in enumerate(row):
            if level >= 0:
                x, y = at((0, z.y_mm[i], zs[k]))
                w, h = step[0] * scale, step[1] * scale
                out.append(
                    f'<rect x="{x - w / 2:.1f}" y="{y - h / 2:.1f}" width="{w:.1f}" '
                    f'height="{h:.1f}" fill="{SHADES[level][1]}"/>'
                )
    for p in z.tried:
        x, y = at(p.place_mm)
        colour = "#00785A" if p.clear else "#C24A00"
        out.append(
            f'<rect x="{x - 5:.1f}" y="{y - 5:.1f}" width="10" height="10" fill="none" '
            f'stroke="{colour}" stroke-width="2"/>'
        )
    if present_seen(z):
        x, y = at(z.present.place_mm)
        out.append(f'<circle cx="{x:.1f}" cy="{y:.1f}" r="6" fill="none" stroke="#222" stroke-width="2"/>')
    x, y = at(z.best.place_mm)
    out.append(
        f'<path d="M{x - 7:.1f} {y:.1f}H{x + 7:.1f}M{x:.1f} {y - 7:.1f}V{y + 7:.1f}" stroke="#222" '
        f'stroke-width="2"/>'
    )
    x0, y0 = at((0, side * min(ys), zs[0]))
    x1, y1 = at((0, side * max(ys), zs[-1]))
    labels = [
        (x0, y0 + 18, f"y {side * min(ys):.0f}", "start"),
        (x1, y0 + 18, f"y {side * max(ys):.0f} mm, outboard", "end"),
        (x0 - 6, y0, f"z {zs[0]:.0f}", "end"),
        (x0 - 6, y1 + 12, f"z {zs[-1]:.0f}", "end"),
    ]
    text = "".join(
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="12">{escape(t)}</text>'
        for x, y, t, anchor in labels
    )
    box = f'x="{x0:.1f}" y="{y1:.1f}" width="{x1 - x0:.1f}" height="{y0 - y1:.1f}"'
    frame = f'<rect {box} fill="none" stroke="#777"/>'
    return (
        f'<svg viewBox="0 0 {WIDE} {TALL}" role="img" aria-label="Places of the tie rod\'s inner '
        f"joint with toe change "
        f'within {z.limit_deg:g} degrees">{"".join(out)}{frame}{text}</svg>'
    )
