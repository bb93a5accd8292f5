"""Cut list and bill of materials of one corner: plate, tube, bar, strip, fasteners, bought parts, each with
size, count, mass and cost.

Masses are of the finished parts as laid out (kg, steel 7850 kg/m³); None: bought, weigh it. Lengths mm.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from assemblies.layout.fasteners import SLEEVE, SPACER_WALL_MM, Fastener, fasteners, spacer_kg, spacers
from assemblies.layout.frame import of_car
from assemblies.layout.placing import Layout
from assemblies.making.sheets import tube_ends
from assemblies.making.sheets.pivot_rows import pieces
from assemblies.making.sheets.sections import Section, in_inches, rectangular, round_bar, round_tube
from assemblies.results.table_file import write_table
from parts.adjuster_sleeve import SLIDE_MM
from parts.arm import Arm
from parts.base.stock import DENSITY_KG_M3, thread
from parts.member import Member
from parts.spring_pack import LeafPack

HEAD = [
    "group",
    "item",
    "count",
    "stock",
    "cut length, mm",
    "material",
    "mass each, kg",
    "mass, kg",
    "cost",
    "note",
]
ADVICE = "from memory: measure the one in hand"
THINNEST_MM = 3.0  # a thinner ring is not sawn and faced from bar, common practice


@dataclass(frozen=True)
class Row:
    """One line of the list; `length_mm` to cut (None: no length), `area_cm2` of plate, `price` the key of
    [prices] that buys it, `section` of the tube or bar it is sawn from; `faced` after sawing to that length;
    `of_car` of the frame's: how many both sides take, 0 where it is not sawn; `if_in_hand`: sawn only from a
    bar the job names."""

    group: str
    item: str
    count: int
    stock: str
    length_mm: float | None = None
    material: str = ""
    each_kg: float | None = None
    note: str = ""
    price: str = ""
    area_cm2: float | None = None
    cost: float | None = None
    of_the_frame: bool = False
    section: Section | None = None
    faced: bool = False
    of_car: int = 0
    if_in_hand: bool = False

    @property
    def mass_kg(self) -> float | None:
        return None if self.each_kg is None else self.each_kg * self.count


def frame_rows(layout: Layout) -> list[Row]:
    """The tubes of a frame alone."""
    return priced(_members(layout), layout.job.prices)


def rows(layout: Layout) -> list[Row]:
    """Every row, in the order of the shop: plate, tube and bar, spring, fasteners, bought; then the frame's
    members as they are cut."""
    bolted, open_ = fasteners(layout)
    listed = [
        *_plates(layout),
        *_tubes(layout),
        *_spring(layout),
        *_fasteners(layout, bolted),
        *_bought(layout),
        *(Row("open", words, 1, "") for words in open_),
        *_members(layout),
    ]
    return priced(listed, layout.job.prices)


# ------------------------------------------------------------ plate, tube, bar


def _plates(layout: Layout) -> list[Row]:
    out = []
    for f in layout.flat:
        x0, y0, x1, y1 = f.outline.bounds
        out.append(
            Row(
                "plate",
                f.name,
                f.count,
                f"{f.thickness_mm:g} mm{in_inches(f.thickness_mm)} plate, {x1 - x0:.0f} x {y1 - y0:.0f}",
                None,
                f.material,
                f.outline.area_mm2 * f.thickness_mm * DENSITY_KG_M3 * 1e-9,
                "see templates",
                "plate",
                f.outline.area_mm2 * f.count / 100,
            )
        )
    return out


def plate_totals(listed: Sequence[Row]) -> list[tuple[str, str, float, float]]:
    """(stock, material, net area in cm², mass in kg) by thickness and material."""
    sums: dict[tuple[str, str], list[float]] = {}
    for r in listed:
        if r.group == "plate":
            total = sums.setdefault((r.stock.split(",")[0], r.material), [0.0, 0.0])
            total[0] += r.area_cm2 or 0.0
            total[1] += r.mass_kg or 0.0
    return [(*key, *total) for key, total in sums.items()]


def _tubes(layout: Layout) -> list[Row]:
    out = []
    r, s = layout.rocker, layout.sleeve
    if r is not None:
        tube = r.tube
        stub = layout.pivot is not None and layout.pivot.kind == "stub"
        sleeve = layout.sleeve_outer if stub else layout.sleeve_inner
        length, mass = tube.length_mm, tube.mass_kg
        note = "ends square, bored to its bush after welding"
        if s is not None and sleeve is not None:
            length, mass = length + s.length_mm, mass + sleeve.mass_kg
            which = "outer" if stub else "inner"
            note = (
                f"pivot tube and the sleeve's {which} tube in one piece; cross holes: see hole table of the "
                "sleeve"
            )
            if stub:
                note += f"; bored after welding to the stub as measured and {s.slide_mm:.2f} mm"
        out.append(
            Row(
                "tube",
                "pivot tube",
                1,
                f"round {tube.outer_mm:g} x {tube.wall_mm:g}",
                length,
                tube.material,
                mass,
                note,
                "tube",
                section=round_tube(tube.outer_mm, tube.wall_mm),
            )
        )
    stub = layout.pivot is not None and layout.pivot.kind == "stub"
    if s is not None and (outer := layout.sleeve_outer) is not None and not stub:
        out.append(
            Row(
                "tube",
                "sleeve outer tube",
                1,
                f"round {s.outer_mm:g} x {s.outer_wall_mm:g}",
                s.length_mm,
                outer.material,
                outer.mass_kg,
                f"slides on the pivot tube with {s.slide_mm:.2f} mm of nominal clearance: measure both tubes"
                f"{' and bore or hone it till it slides' if s.slide_mm < SLIDE_MM[0] - 1e-9 else ''}; not "
                f"welded to it",
                "tube",
                section=round_tube(s.outer_mm, s.outer_wall_mm),
            )
        )
    if (housing := layout.housing) is not None:
        out.append(
            _member_row(
                "spring housing",
                housing.part,
                "in line with the rocker's axis within 0.5 mm and 0.3 deg (common practice)",
            )
        )
    out += [Row(**piece) for piece in pieces(layout)]
    out += _rod(layout)
    out += _rack(layout)
    for arm in layout.arms.values():
        out += _arm(arm.name, arm.part, arm.material, arm.mass_kg)
    return out + _lug(layout) + _spacers(layout)


def _lug(layout: Layout) -> list[Row]:
    """Sleeves of the rod's lug, as long as they are before they are coped."""
    out = []
    for p, tube in zip(layout.lug_sleeves, layout.lug.tubes if layout.lug else (), strict=True):
        s, end = p.part, ("front", "rear")[tube]
        how = (
            f"through the {end} tube, in a hole of {s.outer_mm:g} mm"
            if s.through
            else f"coped over the {end} tube"
        )
        out.append(
            Row(
                "bar",
                p.name,
                1,
                f"bar {s.outer_mm:g} bored {s.bore_mm:g}",
                s.length_mm,
                p.material,
                s.mass_kg,
                f"{how}: see its strip to wrap; axes cross {s.along_mm:.1f} from the end beside the ball; "
                f"ream after welding",
                "bar",
                section=round_bar(s.outer_mm),
                faced=True,
            )
        )
    return out


