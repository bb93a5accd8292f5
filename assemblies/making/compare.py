"""Two corners side by side: what changed and by how much, the same curves over each other, which parts must
be cut again.

rockershed compare mine.toml other.toml
rockershed compare mine.toml --change rocker.plate_thickness=4
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from assemblies.job import Job
from assemblies.layout.placing import FlatPart, Layout
from assemblies.making.report.overlay import overlay
from assemblies.making.report.page import filled
from assemblies.making.report.scene import solids
from assemblies.making.sheets.cut_list import rows as listed
from assemblies.results.curves import Curve, figures
from assemblies.results.findings import Finding, guaranteed, lacking, stops, worst_first
from assemblies.results.model import Results
from assemblies.results.terminal import paragraph, width
from assemblies.study import Study, study

MOST_ROWS = 8  # of uses and of gaps on a terminal
SAME = 1e-4  # two numbers of a shape (mm, directions, bulges) nearer than this are one


def told(value: float, decimals: int) -> str:
    return f"{round(value, decimals) + 0.0:.{decimals}f}"


@dataclass(frozen=True)
class Row:
    """A quantity of both corners; None where one has none."""

    name: str
    unit: str
    decimals: int
    a: float | None
    b: float | None
    asked: float | None = None  # the least it should be, where it has one
    round: Callable[[float, int], str] = told  # never to the side that makes a claim better

    @property
    def said(self) -> tuple[str, str]:
        """Both in figures."""
        a, b = ("-" if v is None else self.round(v, self.decimals) for v in (self.a, self.b))
        return a, b

    @property
    def seen(self) -> bool:
        """The figures show a difference."""
        return self.said[0] != self.said[1]

    @property
    def short(self) -> bool:
        """B has less than is asked."""
        return self.asked is not None and self.b is not None and self.b < self.asked

    @property
    def change(self) -> float | None:
        return None if self.a is None or self.b is None else self.b - self.a

    @property
    def differs(self) -> bool:
        if self.change is None:
            return (self.a is None) != (self.b is None)
        if not math.isfinite(self.change):
            return self.a != self.b
        return abs(self.change) > 1e-7 * max(abs(self.a), abs(self.b), 1e-3)


@dataclass(frozen=True)
class Cut:
    """A part and what becomes of it when corner B is built from the parts of A: again, stays, new or gone."""

    name: str
    fate: str
    why: str = ""


@dataclass(frozen=True)
class Comparison:
    a: Study
    b: Study
    labels: tuple[str, str]
    keys: tuple[tuple[str, str, str], ...]  # job keys that differ, with both values
    rows: tuple[Row, ...]
    uses: tuple[Row, ...]  # greatest use of each item of the strength table that differs, B's worst first
    pairs: tuple[Row, ...]  # guaranteed gaps
    parts: tuple[Cut, ...]
    gone: tuple[Finding, ...]
    new: tuple[Finding, ...]

    @property
    def made(self) -> tuple[Row, ...]:
        """Of the rows those of mass and cost."""
        return tuple(r for r in self.rows if r.name.startswith(("mass, ", "cost ")))

    @property
    def works(self) -> bool:
        """Neither of the two has a stop."""
        return not any(stops(s.results.findings) for s in (self.a, self.b))

    @property
    def verdict(self) -> str:
        """Which of the two works, what is new against B and what B mends."""
        a, b = (
            "does not work" if stops(s.results.findings) else _no_stop(s.results) for s in (self.a, self.b)
        )
        one = f"A and B alike: {b}" if a == b else f"B {b}; A {a}"
        said = [*_counts(self.new, "new"), *_counts(self.gone, "mended")]
        return f"{one}. {', '.join(said).capitalize() or 'The same findings'}."


def compare(
    job_a: Job,
    job_b: Job,
    out: Path,
    labels: tuple[str, str] | None = None,
    interference: bool = True,
    progress: Callable[..., None] = lambda *_: None,
) -> tuple[Path, str, bool]:
    """Work both jobs through; a page of their differences in `out`, the same as text for a terminal, and
    whether neither has a stop."""
    both = compared(job_a, job_b, labels, interference, progress)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{job_a.slug}-compared.html"
    path.write_text(page(both, laid_over(both, progress)), encoding="utf-8")
    return path, text(both), both.works


def compared(
    job_a: Job,
    job_b: Job,
    labels: tuple[str, str] | None = None,
    interference: bool = True,
    progress: Callable[..., None] = lambda *_: None,
) -> Comparison:
    a, b = study(job_a, interference, progress), study(job_b, interference, progress)
    ra, rb = a.results, b.results
    said_a, said_b = ({_subject(f) for f in r.findings} for r in (ra, rb))
    return Comparison(
        a,
        b,
        labels or _labels(job_a, job_b),
        keys(job_a, job_b),
        (*rows(ra, rb), *masses(a.layout, b.layout)),
        uses(ra, rb),
        pairs(ra, rb),
        parts(a.layout, b.layout),
        tuple(f for f in ra.findings if _subject(f) not in said_b),
        tuple(f for f in rb.findings if _subject(f) not in said_a),
    )


def _subject(f: Finding) -> tuple[str, str, str]:
    """What a finding is about, whatever its numbers: the same in A and B is no news."""
    return f.level, f.code, re.sub(r"[-+]?\d+(\.\d+)?", "#", f.where)


def _labels(a: Job, b: Job) -> tuple[str, str]:
    return (a.name, b.name) if a.name != b.name else (f"{a.name}, before", f"{b.name}, after")


# ------------------------------------------------------------ what differs


def keys(a: Job, b: Job) -> tuple[tuple[str, str, str], ...]:
    """Keys of the job file whose values differ, defaults counted as what they stand for."""
    one, two = _flat(a), _flat(b)
    return tuple(
        (k, _said(one.get(k)), _said(two.get(k)))
        for k in [*one, *(k for k in two if k not in one)]
        if one.get(k) != two.get(k)
    )


def _flat(job: Job) -> dict[str, Any]:
    out = {a.key: a.value for a in job.assumed}
    _walk(job.to_dict(), "", out)
    return {k: v for k, v in out.items() if k != "schema"}


def _walk(value: Any, path: str, out: dict[str, Any]) -> None:
    if isinstance(value, Mapping):
        for k, v in value.items():
            _walk(v, f"{path}.{k}" if path else str(k), out)
    elif isinstance(value, list) and value and isinstance(value[0], Mapping):
        for i, v in enumerate(value, 1):
            _walk(v, f"{path}.{v.get('name', i)}", out)
    else:
        out[path] = tuple(value) if isinstance(value, list) else value


def _said(value: Any) -> str:
    if value is None or value == ():
        return "–"
    if isinstance(value, tuple):
        return ", ".join(map(_said, value))
    return f"{value:g}" if isinstance(value, float) else str(value)


def rows(a: Results, b: Results) -> tuple[Row, ...]:
    """The numbers a builder asks for first, of both."""
    one, two = _numbers(a), _numbers(b)
    return tuple(
        Row(k, *(one.get(k) or two[k])[:2], one.get(k, (0, 0, None))[2], two.get(k, (0, 0, None))[2])
        for k in [*one, *(k for k in two if k not in one)]
    )


def _numbers(r: Results) -> dict[str, tuple[str, int, float | None]]:
    t, s, e = r.travel, r.spring, r.ends
    if t is None or s is None or e is None:
        return {}
    out: dict[str, tuple[str, int, float | None]] = {}
    for name, unit, decimals, curve in (
        ("rocker angle", "deg", 1, t.rocker_deg),
        ("damper, eye to eye", "mm", 1, t.damper_mm),
        ("damper per wheel", "mm/mm", 3, t.damper_per_wheel),
        ("wheel rate", "N/mm", 2, t.wheel_rate_n_per_mm),
        ("wheel force", "N", 0, t.wheel_force_n),
        ("rod force", "N", 0, t.rod_force_n),
        ("camber", "deg", 2, t.camber_deg),
        ("toe-in", "deg", 3, t.toe_deg),
    ):
        for pose, z in (("full droop", t.wheel_mm[0]), ("ride", 0.0), ("full bump", t.wheel_mm[-1])):
            if not (pose == "ride" and name in ("rocker angle", "camber", "toe-in")):
                out[f"{name}, {pose}"] = (unit, decimals, _at(t.wheel_mm, curve, z))
    out |= {
        "ride frequency": ("Hz", 2, s.ride_frequency_hz),
        "rate rise, ride to bump": ("%", 0, s.rise_percent),
        "spring rate, rotary": ("N·m/rad", 1, s.rate_nm_per_rad),
        "spring rate": ("N/mm", 2, s.rate_n_per_mm),
        "spring torque at ride": ("N·m", 1, s.ride_torque_nm),
        "spring force at ride": ("N", 0, s.ride_force_n),
        "twist at ride": ("deg", 1, s.ride_twist_deg),
        "twist left at full droop": ("deg", 1, s.droop_twist_deg),
        "greatest shear stress": ("MPa", 0, s.stress_max_mpa),
        "margin to toggle": ("deg", 1, e.toggle_margin_deg),
        "damper left, longest": ("mm", 1, e.damper_margin_longest_mm),
        "damper left, shortest": ("mm", 1, e.damper_margin_shortest_mm),
        "spring slack at wheel height": ("mm", 1, e.spring_slack_at_wheel_mm),
    }
    return {k: v for k, v in out.items() if v[2] is not None}


def _at(x, y, z: float) -> float | None:
    v = float(np.interp(z, x, np.array([math.nan if k is None else k for k in y])))
    return v if math.isfinite(v) else None


def pairs(a: Results, b: Results) -> tuple[Row, ...]:
    """Guaranteed gaps of both, tightest of either first."""
    one, two = ({f"{p.a} to {p.b}": p for p in r.clearance.pairs} for r in (a, b))
    room = {k: min(p.gap_mm - p.required_mm for p in (one.get(k), two.get(k)) if p) for k in one | two}
    return tuple(
        Row(
            k,
            "mm",
            2,
            one[k].gap_mm if k in one else None,
            two[k].gap_mm if k in two else None,
            (two.get(k) or one[k]).required_mm,
            lambda mm, _: guaranteed(mm),
        )
        for k in sorted(room, key=room.get)
    )


def uses(a: Results, b: Results) -> tuple[Row, ...]:
    """Greatest use of each item of the strength table where it differs, B's worst first; rounded up."""
    one, two = map(_greatest_use, (a, b))
    found = [Row(k, "of 1", 2, one.get(k), two.get(k), round=_used) for k in one | two]
    return tuple(sorted((r for r in found if r.differs), key=lambda r: -(r.b if r.b is not None else 0.0)))


