"""The set-up of a corner as results.json keeps it: preload, adjusters, slide, drilling, order of work,
findings."""

from __future__ import annotations

from dataclasses import asdict

from assemblies.layout.pack_slide import room
from assemblies.motion.springing import Springing
from assemblies.results import setting as rs
from assemblies.results.findings import Finding
from assemblies.setup import collar, preload, slide
from assemblies.setup.adjusters import adjusters
from assemblies.setup.clocking import clocking, drilling
from assemblies.setup.standing import OnStops


def set_up(
    job, s: Springing, layout, lever_mm: float = preload.LEVER_MM
) -> tuple[rs.Clocking, rs.SetUp, list[Finding]]:
    """Clocking and set-up of a corner, and what is wrong with them; `layout` None leaves out what needs the
    parts."""
    drill = drilling.drilling(job, layout, s.preload.sense)
    on = OnStops(job, s)
    clock = clocking(job, s, drill, on=on)
    size = room(job, layout)
    socket = layout.socket.part if layout is not None and layout.socket is not None else None
    linear = s.spring.linear
    out = rs.SetUp(
        lever_mm=lever_mm,
        winding=[_winding(w, linear) for w in preload.windings(s, lever_mm)],
        socket_slack_deg=None if socket is None or linear else 2 * socket.slack_deg,
        torque_bound_nm=None if linear else preload.bound_torque_nm(s.spring, s.twist_deg["droop"]),
        stop=preload.stop_needed(s, job.corner.droop),
        cautions=preload.cautions(s, lever_mm),
        adjusters=[rs.AdjusterRow(**asdict(a)) for a in adjusters(on, clock.steps)],
        slide=slide.table(on, size) if size else [],
        loading_turn=drill.turn if drill else None,
        drill=[rs.DrillRow(**asdict(h)) for h in drill.holes()] if drill else [],
        order=[collar.order(job, s)] if linear else drilling.order(job, drill),
        collar=collar.settings(on, layout) if linear else [],
    )
    found = collar.findings(job, s, layout) if linear else slide.findings(job, size)
    return clock, out, found


def _winding(w: preload.Winding, linear: bool) -> rs.WindingRow:
    own = (
        dict(compression_mm=w.deflection, force_n=w.load)
        if linear
        else dict(twist_deg=w.deflection, torque_nm=w.load)
    )
    return rs.WindingRow(
        pose=w.pose,
        wheel_mm=w.wheel_mm,
        energy_j=w.energy_j,
        lever_force_n=w.lever_force_n,
        lever_travel_mm=w.lever_travel_mm,
        **own,
    )
