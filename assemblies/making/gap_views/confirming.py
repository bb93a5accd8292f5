"""The worst gaps asked again of the CAD kernel, as results and findings."""

from __future__ import annotations

from collections.abc import Callable

from assemblies.results.findings import Finding, guaranteed
from assemblies.results.model import Results
from assemblies.study import Study


def confirmed(done: Study, results: Results, progress: Callable[..., None] = lambda *_: None) -> Results:
    """`results` with the kernel's distance and common volume of every short pair and of the nearest others at
    their worst poses, what was not confirmed, and a stop finding for each pair where kernel and check
    disagree. Loads the CAD kernel."""
    gaps = results.clearance
    if not gaps.checked or done.layout is None:
        return results
    from assemblies.clearance.confirm import chosen, confirm
    from assemblies.layout import bodies as neighbours

    asked = chosen(gaps.pairs)
    found, left = confirm(
        asked,
        neighbours.bodies(done.layout),
        done.mechanism,
        neighbours.joints(done.layout),
        progress,
        _imported(done),
    )
    if len(asked) < len(gaps.pairs):
        rest = min(p.gap_mm - p.required_mm for p in gaps.pairs[len(asked) :])
        left.append(
            f"{len(gaps.pairs) - len(asked)} further pairs: each has {guaranteed(rest)} mm or more to spare"
        )
    by = {(c.a, c.b): c for c in found}
    pairs = [
        p
        if (c := by.get((p.a, p.b))) is None
        else p.changed(exact_gap_mm=c.gap_mm, common_mm3=c.common_mm3, common_metal_mm3=c.metal_mm3)
        for p in gaps.pairs
    ]
    faults = [
        Finding(
            level="stop",
            code="gap-disagreement",
            where=f"{c.a} to {c.b}",
            text=(
                f"The check and the CAD kernel disagree: {c.fault}. Trust neither: measure this gap on the "
                f"mock-up, and report the job file as a fault of the program."
            ),
        )
        for c in found
        if c.fault
    ]
    return results.grown(faults, clearance=gaps.changed(pairs=pairs, not_confirmed=left))


def _imported(done: Study) -> dict[str, list]:
    """Solids of the neighbours that come as STEP files, by body, where they stand at ride height."""
    from parts.files.imported import Imported
    from parts.files.solid import placed, solid

    out: dict[str, list] = {}
    for p in done.layout.placed:
        if isinstance(p.form, Imported):
            out.setdefault(p.body, []).extend(placed(s, p.frame) for s in solid(p.form).Solids())
    return out