def _greatest_use(r: Results) -> dict[str, float]:
    out: dict[str, float] = {}
    for c in r.strength.checks:
        out[c.item] = max(math.inf if c.use is None else c.use, out.get(c.item, 0.0))
    return out


def _used(use: float, decimals: int) -> str:
    return "nothing" if math.isinf(use) else lacking(use, decimals)


def masses(a: Layout | None, b: Layout | None) -> tuple[Row, ...]:
    """Steel of the rocker, and of all that is placed but the frame's members; cost, where priced."""
    return (
        *(
            Row(name, "kg", 3, *(None if x is None else _mass(x, of_rocker) for x in (a, b)))
            for name, of_rocker in (("mass, rocker", True), ("mass, made parts", False))
        ),
        *_costs(a, b),
    )


def _costs(a: Layout | None, b: Layout | None) -> list[Row]:
    """What the priced lines of the cut lists come to, where either job has prices."""
    if not any(x is not None and x.job.prices is not None for x in (a, b)):
        return []

    sums = [
        None
        if x is None or x.job.prices is None
        else sum((r.cost or 0.0) * (not r.of_the_frame) for r in listed(x))
        for x in (a, b)
    ]
    return [Row("cost of what is priced", "", 2, *sums)]


def _mass(layout: Layout, of_rocker: bool) -> float:
    made = (p for p in layout.placed if p.name not in layout.members)
    return sum(p.mass_kg or 0.0 for p in made if not of_rocker or p.body == "rocker")


