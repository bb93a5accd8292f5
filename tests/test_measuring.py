"""Measuring against exact geometry, sampled tape errors and the job file's own demands."""

import math
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assemblies.job import STARTER, Job, JobError
from assemblies.tolerances import measuring_sheet
from assemblies.tolerances.measuring import averaged, averages, lines, read, sheet, taped_point, trilaterate

DATUMS = np.array([[0, 0, 0], [900, 0, 20], [0, 850, 0], [880, 820, 640.0]])
NAMED = dict(zip("ABCD", map(tuple, DATUMS), strict=True))
inside = st.tuples(st.floats(100, 800), st.floats(100, 750), st.floats(120, 600))


def tapes(point, datums=DATUMS):
    return np.linalg.norm(np.asarray(point) - datums, axis=-1)


@given(st.lists(inside, min_size=1, max_size=20))
@settings(max_examples=50, deadline=None)
def test_exact_distances_give_the_exact_point(points):
    points = np.array(points)
    found = trilaterate(DATUMS, tapes(points[:, None]))
    assert found.point == pytest.approx(points, abs=1e-6)
    assert np.abs(found.residual_mm).max() < 1e-6


@given(inside, st.booleans())
@settings(max_examples=50, deadline=None)
def test_three_datum_points_see_two_places_and_a_rough_place_decides(point, below):
    """The second place is the mirror image in the plane of the three datum points."""
    p, three = np.array(point), DATUMS[:3]
    normal = np.cross(three[1] - three[0], three[2] - three[0])
    normal = normal / np.linalg.norm(normal)
    image = p - 2 * ((p - three[0]) @ normal) * normal
    true = image if below else p
    assert trilaterate(three, [tapes(p, three)], near_mm=true + 20).point[0] == pytest.approx(true, abs=1e-5)
    with pytest.raises(ValueError, match="two places fit"):
        trilaterate(three, [tapes(p, three)])


def test_tape_error_becomes_the_stated_error():
    """4000 seeded measurings with a tape good to ±0.4 (σ = 0.2): covariance of the places found, misses of
    the spare, residuals."""
    rng, n, p = np.random.default_rng(4), 4000, np.array([420.0, 300.0, 350.0])
    found = trilaterate(DATUMS, tapes(p) + rng.normal(0, 0.2, (n, 4)), tape_mm=0.4)
    assert np.cov(found.point.T) == pytest.approx(
        found.covariance.mean(0), abs=0.06 * found.covariance.mean(0).max()
    )
    assert found.point.mean(0) == pytest.approx(p, abs=4 * found.sigma_mm[0].max() / math.sqrt(n))
    assert found.spare_mm.std(0) == pytest.approx(found.spare_sigma_mm.mean(0), rel=0.06)
    assert (found.rms_mm**2).mean() == pytest.approx(0.04, rel=0.1)  # one degree of freedom


def test_the_spare_is_the_distance_that_the_others_do_not_explain():
    """Leave one out and solve: what that tape then misses is its spare residual."""
    p = np.array([420.0, 300.0, 350.0])
    read_ = tapes(p) + np.array([0.4, -0.3, 0.5, 1.2])
    found = trilaterate(DATUMS, [read_])
    for i in range(4):
        others = [k for k in range(4) if k != i]
        alone = trilaterate(DATUMS[others], [read_[others]], near_mm=p).point[0]
        assert found.spare_mm[0, i] == pytest.approx(read_[i] - np.linalg.norm(alone - DATUMS[i]), abs=0.01)


def test_a_wrong_tape_is_flagged_and_a_good_one_is_not():
    p = (420.0, 300.0, 350.0)
    good = taped_point("rocker.pivot", "left", NAMED, dict(zip("ABCD", tapes(p), strict=True)))
    assert not good.bad and abs(good.spare[1]) < 1e-6 and good.place_mm == pytest.approx(p, abs=1e-6)
    off = taped_point(
        "rocker.pivot", "left", NAMED, dict(zip("ABCD", tapes(p) + np.array([0, 0, 0, 10]), strict=True))
    )
    assert off.bad and any("measure again" in r for r in off.remarks)
    alone = taped_point("rocker.pivot", "left", NAMED, dict(zip("ABC", tapes(p)[:3], strict=True)), near_mm=p)
    assert any("no spare" in r for r in alone.remarks)


@pytest.mark.parametrize(("angle", "bad"), [(25, True), (32, False), (90, False), (148, False), (155, True)])
def test_bad_triangles_are_flagged(angle, bad):
    """Two datum points seen under `angle` from the point: under 30 or over 150 deg the error grows by
    1/sin."""
    p = np.array([500.0, 500.0, 400.0])
    half = math.radians(angle / 2)
    datums = {
        "A": p + 600 * np.array([math.sin(half), -math.cos(half), 0.0]),
        "B": p + 600 * np.array([-math.sin(half), -math.cos(half), 0.0]),
        "C": p + np.array([0.0, 60.0, -500.0]),
    }
    found = taped_point(
        "x", "left", datums, {k: float(np.linalg.norm(p - v)) for k, v in datums.items()}, near_mm=p
    )
    assert found.place_mm == pytest.approx(p, abs=1e-5)
    said = [r for r in found.remarks if "bad triangle A-B" in r]
    assert bool(said) == bad
    if bad:
        assert f"{angle:.0f} deg" in said[0] and f"{1 / math.sin(math.radians(angle)):.1f}" in said[0]


