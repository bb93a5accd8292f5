"""What was not looked at is one list, and no verdict reads as an all-clear while it is not empty."""

import json
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import demos
import pytest

from assemblies.results import summary
from assemblies.results.findings import Finding
from assemblies.results.gaps import BoltAccess, ClearanceRow
from assemblies.results.model import Results, parsed
from assemblies.results.strength import StrengthCheck, StrengthRow
from assemblies.results.words import unchecked, verdict

JOBS = Path(__file__).parents[1] / "assemblies" / "jobs"
CHECK = StrengthCheck(
    item="rod", case="bump", check="tension", demand=1, resistance=2, unit="N", use=0.5, source="s", ok=True
)
BOLT = BoltAccess(
    bolt="rod lug bolt",
    size="M10",
    length_mm=60,
    head="left",
    head_tool=None,
    nut_tool=None,
    tools_at_wheel_mm=0,
    out_at_wheel_mm=0,
)


def finding(level, code="gap"):
    return Finding(level=level, code=code, where="a to b", text="t")


def results(*levels, missing=(), gaps=(), **more):
    whole = dict(
        name="x",
        side="left",
        assumed=[],
        clearance=ClearanceRow(checked=True, tolerance_mm=0.1, not_checked=list(gaps)),
        strength=StrengthRow(checks=[CHECK], missing=list(missing)),
        access=[BOLT],
        findings=[finding(level) for level in levels],
    )
    return Results(**whole | more)


def test_only_a_corner_with_nothing_left_out_has_nothing_that_stops_it():
    assert verdict(results("note")).startswith("Nothing found stops this corner, and all")
    assert verdict(results("warn")).startswith("Nothing found stops this corner; one thing")
    assert unchecked(results()) == ""


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"missing": ["rod ends: no rating given"]}, "rod ends."),
        ({"gaps": ["rod to rail: too near"]}, "rod to rail."),
        ({"strength": StrengthRow()}, "strength."),
        ({"clearance": ClearanceRow(checked=False, tolerance_mm=0.1)}, "gaps."),
        ({"access": []}, "room for tools."),
        ({"findings": [finding("warn", "no-seat")]}, "a to b."),
    ],
)
def test_each_room_alone_changes_the_words(more, said):
    r = results(**more)
    gaps = "no gap was checked, one thing in all was not." if not r.clearance.checked else ""
    assert verdict(r).startswith(f"No all-clear: {gaps or 'one thing was not checked.'}")
    assert "stops this corner" not in verdict(r)
    assert unchecked(r) == f"Not checked, 1: {said}"
    planted = [finding("stop"), finding("stop"), finding("warn")]
    stopped = replace(r, findings=[*r.findings, *planted])
    more = "two more things" if r.findings else "one more thing"
    assert verdict(stopped) == (
        f"This corner does not work yet: two things must be put right first, {more} should be looked at, and "
        f"{gaps.removesuffix('.') or 'one thing was not checked'}."
    )


def test_pairs_left_out_for_one_reason_are_counted_each_and_named_together():
    r = results(gaps=["a to b: they ride together", "a to c: they ride together", "d to e: too near"])
    assert len(r.not_checked) == 3
    assert unchecked(r) == "Not checked, 3: 2 gaps between bodies (they ride together); d to e."


@lru_cache
def demo():
    return demos.corner("corrie-rear").results


def test_first_lines_of_terminal_and_json_hold_the_count_and_every_name():
    r = demo()
    assert r.strength.missing
    first = " ".join(summary.brief(r).splitlines()[0:2])
    assert f"{len(r.not_checked)} not checked, gaps among them" in " ".join(first.split())
    # of the summary; a screen names the first
    top = " ".join(" ".join(summary.text(r).splitlines()[:20]).split())
    assert f"Not checked, {len(r.not_checked)}:" in top and "No all-clear" in top
    assert f"Not checked, {len(r.not_checked)}:" in summary.brief(r)
    for text in r.strength.missing:
        assert text.split(":")[0].split(";")[0] in top
    told = json.loads(r.to_json())["not_checked"]
    assert len(told) == len(r.not_checked) >= len(r.strength.missing) + 2  # gaps and tools were left out
    assert parsed(r.to_json()).not_checked == r.not_checked
