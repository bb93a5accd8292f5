"""From blanks and remnants to a proven nest: groups by thickness and material, fewest remnants first."""

from __future__ import annotations

import itertools
import math
from collections import Counter
from collections.abc import Callable

import numpy as np

from assemblies.nesting import proof
from assemblies.nesting.container import Container, containers, usable
from assemblies.nesting.layout import Layout, Shape
from assemblies.nesting.model import Blank, Missing, Nest, NestError, Placement, Remnant, Rules
from assemblies.nesting.polygons import cover
from assemblies.nesting.search import Budget, best_place, clear, part, resolve, settle_up
from assemblies.nesting.settle import compact, deepest_mm
from assemblies.nesting.shortage import shortages
from assemblies.nesting.strip import scattered, shorten
from assemblies.nesting.turns import angles_deg

SEARCH_CHORD_MM, FINE_CHORD_MM = 0.4, 0.03
TRIES_PER_COUNT = 3


def nest(
    blanks: list[Blank],
    remnants: list[Remnant],
    rules: Rules | None = None,
    effort: int = 4000,
    seed: int = 0,
    limit_s: float = math.inf,
    progress: Callable[[float, str], None] | None = None,
    oversize: str = "error",
) -> Nest:
    """Place every copy of every blank on the fewest remnants, and prove the result.

    `effort` counts the moves of the search (some 50 to 200 a second), so a seed gives the same nest on any machine;
    `limit_s` is a wall-clock guard, and the nest says when it cut the search short. What finds no place is named in
    `missing`. `oversize`: a blank larger than every plate of its kind is an "error" or goes to "missing".
    Raises NestError for input that cannot be right. Mirror images are never made."""
    rules = rules or Rules()
    _check(blanks, remnants, rules)
    budget = Budget(max(1, int(effort)), limit_s, progress)
    placed, missing, least = [], [], 0
    groups = sorted({(b.thickness_mm, b.material) for b in blanks if b.count})
    total = sum(b.count for b in blanks)
    for thickness, material in groups:
        some = [b for b in blanks if (b.thickness_mm, b.material) == (thickness, material) and b.count]
        plates = [r for r in remnants if abs(r.thickness_mm - thickness) < 1e-6 and r.material == material]
        if not plates:
            missing += [Missing(b, b.count, f"no remnant of {thickness:g} mm {material}") for b in some]
            continue
        share = max(1, int(effort * sum(b.count for b in some) / total))
        own = part(budget, share)
        own.progress = progress and (
            lambda s, text, a=budget.spent, part=share: progress(min(1.0, (a + s * part) / effort), text)
        )
        p, m, k = _group(some, plates, rules, np.random.default_rng(seed), own, oversize)
        settle_up(budget, own)
        placed, missing, least = placed + p, missing + m, least + k
    short = shortages(missing, remnants, rules, seed, effort)
    result = Nest(tuple(placed), tuple(missing), tuple(short), tuple(remnants), rules, least, budget.hit_limit)
    proof.prove(result)
    budget.spent = budget.moves
    budget.tell("nest proven")
    return result


def _check(blanks: list[Blank], remnants: list[Remnant], rules: Rules) -> None:
    rules.check()
    for thing in (*blanks, *remnants):
        thing.check()
    for what, names in (("blank", [b.name for b in blanks]), ("remnant", [r.name for r in remnants])):
        twice = [n for n, c in Counter(names).items() if c > 1]
        if twice:
            raise NestError(f'{what} "{twice[0]}" is given twice; names must differ (use count for copies)')


def least_plates(needed_mm2: float, areas_mm2: list[float]) -> int:
    """Lower bound: the least number of plates whose areas together hold the blanks (all of them if even that is short)."""
    total = 0.0
    for k, area in enumerate(sorted(areas_mm2, reverse=True)):
        total += area
        if needed_mm2 <= total * (1 + 1e-9):
            return k + 1
    return len(areas_mm2)


def shape_of(blank: Blank, remnant: Remnant, rules: Rules, chord_mm: float, least_area_mm2: float) -> Shape:
    """The placer's view of a blank, moved so that its middle is the origin. Windows smaller than the smallest blank of
    the nest are filled. The coarse view also covers the fine one."""
    from shapely.affinity import translate

    from assemblies.nesting.polygons import grown

    coarse = chord_mm > FINE_CHORD_MM
    x0, y0, x1, y1 = blank.outline.bounds
    shape = translate(cover(blank.outline, chord_mm, least_area_mm2), -(x0 + x1) / 2, -(y0 + y1) / 2)
    curved = any(s.bulge for s in blank.outline.outer.segments)
    # the proof's polygons reach up to their own chord error beyond the true arc; the coarse view covers the fine one too
    shape = grown(shape, 2 * FINE_CHORD_MM if coarse else 1.5 * proof.CHORD_MM) if curved else shape
    fill = (2 * chord_mm if coarse else FINE_CHORD_MM) if curved else 0.0
    return Shape(shape, angles_deg(blank, remnant), rules.spacing_mm / 2, fill)


