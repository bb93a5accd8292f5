"""A job's [[member]] as the part it is: the one place that knows which shape makes which."""

from __future__ import annotations

from parts.member import Member


def member_part(m) -> Member:
    """The part of a member that is no STEP file; its own `frame()` stands it in the car."""
    if m.shape == "square":
        return Member.square(m.from_, m.to, m.size, m.wall, m.roll, m.corner)
    if m.shape == "rectangular":
        return Member.rectangular(m.from_, m.to, m.width, m.height, m.wall, m.roll, m.corner)
    if m.shape == "round":
        return Member.tube(m.from_, m.to, m.size, m.wall)
    if m.shape == "plate":
        return Member.plate(m.from_, m.to, m.width, m.thickness, m.roll)
    if m.shape == "cylinder":
        return Member.cylinder(m.from_, m.to, m.diameter)
    return Member.box(m.centre, m.size)
