"""Everything a build makes, from one study, what is wanted first first: numbers, blanks, gaps, sheets,
solids, pictures, nest, in a fresh folder swapped in whole."""

from __future__ import annotations

from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

from assemblies.job import FrameJob, Job, JobError
from assemblies.layout import step_neighbours as imports
from assemblies.layout.junctions.account import fitting_rows
from assemblies.layout.placing import Layout, needed
from assemblies.making import blanks, inputs, nest_job, plots, report, sheets
from assemblies.making.beside import Gone, beside, cores
from assemblies.making.holes import smallest_hole_mm
from assemblies.making.report.gaps import fields, gap_curves
from assemblies.making.report.scene import solids
from assemblies.making.sheets import one_section, setup_pages, steering_sheet, strength_tables
from assemblies.making.sheets.paper import Printing, SheetError
from assemblies.nesting.model import NestError
from assemblies.results.faults import looked
from assemblies.results.findings import Finding
from assemblies.results.folder import FolderError, fresh
from assemblies.results.making import BlankRow
from assemblies.results.model import Results, read
from assemblies.results.summary import text
from assemblies.steering.places import zone_row
from assemblies.steering.strings import string_check
from assemblies.study import Study, study, with_gaps
from assemblies.study.kept import keep_made, made_last

BuildError = FolderError
KINDS = inputs.KINDS
KERNEL = {"solids", "pictures", "report"}  # what shows the gaps shows what the CAD kernel says of them
Say = Callable[..., None]


def build(
    job: Job | FrameJob,
    out: Path,
    at_wheel_mm: tuple[float, ...] = (),
    progress: Say = lambda *_: None,
    printing: Printing | None = None,
    shrink_mm: float = 0.0,
    kinds: tuple[str, ...] = KINDS,
) -> tuple[Path, Results]:
    """Make the outputs of a job in `out`/<job>, what is wanted first first; returns that folder and the
    results written there. Where the folder holds just that already, made of the same, nothing is written.

    `printing`: paper and scale correction of the templates; `shrink_mm`: allowance for weld shrink on the
    rocker's jig; `kinds`: of inputs.KINDS. Fewer than all are made from the numbers of a `check`; an older
    build's files of other kinds are made again with them where nothing changed, else taken out.

    Raises BuildError before anything is touched where the folder cannot be used, JobError where a neighbour's
    STEP file cannot. A design that cannot work is still built as far as it goes: its findings say what
    stopped it."""
    target = out / job.slug
    if isinstance(job, FrameJob):
        return _frame(job, target, progress, printing or Printing(), kinds)
    imports.read(job, progress)
    name = inputs.name_of(job, (tuple(at_wheel_mm), printing or Printing(), shrink_mm))
    held = inputs.there(target, name)
    if held is not None:
        if set(kinds) <= set(held):
            return target, read(target / "results.json")
        kinds = tuple(k for k in KINDS if k in (*kinds, *held))
    rest = tuple(k for k in KINDS if k not in kinds)
    gone = tuple(k for k in inputs.older(target) if k in rest)
    if at_wheel_mm:  # before anything is touched or the gaps are worked
        _reachable(study(job, interference=False), at_wheel_mm)
    with fresh(target, inputs.line(name, kinds)) as folder, _on_paper(job, kinds, progress):
        made = made_last(job)
        numbers = study(job, interference=False, progress=progress, try_cures=True, made=made)
        keep_made(job, made)
        drawn = None
        if numbers.layout is not None and "blanks" in kinds:  # what is wanted first waits for no gap
            drawn = blanks.write(numbers.layout, folder / "blanks", progress)
        done = with_gaps(numbers, progress, cures=not rest)
        results = replace(done.results, not_made=list(rest), taken_out=list(gone))
        make = _MakingCorner(results, folder, progress, done)
        if drawn is not None:
            make.drawn(*drawn)
        flat = [k for k in ("sheets", "nest") if k in kinds]
        given = (done, make.results, folder, flat, printing or Printing(), shrink_mm)
        apart = bool(flat and KERNEL & set(kinds) and done.layout is not None) and cores() > 1
        with beside(_flat, *given, say=progress, apart=apart) as on_paper:
            if done.layout is not None and KERNEL & set(kinds):
                make.unmade(done.layout)
                make.second_look()
            if done.layout is not None and "solids" in kinds:
                make.solids(at_wheel_mm)
            if "pictures" in kinds:
                make.pictures()
            try:
                found, told = on_paper()
            except Gone as e:
                raise BuildError(f"{' and '.join(flat)}: {e}") from e
            make.results = make.results.grown(found, **told)
        make.told()
        if "report" in kinds:
            make.report()
    return target, make.results


