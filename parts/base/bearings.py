"""Bushes and bearings that a pivot can be bought with: sizes only, every row with where its sizes come from.

Lengths mm, pressures MPa. Sizes of wrapped bushes are those of ISO 3547-1, of drawn-cup needle bearings those
of ISO 3245, of deep-groove ball bearings those of ISO 15 (diameter series 8 and 9 and series 0); all from
memory: measure the one in hand. A load rating is its maker's and never stands here.
"""

from __future__ import annotations

from parts.base.frozen import dataclass

KINDS = ("bush", "needle", "ball")


@dataclass(frozen=True)
class BearingSize:
    """A bush or bearing by its bore, outside and the widths it is sold in."""

    kind: str
    bore_mm: float
    outside_mm: float
    widths_mm: tuple[float, ...]
    source: str

    @property
    def name(self) -> str:
        return f"{self.kind} {self.bore_mm:g} x {self.outside_mm:g}"


def _rows(kind: str, source: str, sizes) -> tuple[BearingSize, ...]:
    return tuple(BearingSize(kind, float(d), float(D), tuple(map(float, b)), source) for d, D, *b in sizes)


SIZES: tuple[BearingSize, ...] = (
    *_rows(
        "bush",
        "ISO 3547-1 wrapped bush, from memory",
        (
            (12, 14, 10, 15, 20),
            (14, 16, 10, 15, 20),
            (15, 17, 10, 15, 20, 25),
            (16, 18, 10, 15, 20, 25),
            (18, 20, 15, 20, 25),
            (20, 23, 15, 20, 25, 30),
            (22, 25, 15, 20, 25, 30),
            (24, 27, 15, 20, 25, 30),
            (25, 28, 15, 20, 25, 30),
            (28, 32, 20, 25, 30),
            (30, 34, 20, 25, 30, 40),
            (32, 36, 20, 30, 40),
            (35, 39, 20, 30, 40, 50),
            (40, 44, 20, 30, 40, 50),
            (45, 50, 20, 30, 40, 50),
        ),
    ),
    *_rows(
        "needle",
        "ISO 3245 drawn cup, from memory",
        (
            (15, 21, 16),
            (16, 22, 16),
            (18, 24, 16),
            (20, 26, 16, 20),
            (22, 28, 16, 20),
            (25, 32, 20, 26),
            (28, 35, 20),
            (30, 37, 20, 26),
            (35, 42, 20),
            (40, 47, 20),
        ),
    ),
    *_rows(
        "ball",
        "ISO 15 deep groove, from memory",
        (
            (15, 24, 5),
            (17, 26, 5),
            (20, 32, 7),
            (25, 37, 7),
            (30, 42, 7),
            (35, 47, 7),
            (40, 52, 7),
            (20, 37, 9),
            (25, 42, 9),
            (30, 47, 9),
            (20, 42, 12),
            (25, 47, 12),
            (30, 55, 13),
        ),
    ),
)

# Makers' tables give dry PTFE on bronze 250 MPa at rest and 140 where it creeps; a swing with grit and edge
# pressure is held to this: common practice, an input where the bush in hand is known.
BUSH_MPA = 60.0
# P0 against C0 where a bearing stands nearly still under shock: makers' guides, common practice
STATIC_SAFETY = {"needle": 3.0, "ball": 1.5}

CARE = {
    "bush": "dry bush: no grease, an O-ring or felt outside keeps grit out",
    "needle": "needle: grease through a nipple, lip seals both sides, a hardened shaft (58 HRC) of h6; it "
    "carries nothing along its axis",
    "ball": "ball: sealed both sides (2RS); it sees nearly no turning, so its balls dent before they tire",
}


def size(kind: str, bore_mm: float, width_mm: float | None = None) -> BearingSize:
    """The row of a kind with this bore, the smallest outside first. Raises ValueError naming the bores there
    are, or the widths."""
    rows = [s for s in SIZES if s.kind == kind and abs(s.bore_mm - bore_mm) < 1e-6]
    if not rows:
        bores = ", ".join(f"{b:g}" for b in sorted({s.bore_mm for s in SIZES if s.kind == kind}))
        raise ValueError(f"no {kind} has a bore of {bore_mm:g} mm; there are {bores or 'none of this kind'}")
    if width_mm is not None:
        wide = [s for s in rows if width_mm in s.widths_mm]
        if not wide:
            widths = ", ".join(f"{w:g}" for w in sorted({w for s in rows for w in s.widths_mm}))
            raise ValueError(
                f"a {kind} of {bore_mm:g} mm bore is not {width_mm:g} mm wide; there are {widths}"
            )
        rows = wide
    return min(rows, key=lambda s: s.outside_mm)


def in_bore(kind: str, bore_mm: float, over_mm: float = 0.6) -> BearingSize:
    """The row whose outside a tube's bore is opened to: from that bore up to `over_mm` more. Raises
    ValueError naming the nearest."""
    rows = [s for s in SIZES if s.kind == kind and bore_mm - 1e-6 <= s.outside_mm <= bore_mm + over_mm + 1e-6]
    if not rows:
        near = min(
            (s for s in SIZES if s.kind == kind), key=lambda s: abs(s.outside_mm - bore_mm - over_mm / 2)
        )
        raise ValueError(
            f"no {kind} goes into a bore of {bore_mm:g} mm (opened by {over_mm:g} at most); the nearest, "
            f"{near.bore_mm:g} x {near.outside_mm:g}, needs {near.outside_mm - over_mm:g} "
            f"to {near.outside_mm:g}"
        )
    return min(rows, key=lambda s: s.outside_mm)
