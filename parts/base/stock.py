"""What the shop can buy: steels, threads, clearance holes, bolts, washers, rod ends, plate, tube, drills,
reamers.

Lengths mm, stress MPa, density kg/m³. Every table carries its source; "common practice" marks a trade fact
without one: measure the part in hand.
"""

from __future__ import annotations

import math

from parts.base.frozen import dataclass
from parts.base.units import INCH_MM

# ------------------------------------------------------------------------------------------------ steels

E_MPA = 210_000.0  # EN 1993-1-1 3.2.6
POISSON = 0.3  # EN 1993-1-1 3.2.6
G_MPA = E_MPA / (2 * (1 + POISSON))  # 80 769 MPa; EN 1993-1-1 3.2.6 prints about 81 000
SPRING_E_MPA = 206_000.0  # spring steel, common practice
SPRING_G_MPA = 79_300.0  # spring steel, common practice 78 500 to 80 000: an input wherever it matters
DENSITY_KG_M3 = 7850.0  # EN 1991-1-1 / EN 10219-2
MAX_THICKNESS_MM = 16.0  # the yields below hold up to here


@dataclass(frozen=True)
class Steel:
    """A structural steel up to 16 mm thick.

    `fu_mpa` is the lowest of the editions, `fu_by_edition` names them all: editions differ, so print the one
    used."""

    name: str
    yield_mpa: float
    fu_mpa: float
    fu_edition: str
    fu_by_edition: tuple[tuple[str, float], ...]
    beta_w: float  # correlation factor of fillet welds, EN 1993-1-8 Table 4.1
    source: str
    youngs_modulus_mpa: float = E_MPA
    shear_modulus_mpa: float = G_MPA
    density_kg_m3: float = DENSITY_KG_M3
    note: str = ""

    def yield_at(self, thickness_mm: float) -> float:
        """Yield for a thickness; the table holds up to 16 mm. Raises ValueError beyond it."""
        if not 0 < thickness_mm <= MAX_THICKNESS_MM:
            raise ValueError(
                f"thickness_mm is {thickness_mm}; the yield of {self.name} is tabled above 0 and up to "
                f"{MAX_THICKNESS_MM:g} mm"
            )
        return self.yield_mpa


_EN10025 = "EN 10025-2, 3 mm and over"
_EC3_2005 = "EN 1993-1-1:2005 Table 3.1"
_EC3_A1 = "EN 1993-1-1:2005/A1:2014"
_STEEL_SOURCE = "yield EN 10025-2, up to 16 mm; beta_w EN 1993-1-8:2005 Table 4.1"


def _steel(name: str, fy: float, beta_w: float, fu: tuple[tuple[str, float], ...], note: str = "") -> Steel:
    return Steel(name, fy, fu[0][1], fu[0][0], fu, beta_w, _STEEL_SOURCE, note=note)


_S235_FU = ((_EN10025, 360.0), (_EC3_2005, 360.0))
STEELS: dict[str, Steel] = {
    s.name: s
    for s in (
        _steel("S235", 235.0, 0.80, _S235_FU),
        _steel("S275", 275.0, 0.85, ((_EN10025, 410.0), (_EC3_2005, 430.0))),
        _steel("S355", 355.0, 0.90, ((_EN10025, 470.0), (_EC3_A1, 490.0), (_EC3_2005, 510.0))),
        _steel(
            "unknown",
            235.0,
            0.80,
            _S235_FU,
            note="unmarked plate: counted as S235 (common practice); test or certify it before use",
        ),
    )
}


def steel(name: str) -> Steel:
    """The steel called `name`. Raises ValueError listing the known ones.

    >>> steel("S275").yield_mpa, steel("unknown").note[:29]
    (275.0, 'unmarked plate: counted as S2')
    """
    return _find(STEELS, name, "steel")


# ------------------------------------------------------------ threads and bolts