def _flat(
    done: Study,
    results: Results,
    folder: Path,
    kinds: list[str],
    printing: Printing,
    shrink_mm: float,
    progress: Say,
) -> tuple[list[Finding], dict[str, object]]:
    """What takes long and needs no CAD kernel, sheets and nest; what of them belongs in the results."""
    make = _MakingCorner(results, folder, progress, done)
    with _on_paper(done.job, tuple(kinds), lambda *_: None):
        if "sheets" in kinds:
            make.sheets(printing, shrink_mm)
        if done.layout is not None and "nest" in kinds:
            make.nest()
    known = {id(f) for f in results.findings}
    found = [f for f in make.results.findings if id(f) not in known]
    told = {name: value for name, value in vars(make.results).items() if name != "findings"}
    return found, {name: value for name, value in told.items() if value is not getattr(results, name)}


@dataclass
class _Making:
    """One build: `results` grow with what is made. A slip in one thing is a finding and leaves the others."""

    results: Results
    folder: Path
    progress: Say

    def one(self, what: str, make: Callable[[], object]) -> None:
        """Make one thing; where it gives back results, they are those with what of it belongs there."""
        made, slip = looked(what, lambda: (make(), []), None, passing=(BuildError, SheetError, JobError))
        self.results = (made if isinstance(made, Results) else self.results).grown(slip)

    def unmade(self, layout: Layout) -> None:
        """What the CAD kernel makes no solid of: all else is drawn without it."""
        from assemblies.making.drawn import lacking

        self.one("solids", lambda: self.results.grown(lacking(layout, self.progress)))

    def told(self) -> None:
        _told(self.results, self.folder)


@dataclass
class _MakingCorner(_Making):
    done: Study

    def drawn(self, rows: list[BlankRow], found: list[Finding]) -> None:
        self.results = self.results.grown(found, blanks=rows)

    def sheets(self, printing: Printing, shrink_mm: float) -> None:
        """Set-up sheet, tables of strength, steering, then the shop's own."""
        done, to, say = self.done, self.folder / "sheets", self.progress
        to.mkdir(parents=True, exist_ok=True)
        if self.results.travel is not None:
            self.one("set-up sheet", lambda: setup_pages.write(self.results, to, done, printing))
            self.one("strength tables", lambda: strength_tables.write(self.results, to, done, say))
            self.one("steering sheet", lambda: _steering(done, self.results, to, printing.paper, say))
        if done.layout is not None:
            self.one("shop sheets", lambda: _shop(done, self.results, to, printing, shrink_mm, say))

    def second_look(self) -> None:
        """The CAD kernel's word on the gaps."""
        from assemblies.making import gap_views as gaps

        self.one("second look", lambda: gaps.confirmed(self.done, self.results, self.progress))

    def solids(self, at_wheel_mm: tuple[float, ...]) -> None:
        from assemblies.making import gap_views as gaps
        from assemblies.making import solid_files

        done, folder, shown = self.done, self.folder, gaps.marks(self.results)

        def parts() -> Results:
            rows = solid_files.write(done, folder, at_wheel_mm, shown, self.progress)
            return self.results.grown(parts=rows)

        self.one("solids", parts)
        self.one("bodies at the gaps", lambda: gaps.write_close(done, shown, folder / "gaps"))

    def pictures(self) -> None:
        done, to, say = self.done, self.folder / "plots", self.progress

        def curves() -> None:
            plots.draw(self.results, to, say, done.job, gap_curves(fields(done, self.results), self.results))

        if self.results.travel is not None:
            self.one("plots", curves)
        if done.layout is not None:
            from assemblies.making import gap_views as gaps
            from assemblies.making import overview

            shown = gaps.marks(self.results)
            self.one("picture of the corner", lambda: overview.draw(done, to / "corner.png", say))
            self.one("pictures of the gaps", lambda: gaps.draw(done, self.results, shown, to, say))

    def nest(self) -> None:
        def plates() -> Results:
            found, told = _nest(needed(self.done.layout), self.folder / "nest", self.progress)
            return self.results.grown(found, **told)

        self.one("nest", plates)

    def report(self) -> None:
        before, done = self.results, self.done

        def page() -> None:
            report.write(done, before, self.folder, solids(done.layout), self.progress)

        self.one("report", page)
        if self.results.findings != before.findings:
            self.told()