def test_what_cannot_be_a_point_is_refused():
    with pytest.raises(ValueError, match="one line"):
        trilaterate([[0, 0, 0], [1, 0, 0], [2, 0, 0]], [[1, 1, 1]])
    with pytest.raises(ValueError, match="three datum points"):
        trilaterate(DATUMS[:2], [[1, 1]])
    with pytest.raises(ValueError, match="do not meet"):
        trilaterate(DATUMS, [[100, 100, 100, 100]])
    with pytest.raises(ValueError, match="above 0"):
        trilaterate(DATUMS, [[100, -100, 100, 100]])
    with pytest.raises(ValueError, match="datum Q is not given"):
        taped_point("x", "left", NAMED, {"A": 1, "B": 2, "Q": 3})


def test_left_and_right_averaged():
    mean, difference = averaged([100, 351, 200], [102, -349, 200])
    assert mean.tolist() == [101, 350, 200] and difference.tolist() == [-2, 2, 0]


FILE = """
tape_accuracy = 2
[datum]
A = [0, 0, 0]
B = [900, 0, 20]
C = [0, 850, 0]
D = [880, 820, 640]
[[point]]
name = "rocker.pivot"
distances = {A = %s, B = %s, C = %s, D = %s}
[[point]]
name = "rocker.pivot"
side = "right"
at = [421, "-11.74 in", 350]
[[point]]
name = "rod.inboard"
at = [400, 310, 250]
"""


def test_a_file_of_points(tmp_path):
    path = tmp_path / "points.toml"
    path.write_text(FILE % tuple(f"{d:.3f}" for d in tapes((420, 300, 350))), encoding="utf-8")
    m = read(path)
    assert [(p.name, p.side) for p in m.points] == [
        ("rocker.pivot", "left"),
        ("rocker.pivot", "right"),
        ("rod.inboard", "left"),
    ]
    assert m.points[0].place_mm == pytest.approx((420, 300, 350), abs=0.01)
    (a,) = m.averages
    assert a.difference_mm == pytest.approx((-1, 300 - 11.74 * 25.4, 0), abs=0.02) and "measuring" in a.remark
    pasted = next(block for title, block in lines(m) if "job file" in title)
    assert tomllib.loads("\n".join(pasted))["rod"]["inboard"] == [400.0, 310.0, 250.0]
    for bad, said in (
        ('side = "right"', 'side = "top"'),
        ("at = [400, 310, 250]", "at = [400, 310]"),
        ('name = "rod.inboard"', 'nam = "x"'),
        ("tape_accuracy", "tape"),
    ):
        path.write_text((FILE % (1, 2, 3, 4)).replace(bad, said), encoding="utf-8")
        with pytest.raises(ValueError, match=r"top|x, y, z|nam|tape|do not meet"):
            read(path)
    far = averages(
        [type(m.points[0])("x", "left", (0, 300, 0)), type(m.points[0])("x", "right", (0, -306, 0))]
    )
    assert "frame" in far[0].remark


# ------------------------------------------------------------ the sheet asks for what the file needs


def _without(given: dict, key: str) -> dict:
    *tables, last = key.split(".")
    inner = given
    for t in tables:
        inner = inner[t]
    del inner[last]
    return given


def test_the_sheet_asks_for_exactly_what_the_job_file_needs():
    """Leave out any key the sheet calls needed and the job is refused; a job of those keys alone (and name,
    kind of spring) is read."""
    wanted = measuring_sheet.asks("leaf-pack")
    given = tomllib.loads(STARTER.read_text(encoding="utf-8"))
    keys = [a.key.replace(" (leaf-pack)", "") for a in wanted if a.needed]
    assert len(keys) > 40 and len(set(keys)) == len(keys)
    for key in keys:
        with pytest.raises(JobError):
            Job.from_dict(_without(tomllib.loads(STARTER.read_text(encoding="utf-8")), key))
    only: dict = {"name": "bare", "spring": {"kind": "leaf-pack"}}
    for key in keys:
        *tables, last = key.split(".")
        inner, source = only, given
        for t in tables:
            inner, source = inner.setdefault(t, {}), source[t]
        inner[last] = source[last]
    assert only["spring"]["housing"] == {"member": "spring tube"}  # a frame tube, or one of its own
    only["spring"]["housing"] = {"outer": 60.3, "wall": 2.9}
    Job.from_dict(only)
    assert {a.key for a in measuring_sheet.asks() if a.kind == "point"} >= {
        "rocker.pivot",
        "rod.inboard",
        "damper.chassis_eye",
        "tie_rod.inner",
        "wheel.centre",
    }


@pytest.mark.parametrize("side", ["left", "right"])
def test_every_key_is_printed(side, tmp_path):
    from pypdf import PdfReader

    text = " ".join(p.extract_text() for p in PdfReader(sheet(tmp_path / "sheet.pdf", side)).pages)
    for a in measuring_sheet.asks():
        assert a.key in text
    assert f"{side} corner" in text
    with pytest.raises(ValueError, match="top"):
        sheet(tmp_path / "sheet2.pdf", "top")


