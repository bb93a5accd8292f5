"""Two corners side by side: what changed and by how much, the same curves over each other, which parts must
be cut again.

rockershed compare mine.toml other.toml
rockershed compare mine.toml --change rocker.plate_thickness=4
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from assemblies.job import Job
from assemblies.making.compare.comparison import compared
from assemblies.making.compare.overlaid import laid_over, page
from assemblies.making.compare.telling import text


def compare(
    job_a: Job,
    job_b: Job,
    out: Path,
    labels: tuple[str, str] | None = None,
    interference: bool = True,
    progress: Callable[..., None] = lambda *_: None,
) -> tuple[Path, str, bool]:
    """Work both jobs through; a page of their differences in `out`, the same as text for a terminal, and
    whether neither has a stop."""
    both = compared(job_a, job_b, labels, interference, progress)
    out.mkdir(parents=True, exist_ok=True)
    path = out / f"{job_a.slug}-compared.html"
    path.write_text(page(both, laid_over(both, progress)), encoding="utf-8")
    return path, text(both), both.works