def _spacers(layout: Layout) -> list[Row]:
    """Spacers beside rod end and damper's eyes, inner sleeves of the arms' bushes, by size; a thin one is
    made up of shim rings."""
    alike: dict[tuple[str, str, float], list] = {}
    named = layout.job.bolts.sleeve_material
    steel_of_sleeves = "mild steel" if named == "unknown" else named
    for j, layer, count in spacers(layout):
        alike.setdefault((layer.what, j.size, round(layer.thickness_mm, 2)), []).append((j, layer, count))
    out = []
    for (what, size, length), same in alike.items():
        bore = thread(size).diameter_mm
        outside, each = bore + 2 * SPACER_WALL_MM, spacer_kg(*same[0][:2])
        item, count = f"{what}: " + ", ".join(j.name for j, _, _ in same), sum(c for _, _, c in same)
        if length < THINNEST_MM:
            out.append(
                Row(
                    "fastener",
                    f"shims, {item}",
                    count,
                    f"shim rings {bore:g} x {outside:g} DIN 988, {length:g} mm in all",
                    None,
                    "",
                    each,
                    f"too thin to saw from bar: stack rings beside the joint to {length:g} mm ({ADVICE})",
                )
            )
            continue
        note = (
            "clamped between the tabs; the bush turns on it: faced square"
            if what == SLEEVE
            else "beside the joint, faced square; cone it where the ball needs to tilt"
        )
        out.append(
            Row(
                "tube",
                item,
                count,
                f"round {outside:g} bored {bore:g}",
                length,
                steel_of_sleeves,
                each,
                note,
                "tube",
                section=round_bar(outside),
                faced=True,
            )
        )
    return out


