"""What was not looked at, from every room, in one list: it is part of the verdict.

In: the rows of `Results`. Out: `NotChecked` rows, and their names in few words.
"""

import re
from collections import Counter
from typing import Any

from assemblies.results.row import Row
from parts.base.frozen import dataclass

UNMADE = ("no-seat", "part", "program-fault")  # findings of a part that is not there to be checked


@dataclass(frozen=True)
class NotChecked(Row):
    """`room`: "strength", "gaps", "tools", "hoses" or "parts"; `what` names the thing, `why` says why, and
    who then must look."""

    room: str
    what: str
    why: str = ""


def gather(r: Any) -> list[NotChecked]:
    """All of `Results` that no check stands for: what strength leaves out, pairs without a gap, hoses between
    their ends, bolts nobody tried, parts that could not be placed."""
    found = [_row("strength", text) for text in r.strength.missing]
    if not r.strength.checks and r.what == "corner":
        found.append(_row("strength", "strength: nothing of it was checked"))
    found += [_row("gaps", text) for text in r.clearance.not_checked]
    if not r.clearance.checked and not r.clearance.not_checked:
        found.append(_row("gaps", "gaps: none was checked"))
    if not r.access and r.what == "corner":
        found.append(_row("tools", "room for tools: no bolt was tried"))
    found += [
        NotChecked(room="hoses", what=h.name, why="rubbing where it hangs; only its length was checked")
        for h in r.hoses
    ]
    unmade = [f for f in r.findings if f.code in UNMADE]
    found += [NotChecked(room="parts", what=f.where, why=f.text) for f in unmade]
    return list(dict.fromkeys(found))


def names(rows: list[NotChecked]) -> list[str]:
    """Each by its name; pairs of bodies that were left out for one reason stand together, by their number."""
    alike = Counter(n.why for n in rows if n.room == "gaps")
    said: list[str] = []
    for n in rows:
        many = n.room == "gaps" and alike[n.why] > 1
        said.append(f"{alike[n.why]} gaps between bodies ({n.why})" if many else n.what)
    return list(dict.fromkeys(said))


def _row(room: str, text: str) -> NotChecked:
    what, *why = re.split("[:;] ", text, maxsplit=1)
    return NotChecked(room=room, what=what, why="".join(why))
