"""What is taken off a tube's end besides its cuts, in words."""

from __future__ import annotations

from assemblies.layout.junctions.order import Node
from assemblies.results.findings import Finding
from parts.tube_end import TubeEnd
from parts.tube_trim import OVERHANG, Trim


def in_words(t: Trim) -> str:
    return (
        f"a skin thinner than the wall, {t.length_mm:.1f} mm long and {t.width_mm:.1f} round the tube"
        if t.kind == OVERHANG
        else f"a tongue {t.width_mm:.1f} mm wide and {t.length_mm:.1f} long"
    )


def told(node: Node, name: str, end: str, cut: TubeEnd) -> list[Finding]:
    """One note an end."""
    if not cut.trims:
        return []
    what = "; ".join(map(in_words, cut.trims))
    return [
        Finding(
            level="note",
            code="tube-trim",
            where=name,
            text=(
                f"Trimmed at the {end} end of '{name}' ({node.name}), level with the cuts beside: {what}. It "
                f"would burn away as it is welded. Order length, strip and solid are of what is left; weld "
                f"fills what stays open."
            ),
        )
    ]
