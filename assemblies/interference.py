"""The gaps of one corner: the interference check of everything placed, as results and as findings."""
from __future__ import annotations

from assemblies import results as rs
from assemblies.ends import Ends
from assemblies.findings import Finding
from assemblies.job import Job
from assemblies.motion import Mechanism
from assemblies.placing import Layout


def interference(job: Job, mechanism: Mechanism, ends: Ends, layout: Layout) -> tuple[rs.Clearance, list[Finding]]:
    """Every pair of bodies over the travel the corner can reach, and the rack."""
    from assemblies import neighbours
    from assemblies.clearance import Limits, check
    travel = (max(-job.corner.droop, ends.closes_mm[0] + 0.01), min(job.corner.bump, ends.closes_mm[1] - 0.01))
    try:
        report = check(neighbours.bodies(layout), mechanism, travel, job.tie_rod.rack_travel, neighbours.joints(layout),
                       Limits.of(job.clearance), job.clearance.tolerance)
    except ValueError as e:
        return (rs.Clearance(checked=False, tolerance_mm=job.clearance.tolerance, not_checked=[str(e)]),
                [Finding(level="stop", code="interference", where="interference", text=f"The gaps could not be checked: {e}.")])
    skipped = [f"{a} to {b}: {why}" for a, b, why in report.not_checked]
    return (rs.Clearance(checked=True, tolerance_mm=report.tolerance_mm, pairs=[_row(p) for p in report.pairs], not_checked=skipped),
            [_finding(p) for p in report.pairs if not p.ok])


def _row(p) -> rs.Pair:
    return rs.Pair(a=p.a, b=p.b, kind=p.kind, gap_mm=p.gap_mm, found_gap_mm=p.found_gap_mm, required_mm=p.required_mm,
                   at_wheel_mm=p.at_wheel_mm, at_rack_mm=p.at_rack_mm, ok=p.ok, point_a=list(p.point_a), point_b=list(p.point_b),
                   under_from_wheel_mm=p.under_mm[0] if p.under_mm else None, under_to_wheel_mm=p.under_mm[1] if p.under_mm else None)


def _finding(p) -> Finding:
    pose = f"wheel {p.at_wheel_mm:+.1f} mm" + (f", rack {p.at_rack_mm:+.1f} mm" if p.at_rack_mm else "")
    spot = ", ".join(f"{v:.0f}" for v in p.point_a)
    if p.clash:
        over = f", over wheel {p.clash_mm[0]:+.1f} to {p.clash_mm[1]:+.1f} mm" if p.clash_mm else ""
        return Finding(level="stop", code="clash", where=f"{p.a} to {p.b}", text=(
            f"They run into each other by {-p.found_gap_mm:.1f} mm at {pose}, near ({spot}){over}. Move one of them by at least "
            f"{p.required_mm - p.gap_mm:.1f} mm there."))
    under = f" The gap is short from wheel {p.under_mm[0]:+.1f} to {p.under_mm[1]:+.1f} mm." if p.under_mm else ""
    return Finding(level="warn", code="gap", where=f"{p.a} to {p.b}", text=(
        f"Guaranteed gap {p.gap_mm:.2f} mm, {p.required_mm:g} mm asked, at {pose}, near ({spot}).{under} "
        f"Move one of them {p.required_mm - p.gap_mm:.2f} mm away there."))
