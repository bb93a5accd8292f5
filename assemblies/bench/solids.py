"""Solids kept by content: making them again after one plate changed, and with all kept, against making all of
them.

One process, the same forms, no disk: only the kernel's work and the look-up in memory are compared."""

from __future__ import annotations

import os
import statistics
import time
from collections.abc import Callable
from functools import partial

from assemblies.bench.runner import Ratio
from parts.shape.belt import Boss, belt
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Hole, Outline, rectangle

ROUNDS = 5


def _forms(thickness_mm: float) -> list[Form]:
    """About what one corner has: four rocker plates, two boxed rockers, the first of each with the plate that
    changes, brackets, rods, frame tubes."""

    def plate(k: int) -> Outline:
        return Outline(
            belt([Boss(0, 0, 28), Boss(80 + k, 20, 15), Boss(-30, 60 + k, 14)], [None, 160, 90]),
            holes=(
                Hole(0, 0, 38, "pivot tube", "weld"),
                Hole(80 + k, 20, 10, "rod eye"),
                Hole(-30, 60 + k, 10, "damper eye"),
            ),
        )

    def rail(size: float, length: float) -> Form:
        square = Outline(
            rectangle(-size / 2, -size / 2, size / 2, size / 2, 4),
            inner=(rectangle(2 - size / 2, 2 - size / 2, size / 2 - 2, size / 2 - 2, 2),),
        )
        return Form((Prism(square, length),))

    plates = [Form((Prism(plate(k), 3.0 if k else thickness_mm),)) for k in range(4)]
    boxed = [
        Form(
            (
                Prism(
                    plate(k),
                    3.0 if k > 10 else thickness_mm,
                    Frame((0, 0, 0 if k > 10 else 3 - thickness_mm)),
                ),
                Prism(plate(k), 3, Frame((0, 0, 43))),
                Round(38, 46, 32),
                Prism(Outline(rectangle(25, 10, 28, 25)), 40, Frame((0, 0, 3))),
            )
        )
        for k in range(10, 12)
    ]
    tabs = [
        Form(
            (
                Prism(
                    Outline(belt([Boss(0, 0, 15), Boss(40 + k, 0, 20)]), holes=(Hole(0, 0, 10, "bolt"),)), 4
                ),
            ),
            (Round(30, 60, frame=Frame((58 + k, 0, -20))),),
        )
        for k in range(6)
    ]
    rods = [Form((Round(20, 300 + 10 * k, 15),)) for k in range(6)]
    return plates + boxed + tabs + rods + [rail(25 + k, 500) for k in range(8)]


def bench() -> list[Ratio]:
    """Medians of several rounds, taken in turn; every round changes the plate to a thickness not made
    before."""
    from parts.files.solid import solid
    from parts.files.solid_cache import forget

    def took(work: Callable[[], object]) -> float:
        t0 = time.perf_counter()
        work()
        return time.perf_counter() - t0

    def make(forms: list[Form]) -> None:
        for form in forms:
            solid(form)

    before = os.environ.get("ROCKERSHED_CACHE")
    os.environ["ROCKERSHED_CACHE"] = "off"
    try:
        make(_forms(3.0))  # warm the kernel itself
        whole, changed, kept = [], [], []
        for k in range(ROUNDS):
            forget()
            whole.append(took(lambda: make(_forms(3.0))))
            changed.append(took(partial(make, _forms(4.0 + k / 10))))
            kept.append(took(lambda: make(_forms(3.0))))
    finally:
        forget()
        os.environ.pop("ROCKERSHED_CACHE")
        if before is not None:
            os.environ["ROCKERSHED_CACHE"] = before
    every = statistics.median(whole)
    return [
        Ratio(
            "solids again after one plate's change / making all",
            statistics.median(changed) / every,
            0.2,
            at_least=False,
        ),
        Ratio(
            "solids again with all kept / making all", statistics.median(kept) / every, 0.1, at_least=False
        ),
    ]