@dataclass(frozen=True)
class Thread:
    """An ISO metric thread; the diameters follow from the basic profile of ISO 68-1, H = P·√3/2."""

    name: str
    diameter_mm: float
    pitch_mm: float
    coarse: bool = True

    @property
    def pitch_diameter_mm(self) -> float:
        """d2 = d - 3/4·H (ISO 724)."""
        return self.diameter_mm - 0.75 * self._height_mm

    @property
    def nut_minor_mm(self) -> float:
        """D1 = d - 5/4·H, the nut's minor diameter (ISO 724)."""
        return self.diameter_mm - 1.25 * self._height_mm

    @property
    def root_mm(self) -> float:
        """d3 = d - 17/12·H, the bolt's root (ISO 898-1)."""
        return self.diameter_mm - 17 / 12 * self._height_mm

    @property
    def stress_area_mm2(self) -> float:
        """A_s = π/4·((d2 + d3)/2)² (ISO 898-1); neither the shank's area nor the root's."""
        return math.pi / 4 * ((self.pitch_diameter_mm + self.root_mm) / 2) ** 2

    @property
    def shank_area_mm2(self) -> float:
        return math.pi / 4 * self.diameter_mm**2

    @property
    def nominal(self) -> str:
        """Name of the size alone, "M12" of "M12x1.25"."""
        return self.name.partition("x")[0]

    @property
    def _height_mm(self) -> float:
        return self.pitch_mm * math.sqrt(3) / 2


_COARSE = {
    3: 0.5,
    4: 0.7,
    5: 0.8,
    6: 1.0,
    8: 1.25,
    10: 1.5,
    12: 1.75,
    14: 2.0,
    16: 2.0,
    18: 2.5,
    20: 2.5,
}  # ISO 261
_FINE = (
    (8, 1.0),
    (10, 1.0),
    (10, 1.25),
    (12, 1.25),
    (12, 1.5),
    (14, 1.5),
    (16, 1.5),
    (18, 1.5),
    (20, 1.5),
)  # ISO 261
THREADS: dict[str, Thread] = {f"M{d}": Thread(f"M{d}", float(d), p) for d, p in _COARSE.items() if d >= 5} | {
    f"M{d}x{p:g}": Thread(f"M{d}x{p:g}", float(d), p, False) for d, p in _FINE
}


def thread(name: str) -> Thread:
    """The thread called `name` ("M10" is coarse, "M10x1.25" fine). Raises ValueError listing the known ones.

    >>> round(thread("M12").stress_area_mm2, 2), round(thread("M12").root_mm, 3)
    (84.27, 9.853)
    """
    return _find(THREADS, name.replace(" ", "") if isinstance(name, str) else name, "thread")


# ISO 273 (fine, medium, coarse). Other rules exist: structural steel takes d + 1 up to M14 and d + 2 from
# M16.
CLEARANCE_HOLES_MM: dict[str, tuple[float, float, float]] = {
    "M3": (3.2, 3.4, 3.6),
    "M4": (4.3, 4.5, 4.8),
    "M5": (5.3, 5.5, 5.8),
    "M6": (6.4, 6.6, 7.0),
    "M8": (8.4, 9.0, 10.0),
    "M10": (10.5, 11.0, 12.0),
    "M12": (13.0, 13.5, 14.5),
    "M14": (15.0, 15.5, 16.5),
    "M16": (17.0, 17.5, 18.5),
    "M18": (19.0, 20.0, 21.0),
    "M20": (21.0, 22.0, 24.0),
}
_SERIES = ("fine", "medium", "coarse")


def clearance_hole_mm(size: str, series: str = "medium") -> float:
    """Clearance hole of ISO 273 for a size ("M10", or a thread such as "M10x1.25") in the fine, medium or
    coarse series.

    >>> clearance_hole_mm("M10"), clearance_hole_mm("M12x1.25", "fine")
    (11.0, 13.0)
    """
    if series not in _SERIES:
        raise ValueError(f'series is "{series}"; it must be one of {", ".join(_SERIES)}')
    return _find(CLEARANCE_HOLES_MM, str(size).partition("x")[0], "size")[_SERIES.index(series)]


@dataclass(frozen=True)
class Hexagon:
    """A hexagon bolt and its nuts: across flats, head height, nut height, thin (jam) nut height.

    Across flats ISO 4014/4032. Heights are nominal heads of ISO 4014, greatest nuts of ISO 4032 and thin nuts
    of ISO 4035, from memory: measure where a fraction of a mm matters. Older DIN 931/934 sizes are 17 at M10,
    19 at M12."""

    across_flats_mm: float
    head_mm: float
    nut_mm: float
    jam_nut_mm: float

    @property
    def across_corners_mm(self) -> float:
        """Across corners of a sharp hexagon, s·2/√3: the most it can be."""
        return self.across_flats_mm * 2 / math.sqrt(3)


