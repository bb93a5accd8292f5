"""A job's blanks nested on the plates in hand: drawing and picture a plate, what is missing, what it says in
the results."""

from __future__ import annotations

import math
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from assemblies.job import Job, slug
from assemblies.job.stock import NestingTable, plate_names, unknown_spare
from assemblies.layout.placing import FlatPart, Layout
from assemblies.making import pace
from assemblies.making.holes import smallest_hole_mm
from assemblies.making.sheets.blank import hands
from assemblies.nesting import cutting, drawing, picture
from assemblies.nesting.model import Blank, Nest, NestError, Remnant, Rules, remnant_of
from assemblies.nesting.pack import nest
from assemblies.results import making as rs
from assemblies.results.findings import Finding
from parts.base.frozen import dataclass
from parts.shape.outline import Loop, Outline, Vertex

SAME_THICKNESS_MM = 0.3  # a "3 mm" remnant is 2.8 to 3.2, common practice
# of a quick processor: to load what draws, to lay every blank once, and to prove and draw; of each plate
LOAD_S, MOST_BY_LOAD = 0.3, 3.0  # a longer load is the first of all, which lists the machine's fonts
LAY_S, LAY_FIRST_S = 0.2, 0.4
AFTER_S = 0.7
STEP_S = 0.8  # of the search: the one that the clock ends goes on to its own end
BUILD_EFFORT = 400  # moves of the search in a build: a few seconds; `rockershed nest` searches longer
SPACING_MM = {"plasma": 5.0, "hand": 3.0}  # between blanks, common practice


@dataclass(frozen=True)
class Nested:
    """What was written for one job: the nest, its files, its findings, and all of it as the results tell
    it."""

    nest: Nest
    files: tuple[Path, ...]
    findings: tuple[Finding, ...]
    told: rs.Nesting


def _given(job: Job) -> NestingTable:
    return job.nest or NestingTable()


def blanks_of(layout: Layout) -> list[Blank]:
    """Every blank of the sides that are built, with spares; one that is its own mirror image serves both
    hands.

    Raises NestError for a spare of a blank that is not there."""
    job = layout.job
    given = _given(job)
    sides = ("left", "right") if given.sides == "both" else (given.sides,)
    spares = {s.name: s.count for s in given.spare}
    out, known = [], dict.fromkeys(f.name for f in layout.flat)
    for flat in layout.flat:
        for hand, outline in hands(flat, job.corner.side):
            if hand not in ("either", *sides):
                continue
            name = flat.name if hand == "either" else f"{flat.name} {hand}"
            known[name] = None
            count = flat.count * (len(sides) if hand == "either" else 1) + sum(
                spares.get(n, 0) for n in {flat.name, name}
            )
            out.append(
                Blank(
                    name,
                    _marked(outline),
                    count,
                    flat.thickness_mm,
                    flat.material,
                    _rotation(flat, given),
                    hand,
                )
            )
    if unknown := next((n for n in spares if n not in known), None):
        raise NestError(unknown_spare(unknown, list(known)))
    return out


def _marked(outline: Outline) -> Outline:
    """Bend lines and pops stay; the nest writes its own names."""
    return replace(outline, marks=tuple(m for m in outline.marks if m.kind != "text"))


def _rotation(flat: FlatPart, given: NestingTable) -> str | float:
    if given.grain and any(
        m.kind == "text" and m.text.endswith((" up", " down")) for m in flat.outline.marks
    ):
        return "grain"  # a strip's length lies along the blank's x and its folds across it
    return "free" if given.turn is None else given.turn


def rules_of(job: Job) -> Rules:
    """Distances the job gives, else those of its way of cutting (common practice); the spacing is never under
    the kerf."""
    given, kerf = _given(job), job.process.kerf
    spacing = (
        given.spacing
        if given.spacing is not None
        else max(SPACING_MM.get(job.process.cutting, max(2.0, 2 * kerf)), kerf)
    )
    return Rules(spacing, given.edge, given.torch_edge, given.hole, given.keep_out, kerf)


