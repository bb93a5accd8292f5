"""A kind of neighbour is one row of one table: job key, default, gap, words and heat follow from it."""

from pathlib import Path

import pytest

from assemblies.clearance.check import Limits
from assemblies.gaps.interference import ARTICLE
from assemblies.job import load
from assemblies.job.frame import KINDS
from assemblies.job.neighbours import HEAT_MM, NEIGHBOUR_KINDS, needs_heat
from assemblies.swing.file import AskedGaps

ROOT = Path(__file__).parent.parent / "assemblies"
TABLE = {k.word: k for k in NEIGHBOUR_KINDS}
# common practice of the trade
USUAL_MM = {"exhaust": 30, "hose": 15, "engine": 20, "driver": 25, "caliper": 8}


def job():
    return load(ROOT / "jobs" / "corrie-rear.toml")


@pytest.mark.parametrize("word", TABLE)
def test_a_kind_is_a_key_of_the_job_with_its_default_its_reason_and_its_words(word):
    kind, here = TABLE[word], job()
    assert kind.gap_mm == USUAL_MM[word] and kind.article.split()[0] in ("a", "an", "the")
    assert getattr(here.clearance, word) == kind.gap_mm and getattr(AskedGaps(), word) == kind.gap_mm
    told = next(a for a in here.assumed if a.key == f"clearance.{word}")
    assert (told.value, told.why) == (kind.gap_mm, kind.reason)
    assert word in KINDS and ARTICLE[word] == kind.article
    starter = (ROOT / "job" / "starter.toml").read_text(encoding="utf-8")
    assert f"#: {word} = {kind.gap_mm:g} " in starter


@pytest.mark.parametrize("word", TABLE)
def test_a_kind_asks_its_gap_of_the_job_and_heat_what_it_spoils(word):
    asked = job().changed({f"clearance.{word}": 41.5, "clearance.exhaust_heat": 99.0}).clearance
    limits = Limits.of(asked)
    for other in ("fixed", "moving"):
        assert limits.required_mm(word, other) == limits.required_mm(other, word) == 41.5
    for other in TABLE:
        hot = {word, other} == {"exhaust", "hose"}
        assert needs_heat(word, other) == hot
        assert limits.required_mm(word, other) == (
            99.0 if hot else max(41.5, TABLE[other].gap_mm if other != word else 0)
        )
    assert HEAT_MM == 75
