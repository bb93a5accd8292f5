"""Letters of any script on paper, in fonts that go into the file: the standard fonts of PDF know western
ones only and are not embedded.

What is written inside `letters(...)` uses DejaVu Sans, which comes with matplotlib (Latin, Greek, Cyrillic
and more); where a name in the job has a letter that it lacks, a font that has it and is installed on this
machine."""

from __future__ import annotations

import warnings
from collections.abc import Generator, Iterable
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

from reportlab import rl_config
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

STANDARD = ("Helvetica", "Helvetica-Bold", "Helvetica-Oblique", "Helvetica-BoldOblique")


def lacking(text: str) -> set[str]:
    """The letters that the standard fonts have not."""
    return {c for c in text if not c.encode("cp1252", "ignore")}


def of(job) -> list[str]:
    """Every name a job gives."""
    named = [*job.member, *job.node, *job.stock.plate]
    named += [t for kind in ("hose", "link", "load_case") for t in getattr(job, kind, ())]
    return [job.name, *(t.name for t in named if t.name)]


@contextmanager
def letters(names: Iterable[str]) -> Generator[set[str]]:
    """Inside, Helvetica stands for a font that is embedded and has the letters of all `names`, and a name on
    a plot is what it is, dollar signs and all; yields the letters that no font here has, which come out as
    boxes. The ids in an SVG do not change from run to run."""
    import matplotlib

    wanted, missing = lacking("".join(names)), set[str]()
    before: dict[str, Any] = {}
    as_letters, rl_config.useA85 = (
        rl_config.useA85,
        0,
    )  # streams as bytes: a quarter less to write and to send
    usual: dict[Any, Any] = {"svg.hashsalt": "rockershed", "text.parse_math": False}
    try:
        plain, missing = _font(frozenset(wanted))
        bold = plain.with_name(plain.name.replace("DejaVuSans.", "DejaVuSans-Bold."))
        if wanted:
            usual["font.family"] = ["DejaVu Sans", *([] if "DejaVu" in plain.name else [_family(plain)])]
        fonts = [TTFont(n, str(f)) for n, f in (("Helvetica", plain), ("Helvetica-Bold", bold))]
        for name in STANDARD:
            before[name] = pdfmetrics.getFont(name)
            # its own registry: `registerFont` takes no second font of a name; slanted letters stand upright
            pdfmetrics._fonts[name] = fonts["Bold" in name]
        with matplotlib.rc_context(usual), warnings.catch_warnings():
            warnings.filterwarnings("ignore", message="Glyph .* missing")
            yield missing
    finally:
        pdfmetrics._fonts.update(before)
        rl_config.useA85 = as_letters


@cache
def _font(wanted: frozenset[str]) -> tuple[Path, set[str]]:
    """The font file with the most of the letters, DejaVu Sans where it is as good as any, and what it
    lacks."""
    import matplotlib
    from matplotlib import font_manager

    best = Path(matplotlib.get_data_path()) / "fonts" / "ttf" / "DejaVuSans.ttf"
    missing = _missing(best, wanted)
    if missing:
        for name in sorted(font_manager.findSystemFonts(fontext="ttf")):
            lacks = _missing(Path(name), wanted)
            if len(lacks) < len(missing):
                best, missing = Path(name), lacks
            if not missing:
                break
    return best, missing


def _missing(path: Path, wanted: frozenset[str]) -> set[str]:
    try:
        known = TTFont("probe", str(path)).face.charToGlyph
    except (TTFError, OSError, ValueError):  # fonts of other makes cannot be embedded
        return set(wanted)
    return {c for c in wanted if ord(c) not in known}


def _family(path: Path) -> str:
    from matplotlib import font_manager

    font_manager.fontManager.addfont(str(path))
    return font_manager.FontProperties(fname=str(path)).get_name()
