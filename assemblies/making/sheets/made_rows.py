"""What is cut and made of a corner as lines of the cut list: plate, tube, bar, the spring's steel."""

from __future__ import annotations

import math

from assemblies.layout.fasteners import SLEEVE, SPACER_WALL_MM, spacer_kg, spacers
from assemblies.layout.placing import Layout, needed
from assemblies.making.sheets.cut_list_line import CutListLine
from assemblies.making.sheets.pivot_rows import pieces
from assemblies.making.sheets.sections import in_inches, rectangular, round_bar, round_tube
from parts.adjuster_sleeve import SLIDE_MM
from parts.arm import Arm
from parts.base.stock import DENSITY_KG_M3, thread
from parts.member import Member
from parts.spring_pack import LeafPack

ADVICE = "from memory: measure the one in hand"
THINNEST_MM = 3.0  # a thinner ring is not sawn and faced from bar, common practice


def plates(layout: Layout) -> list[CutListLine]:
    out = []
    for f in layout.flat:
        x0, y0, x1, y1 = f.outline.bounds
        out.append(
            CutListLine(
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


def tubes(layout: Layout) -> list[CutListLine]:
    out = []
    r, s = layout.rocker, layout.sleeve
    if r is not None:
        tube = r.tube
        stub = layout.pivot is not None and layout.pivot.kind == "stub"
        sleeve = layout.sleeve_outer if stub else layout.sleeve_inner
        length, mass = tube.length_mm, tube.mass_kg
        note = "ends square, bored to its bush after welding"
        if s is not None and sleeve is not None:
            length, mass = length + s.length_mm, mass + needed(sleeve.mass_kg)
            which = "outer" if stub else "inner"
            note = (
                f"pivot tube and the sleeve's {which} tube in one piece; cross holes: see hole table of the "
                "sleeve"
            )
            if stub:
                note += f"; bored after welding to the stub as measured and {s.slide_mm:.2f} mm"
        out.append(
            CutListLine(
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
            CutListLine(
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
            member_row(
                "spring housing",
                housing.part,
                "in line with the rocker's axis within 0.5 mm and 0.3 deg (common practice)",
            )
        )
    out += pieces(layout)
    out += _rod(layout)
    out += _rack(layout)
    for arm in layout.arms.values():
        out += _arm(arm.name, arm.part, arm.material, needed(arm.mass_kg))
    return out + _lug(layout) + _spacers(layout)


def _lug(layout: Layout) -> list[CutListLine]:
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
            CutListLine(
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


def _spacers(layout: Layout) -> list[CutListLine]:
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
                CutListLine(
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
            CutListLine(
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


def _rod(layout: Layout) -> list[CutListLine]:
    rod = layout.rod
    if rod is None:
        return []
    name = f"{layout.job.rod.kind} rod"
    disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
    shape = f"round {rod.diameter_mm:g} x {rod.wall_mm:g}" if rod.wall_mm else f"bar {rod.diameter_mm:g}"
    pair = f"{rod.screw.name} thread: {rod.hands[0]} hand outboard, {rod.hands[1]} hand inboard"
    out = [
        CutListLine(
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
            CutListLine(
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


def _rack(layout: Layout) -> list[CutListLine]:
    """The rack's extension on this side, with the nut that locks it on the bar."""
    made, rack = layout.rack_extension, layout.job.rack
    if made is None or rack is None:
        return []
    e = made.part
    return [
        CutListLine(
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
        CutListLine(
            "fastener",
            "jam nut of the rack extension",
            1,
            f"{e.thread} half nut",
            price="nut",
            note="against the bar",
        ),
    ]


def _arm(which: str, a: Arm, material: str, mass_kg: float) -> list[CutListLine]:
    """Arm tubes from long point to long point of their copes."""
    disc = math.pi / 4 * DENSITY_KG_M3 * 1e-9
    tubes = [(end, t.length_mm) for end, t in zip(("front", "rear"), a.coped(), strict=True)]
    boss = disc * (a.boss_mm**2 - a.boss_bore_mm**2) * a.boss_height_mm
    housing = disc * (a.housing_mm**2 - a.housing_bore_mm**2) * a.housing_length_mm
    rest = mass_kg - boss - 2 * housing
    total = sum(length for _, length in tubes)
    out = [
        CutListLine(
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
        CutListLine(
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
        CutListLine(
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


def spring_steel(layout: Layout) -> list[CutListLine]:
    placed = layout.pack
    if placed is None:
        return []
    s = placed.part
    if isinstance(s, LeafPack):
        return [
            CutListLine(
                "spring",
                "leaf",
                s.leaves,
                f"flat {s.width_mm:g} x {s.thickness_mm:g}",
                s.strip_length_mm,
                "spring steel",
                needed(placed.mass_kg) / s.leaves,
                "cut cold, never heated; edges dressed to 0.5",
                "spring_steel",
                section=rectangular(s.width_mm, s.thickness_mm, None),
                if_in_hand=True,
            )
        ]
    return [
        CutListLine(
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


def member_row(name: str, m: Member, note: str, frame: bool = False) -> CutListLine:
    s = m.section
    shape = (
        f"round {s.width_mm:g} x {s.wall_mm:g}"
        if s.is_round
        else f"{s.width_mm:g} x {s.height_mm:g} x {s.wall_mm:g}"
    )
    return CutListLine(
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