def _rod(layout: Layout) -> list[Row]:
    rod = layout.rod
    if rod is None:
        return []
    name = f"{layout.job.rod.kind} rod"
    disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
    shape = f"round {rod.diameter_mm:g} x {rod.wall_mm:g}" if rod.wall_mm else f"bar {rod.diameter_mm:g}"
    pair = f"{rod.screw.name} thread: {rod.hands[0]} hand outboard, {rod.hands[1]} hand inboard"
    out = [
        Row(
            "tube" if rod.wall_mm else "bar",
            f"{name} tube",
            1,
            shape,
            rod.cut_length_mm,
            layout.job.rod.material,
            disc * (rod.diameter_mm**2 - rod.bore_mm**2) * rod.cut_length_mm,
            f"{rod.length_mm:.1f} between balls at mid adjustment; {pair}",
            "tube" if rod.wall_mm else "bar",
            section=round_tube(rod.diameter_mm, rod.wall_mm) if rod.wall_mm else round_bar(rod.diameter_mm),
        )
    ]
    if rod.wall_mm:
        solid = disc * (rod.diameter_mm**2 * rod.lip_mm + rod.bore_mm**2 * (rod.tapped_mm - rod.lip_mm))
        hole = disc * rod.screw.nut_minor_mm**2 * rod.tapped_mm
        out += [
            Row(
                "bar",
                f"{name} insert, {hand} hand {rod.screw.name}",
                1,
                f"bar {rod.diameter_mm:g}",
                rod.tapped_mm,
                layout.job.rod.material,
                solid - hole,
                f"turned to the tube's bore {rod.bore_mm:g}, collar {rod.lip_mm:g}",
                "bar",
                section=round_bar(rod.diameter_mm),
                faced=True,
            )
            for hand in rod.hands
        ]
    return out


def _rack(layout: Layout) -> list[Row]:
    """The rack's extension on this side, with the nut that locks it on the bar."""
    made, rack = layout.rack_extension, layout.job.rack
    if made is None or rack is None:
        return []
    e = made.part
    return [
        Row(
            "bar",
            "rack extension",
            1,
            f"bar {e.diameter_mm:g}",
            e.cut_length_mm,
            made.material,
            made.mass_kg,
            f"{e.length_mm:.1f} shoulder to shoulder; {e.thread} turned {e.engagement_mm:g} long on "
            f"one end, bored and "
            f"tapped {e.thread} {e.engagement_mm:g} deep in the other",
            "bar",
            section=round_bar(e.diameter_mm),
            faced=True,
        ),
        Row(
            "fastener",
            "jam nut of the rack extension",
            1,
            f"{e.thread} half nut",
            price="nut",
            note="against the bar",
        ),
    ]