def leads_of(job: Job) -> bool:
    """Whether pierces and lead-ins are drawn: unless the job says, not for hand cutting."""
    leads = _given(job).leads
    return job.process.cutting != "hand" if leads is None else leads


def remnants_of(job: Job, blanks: list[Blank]) -> tuple[list[Remnant], list[Finding]]:
    """The job's plates, one a sheet. A plate counts as what blanks of its grade, within 0.3 mm of its
    thickness, are drawn for; one of unknown grade as what most area is still wanted of, with a warning."""
    out, findings = [], []
    names = iter(plate_names(job.stock.plate))
    wanted = {(b.thickness_mm, b.material): 0.0 for b in blanks}
    for b in blanks:
        wanted[b.thickness_mm, b.material] += b.count * b.outline.gross_area_mm2
    for plate in job.stock.plate:
        fits = [
            k
            for k in wanted
            if abs(k[0] - plate.thickness) <= SAME_THICKNESS_MM and plate.material in (k[1], "unknown")
        ]
        for _ in range(plate.count):
            name = next(names)
            kind = max(
                fits,
                key=lambda k: (wanted[k] > 0, -abs(k[0] - plate.thickness), wanted[k]),
                default=(plate.thickness, plate.material),
            )
            if fits and plate.material == "unknown":
                findings.append(
                    Finding(
                        level="warn",
                        code="nest-grade",
                        where=name,
                        text=(
                            f"The blanks are counted as {kind[1]}, the plate's grade is not given: unmarked "
                            f"steel is S235 at best. Have it tested, or set the blanks' material to what "
                            f"it is."
                        ),
                    )
                )
            remnant = remnant_of(
                list(plate.outline),
                [(h.centre, h.diameter) for h in plate.holes],
                name=name,
                thickness_mm=kind[0],
                material=kind[1],
                torch_edges=tuple(n - 1 for n in plate.torch_edges),
                keep_outs=tuple(_loop(k) for k in plate.keep_outs),
                grain_deg=plate.grain,
                edge_mm={}
                if plate.edge is None
                else {n: plate.edge for n in range(len(plate.outline)) if n + 1 not in plate.torch_edges},
            )
            wanted[kind] = wanted.get(kind, 0.0) - remnant.area_mm2
            out.append(remnant)
    return out, findings


def settled(blanks: list[Blank], plates: list[Remnant]) -> tuple[list[Blank], list[Finding]]:
    """Blanks of a thickness that no plate counts as go with the nearest that one does, within 0.3 mm and of
    the same steel."""
    there, out = {(r.thickness_mm, r.material) for r in plates}, list[Blank]()
    moved: dict[tuple[float, float], list[str]] = {}
    for b in blanks:
        near = [
            t
            for t, material in there
            if material == b.material and abs(t - b.thickness_mm) <= SAME_THICKNESS_MM
        ]
        if near and (b.thickness_mm, b.material) not in there:
            thickness = min(near, key=lambda t: (abs(t - b.thickness_mm), t))
            moved.setdefault((b.thickness_mm, thickness), []).append(b.name)
            b = replace(b, thickness_mm=thickness)
        out.append(b)
    return out, [
        Finding(
            level="note",
            code="nest-thickness",
            where=f"{to:g} mm plate",
            text=(
                f"It also takes blanks drawn for {drawn:g} mm, within {SAME_THICKNESS_MM:g} mm of it: "
                f"{', '.join(names)}."
            ),
        )
        for (drawn, to), names in moved.items()
    ]


def _loop(corners) -> Loop:
    return Loop(tuple(Vertex(x, y) for x, y in corners))