# ------------------------------------------------------------------------------------------------ parts


def parts(a: Layout | None, b: Layout | None) -> tuple[Cut, ...]:
    """Every blank and every other made part: whether B can use what was cut for A."""
    flat_a, flat_b = ({f.name: f for f in x.flat} if x else {} for x in (a, b))
    out = [
        _fate(name, flat_a.get(name), flat_b.get(name), _flat_why)
        for name in [*flat_a, *(n for n in flat_b if n not in flat_a)]
    ]
    drawn = set(flat_a) | set(flat_b)
    rest_a, rest_b = (_others(x, drawn) if x else {} for x in (a, b))
    return tuple(
        out
        + [
            _fate(name, rest_a.get(name), rest_b.get(name), _form_why)
            for name in [*rest_a, *(n for n in rest_b if n not in rest_a)]
        ]
    )


def _others(layout: Layout, drawn: set[str]) -> dict[str, Any]:
    """Parts to make that are no blank: those with a mass of their own whose blank is not listed already."""

    def blank(name: str) -> bool:
        return (
            name in drawn
            or any(name.startswith(d) for d in drawn)
            or re.sub(r" (front|rear|upper|lower|inner|outer|left|right) plate$", " plate", name) in drawn
        )

    return {p.name: p for p in layout.placed if p.mass_kg is not None and not blank(p.name)}


