"""Numbers and names as a reader meets them on the page."""

from __future__ import annotations

import math
import re

from assemblies.results.findings import guaranteed, lacking


def shown(v, decimals: int = 1) -> str:
    """A number for reading: fixed decimals, a true minus, a dash for nothing."""
    if v is None or (isinstance(v, float) and not math.isfinite(v)):
        return "–"
    text = f"{v:.{decimals}f}"
    return (text[1:] if text.startswith("-") and not text.strip("-0.") else text).replace("-", "−")


def floored(v) -> str:
    """A guaranteed gap as it is told everywhere."""
    return guaranteed(v).replace("-", "\u2212")


def margin(v, decimals: int = 1) -> str:
    """A margin, never rounded up."""
    step = 10.0**decimals
    return shown(None if v is None else math.floor(v * step + 1e-9) / step, decimals)


def used(v) -> str:
    """A use of strength, never rounded down."""
    return "no resistance" if v is None else lacking(v)


def short(v) -> str:
    """A number to three figures, for loads of any size."""
    return (
        "–"
        if v is None
        else f"{v:.3g}".replace("-", "−")
        if abs(v) < 1000
        else f"{v:,.0f}".replace(",", " ").replace("-", "−")
    )


def signed(v, decimals: int = 0) -> str:
    text = shown(v, decimals)
    return text if text[0] in "−–" or not text.strip("0.") else "+" + text


def words(name: str) -> str:
    """A body's name for reading: upper_arm is the upper arm."""
    return name.replace("_", " ")


def slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
