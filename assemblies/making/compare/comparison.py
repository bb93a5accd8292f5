"""Two corners compared: keys, findings and verdict, with the numbers and parts of both."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from typing import Any

from assemblies.job import Job
from assemblies.making.compare.numbers import RowOfBoth, masses, pairs, rows, uses
from assemblies.making.compare.remaking import PartFate, parts
from assemblies.results.findings import Finding, stops
from assemblies.results.model import Results
from assemblies.study import Study, study
from parts.base.frozen import dataclass


@dataclass(frozen=True)
class Comparison:
    a: Study
    b: Study
    labels: tuple[str, str]
    keys: tuple[tuple[str, str, str], ...]  # job keys that differ, with both values
    rows: tuple[RowOfBoth, ...]
    uses: tuple[RowOfBoth, ...]  # greatest use of each item of strength that differs, B's worst first
    pairs: tuple[RowOfBoth, ...]  # guaranteed gaps
    parts: tuple[PartFate, ...]
    gone: tuple[Finding, ...]
    new: tuple[Finding, ...]

    @property
    def made(self) -> tuple[RowOfBoth, ...]:
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