def _arm(which: str, a: Arm, material: str, mass_kg: float) -> list[Row]:
    """Arm tubes from long point to long point of their copes."""
    disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
    tubes = [(end, t.length_mm) for end, t in zip(("front", "rear"), a.coped(), strict=True)]
    boss = disc * (a.boss_mm**2 - a.boss_bore_mm**2) * a.boss_height_mm
    housing = disc * (a.housing_mm**2 - a.housing_bore_mm**2) * a.housing_length_mm
    rest = mass_kg - boss - 2 * housing
    total = sum(length for _, length in tubes)
    out = [
        Row(
            "tube",
            f"{which} {end} tube",
            1,
            f"round {a.tube_diameter_mm:g} x {a.tube_wall_mm:g}",
            length,
            material,
            rest * length / total,
            "long point to long point; both ends coped: see its strips to wrap",
            "tube",
            section=round_tube(a.tube_diameter_mm, a.tube_wall_mm),
        )
        for end, length in tubes
    ]
    out.append(
        Row(
            "bar",
            f"{which} boss",
            1,
            f"bar {a.boss_mm:g} bored {a.boss_bore_mm:g}",
            a.boss_height_mm,
            material,
            boss,
            "",
            "bar",
            section=round_bar(a.boss_mm),
            faced=True,
        )
    )
    out.append(
        Row(
            "bar",
            f"{which} bush housing",
            2,
            f"bar or tube {a.housing_mm:g} bored {a.housing_bore_mm:g}",
            a.housing_length_mm,
            material,
            housing,
            "",
            "bar",
            section=round_bar(a.housing_mm),
            faced=True,
        )
    )
    return out


def _spring(layout: Layout) -> list[Row]:
    placed = layout.pack
    if placed is None:
        return []
    s = placed.part
    if isinstance(s, LeafPack):
        return [
            Row(
                "spring",
                "leaf",
                s.leaves,
                f"flat {s.width_mm:g} x {s.thickness_mm:g}",
                s.strip_length_mm,
                "spring steel",
                placed.mass_kg / s.leaves,
                "cut cold, never heated; edges dressed to 0.5",
                "spring_steel",
                section=rectangular(s.width_mm, s.thickness_mm, None),
                if_in_hand=True,
            )
        ]
    return [
        Row(
            "spring",
            "torsion bar",
            1,
            f"bar {s.across_flats_mm:g} hexagon turned to {s.diameter_mm:g}"
            + (f", bored {s.bore_mm:g}" if s.wall_mm else ""),
            s.length_mm + 2 * s.socket_mm,
            "spring steel",
            placed.mass_kg,
            "machined and hardened by a spring maker",
            "spring_steel",
        )
    ]


def _fasteners(layout: Layout, bolted: list[Fastener]) -> list[Row]:
    """Joints with the same bolt on the same stack share their rows."""
    alike: dict[tuple, list[Fastener]] = {}
    for f in bolted:
        alike.setdefault(
            (f.joint.size, tuple((x.what, round(x.thickness_mm, 3)) for x in f.joint.layers)), []
        ).append(f)
    out = []
    for f, *others in alike.values():
        j = f.joint
        n = j.count + sum(o.joint.count for o in others)
        names = ", ".join(o.joint.name for o in (f, *others))
        packed = f"grip {f.grip_mm:.1f}: stack {j.stack_mm:.1f}, {f.washers} washers" + (
            f", collar {f.collar_mm:g}" if f.collar_mm else ""
        )
        plane = f"plain shank at least {f.plain_mm:.1f}, last shear plane at {f.last_plane_mm:.1f}"
        on = (
            f"; up to {f.thread_in_last_plate_mm:.1f} mm of the last plate may bear on thread"
            if f.thread_in_last_plate_mm
            else ""
        )
        saddles = "; filed to saddles where they sit on the tube" if "sleeve" in j.name else ""
        out += [
            Row(
                "fastener",
                f"bolt: {names}",
                n,
                f"{j.size} x {f.length_mm:g} ISO 4014-{layout.job.bolts.grade}",
                f.length_mm,
                "",
                f.bolt_kg,
                f"{packed}; {plane}{on}; thread {f.thread_mm:g} ({ADVICE})",
                "bolt",
            ),
            Row(
                "fastener", f"lock nut: {names}", n, j.size, None, "", f.nut_kg, "mass of a plain nut", "nut"
            ),
            Row(
                "fastener",
                f"washer: {names}",
                n * f.washers,
                f"{j.size} ISO 7089",
                None,
                "",
                f.washer_kg,
                f"one under the head, {f.nut_washers} under the nut{saddles}",
                "washer",
            ),
        ]
        if f.collar_mm:
            out.append(
                Row(
                    "fastener",
                    f"collar: {names}",
                    n,
                    f"bored {j.size}",
                    f.collar_mm,
                    "mild steel",
                    f.collar_kg,
                    "under the nut, so that it tightens before the thread ends",
                    "tube",
                )
            )
    if layout.rod is not None:
        nut = layout.rod.jam_nut
        d = layout.rod.screw.diameter_mm
        each = (
            (math.sqrt(3) / 2 * nut.across_flats_mm**2 - math.pi / 4 * d**2)
            * nut.jam_nut_mm
            * DENSITY_KG_M3
            * 1e-9
        )
        out += [
            Row(
                "fastener",
                f"jam nut, rod {where}",
                1,
                f"{layout.rod.screw.name} thin, {hand} hand",
                None,
                "",
                each,
                "",
                "nut",
            )
            for where, hand in zip(("outboard", "inboard"), layout.rod.hands, strict=True)
        ]
    return out