def _group(blanks: list[Blank], remnants: list[Remnant], rules: Rules, rng, budget: Budget, oversize: str):
    """Blanks and remnants of one thickness and material: (placements, missing, lower bound on remnants)."""
    area = {b.name: b.outline.gross_area_mm2 for b in blanks}
    wanted = [k for k in sorted(range(len(blanks)), key=lambda k: -area[blanks[k].name]) for _ in range(blanks[k].count)]
    plates = [_Plate(r, rules, blanks) for r in remnants]
    missing = []
    for k, b in enumerate(blanks):
        if not any(p.admits(k) for p in plates):
            wanted = [q for q in wanted if q != k]
            why = _too_large(b, plates)
            if oversize == "error":
                raise NestError(why)
            missing.append(Missing(b, b.count, why))
    needed = sum(area[blanks[k].name] for k in wanted)
    bound = least_plates(needed, [p.area_mm2 for p in plates]) if wanted else 0
    best = None
    for some in _choices(plates, needed, bound):
        own = part(budget, max(20, (budget.moves - budget.spent) // 2))
        own.progress = budget.progress
        layouts, left = _fill_all(some, wanted, rng, own)
        settle_up(budget, own)
        score = (sum(area[blanks[k].name] for k in left), sum(1 for a, *_ in layouts if len(a)))
        if best is None or score < best[0]:
            best = (score, layouts, left)
        if not left or budget.hit_limit:
            break
    placements, copies = [], Counter()
    for layout, plate, box in best[1] if best else []:
        if not len(layout):
            continue
        tidy = part(budget, (budget.moves - budget.spent) // 2)
        tidy.progress = budget.progress
        layout = shorten(layout, rng, tidy)
        settle_up(budget, tidy)
        layout = _refined(layout, plate, box)
        for k, r, x, y in zip(layout.kind, layout.r, layout.x, layout.y, strict=True):
            copies[int(k)] += 1
            placements.append(_placement(blanks[k], copies[int(k)], plate.remnant, layout.shapes[k].angles[r], x, y))
    for k, count in sorted(Counter(best[2] if best else []).items()):
        missing.append(Missing(blanks[k], count, "no room left"))
    return placements, missing, bound


class _Plate:
    """A remnant with what the search needs of it."""

    def __init__(self, remnant: Remnant, rules: Rules, blanks: list[Blank]) -> None:
        smallest = min(b.outline.gross_area_mm2 for b in blanks)
        self.remnant, self.rules, self.blanks, self.smallest = remnant, rules, blanks, smallest
        self.shapes = [shape_of(b, remnant, rules, SEARCH_CHORD_MM, smallest) for b in blanks]
        self.boxes: list[Container] = containers(remnant, rules)
        self.area_mm2 = sum(c.area_mm2 for c in self.boxes)

    def fine(self) -> list[Shape]:
        return [shape_of(b, self.remnant, self.rules, FINE_CHORD_MM, self.smallest) for b in self.blanks]

    def all_admitted(self, wanted: list[int]) -> bool:
        return all(self.admits(k) for k in set(wanted))

    def admits(self, k: int, box: Container | None = None) -> bool:
        """Whether the blank, in some allowed turn, is no larger than the box round the usable plate."""
        for c in self.boxes if box is None else [box]:
            x0, y0, x1, y1 = c.bounds
            for r in range(len(self.shapes[k].angles)):
                a, b, d, e = self.shapes[k].box(r)
                if d - a <= x1 - x0 + 1e-9 and e - b <= y1 - y0 + 1e-9 and self.shapes[k].area_mm2 <= c.area_mm2 + 1e-6:
                    return True
        return False


def _too_large(b: Blank, plates: list[_Plate]) -> str:
    x0, y0, x1, y1 = b.outline.bounds
    sizes = [c.bounds for p in plates for c in p.boxes]
    u0, v0, u1, v1 = max(sizes, key=lambda s: (s[2] - s[0]) * (s[3] - s[1]))
    return (
        f'blank "{b.name}" is {x1 - x0:.1f} x {y1 - y0:.1f} mm, larger than every plate of {b.thickness_mm:g} mm '
        f"{b.material}: the largest leaves {u1 - u0:.1f} x {v1 - v0:.1f} mm inside its edge distances; "
        "find a larger plate, allow it to turn, or split the blank"
    )


def _choices(plates: list[_Plate], needed: float, bound: int):
    """Sets of plates worth trying: few before many, little metal before much."""
    for count in range(max(1, bound), len(plates) + 1):
        sets = sorted(
            (s for s in itertools.islice(itertools.combinations(plates, count), 5000) if sum(p.area_mm2 for p in s) >= needed),
            key=lambda s: sum(p.area_mm2 for p in s),
        )
        # a set that is nearly full already is not worth the time while there is a roomier one
        roomy = [s for s in sets if needed <= 0.85 * sum(p.area_mm2 for p in s)] or sets[-1:]
        yield from roomy[: TRIES_PER_COUNT - 1]
        if len(roomy) >= TRIES_PER_COUNT:
            yield roomy[-1]
    if needed > sum(p.area_mm2 for p in plates):
        yield tuple(plates)


def _fill_all(plates, wanted: list[int], rng, budget: Budget):
    """Fill the plates in turn, the largest first; gives (layout, plate, container) and the kinds left over."""
    left, out = list(wanted), []
    for plate in sorted(plates, key=lambda p: -p.area_mm2):
        for box in plate.boxes:
            layout, left = fill(Layout.empty(plate.shapes, box), left, rng, budget, lambda k, p=plate, b=box: p.admits(k, b))
            out.append((layout, plate, box))
    if left and len(out) == 1 and out[0][1].all_admitted(wanted):
        whole = _all_at_once(Layout.empty(out[0][1].shapes, out[0][2]), wanted, rng, budget)
        if whole is not None:
            return [(whole, *out[0][1:])], []
    return out, left


def _all_at_once(layout: Layout, wanted: list[int], rng, budget: Budget) -> Layout | None:
    """Everything thrown on one plate and parted: finds what adding one by one cannot."""
    if sum(layout.shapes[k].area_mm2 for k in wanted) > 0.9 * layout.container.area_mm2:
        return None
    own = part(budget, (budget.moves - budget.spent) // 2)
    found = resolve(scattered(layout, wanted, rng), rng, own)
    settle_up(budget, own)
    return found


def fill(layout: Layout, wanted: list[int], rng, budget: Budget, admits=lambda k: True) -> tuple[Layout, list[int]]:
    """Add copies one by one, each where it overlaps least, and part whatever overlaps; what cannot be parted in time is
    set aside. Gives a clear layout and the kinds set aside."""
    left: list[int] = []
    for n, k in enumerate(wanted):
        used = sum(layout.shapes[q].area_mm2 for q in layout.kind)
        if k in left or not admits(k) or used + layout.shapes[k].area_mm2 > layout.container.area_mm2 * (1 + 1e-9):
            left.append(k)
            continue
        found = _add(layout, k, rng, part(budget, 0) if budget.hit_limit else budget, len(wanted) - n)
        if found is None:
            left.append(k)
        else:
            layout = found
        budget.tell(f"{len(layout)} of {len(wanted)} blanks placed")
    return layout, left


def _add(layout: Layout, k: int, rng, budget: Budget, to_come: int) -> Layout | None:
    n = len(layout)
    x0, y0, _, _ = layout.container.bounds
    pair_w = np.ones((n + 1, n + 1))
    best = None
    for _ in range(3):
        trial = layout.with_(k, int(rng.integers(len(layout.shapes[k].angles))), x0, y0)
        cost, r, x, y = best_place(trial, n, rng, pair_w, 1.0, turns=6, samples=96, lean=1e-4)
        trial.r[n], trial.x[n], trial.y[n] = r, x, y
        if best is None or cost < best[0]:
            best = (cost, trial)
        if clear(trial):
            return trial
    own = part(budget, max(30 * (n + 1), (budget.moves - budget.spent) // max(1, to_come)))
    found = resolve(best[1], rng, own)
    settle_up(budget, own)
    return found


def _refined(layout: Layout, plate: _Plate, box: Container) -> Layout:
    """Drawn together once more with finely cut arcs."""
    fine = Layout(plate.fine(), box, layout.kind, layout.r, layout.x, layout.y)
    if deepest_mm(fine) > 1e-7:
        return layout
    return compact(fine, 2.0)[0]


def _placement(b: Blank, copy: int, remnant: Remnant, turn: float, x: float, y: float) -> Placement:
    x0, y0, x1, y1 = b.outline.bounds
    cx, cy, a = (x0 + x1) / 2, (y0 + y1) / 2, math.radians(turn)
    c, s = math.cos(a), math.sin(a)
    return Placement(b, copy, remnant, float(turn), float(x - c * cx + s * cy), float(y - s * cx - c * cy))


__all__ = ["fill", "least_plates", "nest", "shape_of", "usable"]
