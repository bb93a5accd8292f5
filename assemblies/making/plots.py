"""The curves of a corner over its travel as pictures: the report's own figures, in its colours and with its
limits, as SVG whose text is text and as PNG for a quick look."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from textwrap import wrap
from typing import Any

from assemblies.making.report.steering import figures as steering_figures
from assemblies.results import curves
from assemblies.results.curves import BLUE, COLOURS, DASHES, GREEN, ORANGE, RED, Curve, Figure, Scale
from assemblies.results.model import Results
from parts.files.cache import keep, kept, key

__all__ = ["BLUE", "GREEN", "GREY", "ORANGE", "RED", "draw"]
ENDINGS = ("svg", "png")
GREY, LIMIT = "#777777", "#97380a"
LINE = 105  # letters of a line below
STROKE = 2.6  # of the report's curves, by which its dashes are scaled
AS_TEXT: Any = {"svg.fonttype": "none", "svg.hashsalt": "rockershed"}


def draw(
    results: Results,
    folder: Path,
    progress: Callable[[str], None] = lambda _: None,
    job=None,
    gaps: tuple[Curve, ...] = (),
) -> list[Path]:
    """Draw every figure into `folder`, as drawn before where nothing of it changed; returns the files
    written. Needs `results.travel`. `job`: for the limits that only it knows; `gaps`: curves of the tightest
    pairs."""
    import matplotlib

    matplotlib.use("Agg")
    import matplotlib.pyplot as plt

    folder.mkdir(parents=True, exist_ok=True)
    files = []
    for f in (*curves.figures(results, job, gaps), *steering_figures(results)):
        name = "gap-travel" if f.key == "gap" else f.key
        progress(f"plot {name}")
        paths = [folder / f"{name}.{ending}" for ending in ENDINGS]
        files += paths
        made_of = key(results.name, f, sorted(matplotlib.rcParams.items()))
        before = [kept(made_of, ending) for ending in ENDINGS]
        there = [body for body in before if body]
        if len(there) == len(paths):
            for path, body in zip(paths, there, strict=True):
                path.write_bytes(body)
            continue
        with matplotlib.rc_context(AS_TEXT):
            fig = _figure(plt, results.name, f)
            fig.get_layout_engine().execute(fig)
            fig.set_layout_engine(None)  # once for both files
            for ending, path in zip(ENDINGS, paths, strict=True):
                fig.savefig(path, dpi=130, metadata={"Date": None} if ending == "svg" else {"Software": None})
                if results.name.isascii():  # else in a font of this machine, which the key does not name
                    keep(made_of, ending, path.read_bytes())
            plt.close(fig)
    return files


def _figure(plt, corner: str, f: Figure):
    fig, ax = plt.subplots(figsize=(7, 4.4), layout="constrained")
    s = Scale.of(f)
    ax.set_xlim(s.x0, s.x1)
    ax.set_ylim(s.y0, s.y1)
    for b in f.bands:
        low, high = s.inside(b.low), s.inside(b.high)
        if high > low:
            ax.axhspan(low, high, color=RED, alpha=0.13, linewidth=0, label=b.label or None)
    for line in f.lines:
        if line.x is not None:
            ax.axvline(line.x, color=LIMIT, linestyle=":", label=line.label)
        elif line.y is not None and s.y0 <= line.y <= s.y1:
            ax.axhline(line.y, color=LIMIT, linestyle=":", label=line.label)
    for k, c in enumerate(f.curves):
        colour, style = COLOURS[k % 4], _style(DASHES[k % 4])
        y: Sequence[float] = [float("nan") if v is None else v for v in c.y]
        ax.plot(f.x, y, color=colour, linestyle=style, linewidth=2, label=c.label)
        if c.asked is not None:
            ax.axhline(c.asked, color=colour, linestyle=style, linewidth=0.7)
    ax.axvline(0, color=GREY, linewidth=0.8)
    ax.grid(True, color="#dddddd", linewidth=0.6)
    notes = [line for text in (*curves.unseen(f), f.note) for line in wrap(text, LINE)]
    ax.set_xlabel("\n".join(["wheel height from ride, mm (bump to the right)", *notes]), fontsize=8.5)
    ax.set_ylabel(f.unit)
    ax.set_title(f"{corner}: {f.title[:1].lower()}{f.title[1:]}", loc="left", fontsize=11)
    named = ax.get_legend_handles_labels()[1]
    if len(named) > 1 or f.lines:
        fig.legend(
            loc="outside lower left", ncols=2 if max(map(len, named)) < 48 else 1, frameon=False, fontsize=8.5
        )
    return fig


def _style(dashes: str):
    """The report's dashes as the drawing library scales them, by the width of the stroke."""
    return (0, tuple(float(v) / STROKE for v in dashes.split())) if dashes else "-"