def nest_job(
    layout: Layout,
    folder: Path,
    effort: int,
    seed: int = 0,
    progress: Callable[..., None] = lambda *_: None,
    limit_s: float = math.inf,
    begun: float | None = None,
) -> Nested:
    """Nest, prove, draw. Blanks without a plate of their thickness, or without room, are named as missing.
    `limit_s` from `begun` (time.monotonic(); None: from now) is for all of it, proof and pictures too: the
    search ends that much earlier. The findings then say so, and where even that took longer; the same seed
    may give another nest.

    Raises NestError where the job asks for what cannot be, and before anything is laid where `limit_s` does
    not hold proof and pictures of its plates."""
    job, begun = layout.job, time.monotonic() if begun is None else begun
    blanks = blanks_of(layout)
    plates, findings = remnants_of(job, blanks)
    blanks, found = settled(blanks, plates)
    findings += found
    kinds = {(b.thickness_mm, b.material) for b in blanks}
    many = sum((r.thickness_mm, r.material) in kinds for r in plates)
    slow = max(pace.last(), min(_loaded() / LOAD_S, MOST_BY_LOAD)) if many else 1.0
    search_s, laid = _search_s(limit_s, begun, many, slow), time.monotonic()
    done = nest(
        blanks,
        plates,
        rules_of(job),
        effort=effort,
        seed=seed,
        oversize="missing",
        limit_s=search_s,
        progress=lambda share, text: progress(f"nest: {text}", round(100 * share), 100),
    )
    files, told, stems = [], [], set()
    late_s = max(0.0, time.monotonic() - laid - search_s)  # a step of the search goes on past its end
    drawn, counted = time.process_time(), 0.0 if limit_s == math.inf else STEP_S
    for n, plate in enumerate(done.remnants, 1):
        if not done.on(plate):
            continue
        counted += AFTER_S
        plan = _plan(job, done, plate)
        stem = slug(plate.name) or f"plate-{n}"
        stem = f"{stem}-{n}" if stem in stems else stem
        stems.add(stem)
        files += [
            drawing.write(folder / f"{stem}.dxf", done, plan).path,
            picture.save(folder / f"{stem}.png", done, plate, plan),
        ]
        findings += [_used(done, plate, plan), *_left(plan)]
        told.append(
            rs.NestedPlate(
                plate=plate.name,
                thickness_mm=plate.thickness_mm,
                material=plate.material,
                blanks=len(done.on(plate)),
                use_percent=done.use_percent(plate),
                cut_length_mm=plan.cut_length_mm,
                cuts=len(plan.cuts),
                without_lead=len(plan.without_lead),
                dxf=files[-2].name,
                picture=files[-1].name,
            )
        )
    if files:
        pace.note((late_s / _busy(begun) + time.process_time() - drawn) / counted)
    unused = [r.name for r in done.remnants if not done.on(r)]
    if unused:
        findings.append(
            Finding(
                level="note",
                code="nest-unused",
                where="plates in hand",
                text=f"Not needed for these blanks: {', '.join(unused)}.",
            )
        )
    findings += _missing(done)
    findings += _ended(done, limit_s, time.monotonic() - begun)
    return Nested(
        done,
        tuple(files),
        tuple(findings),
        rs.Nesting(
            spacing_mm=done.rules.spacing_mm,
            plates=told,
            unused=unused,
            missing=[
                rs.MissingBlank(
                    blank=m.blank.name,
                    count=m.count,
                    thickness_mm=m.blank.thickness_mm,
                    material=m.blank.material,
                    why=m.why,
                )
                for m in done.missing
            ],
            wanted=[
                rs.PlateWanted(
                    thickness_mm=s.thickness_mm,
                    material=s.material,
                    length_mm=float(s.length_mm),
                    width_mm=float(s.width_mm),
                )
                for s in done.shortages
            ],
        ),
    )


def _search_s(limit_s: float, begun: float, plates: int, slow: float = 1.0) -> float:
    """What a search has of `limit_s` from `begun` on, when so many plates are proven and drawn after it; as
    busy as the machine has been, and `slow` times as slow as is counted here. Raises NestError where that is
    not enough to lay the blanks once."""
    gone, busy = time.monotonic() - begun, slow * _busy(begun)
    after = busy * (STEP_S + AFTER_S * plates)
    if limit_s < (needed := gone + busy * (LAY_FIRST_S + LAY_S * plates) + after):
        raise NestError(
            f"{limit_s:g} s are too short: parts, proof and pictures of {plates} "
            f"plate{'s' if plates > 1 else ''} take so long on this machine, as busy as it is, that a nest "
            f"needs some {math.ceil(needed)} s. Give it that, or fewer plates"
        )
    return limit_s - gone - after