HEXAGONS: dict[str, Hexagon] = {
    "M5": Hexagon(8, 3.5, 4.7, 2.7),
    "M6": Hexagon(10, 4, 5.2, 3.2),
    "M8": Hexagon(13, 5.3, 6.8, 4),
    "M10": Hexagon(16, 6.4, 8.4, 5),
    "M12": Hexagon(18, 7.5, 10.8, 6),
    "M14": Hexagon(21, 8.8, 12.8, 7),
    "M16": Hexagon(24, 10, 14.8, 8),
    "M18": Hexagon(27, 11.5, 15.8, 9),
    "M20": Hexagon(30, 12.5, 18, 10),
}


@dataclass(frozen=True)
class Washer:
    """A plain washer: hole, outside, nominal thickness (the greatest is 0.1 to 0.3 more)."""

    inner_mm: float
    outer_mm: float
    thickness_mm: float


WASHERS: dict[str, Washer] = {  # ISO 7089, normal series; thickness from memory
    "M5": Washer(5.3, 10, 1.0),
    "M6": Washer(6.4, 12, 1.6),
    "M8": Washer(8.4, 16, 1.6),
    "M10": Washer(10.5, 20, 2.0),
    "M12": Washer(13, 24, 2.5),
    "M14": Washer(15, 28, 2.5),
    "M16": Washer(17, 30, 3.0),
    "M18": Washer(19, 34, 3.0),
    "M20": Washer(21, 37, 3.0),
}


def hexagon(size: str) -> Hexagon:
    """Hexagon of a size or thread name. Raises ValueError listing the known ones."""
    return _find(HEXAGONS, str(size).partition("x")[0], "size")


def washer(size: str) -> Washer:
    """Plain washer of a size or thread name. Raises ValueError listing the known ones."""
    return _find(WASHERS, str(size).partition("x")[0], "size")


# ------------------------------------------------------------------------------------------------ rod ends


@dataclass(frozen=True)
class RodEnd:
    """A male rod end: common practice, typical of the wide metric series. Measure your own.

    `eye_to_end_mm` runs from the ball's centre to the end of the stem; `tilt_deg` is each way with plain
    washers."""

    thread: str
    bore_mm: float
    ball_width_mm: float
    ball_diameter_mm: float
    housing_diameter_mm: float
    housing_width_mm: float
    thread_length_mm: float
    eye_to_end_mm: float
    tilt_deg: float
    source: str = "common practice, typical; measure your own"


ROD_ENDS: dict[str, RodEnd] = {
    r.thread: r
    for r in (
        RodEnd("M5", 5, 8, 11.1, 18, 6, 20, 33, 13),
        RodEnd("M6", 6, 9, 12.7, 20, 6.75, 22, 36, 13),
        RodEnd("M8", 8, 12, 15.9, 24, 9, 25, 42, 13),
        RodEnd("M10", 10, 14, 19.05, 28, 10.5, 29, 48, 13),
        RodEnd("M12", 12, 16, 22.2, 32, 12, 33, 54, 13),
        RodEnd("M14", 14, 19, 25.4, 36, 13.5, 36, 60, 13),
        RodEnd("M16", 16, 21, 28.6, 42, 15, 40, 66, 13),
        RodEnd("M18x1.5", 18, 23, 31.75, 46, 16.5, 44, 72, 13),
        RodEnd("M20x1.5", 20, 25, 34.9, 50, 18, 47, 78, 13),
    )
}


def rod_end(name: str) -> RodEnd:
    """Typical rod end for a thread; a fine or coarse thread of the same size takes the size's eye. Raises
    ValueError."""
    if name in ROD_ENDS:
        return ROD_ENDS[name]
    size = str(name).partition("x")[0]
    found = next((r for key, r in ROD_ENDS.items() if key.partition("x")[0] == size), None)
    return found if found and name in THREADS else _find(ROD_ENDS, name, "rod end thread")


# ------------------------------------------------------------ plate and tube