def _fate(name: str, a, b, why: Callable[[Any, Any], str]) -> Cut:
    if a is None or b is None:
        return Cut(name, "new" if a is None else "gone")
    reason = why(a, b)
    return Cut(name, "again", reason) if reason else Cut(name, "stays")


def _flat_why(a: FlatPart, b: FlatPart) -> str:
    said = []
    if a.thickness_mm != b.thickness_mm:
        said.append(f"{a.thickness_mm:g} to {b.thickness_mm:g} mm thick")
    if a.material != b.material:
        said.append(f"{a.material} to {b.material}")
    if not same(a.outline, b.outline):
        said.append(
            f"outline: {_size(a)} to {_size(b)} mm, {a.outline.area_mm2:.0f} to {b.outline.area_mm2:.0f} mm²"
        )
    if not said and a.count != b.count:
        return f"{a.count} to {b.count} off" if b.count > a.count else ""
    return "; ".join(said)


def _size(f: FlatPart) -> str:
    x0, y0, x1, y1 = f.outline.bounds
    return f"{x1 - x0:.1f} x {y1 - y0:.1f}"


def _form_why(a, b) -> str:
    if a.material != b.material:
        return f"{a.material} to {b.material}"
    return (
        ""
        if same(a.form, b.form)
        else f"{a.mass_kg:.3f} to {b.mass_kg:.3f} kg"
        if abs(a.mass_kg - b.mass_kg) > 5e-4
        else "its shape"
    )


_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[+-]?\d+)?(?![\w])")


def same(a: Any, b: Any) -> bool:
    """Two outlines or forms alike to within SAME in every number, and in everything else exactly."""
    one, two = _essence(a), _essence(b)
    if _NUMBER.sub("#", one) != _NUMBER.sub("#", two):
        return False
    numbers = [np.array([float(x) for x in _NUMBER.findall(t)]) for t in (one, two)]
    return numbers[0].shape == numbers[1].shape and bool(np.all(np.abs(numbers[0] - numbers[1]) <= SAME))


def _essence(shape: Any) -> str:
    """The shape in words less its marks, which are scribed and not cut."""
    return repr(replace(shape, marks=()) if hasattr(shape, "marks") else shape)


# ------------------------------------------------------------------------------------------------ told


def _word(v: float | None, decimals: int, sign: bool = False) -> str:
    return (
        "-"
        if v is None or not math.isfinite(v)
        else f"{round(v, decimals) + 0.0:{'+' if sign else ''}.{decimals}f}"
    )


def _counts(found: tuple[Finding, ...], kind: str) -> list[str]:
    out = []
    for level, word in (("stop", "stop"), ("warn", "warning")):
        n = sum(f.level == level for f in found)
        if n:
            out.append(f"{n} {kind} {word}{'' if n == 1 else 's'}")
    return out


def _no_stop(r: Results) -> str:
    gaps = "" if r.clearance.checked else ", no gap among what was"
    return f"has no stop, {len(r.not_checked)} things not checked{gaps}" if r.not_checked else "has no stop"


