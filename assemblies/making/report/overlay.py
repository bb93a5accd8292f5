"""Two corners in one scene: B solid, what differs of A laid over it, both moved by B's slider.

A part is alike where its shape, its place and the motion of its carrier are; it is drawn once, in grey. A
moves at B's wheel heights and rack places; where A cannot be there, it stands at the nearest it can.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

import numpy as np

from assemblies.layout.placing import needed
from assemblies.making.report.scene import motion, scene
from assemblies.study import Study

BEFORE, AFTER, ALIKE = "#0072B2", "#D98324", "#b9bdb6"
SAME_MM, SAME = 0.01, 1e-6  # two motions, two frames nearer than this are one


def overlay(a: Study, shapes_a: Mapping[str, object], b: Study, shapes_b: Mapping[str, object]) -> dict:
    """A scene as the page takes it; carriers of A are named `before ...`, and of what no shape is given the
    name stands in `not_shown`. Both studies stand."""
    told, old = scene(b, shapes_b), scene(a, shapes_a)
    wheel, rack = (np.array(told["motion"][k]) for k in ("wheel_mm", "rack_mm"))
    ours, theirs = told["motion"]["bodies"], motion(a, wheel, rack)["bodies"]
    moved = {k for k in theirs if k not in ours or not _alike(theirs[k], ours[k])}
    first = len(told["meshes"])
    told["meshes"] += old["meshes"]
    forms = [{p.name: p.form.key for p in needed(s.layout).placed} for s in (a, b)]
    there = {p["name"]: p for p in old["parts"]}

    def same(p: dict[str, Any]) -> bool:
        q = there.get(p["name"])
        return (
            q is not None
            and forms[0][p["name"]] == forms[1][p["name"]]
            and q["carrier"] == p["carrier"]
            and p["carrier"] not in moved
            and q["twist"] == p["twist"]
            and np.allclose(q["frame"], p["frame"], rtol=0, atol=SAME)
        )

    alike = {p["name"] for p in told["parts"] if same(p)}
    for p in told["parts"]:
        p |= {"alike": p["name"] in alike, "colour": ALIKE if p["name"] in alike else AFTER}
    for p in old["parts"]:
        if p["name"] not in alike:
            said = {"name": f"A: {p['name']}", "body": f"A: {p['body']}", "carrier": f"before {p['carrier']}"}
            told["parts"].append({**p, **said, "mesh": first + p["mesh"], "before": True, "colour": BEFORE})
    told["not_shown"] = [
        f"{p.name} of {which}"
        for which, study, shapes in (("A", a, shapes_a), ("B", b, shapes_b))
        for p in needed(study.layout).placed
        if p.name not in shapes
    ]
    told["motion"]["bodies"] |= {f"before {k}": v for k, v in theirs.items()}
    return told


def _alike(one: dict, two: dict) -> bool:
    p, q = (np.frombuffer(base64.b64decode(x["poses"]), "<f4") for x in (one, two))
    return (
        p.shape == q.shape
        and bool(np.allclose(one["from"], two["from"], rtol=0, atol=SAME))
        and float(np.abs(p - q).max()) < SAME_MM
    )