def _loaded() -> float:
    """Processor time it takes now, s, to load what draws; 0 where it is loaded. It is done before the search:
    what it took needs no guess any more, and tells how slow the machine is today."""
    if "matplotlib.figure" in sys.modules:
        return 0.0
    start = time.process_time()
    picture.load()
    return time.process_time() - start


def _busy(begun: float) -> float:
    """How many times as long as it works itself this process has taken from `begun` on."""
    return max(1.0, (time.monotonic() - begun) / time.process_time())


def _ended(done: Nest, limit_s: float, took_s: float) -> list[Finding]:
    """What the clock did to it."""
    said = []
    if done.hit_limit:
        said.append(
            f"The search was ended for the {limit_s:g} s, before its effort was spent: the nest is sound, a "
            f"longer search may pack tighter, and another run may give another nest."
        )
    if took_s > limit_s:
        said.append(
            f"It took {took_s:.1f} s, more than the {limit_s:g} s given: parts, proof and pictures take "
            f"their time however short the search is; the first nest on a machine waits for the compiler too."
        )
    return [Finding(level="note", code="nest-time", where="nest", text=" ".join(said))] if said else []


def _plan(job: Job, done: Nest, plate: Remnant) -> cutting.Plan:
    return cutting.plan(
        done,
        plate,
        leads=leads_of(job),
        smallest_hole_mm=smallest_hole_mm(job, plate.thickness_mm),
        cut_fitted=job.process.cutting in ("laser", "waterjet"),
        compensation=job.process.compensation,
    )


def _used(done: Nest, plate: Remnant, plan: cutting.Plan) -> Finding:
    text = (
        f"{len(done.on(plate))} blanks lie on it, {done.use_percent(plate):.0f} % of its metal; "
        f"{plan.cut_length_mm / 1000:.1f} m to cut."
    )
    bare = plan.without_lead
    if bare and len(bare) < len(plan.cuts):
        text += (
            f" {len(bare)} of {len(plan.cuts)} cuts have no room for a lead that burns nothing else (cut "
            f"{', '.join(str(c.number) for c in bare)}): drill a start hole there, or widen nest.spacing."
        )
    return Finding(level="note", code="nest", where=plate.name, text=text)


def _left(plan: cutting.Plan) -> list[Finding]:
    """Where a compensated path cannot reach into a hollow corner: what is left is filed, or it holds off what
    is to sit there."""
    if not plan.left_mm:
        return []
    text = "; ".join(f"{name} {most:.2f} mm" for name, most in plan.left_mm.items())
    return [
        Finding(
            level="note",
            code="nest-corners",
            where=plan.remnant.name,
            text=(
                f"The cut is {2 * plan.compensation_mm:g} mm wide and leaves metal in inside corners, at "
                f"most: {text}. File it out before you try what sits there."
            ),
        )
    ]


def _missing(done: Nest) -> list[Finding]:
    """A finding a thickness and material: which blanks have no place, why, and what plate would take them."""
    out = []
    for thickness, material in dict.fromkeys((m.blank.thickness_mm, m.blank.material) for m in done.missing):
        some = [m for m in done.missing if (m.blank.thickness_mm, m.blank.material) == (thickness, material)]
        text = ""
        for why in dict.fromkeys(m.why for m in some):
            text += (
                f"{why[:1].upper()}{why[1:]}: "
                f"{', '.join(f'{m.count} x {m.blank.name}' for m in some if m.why == why)}. "
            )
        text += " ".join(
            f"A plate of {s.length_mm:.0f} x {s.width_mm:.0f} mm would take them."
            for s in done.shortages
            if (s.thickness_mm, s.material) == (thickness, material)
        )
        out.append(
            Finding(
                level="note", code="nest-missing", where=f"{thickness:g} mm {material}", text=text.strip()
            )
        )
    return out