def text(c: Comparison) -> str:
    """The comparison for a terminal: the verdict, then what it rests on, then what must be made again."""
    lines = [
        paragraph(c.verdict, ""),
        *(paragraph(f"{k}  {name}", "", "   ") for k, name in zip("AB", c.labels, strict=True)),
    ]
    lines += [paragraph(f"{k}: {x} -> {y}", "   ", "  ") for k, x, y in c.keys]
    for title, found in (("New findings", c.new), ("Findings that go away", c.gone)):
        if found:
            lines += ["", title]
            lines += [
                paragraph(f"{f.level.upper():4}  {f.where}: {f.text}", "  ", "      ", 4)
                for f in worst_first(found)
            ]
    head = ("A", "B", "B - A")
    for title, rows in (
        ("Use of strength, worst first", [r for r in c.uses if r.seen][:MOST_ROWS]),
        ("Mass and cost", tuple(r for r in c.made if r.differs)),
        ("Guaranteed gaps, tightest first", c.pairs[:MOST_ROWS]),
        ("Numbers", tuple(r for r in c.rows if r.differs and r not in c.made)),
    ):
        if rows:
            lines += [
                "",
                f"{title[: width() - 36]:{width() - 42}}{''.join(f'{h:>10}' for h in head)}",
                *map(_line, rows),
            ]
    if not any(r.differs for r in (*c.rows, *c.uses)):
        lines += ["", "No number differs."]
    return "\n".join([*lines, "", *_parts_text(c)]) + "\n"


def _line(r: Row) -> str:
    before, after = r.said
    change = _word(r.change, r.decimals, True)
    name = r.name if len(r.name) <= width() - 46 else f"{r.name[: width() - 49]}..."
    tail = f" of {r.asked:g}{' SHORT' if r.short else ''}" if r.asked is not None else f" {r.unit}"
    return f"  {name:{width() - 44}}{before:>10}{after:>10}{change:>10}{tail}"


def _parts_text(c: Comparison) -> list[str]:
    out = []
    for fate, title in (
        ("again", "Parts to be cut again"),
        ("new", "Parts that are new"),
        ("gone", "Parts no longer needed"),
    ):
        found = [p for p in c.parts if p.fate == fate]
        if found:
            out += [
                title,
                *(paragraph(f"{p.name}{': ' + p.why if p.why else ''}", "  ", "  ") for p in found),
            ]
    stay = [p.name for p in c.parts if p.fate == "stays"]
    return [*out, paragraph(f"Parts that stay: {', '.join(stay) if stay else 'none'}", "", "  ", 3)]


def laid_over(c: Comparison, progress: Callable[..., None] = lambda *_: None) -> dict[str, Any] | None:
    """Both corners as one scene of the page; None where one of them does not stand. Loads the CAD kernel."""
    if any(s.layout is None or s.results.travel is None for s in (c.a, c.b)):
        return None

    progress("solids of both")
    return overlay(c.a, solids(c.a.layout), c.b, solids(c.b.layout))


def page(c: Comparison, scene: dict[str, Any] | None = None) -> str:
    """The comparison as one file to open in a browser; `scene`: both corners laid over each other."""
    figures = overlaid(c)
    data = {
        "figures": [
            {
                "key": f.key,
                "unit": f.unit,
                "decimals": f.decimals,
                "curves": [list(k.y) for k in (*f.curves, *f.also)],
            }
            for f in figures
        ],
        "x": list(figures[0].x) if figures else [],
        "travel": [],
        "scene": scene,
        "pairs": [],
    }
    new = [f for f in worst_first(c.new) if f.level != "note"]
    return filled(
        "compare.html.j2",
        data,
        c=c,
        figures=figures,
        new=new,
        has_view=scene is not None,
        before=True,
        zone=None,
        pairs=[],
        strength_key=[],
        rack=bool(scene and len(scene["motion"]["rack_mm"]) > 1),
    )


def overlaid(c: Comparison) -> list:
    """The curves of B with those of A beside them, both over the heights of either."""
    fa, fb = ({f.key: f for f in figures(s.results, s.job)} for s in (c.a, c.b))
    out = []
    for key in (k for k in fb if k in fa):
        a, b = fa[key], fb[key]
        x = sorted(set(a.x) | set(b.x))
        out.append(
            replace(
                b,
                x=x,
                curves=tuple(Curve(k.label, _over(b.x, k.y, x)) for k in b.curves),
                also=tuple(Curve(k.label, _over(a.x, k.y, x)) for k in a.curves),
            )
        )
    return out


def _over(x, y, onto) -> list[float | None]:
    """A curve read at other heights, nothing outside its own."""
    v = np.interp(onto, x, np.array([math.nan if k is None else k for k in y]), left=math.nan, right=math.nan)
    return [float(f"{k:.7g}") if math.isfinite(k) else None for k in v]