def _frame(
    job: FrameJob, target: Path, progress: Say, printing: Printing, kinds: tuple[str, ...]
) -> tuple[Path, Results]:
    """A frame alone: what of `kinds` it has."""
    from assemblies.making import frame_build as frame

    imports.read(job, progress)
    kinds = tuple(k for k in kinds if k in frame.KINDS)
    name = inputs.name_of(job, (printing,))
    held = inputs.there(target, name)
    if held is not None:
        if set(kinds) <= set(held):
            return target, read(target / "results.json")
        kinds = tuple(k for k in frame.KINDS if k in (*kinds, *held))
    rest = [k for k in frame.KINDS if k not in kinds]
    gone = [k for k in inputs.older(target) if k not in kinds]
    with fresh(target, inputs.line(name, kinds)) as folder, _on_paper(job, kinds, progress):
        done = study(job, progress=progress)
        make = _Making(replace(done.results, not_made=rest, taken_out=gone), folder, progress)
        if {"solids", "pictures"} & set(kinds):
            make.unmade(done.layout)
        if "solids" in kinds:
            make.one("solids", lambda: frame.solids(done, make.results, folder, progress))
        if "sheets" in kinds:
            to = folder / "sheets"
            make.one("sheets", lambda: frame.sheets(done, make.results, to, printing, progress))
        if "pictures" in kinds:
            make.one("picture", lambda: frame.picture(done, folder / "plots" / "frame.png", progress))
        make.told()
    return target, make.results


def _told(results: Results, folder: Path) -> None:
    (folder / "results.json").write_text(results.to_json(), encoding="utf-8")
    (folder / "summary.txt").write_text(_summary(results), encoding="utf-8")


@contextmanager
def _on_paper(job: Job | FrameJob, kinds: tuple[str, ...], progress: Say) -> Generator[None]:
    """Fonts that have the letters of the job's names, where there is anything to print."""
    if not set(kinds) - {"blanks", "solids"}:
        yield
        return
    from assemblies.making.sheets import letters

    with letters.letters(letters.of(job)) as lacking:
        if lacking:
            progress(
                f"no font on this machine has {' '.join(sorted(lacking))}: boxes stand for them on paper"
            )
        yield


def _steering(done: Study, results: Results, folder: Path, paper: str, progress) -> Results:
    """The results with the zone of the rack's places (room not looked at: the verb `steer` does), and the
    sheet."""
    if results.steering is None or done.springing is None:
        return results
    progress("steering")
    ends = done.springing.ends
    zone = zone_row(done.job, done.layout, ends, look=False)
    results = results.grown(steering=replace(results.steering, zone=zone))
    check = string_check(done.job, done.mechanism, ends.within(done.job.corner.droop, done.job.corner.bump))
    made = done.layout and done.layout.rack_extension
    steering_sheet.write(results, check, folder / "steering.pdf", made.part if made else None, paper)
    return results


def _summary(results: Results) -> str:
    return text(results)


def _reachable(done: Study, at_wheel_mm: tuple[float, ...]) -> None:
    for z in at_wheel_mm:
        if not bool(done.mechanism.at(z).valid):
            if done.springing is None:
                raise BuildError(f"--at {z:+g}: {done.results.findings[0].text}")
            low, high = done.springing.ends.closes_mm
            raise BuildError(
                f"--at {z:+g}: the corner cannot reach that wheel height; it goes from {low:+z.1f} to "
                f"{high:+z.1f} mm"
            )


# ------------------------------------------------------------------------------------------------ sheets


def _shop(
    done: Study, results: Results, folder: Path, printing: Printing, shrink_mm: float, progress: Say
) -> Results:
    """Templates, hole tables, jigs, weld plan, cut list; the results with what of them belongs there."""
    progress("shop sheets")
    layout = needed(done.layout)
    shop = sheets.work_out(
        layout,
        done.springing,
        lambda flat: smallest_hole_mm(layout.job, flat.thickness_mm),
        layout.job.process.cutting in ("laser", "waterjet"),
        shrink_mm,
    )
    found = sheets.write(shop, layout, folder, printing)
    found += [*sheets.sawing.findings(shop.sawn), *one_section.proposals(done, shop.sawn, shop.rows)]
    told = sheets.in_results(shop)
    if shop.fitting is not None:
        found += shop.fitting.findings()
        if done.results.junctions is not None:
            told["junctions"] = replace(done.results.junctions, fitting=fitting_rows(shop.fitting))
    return results.grown(found, **told)


def _nest(layout: Layout, folder: Path, progress: Say) -> tuple[list[Finding], dict[str, object]]:
    """The blanks on the plates in hand, where there are any. Raises BuildError where the job asks of the nest
    what cannot be."""
    if not (layout.job.stock.plate and layout.flat):
        return [], {}
    folder.mkdir()
    try:
        nested = nest_job.nest_job(layout, folder, nest_job.BUILD_EFFORT, progress=progress)
    except NestError as e:
        raise BuildError(str(e)) from e
    if not nested.files:  # no plate of any thickness that is wanted
        folder.rmdir()
    told = [replace(p, dxf=f"nest/{p.dxf}", picture=f"nest/{p.picture}") for p in nested.told.plates]
    return list(nested.findings), {"nest": replace(nested.told, plates=told)}
