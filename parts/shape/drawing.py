"""A flat part as a small drawing: true outline, numbered holes, overall size. Seen on the face that carries
the marks."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from parts.shape.outline import Loop, Outline

WIDE, TALL, RIM = 320, 230, 46  # room on a card, and of it left free for the sizes, in dots of the page


def path(loop: Loop) -> str:
    """A loop as lines and true arcs, y turned to point down."""
    first = loop.segments[0].start
    out = [f"M{first[0]:.3f} {-first[1]:.3f}"]
    for s in loop.segments:
        if not s.bulge:
            out.append(f"L{s.end[0]:.3f} {-s.end[1]:.3f}")
        elif abs(s.sweep) > 6.2:
            middle = s.at(0.5)
            out += [_arc(s, middle), _arc(s, s.end)]
        else:
            out.append(_arc(s, s.end))
    return "".join(out) + "Z"


def _arc(s, end) -> str:
    return (
        f"A{s.radius:.3f} {s.radius:.3f} 0 {int(abs(s.sweep) > 3.14159265)} {int(s.bulge < 0)} "
        f"{end[0]:.3f} {-end[1]:.3f}"
    )


def drawing(name: str, outline: Outline, holes: Sequence = ()) -> str:
    """SVG of a blank; `holes` are rows of results.json (numbered from left and bottom), else the outline's
    own in order."""
    x0, y0, x1, y1 = outline.bounds
    wide, tall = x1 - x0, y1 - y0
    dot = max(
        wide / (WIDE - 1.3 * RIM), tall / (TALL - 1.4 * RIM)
    )  # mm to one dot of the page: texts and strokes are alike on every card
    rim, text, thin = RIM * dot, 13.5 * dot, 0.9 * dot
    box = (x0 - rim, -y1 - 0.4 * rim, wide + 1.3 * rim, tall + 1.4 * rim)
    rows = [(h.number, x0 + h.x_mm, y0 + h.y_mm, h.diameter_mm) for h in holes] or [
        (k, h.x, h.y, h.diameter_mm) for k, h in enumerate(outline.holes, 1)
    ]
    metal = path(outline.outer) + "".join(path(loop) for loop in outline.inner)
    out = [
        f'<svg class="blank" viewBox="{" ".join(f"{v:.2f}" for v in box)}" role="img" '
        f'aria-label="{escape(f"{name}: {wide:.1f} by {tall:.1f} mm, {len(outline.holes)} holes")}">',
        f'<path class="metal" d="{metal}" fill-rule="evenodd" stroke-width="{2.2 * thin:.3f}"/>',
    ]
    for hole in outline.holes:
        r = hole.diameter_mm / 2
        cross = (
            f"M{hole.x - 1.35 * r:.2f} {-hole.y:.2f}h{2.7 * r:.2f}M{hole.x:.2f} "
            f"{-hole.y - 1.35 * r:.2f}v{2.7 * r:.2f}"
        )
        out.append(
            f'<circle class="hole" cx="{hole.x:.3f}" cy="{-hole.y:.3f}" r="{r:.3f}" '
            f'stroke-width="{2 * thin:.3f}"/>'
            f'<path class="centre" d="{cross}" stroke-width="{thin:.3f}"/>'
        )
    for number, x, y, d in rows:
        out.append(
            f'<text class="size" x="{x + 0.36 * d + 0.2 * text:.2f}" y="{-y - 0.36 * d:.2f}" '
            f'font-size="{text:.2f}">{number}</text>'
        )
    out += _sizes(x0, y0, x1, y1, rim, text, thin)
    return "".join(out) + "</svg>"


def _sizes(x0, y0, x1, y1, rim, text, thin) -> list[str]:
    """Overall width below, height at the left."""
    a, level = text * 0.45, -y0 + 0.62 * rim
    left = x0 - 0.45 * rim
    lines = (
        f"M{x0:.2f} {-y0 + 0.12 * rim:.2f}V{level + a:.2f}M{x1:.2f} {-y0 + 0.12 * rim:.2f}V{level + a:.2f}"
        f"M{x0:.2f} {level:.2f}H{x1:.2f}M{x0 + a:.2f} {level - a / 2:.2f}L{x0:.2f} {level:.2f}L{x0 + a:.2f} "
        f"{level + a / 2:.2f}"
        f"M{x1 - a:.2f} {level - a / 2:.2f}L{x1:.2f} {level:.2f}L{x1 - a:.2f} {level + a / 2:.2f}"
        f"M{x0 - 0.1 * rim:.2f} {-y1:.2f}H{left - a:.2f}M{x0 - 0.1 * rim:.2f} "
        f"{-y0:.2f}H{left - a:.2f}M{left:.2f} {-y1:.2f}V{-y0:.2f}"
        f"M{left - a / 2:.2f} {-y1 + a:.2f}L{left:.2f} {-y1:.2f}L{left + a / 2:.2f} {-y1 + a:.2f}"
        f"M{left - a / 2:.2f} {-y0 - a:.2f}L{left:.2f} {-y0:.2f}L{left + a / 2:.2f} {-y0 - a:.2f}"
    )
    x, y = (x0 + x1) / 2, -(y0 + y1) / 2
    return [
        f'<path class="centre" d="{lines}" stroke-width="{1.3 * thin:.3f}"/>',
        f'<text class="size" x="{x:.2f}" y="{level - 0.35 * text:.2f}" font-size="{text:.2f}" '
        f'text-anchor="middle">{x1 - x0:.1f}</text>',
        f'<text class="size" x="{left - 0.35 * text:.2f}" y="{y:.2f}" font-size="{text:.2f}" '
        f'text-anchor="middle" '
        f'transform="rotate(-90 {left - 0.35 * text:.2f} {y:.2f})">{y1 - y0:.1f}</text>',
    ]