def test_a_right_corner_gets_its_points_on_the_right(tmp_path):
    """Points of a right corner have y below 0, whichever side was measured and whatever was averaged; the
    side comes from --side, else from the points."""
    from typer.testing import CliRunner

    from assemblies.command.cli import app

    path = tmp_path / "points.toml"
    path.write_text(
        '[[point]]\nname = "rod.inboard"\nside = "right"\nat = [10, -302, 450]\n', encoding="utf-8"
    )
    assert "[10.0, -302.0, 450.0]" in " ".join(lines(read(path))[-1][1])
    both = path.read_text() + '[[point]]\nname = "rod.inboard"\nside = "left"\nat = [10, 300, 450]\n'
    path.write_text(both, encoding="utf-8")
    assert "[10.0, 301.0, 450.0]" in " ".join(lines(read(path))[-1][1])
    done = CliRunner().invoke(app, ["measure", str(path), "--side", "right"])
    assert "inboard = [10.0, -301.0, 450.0]" in done.output and "right corner" in done.output
    assert CliRunner().invoke(app, ["measure", str(path), "--side", "middle"]).exit_code == 2


@pytest.mark.parametrize(("paper", "size"), [("A4", (210.0, 297.0)), ("Letter", (215.9, 279.4))])
def test_the_measuring_sheet_follows_the_paper(tmp_path, paper, size):
    from pypdf import PdfReader

    pages = PdfReader(sheet(tmp_path / "sheet.pdf", "right", paper)).pages
    for page in pages:
        assert [float(v) * 25.4 / 72 for v in page.mediabox[2:]] == pytest.approx(size, abs=0.1)
    assert len(pages) == 5 and "right corner" in pages[0].extract_text()
    with pytest.raises(ValueError, match="Legal"):
        sheet(tmp_path / "other.pdf", "right", "Legal")


def test_the_measuring_sheet_has_its_fonts_and_no_word_leaves_its_cell(tmp_path, monkeypatch):
    """As the command writes it: every font in the file, print of 7 points or more, each word within the box
    drawn for it and within the page's margin."""
    from pypdf import PdfReader
    from reportlab.pdfgen.canvas import Canvas
    from typer.testing import CliRunner

    from assemblies.command.cli import app

    box, mm = [], 72 / 25.4
    real = Canvas.drawString, Canvas.rect

    def words(page, x, y, text, **more):
        wide = page.stringWidth(text, page._fontname, page._fontsize)
        assert page._fontsize >= 7 and x + wide <= 200 * mm, text
        if box and abs(box[0] + 1 * mm - x) < 1e-6 and box[1] < y < box[1] + box[3]:
            assert wide <= box[2] - 1.5 * mm, text
        return real[0](page, x, y, text, **more)

    def cell(page, *at, **more):
        box[:] = at
        return real[1](page, *at, **more)

    monkeypatch.setattr(Canvas, "drawString", words)
    monkeypatch.setattr(Canvas, "rect", cell)
    file = tmp_path / "sheet.pdf"
    assert CliRunner().invoke(app, ["measure", str(file)], catch_exceptions=False).exit_code == 0
    fonts = {
        f["/FontDescriptor"].get("/FontFile2") is not None
        for page in PdfReader(file).pages
        for f in (f.get_object() for f in page["/Resources"]["/Font"].values())
        if "DejaVu" in f["/BaseFont"]
    }
    assert fonts == {True}


@pytest.mark.parametrize(
    "tapes, error, named",
    [
        (4, 25.0, 0.0),
        pytest.param(5, 25.0, 0.55, marks=pytest.mark.slow),
        pytest.param(6, 25.0, 0.8, marks=pytest.mark.slow),
    ],
)
def test_the_wrong_tape_is_named_or_it_is_said_that_none_can_be(tapes, error, named):
    """Random points and datum points, tapes good to ±2 mm, one of them `error` off: of 150, the share rightly
    named; hardly one wrongly (a tape that is off by its own luck too), and with four never any."""
    right = wrong = 0
    for seed in range(150):
        rng = np.random.default_rng(seed)
        names = "ABCDEF"[:tapes]
        datums = {n: rng.uniform([-900, -600, -100], [900, 900, 900]) for n in names}
        p = rng.uniform([-200, 300, 100], [200, 700, 600])
        read_ = {n: float(np.linalg.norm(p - datums[n]) + rng.normal(0, 1)) for n in names}
        bad = names[rng.integers(tapes)]
        read_[bad] += error * rng.choice([-1, 1])
        try:
            said = " ".join(taped_point("p", "left", datums, read_, 2.0, near_mm=p).remarks)
        except ValueError:
            continue  # the tapes do not meet at all, and that is said
        if "and they agree" in said:
            right, wrong = right + (f"tape {bad} is" in said), wrong + (f"tape {bad} is" not in said)
    assert wrong <= 2 and right >= named * 150
    if tapes == 4:
        assert right == wrong == 0
