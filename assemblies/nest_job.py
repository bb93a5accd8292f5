"""A job's blanks, for both sides of the car, nested on the plates in hand: drawing, picture, what is missing."""
from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from assemblies.findings import Finding
from assemblies.nesting import cutting, drawing, picture
from assemblies.nesting.model import Blank, Nest, Remnant, Rules, remnant_of
from assemblies.nesting.pack import nest
from assemblies.placing import Layout
from assemblies.sheets.blank import hands

SAME_THICKNESS_MM = 0.3  # a "3 mm" remnant is 2.8 to 3.2, common practice
BY_HAND = 3.0  # mm between blanks cut with grinder or saw, common practice


@dataclass(frozen=True)
class Nested:
    """What was written for one job: the nest, its files, its findings."""

    nest: Nest
    files: tuple[Path, ...]
    findings: tuple[Finding, ...]


def blanks_of(layout: Layout) -> list[Blank]:
    """Every blank of both sides of the car; a blank that is its own mirror image counts twice, the others once a hand."""
    return [Blank(f"{flat.name} {'' if hand == 'either' else hand}".strip(), replace(outline, marks=()), flat.count * (2 if hand == "either" else 1),
                  flat.thickness_mm, flat.material, hand=hand)
            for flat in layout.flat for hand, outline in hands(flat, layout.job.corner.side)]


def rules_of(job) -> Rules:
    """Distances of the job's way of cutting (common practice)."""
    spacing = {"plasma": 5.0, "hand": BY_HAND}.get(job.process.cutting, max(2.0, 2 * job.process.kerf))
    return replace(Rules.of("plasma"), spacing_mm=max(spacing, job.process.kerf), kerf_mm=job.process.kerf)


def remnants_of(job, blanks: list[Blank]) -> tuple[list[Remnant], list[Finding]]:
    """The job's plates; one whose thickness is within 0.3 mm of a blank's takes it, and so does one of unknown grade, with a warning."""
    out, findings = [], []
    for i, plate in enumerate(job.stock.plate, 1):
        fits = sorted({(abs(b.thickness_mm - plate.thickness), b.thickness_mm, b.material) for b in blanks
                       if abs(b.thickness_mm - plate.thickness) <= SAME_THICKNESS_MM and plate.material in (b.material, "unknown")})
        thickness, material = fits[0][1:] if fits else (plate.thickness, plate.material)
        if fits and plate.material == "unknown" != material:
            findings.append(Finding(level="warn", code="plate-grade", where=f"plate {i}", text=(
                f"The blanks are counted as {material}, the plate's grade is not given: unmarked steel is S235 at best. Have it tested, or set the blanks' material to what it is.")))
        out.append(remnant_of(list(plate.outline), [(h.centre, h.diameter) for h in plate.holes], name=f"plate {i}", thickness_mm=thickness, material=material))
    return out, findings


def nest_job(layout: Layout, folder: Path, effort: int, seed: int = 0, progress: Callable[..., None] = lambda *_: None) -> Nested:
    """Nest, prove, draw. Blanks without a plate of their thickness are named as missing."""
    job = layout.job
    blanks = blanks_of(layout)
    plates, findings = remnants_of(job, blanks)
    done = nest(blanks, plates, rules_of(job), effort=effort, seed=seed, oversize="missing",
                progress=lambda share, text: progress(f"nest: {text}", round(100 * share), 100))
    files = []
    for plate in done.used:
        plan = cutting.plan(done, plate, smallest_hole_mm=plate.thickness_mm * (1 if job.process.cutting in ("laser", "waterjet") else 2),
                            cut_fitted=job.process.cutting in ("laser", "waterjet"), compensation=job.process.compensation)
        path = folder / f"{plate.name.replace(' ', '-')}.dxf"
        files += [drawing.write(path, done, plan).path]
        picture.save(folder / f"{plate.name.replace(' ', '-')}.png", done, plate, plan)
        files.append(folder / f"{plate.name.replace(' ', '-')}.png")
        findings.append(Finding(level="note", code="nest", where=plate.name, text=(
            f"{len(done.on(plate))} blanks for both sides lie on it, {done.use_percent(plate):.0f} % of its metal; {plan.cut_length_mm / 1000:.1f} m to cut.")))
    missing = [f"{m.count} x {m.blank.name} ({m.why})" for m in done.missing]
    if missing:
        more = "; ".join(f"{s.length_mm:.0f} x {s.width_mm:.0f} mm of {s.thickness_mm:g} mm" for s in done.shortages)
        findings.append(Finding(level="note", code="nest-missing", where="plates in hand", text=f"No room for {', '.join(missing)}. A further plate of {more} would take them."))
    return Nested(done, tuple(files), tuple(findings))
