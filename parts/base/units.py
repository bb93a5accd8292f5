"""Units in and out: everything inside is mm, deg, kg, N, MPa; a job file may also write a length with its
unit."""

from __future__ import annotations

import math
import re
from fractions import Fraction

import numpy as np

INCH_MM = 25.4  # exact by definition of the inch
PAPERS_MM = {  # width and height; ISO 216, Letter 8.5 x 11 in
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "Letter": (215.9, 279.4),
}
G_M_S2 = 9.80665  # standard gravity, exact by definition (ISO 80000-3)

_INCH = Fraction("25.4")  # exact, so that 1 1/2 in is 38.1 and nothing beside it
_PER_UNIT: dict[str, int | Fraction] = {"mm": 1, "cm": 10, "m": 1000, "in": _INCH, "inch": _INCH, '"': _INCH}
_LENGTH = re.compile(
    r"\s*([+-]?)\s*(?:(\d+)\s+)?(\d+\s*/\s*\d+|\d*\.?\d+(?:[eE][+-]?\d+)?|\d+\.)\s*(mm|cm|m|inch|in|\")\s*"
)


_COMMA = re.compile(r"\s*([+-]?\d+)\s*,\s*(\d+)\s*(.*)", re.DOTALL)


def comma_hint(value) -> str:
    """What a decimal comma was meant to be; nothing where `value` holds none. A comma in a file makes two
    numbers.

    >>> comma_hint("12,5 mm"), comma_hint([12, 5]), comma_hint("1/8 in")
    ('a decimal comma? write "12.5 mm"', 'a decimal comma? write 12.5', '')
    """
    if isinstance(value, list | tuple) and len(value) == 2:
        value = ",".join(str(v) for v in value if isinstance(v, int) and not isinstance(v, bool))
    found = _COMMA.fullmatch(value) if isinstance(value, str) and len(value) < 40 else None
    if not found:
        return ""
    number, unit = f"{found[1]}.{found[2]}", found[3].strip()
    if unit and unit not in _PER_UNIT:
        return ""
    return f'a decimal comma? write "{number} {unit}"' if unit else f"a decimal comma? write {number}"


def length_mm(value: float | int | str) -> float:
    """A length in mm: a plain number is mm, a string carries its unit ("1/8 in", "1 1/4 in", "0.5 in", "3
    mm").

    Raises ValueError, saying what would be read, for anything else.

    >>> length_mm("1/8 in"), length_mm("1 1/4 in"), length_mm(3)
    (3.175, 31.75, 3.0)
    """
    if hint := comma_hint(value):
        raise ValueError(f"is {value!r}; a length has a decimal point; {hint}")
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValueError(f'is {value!r}; a length is a number in mm or a text such as "1/8 in" or "3 mm"')
    if not isinstance(value, str):
        if not math.isfinite(value):
            raise ValueError(f"is {value!r}; a length must be a finite number")
        return float(value)
    found = _LENGTH.fullmatch(value)
    if not found:
        raise ValueError(
            f'is "{value}"; a length as text needs a number and a unit: "1/8 in", "0.5 in", "3 mm"'
        )
    sign, whole, number, unit = found.groups()
    try:
        size = Fraction(number.replace(" ", "")) + int(whole or 0)
    except ZeroDivisionError as e:
        raise ValueError(f'is "{value}"; it divides by zero') from e
    return (-1 if sign == "-" else 1) * float(size * _PER_UNIT[unit])


def inches(mm: float) -> str:
    """A size that is a whole number of 64ths or thousandths of an inch, as such; "" for any other.

    A size in tenths of a mm is one of them only at multiples of half an inch, one in hundredths at multiples
    of 0.05 in: what is told in inches was meant in inches.

    >>> inches(25.4), inches(3.175), inches(31.75), inches(1.651), inches(25.0)
    ('1 in', '1/8 in', '1 1/4 in', '0.065 in', '')
    """
    size = mm / INCH_MM
    if not (math.isfinite(size) and size > 0):
        return ""
    if abs(size * 64 - round(size * 64)) < 1e-6:
        whole, rest = divmod(Fraction(round(size * 64), 64), 1)
        return f"{' '.join(str(p) for p in (whole, rest) if p)} in"
    return f"{size:.3f} in" if abs(size * 1000 - round(size * 1000)) < 1e-5 else ""


def positive(**values) -> None:
    """Raise ValueError, naming the field, its value and the limit, unless every number (or array) is finite
    and above 0.

    >>> positive(thickness_mm=0)
    Traceback (most recent call last):
    ValueError: thickness_mm is 0; it must be a finite number greater than 0
    """
    for name, value in values.items():
        if not _all_in(value, lambda a: a > 0):
            raise ValueError(f"{name} is {value}; it must be a finite number greater than 0")


def not_negative(**values) -> None:
    """Raise ValueError, naming the field, its value and the limit, unless every number (or array) is finite
    and at least 0."""
    for name, value in values.items():
        if not _all_in(value, lambda a: a >= 0):
            raise ValueError(f"{name} is {value}; it must be a finite number of 0 or more")


def finite(**values) -> None:
    """Raise ValueError, naming the field and its value, unless every number (or array) is finite."""
    for name, value in values.items():
        if not _all_in(value, lambda a: a == a):
            raise ValueError(f"{name} is {value}; it must be a finite number")


def _all_in(value, rule) -> bool:
    try:
        if isinstance(value, float | int):
            return math.isfinite(value) and rule(value)
        a = np.asarray(value, float)
    except (TypeError, ValueError):
        return False
    return bool((np.isfinite(a) & rule(a)).all())
