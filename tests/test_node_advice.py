"""Cures of a node as a whole: what is printed is what cures, all of it together."""

import math
import re

import pytest

from assemblies.job import FrameJob
from assemblies.layout.junctions import junctions
from assemblies.layout.junctions.advice import CURED, advised
from assemblies.layout.junctions.meeting import Tube
from assemblies.study import study
from parts.member import Member

RAIL, POST = {"shape": "square", "size": 30, "wall": 2}, {"shape": "square", "size": 25, "wall": 2}
BAY = {  # four corners of which none fits as drawn, one of them moved by a group
    "name": "bay",
    "node": [
        {"name": "A", "at": [0, 260, 150]},
        {"name": "B", "at": [-620, 240, 170]},
        {"name": "C", "at": [0, 260, 450]},
        {"name": "D", "at": [-600, 230, 420]},
    ],
    "group": [{"name": "high", "members": ["upper rail"], "move": [0, 0, 10]}],
    "member": [
        {"name": "lower rail", **RAIL, "from": "A", "to": "B"},
        {"name": "upper rail", **POST, "from": [0, 260, 440], "to": "D"},
        {"name": "front upright", **POST, "from": "A", "to": "C"},
        {"name": "rear upright", **POST, "from": "B", "to": "D"},
        {"name": "lower cross", **POST, "from": "A", "to": [0, -260, 150]},
        {"name": "rear cross", **POST, "from": "B", "to": [-620, -240, 170]},
    ],
}


def curable(found) -> list:
    return [f for f in found if f.code in CURED and f.level == "warn"]


def cured(job: FrameJob, text: str) -> FrameJob:
    """The job with the keys that a cure's sentence says."""
    said = text.partition("tried: ")[2]
    for names, mitre in re.findall(r"\[\[junction\]\] members = \[(.*?)\](, mitre = true)?", said):
        order = {"members": re.findall(r'"(.*?)"', names), "mitre": bool(mitre)}
        job = job.changed({"junction": [*job.to_dict().get("junction", ()), order]})
    for end, point, name in re.findall(r"\b(from|to) = \[(.*?)\] for '(.*?)'", said):
        job = job.changed({f"member.{name}.{end}": [float(v) for v in point.split(",")]})
    for roll, name in re.findall(r"roll = (\S+) for '(.*?)'", said):
        job = job.changed({f"member.{name}.roll": float(roll)})
    return job


@pytest.mark.usefixtures("alone")
def test_the_cures_of_all_nodes_hold_together():
    job = FrameJob.from_dict(BAY)
    found = curable(study(job).results.findings)
    cures = list(dict.fromkeys(f.text.partition("Cure of ")[2] for f in found))
    assert len(found) > len(cures) == 4  # one cure a node, the same for all that is wrong there
    for text in cures:
        job = cured(job, text)
    assert not curable(study(job).results.findings)


@pytest.mark.parametrize("order", [("a", "b", "post"), ("a", "post", "b")])
def test_two_tubes_nearly_in_line_are_mitred(order):
    """The mitre cures both that what stands on them lands past one's end and that they run past each
    other."""
    c, s = math.cos(math.radians(12)), math.sin(math.radians(12))
    tubes = {
        "a": Tube("a", Member.square((0, 0, 0), (-300, 0, 0), 30, 2)),
        "b": Tube("b", Member.square((0, 0, 0), (300 * c, 0, 300 * s), 30, 2)),
        "post": Tube("post", Member.square((0, 0, 0), (20, 0, -280), 30, 2)),
    }
    found = curable(advised(junctions([tubes[n] for n in order])))
    assert len(found) == 2
    assert all('[[junction]] members = ["a", "b"], mitre = true.' in f.text for f in found)


def test_what_nothing_cures_says_so():
    found = curable(
        advised(
            junctions(
                [
                    Tube("thin", Member.tube((-300, 0, 0), (300, 0, 0), 20, 2)),
                    Tube("wide", Member.tube((0, 0, 0), (0, 0, 300), 30, 2)),
                ]
            )
        )
    )
    assert len(found) == 1 and "none does better: close what is open with a plate" in found[0].text
