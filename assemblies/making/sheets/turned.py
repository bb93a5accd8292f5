"""Every turned, bored or tapped piece of a corner, as steps of outside and bore: what the lathe needs."""

from __future__ import annotations

from collections.abc import Iterable

from assemblies.layout.fasteners import SLEEVE, SPACER_WALL_MM, spacers
from assemblies.layout.placing import Layout
from assemblies.making.sheets.made_rows import THINNEST_MM
from assemblies.making.sheets.pivot_rows import NOTES
from parts.base.frozen import dataclass
from parts.base.stock import thread
from parts.pivot_ring import PivotRing

CLEAR_MM = 0.1  # a spacer's bore over its bolt, common practice


@dataclass(frozen=True)
class Step:
    """A length of one outside or one bore: mm, what is written at it ("Ø20", "M12 left hand")."""

    length_mm: float
    diameter_mm: float
    words: str = ""


@dataclass(frozen=True)
class Turned:
    """A piece along its axis: outside steps from its left end; bore steps from the left and from the right
    end (empty: solid). `row`: its line of the cut list."""

    name: str
    row: str
    count: int
    material: str
    outside: tuple[Step, ...]
    bore: tuple[Step, ...] = ()
    bore_right: tuple[Step, ...] = ()
    notes: tuple[str, ...] = ()
    handed: bool = False  # one of each on the car's two sides differs

    @property
    def length_mm(self) -> float:
        return sum(s.length_mm for s in self.outside)

    @property
    def over_mm(self) -> float:
        return max(s.diameter_mm for s in self.outside)


def ring(
    name: str, row: str, count: int, material: str, outer_mm: float, bore_mm: float, long: float, *notes: str
) -> Turned:
    """A plain round, bored through where `bore_mm` is over 0."""
    bore = (Step(long, bore_mm, f"Ø{bore_mm:g}"),) if bore_mm else ()
    return Turned(
        name,
        row,
        count,
        material,
        (Step(long, outer_mm, f"Ø{outer_mm:g}"),),
        bore,
        notes=tuple(filter(None, notes)),
    )


def pieces(layout: Layout) -> list[Turned]:
    """All that stand in the cut list as bar or bored tube; each kind once."""
    return [*_rod(layout), *_arms(layout), *_pivot(layout), *_lug(layout), *_rack(layout), *_spacers(layout)]


def _rod(layout: Layout) -> Iterable[Turned]:
    rod = layout.rod
    if rod is None or not rod.wall_mm:
        return
    name = f"{layout.job.rod.kind} rod insert"
    for hand in rod.hands:
        row = f"{name}, {hand} hand {rod.screw.name}"
        yield Turned(
            f"{name}, {hand} hand thread",
            row,
            1,
            layout.job.rod.material,
            (
                Step(rod.lip_mm, rod.diameter_mm, f"Ø{rod.diameter_mm:g}"),
                Step(
                    rod.tapped_mm - rod.lip_mm,
                    rod.bore_mm,
                    f"Ø{rod.bore_mm:g} to the tube in hand",
                ),
            ),
            (Step(rod.tapped_mm, rod.screw.nut_minor_mm, f"{rod.screw.name} {hand} hand, through"),),
            notes=(
                "Slides into the tube's measured bore with 0.05 to 0.1 (common practice); chamfer both ends.",
                "Tap before welding, chase after it; the collar butts on the tube's end.",
            ),
        )


def _arms(layout: Layout) -> Iterable[Turned]:
    for p in layout.arms.values():
        a, name = p.part, p.name
        yield ring(
            f"{name} boss",
            f"{name} boss",
            1,
            p.material,
            a.boss_mm,
            a.boss_bore_mm,
            a.boss_height_mm,
            "Bore or taper to the ball joint in hand after welding; leave 0.5 mm for it.",
        )
        yield ring(
            f"{name} bush housing",
            f"{name} bush housing",
            2,
            p.material,
            a.housing_mm,
            a.housing_bore_mm,
            a.housing_length_mm,
            "Bore to the bush in hand after welding, both housings in line.",
        )


def _pivot(layout: Layout) -> Iterable[Turned]:
    sorts: dict[tuple[str, PivotRing], list] = {}
    for p in layout.placed:
        if isinstance(p.part, PivotRing) and p.name.rstrip(" 12") != "pivot bearing":  # that one is bought
            name = p.name if p.name.startswith("pivot spacer") else p.name.rstrip(" 12")
            sorts.setdefault((name, p.part), []).append(p)
    for (name, part), same in sorts.items():
        length, notes = part.length_mm, [NOTES.get(name.rstrip(" 12"), "")]
        if name == "pivot stub" and layout.sleeve is not None:
            length += layout.sleeve.length_mm
            notes.append("Cross holes at its rocker end: the sleeve's hole table; reamed with the sleeve on.")
        yield ring(name, name, len(same), same[0].material, part.outer_mm, part.bore_mm, length, *notes)


def _lug(layout: Layout) -> Iterable[Turned]:
    for p in layout.lug_sleeves:
        s = p.part
        yield ring(
            p.name,
            p.name,
            1,
            p.material,
            s.outer_mm,
            s.bore_mm,
            s.length_mm,
            "In a drilled hole of its tube: left whole."
            if s.through
            else "Coped to its tube: strip to wrap.",
            "Ream after welding, on the bolt's line.",
        )


def _rack(layout: Layout) -> Iterable[Turned]:
    if layout.rack_extension is None:
        return
    e, material = layout.rack_extension.part, layout.rack_extension.material
    t = thread(e.thread)
    deep = min(e.engagement_mm, e.length_mm)
    yield Turned(
        "rack extension",
        "rack extension",
        1,
        material,
        (
            Step(e.engagement_mm, t.diameter_mm, f"{e.thread}, relief at its root"),
            Step(e.length_mm, e.diameter_mm, f"Ø{e.diameter_mm:g}"),
        ),
        (),
        (Step(deep, t.nut_minor_mm, f"{e.thread} {deep:g} deep"),),
        notes=("No weld. Break all edges; a radius at the thread's root.",),
    )


def _spacers(layout: Layout) -> Iterable[Turned]:
    named = layout.job.bolts.sleeve_material
    steel = "mild steel" if named == "unknown" else named
    alike: dict[tuple[str, str, float], list] = {}
    for j, layer, count in spacers(layout):
        alike.setdefault((layer.what, j.size, round(layer.thickness_mm, 2)), []).append((j, count))
    for (what, size, length), same in alike.items():
        if length < THINNEST_MM:
            continue
        bore = thread(size).diameter_mm
        row = f"{what}: " + ", ".join(j.name for j, _ in same)
        long = (
            "the bush turns on it: outside ground or bright"
            if what == SLEEVE
            else "cone it where a ball tilts"
        )
        yield Turned(
            f"{what} for {', '.join(j.name for j, _ in same)}",
            row,
            sum(c for _, c in same),
            steel,
            (Step(length, bore + 2 * SPACER_WALL_MM, f"Ø{bore + 2 * SPACER_WALL_MM:g}"),),
            (Step(length, bore + CLEAR_MM, f"Ø{bore + CLEAR_MM:g} for {size}"),),
            notes=(f"Ends square and parallel; {long}.",),
        )