def _bought(layout: Layout) -> list[Row]:
    job, out = layout.job, []
    if layout.rod is not None:
        e, d = layout.rod.rod_end, layout.rod.screw.diameter_mm
        disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
        eye = disc * (
            (e.housing_diameter_mm**2 - e.bore_mm**2) * e.housing_width_mm
            + d**2 * (e.eye_to_end_mm - e.housing_diameter_mm / 2)
        )
        out += [
            Row(
                "bought",
                f"rod end, rod {where}",
                1,
                f"{layout.rod.screw.name} {hand} hand, bore {e.bore_mm:g}, ball {e.ball_width_mm:g} wide",
                None,
                "",
                eye,
                f"mass from its sizes; {e.source}",
                "rod_end",
            )
            for where, hand in zip(("outboard", "inboard"), layout.rod.hands, strict=True)
        ]
    out.append(
        Row(
            "bought",
            "damper",
            1,
            f"{job.damper.longest:g} to {job.damper.shortest:g} eye to eye, bore {job.rocker.damper_hole:g}",
            note="weigh it",
            price="damper",
        )
    )
    if job.bump_stop is not None:
        stop = job.bump_stop
        press = f"{stop.curve[-1][1]:.0f} N at {stop.curve[-1][0]:g} mm pressed"
        size = f"{stop.free_length:g} long, bore {job.damper.shaft_diameter:g}, {press}"
        out.append(Row("bought", "bump stop", 1, size, note="on the damper's shaft"))
    if job.droop_strap is not None:
        strap = job.droop_strap
        size = f"{strap.length:g} taut, {strap.stiffness:g} N/mm"
        size += f", breaks at {strap.breaking_load:g} N or more" if strap.breaking_load else ""
        out.append(Row("bought", "droop strap", 1, size, note=f"frame to {strap.on.replace('_', ' ')}"))
    if job.spring.kind == "coil-over":
        out.append(
            Row(
                "bought",
                "coil spring",
                1,
                f"{job.spring.rate:g} N/mm, free {job.spring.free_length:g}, {job.spring.outer_diameter:g} "
                f"over",
                note="weigh it",
                price="coil",
            )
        )
    if layout.rocker is not None and layout.pivot is None:  # a pivot that is laid out has its own row
        out.append(
            Row(
                "bought",
                "bushes for the rocker's pivot",
                2,
                f"outside {layout.rocker.tube.bore_mm:g} after boring",
                note="not laid out; p6 in H7 is the usual press fit",
                price="bush",
            )
        )
    for arm in layout.arms.values():
        which, a = arm.name, arm.part
        sleeve = min(
            (
                layer.thickness_mm
                for j, layer, _ in spacers(layout)
                if layer.what == SLEEVE and j.name.startswith(which)
            ),
            default=None,
        )
        room = (
            f"; {(sleeve - a.housing_length_mm) / 2:g} mm each side to the tabs: flange or thrust washer"
            if sleeve
            else ""
        )
        out.append(
            Row(
                "bought",
                f"bushes, {which}",
                2,
                f"inside {a.bush_bore_mm:g}, outside {a.housing_bore_mm:g}, {a.housing_length_mm:g} long",
                note=f"turns on the inner sleeve of {a.bush_bore_mm:g}; housing bored to the bush in "
                f"hand{room}",
                price="bush",
            )
        )
    return out


