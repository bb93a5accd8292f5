"""Tables as CSV files that a spreadsheet opens as they are: one header, rows as long as it, and the mark at
the start that tells a program which would assume an older encoding that this is UTF-8."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from pathlib import Path

ENCODING = "utf-8-sig"


def write_table(path: Path, head: Sequence[str], rows: Iterable[Sequence[str]]) -> Path:
    """A short row is filled up with empty cells. Raises ValueError for one longer than the head."""
    with path.open("w", newline="", encoding=ENCODING) as f:
        out = csv.writer(f)
        out.writerow(head)
        for row in rows:
            if len(row) > len(head):
                raise ValueError(
                    f"{path.name}: a row of {len(row)} cells under a head of {len(head)}: {row[0]}"
                )
            out.writerow([*row, *[""] * (len(head) - len(row))])
    return path
