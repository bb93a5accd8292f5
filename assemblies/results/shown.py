"""What a notebook shows of results: the brief account, as on a terminal, and the curves over wheel height."""

from __future__ import annotations

from html import escape

from assemblies.results import curves, summary
from assemblies.results.model import Results

FIRST = 4  # figures in sight, the others behind a line to open
STYLE = """
.rockershed{background:#fbfbf7;color:#1d2326;padding:8px 12px;max-width:1100px}
.rockershed pre{color:inherit;background:none;white-space:pre-wrap}
.rockershed .sheet{display:flex;flex-wrap:wrap;gap:14px 26px}
.rockershed figure{margin:0;width:440px;font-family:sans-serif;font-size:13px}
.rockershed .plot{width:100%;height:auto;display:block}
.rockershed .plot .grid{stroke:#dfe2da;fill:none}.rockershed .plot .axis{stroke:#858e8c;fill:none}
.rockershed .plot .tick{font-size:13px;fill:#4b5558}.rockershed text.limit{font-size:13px;fill:#97380a}
.rockershed path.limit{stroke:#97380a;stroke-dasharray:2 4;fill:none}
.rockershed .band{fill:#c24a00;fill-opacity:.13}
.rockershed .curve{fill:none;stroke-width:2.6}.rockershed .swatch{width:34px;height:10px}
.rockershed .cursor{display:none}
""".replace("\n", "")


def html(results: Results, job=None) -> str:
    """The account and every curve there is; `job`: for the limits that only it knows."""
    told = f"<pre>{escape(summary.brief(results))}</pre>"
    drawn = [_figure(f) for f in curves.figures(results, job)]
    if drawn:
        first, more = ('<div class="sheet">' + "".join(d) + "</div>" for d in (drawn[:FIRST], drawn[FIRST:]))
        told += f"{first}<details><summary>{len(drawn) - FIRST} more curves</summary>{more}</details>"
    return f'<div class="rockershed"><style>{STYLE}</style>{told}</div>'


def _figure(f: curves.Figure) -> str:
    named = [f"{curves.swatch(k)} {escape(c.label)}" for k, c in enumerate(f.curves)]
    under = [*named, *map(escape, curves.unseen(f))]
    told = f"<figcaption>{'<br/>'.join(under)}</figcaption>"
    return f"<figure><b>{escape(f.title)}</b>{curves.svg(f)}{told}</figure>"
