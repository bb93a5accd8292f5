"""Limits and fits for reamed holes, bushes and pins up to 50 mm, and general tolerances.

Nominal sizes mm, deviations µm (a capital letter is a hole, a small one a shaft). Source: ISO 286-2 tables
(from memory; a general fits library agrees on H7, H8, g6, f7, p6). A range includes its upper end: 10 mm
belongs to 6-10. Plating and paint use up a close clearance.
"""

from __future__ import annotations

from parts.base.frozen import dataclass
from parts.base.units import positive

_UP_TO_MM = (3, 6, 10, 18, 30, 50)  # upper end of each range of nominal sizes
_ZERO = (0,) * 6
_UM: dict[str, tuple[tuple[int, ...], tuple[int, ...]]] = {  # (lower, upper) deviation by range, ISO 286-2
    "H7": (_ZERO, (10, 12, 15, 18, 21, 25)),
    "H8": (_ZERO, (14, 18, 22, 27, 33, 39)),
    "g6": ((-8, -12, -14, -17, -20, -25), (-2, -4, -5, -6, -7, -9)),
    "f7": ((-16, -22, -28, -34, -41, -50), (-6, -10, -13, -16, -20, -25)),
    "h6": ((-6, -8, -9, -11, -13, -16), _ZERO),
    "h13": ((-140, -180, -220, -270, -330, -390), _ZERO),  # plain bolt shank, grade A of ISO 4014
    "p6": ((6, 12, 15, 18, 22, 26), (12, 20, 24, 29, 35, 42)),
}


@dataclass(frozen=True)
class FitLimits:
    """Smallest and largest permitted size of a hole or shaft: deviations from the nominal in µm."""

    nominal_mm: float
    code: str
    lower_um: int
    upper_um: int

    @property
    def smallest_mm(self) -> float:
        return self.nominal_mm + self.lower_um / 1000

    @property
    def largest_mm(self) -> float:
        return self.nominal_mm + self.upper_um / 1000

    @property
    def hole(self) -> bool:
        return self.code[0].isupper()


@dataclass(frozen=True)
class Clearance:
    """Play between hole and shaft in µm; negative is interference."""

    least_um: int
    greatest_um: int


def limits(nominal_mm: float, code: str) -> FitLimits:
    """Limits of a hole or shaft, such as "H7" or "g6", over 0 and up to 50 mm.

    >>> limits(10, "H7").upper_um, limits(16, "p6").lower_um
    (15, 18)
    """
    positive(nominal_mm=nominal_mm)
    if code not in _UM:
        raise ValueError(f'code is "{code}"; known: {", ".join(_UM)}')
    if nominal_mm > _UP_TO_MM[-1]:
        raise ValueError(f"nominal_mm is {nominal_mm}; the table ends at {_UP_TO_MM[-1]} mm")
    row = next(i for i, top in enumerate(_UP_TO_MM) if nominal_mm <= top)
    lower, upper = _UM[code]
    return FitLimits(nominal_mm, code, lower[row], upper[row])


def clearance(nominal_mm: float, fit: str) -> Clearance:
    """Least and greatest play of a fit such as "H7/g6": hole less shaft.

    >>> clearance(25, "H7/g6")
    Clearance(least_um=7, greatest_um=41)
    """
    hole_code, slash, shaft_code = str(fit).partition("/")
    if not slash:
        raise ValueError(f'fit is "{fit}"; write hole and shaft, such as "H7/g6"')
    hole, shaft = limits(nominal_mm, hole_code), limits(nominal_mm, shaft_code)
    if not hole.hole or shaft.hole:
        raise ValueError(
            f'fit is "{fit}"; the hole (capital letter) comes first, then the shaft (small letter)'
        )
    return Clearance(hole.lower_um - shaft.upper_um, hole.upper_um - shaft.lower_um)
