"""Findings of the strength rows: what breaks, what is near, what was taken for granted."""

from __future__ import annotations

from assemblies.job import Job
from assemblies.layout.placing import Layout
from assemblies.results.findings import Finding, Level, lacking, use_of
from assemblies.strength.row import Check

NEAR = 0.9  # of a limit: worth a word


def _told(value: float, unit: str) -> str:
    """A row's number with its unit; a sum of shares has none ("-").

    >>> _told(1.0331, "-"), _told(214.53, "MPa"), _told(32473.1, "N")
    ('1.033', '214.5 MPa', '32470 N')
    """
    number = f"{float(f'{value:.4g}'):.12g}"  # four figures, and never with an exponent
    return number if unit == "-" else f"{number} {unit}"


def uses(checks: list[Check], was_tried: bool) -> list[Finding]:
    """One finding an item: its worst check over the limit, and how many more of it are; says where its cure
    was not tried."""
    cure = "Cure" if was_tried else "Cure, not tried"
    found: list[Finding] = []
    over: dict[tuple[str, Level], list[Check]] = {}
    for c in checks:
        if not c.ok:
            over.setdefault((c.item, c.level), []).append(c)
    for (item, level), rows in over.items():
        c = max(rows, key=lambda r: r.use)
        more = (
            f" {len(rows) - 1} more of its checks are over: {', '.join(r.check for r in rows if r is not c)}."
            if len(rows) > 1
            else ""
        )
        breaks = "would break or yield" if level == "stop" else "is over its guide"
        at = f" at wheel {c.wheel_mm:+z.1f} mm" if c.wheel_mm is not None and c.case != "spectrum" else ""
        found.append(
            Finding(
                level=level,
                code="strength",
                where=item,
                severity=c.use,
                text=(
                    f"{c.check[:1].upper() + c.check[1:]} {breaks}: {_told(c.demand, c.unit)} asked, "
                    f"{_told(c.resistance, c.unit)} there, {use_of(c.use)}, case {c.case}{at} "
                    f"({c.source}). "
                    f"{cure}: {c.cure or 'less load or more metal there'}.{more}"
                ),
            )
        )
    near = [c for c in checks if NEAR < c.use <= 1]
    if near:
        found.append(
            Finding(
                level="note",
                code="strength-near",
                where="strength",
                text=f"Over {100 * NEAR:.0f} % used: "
                + "; ".join(f"{c.item}, {c.check} {lacking(c.use)}" for c in near[:6])
                + ".",
            )
        )
    return found


def material(job: Job, layout: Layout) -> list[Finding]:
    """Unknown scrap counts as S235, and thin plate's welds lie outside the usual rules: both are said."""
    keys = [
        ("rocker.plate_material", job.rocker.plate_material),
        ("upper_arm.material", job.upper_arm.material),
        ("lower_arm.material", job.lower_arm.material),
        ("rod.material", job.rod.material),
    ]
    keys += [
        (f"member.{m.name}.material", m.material)
        for m in job.member
        if hasattr(m, "material") and m.name in {x.member for x in layout.seats}
    ]
    unknown = [k for k, v in keys if v == "unknown"]
    out = []
    if unknown:
        out.append(
            Finding(
                level="note",
                code="steel-unknown",
                where=", ".join(unknown),
                text="Steel not named: counted as S235 (yield 235, tensile 360 MPa), the weakest usual "
                "grade. "
                "Use plate of unknown origin for eyes and brackets only after a test or with its "
                "certificate.",
            )
        )
    if job.rocker.plate_thickness < 4:
        out.append(
            Finding(
                level="note",
                code="thin-weld",
                where="welds",
                text=f"The plate is {job.rocker.plate_thickness:g} mm: EN 1993-1-8 section 4 starts at 4 mm "
                f"and counts fillets from a throat of 3 mm "
                "and runs from 30 mm; the weld numbers are a first cut. Weld pieces of the same plate, saw "
                "them open and look (quality C of ISO 5817 at least, B at eyes and brackets).",
            )
        )
    return out


def spring_care(job: Job) -> list[Finding]:
    if job.spring.kind == "coil-over":
        return []
    return [
        Finding(
            level="note",
            code="spring-care",
            where="spring",
            text=(
                "Never weld, heat or strike an arc on the spring, and cut strips cold: a blue edge or a dot "
                "of spatter is a crack. A new one settles, as a rule 1 to 3 % of its torque, "
                "2 to 6 mm of ride height in 200 km (from "
                "memory)"
                + (
                    "; it is pre-set in one sense: stamp its side and direction."
                    if job.spring.preset
                    else "."
                )
            ),
        )
    ]