PLATES_MM = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)  # common practice
INCH_PLATES_MM: dict[str, float] = {  # exact by the inch; 1/8 in is 3.175 mm, not 3
    "1/16 in": INCH_MM / 16,
    "3/32 in": INCH_MM * 3 / 32,
    "1/8 in": INCH_MM / 8,
    "5/32 in": INCH_MM * 5 / 32,
    "3/16 in": INCH_MM * 3 / 16,
    "1/4 in": INCH_MM / 4,
    "5/16 in": INCH_MM * 5 / 16,
    "3/8 in": INCH_MM * 3 / 8,
}
# Manufacturers' standard gauge for uncoated sheet steel: lb/ft². Galvanised, aluminium and wire gauges are
# other tables.
_GAUGE_LB_FT2 = {
    7: 7.5,
    8: 6.875,
    9: 6.25,
    10: 5.625,
    11: 5.0,
    12: 4.375,
    13: 3.75,
    14: 3.125,
    15: 2.8125,
    16: 2.5,
    17: 2.25,
    18: 2.0,
    19: 1.75,
    20: 1.5,
}
_GAUGE_LB_FT2_PER_INCH = 41.82


def gauge_mm(number: int) -> float:
    """Thickness of a sheet-steel gauge: its weight over 41.82 lb/ft² per inch.

    >>> round(gauge_mm(11), 2)
    3.04
    """
    return _find(_GAUGE_LB_FT2, number, "gauge") / _GAUGE_LB_FT2_PER_INCH * INCH_MM


PLATE_ROOM_MM = 0.06  # so far a plate given to the tenth may lie from its stock thickness


def no_stock_plate(thickness_mm: float) -> str:
    """The stock plates and sheets below and above a thickness that is none of them; nothing for one that is.

    >>> no_stock_plate(3.7), no_stock_plate(3.18)
    ('3.42 mm (gauge 10) and 3.8 mm (gauge 9)', '')
    """
    known = {f"{t:g} mm": t for t in PLATES_MM} | {f"{t:.4g} mm ({k})": t for k, t in INCH_PLATES_MM.items()}
    known |= {f"{gauge_mm(n):.3g} mm (gauge {n})": gauge_mm(n) for n in _GAUGE_LB_FT2}
    if any(abs(t - thickness_mm) <= PLATE_ROOM_MM for t in known.values()):
        return ""
    under = max((k for k, t in known.items() if t < thickness_mm), key=lambda k: known[k], default="")
    over = min((k for k, t in known.items() if t > thickness_mm), key=lambda k: known[k], default="")
    return " and ".join(filter(None, (under, over)))


# Outside sizes and walls often stocked; not every wall in every size (EN 10219-2 range from memory; common
# practice).
ROUND_TUBES_MM = (21.3, 26.9, 33.7, 42.4, 48.3, 60.3)
ROUND_PRECISION_TUBES_MM = (
    16.0,
    18.0,
    20.0,
    22.0,
    25.0,
    28.0,
    30.0,
    32.0,
    35.0,
    38.0,
    40.0,
    42.0,
    45.0,
    50.0,
)
ROUND_INCH_TUBES_MM = tuple(INCH_MM * n / 8 for n in (5, 6, 7, 8, 9, 10, 11, 12, 14, 16))
SQUARE_TUBES_MM = (20.0, 25.0, 30.0, 40.0, 50.0, 60.0)
WALLS_MM = (1.5, 2.0, 2.5, 3.0, 4.0)

# ------------------------------------------------------------ drills and reamers

DRILLS_MM = tuple(n / 10 for n in range(10, 131)) + tuple(
    n / 2 for n in range(27, 53)
)  # 0.1 steps to 13, 0.5 to 26
REAMERS_MM = (4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0, 22.0, 25.0)  # H7, common practice
REAM_ALLOWANCE_MM = (0.2, 0.3)  # left by the drill at 8 to 12 mm, common practice


def drill_below_mm(size_mm: float) -> float:
    """The largest stocked drill not above `size_mm`. Raises ValueError below the smallest."""
    found = [d for d in DRILLS_MM if d <= size_mm + 1e-9]
    if not found:
        raise ValueError(f"size_mm is {size_mm}; the smallest stocked drill is {DRILLS_MM[0]:g} mm")
    return found[-1]


def reaming_drill_mm(reamed_mm: float) -> float:
    """The stocked drill before a reamer, leaving at least 0.2 mm (common practice).

    >>> reaming_drill_mm(10), reaming_drill_mm(12.7)
    (9.8, 12.5)
    """
    return drill_below_mm(reamed_mm - REAM_ALLOWANCE_MM[0])


def _find(table: dict, key, what: str):
    try:
        return table[key]
    except (KeyError, TypeError):
        known = ", ".join(str(k) for k in table)
        raise ValueError(f'{what} is "{key}"; known: {known}') from None
