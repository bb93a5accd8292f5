"""The pull or push rod (and a made tie rod): strut with thin stems, tie, stems, threads, insert's weld, rod
end's rating."""

from __future__ import annotations

import math

import numpy as np

from assemblies.strength import sizing
from assemblies.strength.forces import Forces
from assemblies.strength.row import Check, worst
from assemblies.strength.welds import round_weld
from parts.base.stock import STEELS, WALLS_MM, Steel
from parts.calc.bolts import thread_strip_n
from parts.calc.columns import (
    amplified_moment_nmm,
    reduction_factor,
    stem_stress_mpa,
    stepped_strut_load_n,
)
from parts.calc.sections import round_tube
from parts.rod import Rod

BOW_PER_LENGTH = 1 / 200  # EN 1993-1-1:2005 Table 5.1, curve c, elastic: cold-formed tube
STEM = STEELS["unknown"]  # the stem's steel is the maker's: counted as S235 until known


def checks(
    f: Forces,
    item: str,
    rod: Rod,
    force_n: np.ndarray,
    steel: Steel,
    key: str,
    static_rating_n: float | None = None,
    stem_yield_mpa: float | None = None,
    keys: tuple[str, ...] = (),
) -> list[Check]:
    """`force_n`: tension positive; `keys`: the job's keys that make its thread one size larger.

    Strut: the elastic load of tube and stems in one (stub from ball to insert, on the thread's root), λ̄ =
    √(A·fy/N_cr), curve c. Bowed strut: M = N·e0/(1 - N/N_cr), e0 = L/200; in the tube N/A + M/W, in the stem
    at its face N/A_root + M·sin(π·s/L)/W_root."""
    screw, stub, length = rod.screw, rod.eye_to_face_mm, rod.length_mm
    push, pull = np.maximum(-force_n, 0.0), np.maximum(force_n, 0.0)
    at_face = math.sin(math.pi * stub / length)

    def states(outer: float, wall: float, fy: float):
        """Strut's resistance, stresses in tube and stem, squash load, elastic load."""
        tube = round_tube(outer, wall or None)
        critical = stepped_strut_load_n(stub, math.pi / 64 * screw.root_mm**4, tube.i_y_mm4, length)
        squash = tube.area_mm2 * fy
        moment = amplified_moment_nmm(push * length * BOW_PER_LENGTH, push, critical)
        return (
            reduction_factor(math.sqrt(squash / critical), "c") * squash,
            push / tube.area_mm2 + moment / tube.w_el_y_mm3,
            stem_stress_mpa(screw, push, moment * at_face),
            squash,
            critical,
        )

    def use(outer: float, wall: float, fy: float) -> float:
        strut, in_tube, _, squash, _ = states(outer, wall, fy)
        return max(float(push.max()) / strut, float(in_tube.max()) / fy, float(pull.max()) / squash)

    fy = steel.yield_at(rod.wall_mm or rod.diameter_mm / 2)
    strut, in_tube, in_stem, squash, critical = states(rod.diameter_mm, rod.wall_mm, fy)
    engaged = rod.engagement_mm - 2 * screw.pitch_mm  # chamfers and run-out
    strips = lambda stem_mpa: thread_strip_n(screw, engaged, stem_mpa / math.sqrt(3), fy / math.sqrt(3))  # noqa: E731
    size = np.abs(force_n)
    stem, said = (
        (stem_yield_mpa, "stem's yield as given")
        if stem_yield_mpa
        else (STEM.yield_mpa, "the stem's steel is not known: counted as S235")
    )
    wall = sizing.tube(
        f"{key}.wall", f"{key}.diameter", rod.diameter_mm, rod.wall_mm, use, fy, f"{key}.material"
    )
    larger = sizing.bolt(rod.thread, "10.9", lambda b: 1.0, keys)

    def stronger(use: float) -> list[sizing.Option | str]:
        """Rod ends of known steel, else of a larger thread."""
        steel = sizing.put(f"{key}.rod_end.stem_yield", math.ceil(stem * use / 5) * 5, unit="MPa at least")
        return [*([steel] if key == "rod" else []), *larger(use)[:2], "or rod ends of a stronger steel"]

    rows = [
        *worst(
            f,
            item,
            "strut",
            push,
            strut,
            "N",
            "EN 1993-1-1:2005 6.3.1 curve c on the elastic load of tube and stems",
            cure=wall,
            note=f"{rod.length_mm:.0f} mm between balls, elastic load {critical / 1e3:.1f} kN",
        ),
        *worst(
            f,
            item,
            "bowed strut, tube",
            in_tube,
            fy,
            "MPa",
            "bow of L/200 grown by 1/(1 - N/N_cr), elastic",
            cure=wall,
        ),
        *worst(
            f,
            item,
            "bowed strut, stem",
            in_stem,
            stem,
            "MPa",
            "same, on the thread's root",
            note=said,
            cure=stronger,
        ),
        *worst(f, item, "tie, tube", pull, squash, "N", "A·fy", cure=wall),
        *worst(
            f,
            item,
            "stem in tension",
            stem_stress_mpa(screw, size),
            stem,
            "MPa",
            f"F/A_s, {rod.thread}",
            note=said,
            cure=stronger,
        ),
        *worst(
            f,
            item,
            "thread in the insert",
            size,
            strips(stem),
            "N",
            f"{engaged:.1f} mm of thread (two pitches left out), the weaker of stem and insert at fy/√3; "
            "Machinery's Handbook, length of engagement",
            cure=larger,
        ),
    ]
    if rod.wall_mm:
        rows += round_weld(
            f,
            item,
            rod.diameter_mm,
            rod.wall_mm,
            rod.wall_mm,
            steel,
            axial_n=force_n,
            check="weld of the insert",
            cure=sizing.grown(f"{key}.wall", rod.wall_mm, WALLS_MM, 1.0, f"or a larger {key}.diameter"),
        )
    if static_rating_n:
        rows += worst(
            f,
            item,
            "rod end",
            size,
            static_rating_n,
            "N",
            "its maker's static radial rating, as given",
            cure=lambda u: [sizing.rated("rod.rod_end.static_rating", static_rating_n * u)],
        )
    return rows
