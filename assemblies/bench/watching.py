"""What a watch waits for, as ratios of processor time in one process: after each change of the file the page
of the numbers, then the page with its gaps, both with their view, against a study of the corner that has been
worked before."""

from __future__ import annotations

import os
import statistics
import time

from assemblies.bench.runner import DEMO, Ratio
from assemblies.job import load
from assemblies.making.report import page
from assemblies.making.report.scene import at_hand, solids
from assemblies.study import Study, study, with_gaps

TURNS = 5  # the first warms up and does not count


def bench() -> list[Ratio]:
    """Each turn has a plate of another thickness: the change that most pairs of bodies hang on. What other
    runs have kept of such plates is not looked at; the view is of the solids that the change leaves alone, as
    a watch has them."""
    last = study(load(DEMO), interference=False)
    assert isinstance(last, Study) and last.layout is not None  # the demo is a corner that stands
    drawn = solids(last.layout)
    known = {p.form.key: drawn[p.name] for p in last.layout.placed}
    before = os.environ.get("ROCKERSHED_CACHE")
    os.environ["ROCKERSHED_CACHE"] = "off"
    try:
        return _measured(last, known)
    finally:
        del os.environ["ROCKERSHED_CACHE"]
        if before is not None:
            os.environ["ROCKERSHED_CACHE"] = before


def _measured(last: Study, known: dict[str, object]) -> list[Ratio]:
    job = load(DEMO)
    turns = []
    for n in range(TURNS):
        at = [time.process_time()]
        study(job, interference=False)
        at.append(time.process_time())
        tweaked = load(DEMO).changed({"rocker.plate_thickness": 4.0 + 0.1 * n})
        numbers = study(tweaked, interference=False, like=last)
        assert isinstance(numbers, Study)
        last = numbers
        page(last, last.results, at_hand(last.layout, known), quick=True)
        at.append(time.process_time())
        whole = with_gaps(last)
        page(whole, whole.results, at_hand(last.layout, known), quick=True)
        at.append(time.process_time())
        turns.append(at)
    warm, shown, gaps = ([t[k] - t[i] for t in turns[1:]] for i, k in ((0, 1), (1, 2), (1, 3)))

    def row(name: str, spent: list[float], target: float) -> Ratio:
        ratio = statistics.median(a / b for a, b in zip(spent, warm, strict=True))
        return Ratio(f"watch, {name} / a warm study without gaps", ratio, target, at_least=False)

    return [
        row("numbers on the page after a tweak of the plate", shown, 1.5),
        row("gaps on the page after it", gaps, 3.0),
    ]