def _members(layout: Layout) -> list[Row]:
    return [_framed(layout, name, m) for name, m in layout.members.items()]


def _framed(layout: Layout, name: str, m: Member) -> Row:
    """A member of the frame: one with a cut end from long point to long point."""
    row = _member_row(name, m, "frame, centre line's length; ends square", True)
    made, steel = (
        layout.junctions,
        getattr(next((g for g in layout.job.member if g.name == name), None), "material", ""),
    )
    if name in made.all:
        row = replace(row, of_car=of_car(layout.job, m), material="" if steel == "unknown" else steel)
    if (tube := made.tubes.get(name)) is None:
        return row
    ends = "; ".join(
        f"{e} end {tube_ends.kind(cut)}" for e, cut in (("from", tube.from_cut), ("to", tube.to_cut))
    )
    return replace(
        row, length_mm=tube.length_mm, each_kg=tube.mass_kg, note=f"frame, long point to long point; {ends}"
    )


def _member_row(name: str, m: Member, note: str, frame: bool = False) -> Row:
    s = m.section
    shape = (
        f"round {s.width_mm:g} x {s.wall_mm:g}"
        if s.is_round
        else f"{s.width_mm:g} x {s.height_mm:g} x {s.wall_mm:g}"
    )
    return Row(
        "frame" if frame else "tube",
        name,
        1,
        shape,
        m.length_mm,
        "",
        m.mass_kg,
        note,
        "tube",
        of_the_frame=frame,
        section=round_tube(s.width_mm, s.wall_mm)
        if s.is_round
        else rectangular(s.width_mm, s.height_mm, s.wall_mm),
    )


# ------------------------------------------------------------ cost and files

PER_KG, PER_METRE = ("plate", "bar", "spring_steel"), ("tube",)


def priced(listed: list[Row], prices) -> list[Row]:
    """Rows with their cost where [prices] has a figure: plate, bar and spring steel by the kg, tube by the
    metre, the rest each."""
    if prices is None:
        return listed

    def cost(r: Row) -> float | None:
        each = getattr(prices, r.price, None) if r.price and not r.of_the_frame else None
        if (
            each is None
            or (r.price in PER_KG and r.mass_kg is None)
            or (r.price in PER_METRE and r.length_mm is None)
        ):
            return None
        return each * (
            r.mass_kg
            if r.price in PER_KG
            else r.length_mm * r.count / 1000
            if r.price in PER_METRE
            else r.count
        )

    return [replace(r, cost=cost(r)) for r in listed]


def total_kg(listed: Sequence[Row]) -> float:
    """Of all rows with a mass but the frame's members."""
    return sum(r.mass_kg or 0.0 for r in listed if not r.of_the_frame)


def numbers(listed: Sequence[Row]) -> dict[str, str]:
    """Number of each item, as drawings name it: its place in the list."""
    out: dict[str, str] = {}
    for n, r in enumerate(listed, 1):
        out.setdefault(r.item, str(n))
    return out


def cells(r: Row) -> list[str]:
    def number(v: float | None, digits: int) -> str:
        return "" if v is None else f"{v:.{digits}f}"

    return [
        r.group,
        r.item,
        str(r.count),
        r.stock + (in_inches(*r.section.sizes_mm) if r.section else ""),
        number(r.length_mm, 1),
        r.material,
        number(r.each_kg, 3),
        number(r.mass_kg, 3),
        number(r.cost, 2),
        r.note,
    ]


def write_csv(path: Path, listed: Sequence[Row]) -> Path:
    rows = ([*cells(r), str(n)] for n, r in enumerate(listed, 1))
    return write_table(path, [*HEAD, "no. on drawings"], rows)
