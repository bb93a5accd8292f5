"""The report: what it says, what it draws, how it moves, and that nothing in it runs that should not."""

from __future__ import annotations

import base64
import json
import math
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import demos
import numpy as np
import pytest

from assemblies.job import load
from assemblies.making import report
from assemblies.making.report.filling import SCRIPTS
from assemblies.making.report.numbers import floored, shown, signed
from assemblies.making.report.scene import mesh, quaternions
from assemblies.making.report.tables import cut_groups
from assemblies.results import curves
from assemblies.results.findings import Finding
from assemblies.results.gaps import ClearanceRow, PairRow
from assemblies.results.making import CutRow
from assemblies.results.model import Results
from assemblies.results.strength import StrengthRow
from assemblies.results.travel import AssumedRow
from assemblies.steering.places import zone_row
from parts.files import measured
from parts.shape import drawing as blanks
from parts.shape.belt import Boss, belt
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Hole, Outline, circle, rectangle
from tests.browser import browsers, opened, violations

pytestmark = pytest.mark.slow  # its page and a browser take half a minute to come

JOBS = Path(__file__).parent.parent / "assemblies" / "jobs"
DATA = re.compile(r'(<script type="application/json" id="data">)(.*?)(</script>)', re.S)
HEIGHTS = (-41.3, -12.5, 0.0, 20.7, 54.0)


# ------------------------------------------------------------ a real corner


def _line(group: str, item: str) -> CutRow:
    return CutRow(
        group=group,
        item=item,
        count=1,
        stock="",
        length_mm=None,
        material="",
        mass_each_kg=None,
        mass_kg=None,
        cost=None,
        note="",
    )


def _lighter(path: Path, done, shapes) -> Path:
    """The page with coarser meshes (3 mm): a browser without a graphics card draws slowly."""
    text = path.read_text(encoding="utf-8")
    data = _data(text)
    scene = data["scene"]
    for part, placed in zip(scene["parts"], done.layout.placed, strict=True):
        if not part["twist"]:
            coarse = measured.triangles(shapes[placed.name], 3.0, 1.6)
            scene["meshes"][part["mesh"]] = mesh(*coarse)
    body = json.dumps(data).replace("<", "\\u003c")
    path.write_text(DATA.sub(lambda m: m[1] + body + m[3], text), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """The steered demo corner: study, results with the gaps of a few pairs, solids, and its written page."""
    from assemblies.clearance import Limits, check
    from assemblies.layout import bodies as neighbours
    from parts.files.solid import solid

    job = load(JOBS / "heronbank-front.toml")
    done = demos.corner("heronbank-front")
    near = ("rocker", "lower rail", "damper", "header tank")
    found = check(
        [b for b in neighbours.bodies(done.layout) if b.name in near],
        done.mechanism,
        (-job.corner.droop, job.corner.bump),
        job.tie_rod.rack_travel,
        [j for j in neighbours.joints(done.layout) if j.a in near and j.b in near],
        Limits.of(job.clearance),
        0.1,
    )
    pairs = [
        PairRow(
            a=p.a,
            b=p.b,
            kind=p.kind,
            gap_mm=p.gap_mm,
            found_gap_mm=p.found_gap_mm,
            required_mm=p.required_mm,
            at_wheel_mm=p.at_wheel_mm,
            at_rack_mm=p.at_rack_mm,
            ok=p.ok,
            point_a=list(p.point_a),
            point_b=list(p.point_b),
        )
        for p in found.pairs
    ]
    zone = zone_row(job, done.layout, done.springing.ends, look=False)
    results = replace(
        done.results,
        clearance=ClearanceRow(checked=True, tolerance_mm=0.1, pairs=pairs),
        steering=replace(done.results.steering, zone=zone),
        cut_list=[
            _line("plate", "rocker plate"),
            _line("bar", "pivot stub"),
            _line("open", "not laid out"),
        ],
        findings=[
            *done.results.findings,
            Finding(level="warn", code="planted", where="rod", text="So that there is one to be seen."),
        ],
    )
    shapes = {p.name: solid(p.form) for p in done.layout.placed}
    path = report.write(done, results, tmp_path_factory.mktemp("report"), shapes)
    text = path.read_text(encoding="utf-8")
    return SimpleNamespace(
        job=job,
        study=done,
        results=results,
        shapes=shapes,
        text=text,
        path=_lighter(path, done, shapes),
        json=json.loads(results.to_json()),
    )


@pytest.fixture(scope="module")
def some_browsers():
    with browsers() as found:
        yield found


@pytest.fixture(scope="module")
def browser(some_browsers):
    return some_browsers.get()


@pytest.fixture(scope="module")
def flat_browser(some_browsers):
    """Without 3D, which software draws slowly: for what is not in the 3D view."""
    return some_browsers.get(gl=False)


def _curve(made, name: str, wheel: float) -> float:
    t = made.json["travel"]
    return float(np.interp(wheel, t["wheel_mm"], t[name]))


def _data(text: str) -> dict:
    return json.loads(DATA.search(text)[2])


# ------------------------------------------------------------ numbers of the scene


def test_quaternions_agree_with_a_reference_library():
    """scipy's Rotation, an independent implementation, on random turns and on half turns, where the real part
    is 0."""
    from scipy.spatial.transform import Rotation

    turns = Rotation.random(500, random_state=3)
    half = Rotation.from_rotvec(
        math.pi * np.array([[1, 0, 0], [0, 1, 0], [0, 0, 1], [0.6, 0.8, 0], [1 / 3, -2 / 3, 2 / 3]])
    )
    for reference in (turns, half):
        q = quaternions(reference.as_matrix())
        assert (q[:, 3] >= -1e-12).all()
        assert np.allclose(Rotation.from_quat(q).as_matrix(), reference.as_matrix(), atol=1e-12)


def _volume(m: dict) -> float:
    """Of a closed mesh wound outwards, by the divergence theorem: a sixth of the sum of a · (b x c)."""
    raw = np.frombuffer(base64.b64decode(m["corners"]), "<u2").reshape(-1, 3)
    corners = np.array(m["low"]) + raw * np.array(m["step"])
    faces = np.frombuffer(base64.b64decode(m["faces"]), "<u4" if m["wide"] else "<u2").reshape(-1, 3)
    a, b, c = (corners[faces[:, k]] for k in range(3))
    return float((a * np.cross(b, c)).sum() / 6)


@pytest.mark.parametrize(
    ("form", "share"),
    [
        (Form((Prism(Outline(rectangle(-30, -10, 50, 25)), 4.0),)), 1e-4),
        (
            Form(
                (
                    Prism(
                        Outline(belt([Boss(0, 0, 20), Boss(80, 10, 12)]), holes=(Hole(0, 0, 12, "pivot"),)),
                        3.0,
                    ),
                )
            ),
            2e-3,
        ),
        (Form((Round(60, 400, 56),)), 2e-2),
    ],
    ids=["rectangle", "two bosses and a hole", "thin tube"],
)
def test_packed_mesh_encloses_the_closed_form_volume(form, share):
    """Area times thickness, or the ring's; what is missing is chord error of the tessellation (0.1 mm) and
    16-bit rounding."""
    from assemblies.making.report.scene import triangles
    from parts.files.solid import solid

    want = sum(p.volume_mm3 for p in form.pieces)
    assert _volume(mesh(*triangles(form, solid(form)))) == pytest.approx(want, rel=share)


def test_mesh_coordinates_are_within_half_a_step():
    rng = np.random.default_rng(5)
    corners = rng.uniform([-900, 10, -3], [1200, 14, 5], (400, 3))
    m = mesh(corners, np.array([[0, 1, 2]]))
    back = np.array(m["low"]) + np.frombuffer(base64.b64decode(m["corners"]), "<u2").reshape(
        -1, 3
    ) * np.array(m["step"])
    assert (np.abs(back - corners) <= np.array(m["step"]) * 0.5001).all() and m["step"][0] < 0.035


# ------------------------------------------------------------ words and drawings


def _results(**more) -> Results:
    return Results(
        name="x",
        side="left",
        assumed=[],
        clearance=ClearanceRow(checked=False, tolerance_mm=0.1),
        **{"findings": [], **more},
    )


def test_numbers_for_reading_have_a_true_minus_and_no_minus_zero():
    assert (shown(-0.04, 1), shown(-1.25, 2), shown(None), shown(float("nan"))) == ("0.0", "−1.25", "–", "–")
    assert (signed(3), signed(-3.2, 1), signed(0.0), signed(-0.001, 1)) == ("+3", "−3.2", "0", "0.0")


def test_a_guaranteed_gap_is_never_rounded_up():
    assert (floored(19.966), floored(20.0), floored(-0.311), floored(0.004)) == (
        "19.96",
        "20.00",
        "−0.32",
        "0.00",
    )


@pytest.mark.parametrize(
    ("low", "high"), [(-45, 55), (0.3931, 0.4177), (-1e4, 3e5), (-0.02, 0.003), (225, 285)]
)
def test_ticks_are_round_and_inside(low, high):
    found = curves.ticks(low, high)
    assert 3 <= len(found) <= 12
    assert min(found) >= low - 1e-9 * abs(low) and max(found) <= high + 1e-9 * abs(high)
    step = found[1] - found[0]
    assert np.allclose(np.diff(found), step)
    digit = step / 10 ** math.floor(math.log10(step) + 1e-9)
    assert min(abs(digit - d) for d in (1, 2, 5)) < 1e-6


def test_drawn_curve_reads_back_as_the_results(made):
    """Every corner of the path, taken back through the scale written in the drawing, is the value in
    results.json (to 0.1 dot)."""
    t = made.json["travel"]
    for f, key in zip(
        curves.figures(made.results, made.job),
        ("rocker_deg", "damper_mm", "damper_per_wheel", "wheel_rate_n_per_mm"),
        strict=False,
    ):
        text = curves.svg(f)
        d = {k: float(v) for k, v in re.findall(r'data-(\w+)="([^"]+)"', text)}
        path = re.search(r'class="curve" d="([^"]+)"', text)[1]
        at = np.array([[float(v) for v in pair.split()] for pair in re.split("[ML]", path)[1:]])
        x = d["x0"] + (at[:, 0] - d["left"]) / (d["right"] - d["left"]) * (d["x1"] - d["x0"])
        y = d["y1"] - (at[:, 1] - d["top"]) / (d["floor"] - d["top"]) * (d["y1"] - d["y0"])
        assert np.allclose(
            x, t["wheel_mm"], atol=0.06 * (d["x1"] - d["x0"]) / (d["right"] - d["left"]) + 1e-9
        )
        assert np.allclose(y, t[key], atol=0.06 * (d["y1"] - d["y0"]) / (d["floor"] - d["top"]))


def test_gaps_at_poses_meet_the_check_and_the_kernel(made):
    """Nowhere under what the check proved, at the tightest pose what it found; at two other poses the CAD
    kernel's distance, less the tenth of the tolerance by which pieces reach past the metal."""
    from assemblies.clearance import Limits
    from assemblies.clearance.at_poses import at_poses
    from assemblies.clearance.confirm import exact
    from assemblies.layout import bodies as neighbours
    from assemblies.making.report.gaps import fields, gap_curves

    found = fields(made.study, made.results)
    for f in found:
        assert np.nanmin(f.gap_mm) > f.pair.gap_mm - 1e-3
        assert np.nanmin(f.spare_mm) == pytest.approx(f.pair.found_gap_mm - f.pair.required_mm, abs=0.05)
    for pair, curve in zip(made.results.clearance.pairs, gap_curves(found, made.results), strict=False):
        assert min(curve.y) == pytest.approx(pair.found_gap_mm, abs=0.05) and None not in curve.y
        assert curve.asked == pair.required_mm
    f = next(f for f in found if {f.pair.a, f.pair.b} == {"rocker", "lower rail"})
    bodies, joints = neighbours.bodies(made.study.layout), neighbours.joints(made.study.layout)
    for i, j in ((0, 1), (6, 0)):
        pose = made.study.mechanism.at(f.wheel_mm[i], f.rack_mm[j])
        true, _ = exact(f.pair.a, f.pair.b, bodies, pose, joints)
        assert true - 0.025 < f.gap_mm[i, j] <= true + 1e-3
    far = ("rod", "lower_arm")  # many pieces whose boxes are nearer than they are
    (gap,) = at_poses(far, bodies, joints, made.study.mechanism, [20.0], [0.0], Limits()).gap_mm
    true, _ = exact(*far, bodies, made.study.mechanism.at(20.0, 0.0), joints)
    assert true - 0.025 < gap <= true + 1e-3


def test_the_dampers_moment_arm_is_its_length_by_the_rockers_angle(made):
    """Virtual work: torque about the pivot for a newton of tension in the damper is -dl/dtheta, here by
    differences of two other curves."""
    t = {k: np.array(v, float) for k, v in made.json["travel"].items() if v and v[0] is not None}
    by_differences = -np.gradient(t["damper_mm"], np.radians(t["rocker_deg"]))
    assert t["damper_moment_arm_mm"][1:-1] == pytest.approx(by_differences[1:-1], rel=1e-3)


def test_a_curve_with_nothing_in_places_is_broken_there():
    s = curves.Scale(0, 3, 0, 1)
    assert curves.path([0, 1, 2, 3], [0.0, None, 0.5, 1.0], s).count("M") == 2


def test_toggle_band_is_the_moment_arm_at_the_limit_angle(made):
    """Closed form: the arm of a force at 40 deg to a lever of length r is r·sin 40°."""
    f = next(f for f in curves.figures(made.results, made.job) if f.key == "moment-arm")
    t = made.json["travel"]
    i = int(np.argmax(np.abs(t["rod_moment_arm_mm"])))
    lever = (
        abs(t["rod_moment_arm_mm"][i])
        / math.sin(math.radians(t["rod_to_arm_deg"][i]))
        / math.cos(math.radians(t["rod_inboard_tilt_deg"][i]))
    )
    assert f.bands[0].high == pytest.approx(lever * math.sin(math.radians(40)), rel=1e-6)


def test_sections_stand_only_where_there_is_something_to_say(made):
    for here in ("findings", "corner", "curves", "gaps", "parts", "set-up", "assumed"):
        assert f'<section id="{here}"' in made.text
    bare = report.page(
        made.study,
        replace(made.study.results, strength=StrengthRow(), setup=None, assumed=[], cut_list=[]),
    )
    for missing in ("corner", "gaps", "strength", "assumed", "files", "cut-list"):
        assert f'id="{missing}"' not in bare and f'href="#{missing}"' not in bare


def test_every_link_within_the_page_leads_somewhere(made):
    ids = re.findall(r' id="([^"]+)"', made.text)
    assert len(ids) == len(set(ids))
    for target in re.findall(r'href="#([^"]+)"', made.text):
        assert target in ids


def test_a_corner_that_cannot_stand_still_has_a_page():
    job = load(JOBS / "heronbank-front.toml")
    stuck = SimpleNamespace(job=job, layout=None, springing=None, mechanism=None)
    text = report.page(
        stuck,
        _results(
            findings=[Finding(level="stop", code="spring", where="ride height", text="It cannot stand.")]
        ),
    )
    assert "It cannot stand." in text and "does not work yet" in text and 'id="curves"' not in text


def test_cut_list_keeps_the_order_of_its_groups():
    r = _results(cut_list=[_line("tube", "a"), _line("bar", "b"), _line("tube", "c")])
    assert [(g, [x.item for x in rows]) for g, rows in cut_groups(r)] == [
        ("tube", ["a", "c"]),
        ("bar", ["b"]),
    ]


def test_page_is_small_and_asks_for_nothing(made):
    assert len(made.text.encode()) < 5_000_000
    policy = re.search(r'http-equiv="Content-Security-Policy" content="([^"]+)"', made.text)[1]
    assert (
        policy.startswith("default-src &#39;none&#39;;")
        and "unsafe" not in policy
        and "connect-src" not in policy
    )
    outside = re.sub(r"<script>.*?</script>", "", made.text, flags=re.S)
    for attribute in re.findall(r'(?:src|href|action|xlink:href)="([^"]*)"', outside):
        assert attribute.startswith(("#", "data:")) or not re.match(r"[a-z][a-z0-9+.-]*:|//", attribute), (
            attribute
        )
    assert " onclick=" not in outside and " style=" not in outside


def test_vendored_library_carries_its_licence():
    folder = Path(report.__file__).parent
    licence = (folder / "vendor" / "three.LICENSE.txt").read_text(encoding="utf-8")
    assert (
        "Permission is hereby granted" in licence
        and "Permission is hereby granted" in (folder / SCRIPTS[0]).read_text(encoding="utf-8")[:2500]
    )


def test_pictures_are_real_and_differ_between_poses(made):
    from io import BytesIO

    from PIL import Image

    shots = list(dict.fromkeys(re.findall(r'<img src="data:image/png;base64,([^"]+)"', made.text)))
    images = [np.asarray(Image.open(BytesIO(base64.b64decode(s))).convert("RGB")) for s in shots]
    assert len(images) == 3 and all(i.shape == images[0].shape and i.shape[1] == 900 for i in images)
    for one, two in ((0, 1), (1, 2)):
        assert 0.02 < (np.abs(images[one].astype(int) - images[two]).max(-1) > 30).mean() < 0.7


# ------------------------------------------------------------ in the browser


@pytest.mark.parametrize("size", ["desktop", "phone"])
def test_slider_moves_every_body_as_the_results_say(made, flat_browser, size):
    """From the scene's own points: damper length, wheel height, camber, toe and rocker angle as in
    results.json."""
    axis = np.array(made.job.rocker.axis) / np.linalg.norm(made.job.rocker.axis)
    with opened(flat_browser, made.path.as_uri(), size) as tab:
        for wheel in HEIGHTS:
            tab.eval_on_selector(
                "#wheel",
                "(e, v) => { e.value = v; e.dispatchEvent(new Event('input', {bubbles: true})); }",
                str(wheel),
            )
            at = {
                n: np.array(tab.evaluate("n => corner.point(n)", n))
                for n in (
                    "damper_eye",
                    "damper_chassis",
                    "wheel_centre",
                    "rod_inboard",
                    "rod_outboard",
                    "upper_outer",
                    "lower_outer",
                )
            }
            assert np.linalg.norm(at["damper_eye"] - at["damper_chassis"]) == pytest.approx(
                _curve(made, "damper_mm", wheel), abs=0.01
            )
            assert at["wheel_centre"][2] - made.job.wheel.centre[2] == pytest.approx(wheel, abs=0.01)
            assert np.linalg.norm(at["rod_inboard"] - at["rod_outboard"]) == pytest.approx(
                math.dist(made.job.rod.inboard, made.job.rod.outboard), abs=0.02
            )
            rocker, upright = (
                np.array(tab.evaluate("c => corner.matrix(c)", c)).reshape(4, 4).T
                for c in ("rocker", "upright")
            )
            arm = np.cross(axis, [0.3, 0.9, 0.1])
            turned = rocker[:3, :3] @ arm
            angle = math.degrees(math.atan2(axis @ np.cross(arm, turned), arm @ turned))
            assert angle == pytest.approx(_curve(made, "rocker_deg", wheel), abs=0.01)
            spin = upright[:3, :3] @ [
                0.0,
                1.0,
                0.0,
            ]  # outboard on the left: camber -asin(z), toe atan2(x, y), ISO 8855 signs
            assert math.degrees(-math.asin(spin[2])) == pytest.approx(
                _curve(made, "camber_deg", wheel), abs=0.005
            )
            assert math.degrees(math.atan2(spin[0], spin[1])) == pytest.approx(
                _curve(made, "toe_deg", wheel), abs=0.005
            )
            _rocker_in_its_plane(made, tab, wheel)


DRAWN = r"""() => {
    const one = q => document.querySelector(`.rockerplane ${q}`);
    const box = e => { const b = e.getBoundingClientRect(); return [b.x + b.width / 2, b.y + b.height / 2]; };
    const ends = q => one(q).getAttribute("d").match(/-?[\d.]+/g).map(Number);
    const all = q => [...document.querySelectorAll(`.rockerplane ${q}`)].map(box);
    return {rodArm: ends(".arm.rod"), eyeArm: ends(".arm.eye"), rod: ends(".force.rod"),
            eye: ends(".force.eye"), holes: all(".plate circle"), pins: all(".pin")}; }"""


def _rocker_in_its_plane(made, tab, wheel: float) -> None:
    """The lengths told are the results'; those drawn are to each other as the results' over the cosines of
    their tilts; the plate turns with its pins, and an arm is square to its line."""
    said = {k: tab.inner_text(f"[data-rocker={k}]").split()[0] for k in ("rodArm", "eyeArm", "toggle")}
    want = {
        k: abs(_curve(made, f"{n}_moment_arm_mm", wheel))
        for k, n in (("rodArm", "rod"), ("eyeArm", "damper"))
    }
    angle = _curve(made, "rod_to_arm_deg", wheel)
    for k, v in (want | {"toggle": min(angle, 180 - angle)}).items():
        assert float(said[k]) == pytest.approx(v, abs=0.051), k
        assert f"{said[k]}" in tab.text_content(f".rockerplane .name.{k}")
    drawn = tab.evaluate(DRAWN)
    tilt = {
        "rodArm": _curve(made, "rod_inboard_tilt_deg", wheel),
        "eyeArm": _curve(made, "damper_tilt_deg", wheel),
    }
    scale = [math.dist(drawn[k][:2], drawn[k][2:]) * math.cos(math.radians(tilt[k])) / want[k] for k in want]
    assert scale[0] == pytest.approx(scale[1], rel=0.005)
    for arm, force in (("rodArm", "rod"), ("eyeArm", "eye")):
        one, two = (np.subtract(drawn[k][2:], drawn[k][:2]) for k in (arm, force))
        assert abs(one @ two) / np.linalg.norm(one) / np.linalg.norm(two) < 0.01
    for pin in drawn["pins"]:
        assert min(math.dist(pin, hole) for hole in drawn["holes"]) < 1.0


def test_every_part_stands_where_the_mechanism_puts_it_with_rack_too(made, browser):
    """The drawn group of each part against the mechanism's own rigid motion: its frame's origin and a point
    300 mm along x."""
    probe = np.array([[0.0, 0, 0, 1], [300.0, 0, 0, 1]]).T
    with opened(browser, made.path.as_uri()) as tab:
        for wheel, rack in ((0.0, 0.0), (31.4, -17.3), (-44.0, 35.0)):
            tab.evaluate("([w, r]) => corner.setPose(w, r)", [wheel, rack])
            poses = made.study.mechanism.at(wheel, rack)
            drawn = {p["name"]: np.array(p["matrix"]).reshape(4, 4).T for p in tab.evaluate("corner.parts()")}
            assert set(drawn) == {p.name for p in made.study.layout.placed}
            for p in made.study.layout.placed:
                true = (np.eye(4) if p.carrier == "frame" else poses.frame(p.carrier)) @ p.frame.matrix()
                assert np.abs((drawn[p.name] - true) @ probe).max() < 0.03, p.name
            _spring_lies_as_drawn(made, tab.evaluate("corner.spring()"), wheel, rack)


def _spring_lies_as_drawn(made, spring, wheel: float, rack: float):
    """Every corner of the page's pack lies on the twisted solid that a STEP file shows at that pose, and all
    that solid's corners are there."""
    import cadquery as cq

    from assemblies.making.drawn import drawn

    (pack,) = drawn(made.study, wheel, rack, lambda p: p is made.study.layout.pack)
    mesh = np.array(spring[0]).reshape(-1, 3)
    some = mesh[:: max(1, len(mesh) // 40)]
    points = [cq.Vertex.makeVertex(*p) for p in some.tolist()]
    strips = [s.Shells()[0] for s in pack.shape.Solids()]
    assert max(min(v.distance(s) for s in strips) for v in points) < 0.1
    corners = np.array([v.toTuple() for v in pack.shape.Vertices()])
    assert np.linalg.norm(corners[:, None] - mesh, axis=-1).min(1).max() < 0.1


def test_clicking_a_pair_goes_to_its_pose_and_draws_the_gap(made, browser):
    from assemblies.making.report.gaps import fields

    pair = made.results.clearance.pairs[0]
    with opened(browser, made.path.as_uri()) as tab:
        tab.click(".pairs [data-pair='0']")
        tab.locator("#gap-label").wait_for(state="visible")
        now = tab.evaluate("corner.pose()")
        height = float(np.clip(pair.at_wheel_mm, -made.job.corner.droop, made.job.corner.bump))
        assert abs(height - pair.at_wheel_mm) < 1  # a pose at lock told at no rack may lie a little beyond
        assert (now["wheel"], now["rack"]) == pytest.approx((height, pair.at_rack_mm), abs=1e-6)
        assert f"{math.floor(100 * pair.gap_mm) / 100:.2f} mm".replace("-", "−") in tab.inner_text(
            "#gap-label"
        )
        assert math.dist(pair.point_a, pair.point_b) == pytest.approx(pair.found_gap_mm, abs=0.05)
        solid = {p["body"] for p in tab.evaluate("corner.parts()") if p["opacity"] == 1}
        assert solid == {pair.a, pair.b}
        field = next(f for f in fields(made.study, made.results) if f.index == 0)
        for i, j in ((3, 0), (-2, -1)):  # the gap lives: its line, its length told and never rounded up
            tab.evaluate("([w, r]) => corner.setPose(w, r)", [field.wheel_mm[i], field.rack_mm[j]])
            gap, line = field.gap_mm[i, j], tab.evaluate("corner.gap()")
            assert math.dist(*line) == pytest.approx(gap, abs=0.05)
            assert f"about {math.floor(10 * gap) / 10:.1f} mm here" in tab.inner_text("#gap-label")
        tab.click("#no-pair")
        assert (
            tab.is_hidden("#gap-label")
            and len({p["body"] for p in tab.evaluate("corner.parts()") if p["opacity"] == 1}) > 5
        )


def test_parts_can_be_hidden_isolated_and_seen_through(made, browser):
    with opened(browser, made.path.as_uri()) as tab:
        tab.click("#part-panel > summary")
        before = tab.locator("#canvas").screenshot()
        tab.locator("#partlist li.body", has_text="rocker").first.locator("input").uncheck()
        gone = {p["body"] for p in tab.evaluate("corner.parts()") if not p["shown"]}
        assert gone == {"rocker"}
        tab.wait_for_timeout(200)
        assert tab.locator("#canvas").screenshot() != before
        tab.click("#all-parts")
        assert all(p["shown"] for p in tab.evaluate("corner.parts()"))
        tab.get_by_role("button", name="damper: hide all else").click()
        assert {p["body"] for p in tab.evaluate("corner.parts()") if p["shown"]} == {"damper"}
        tab.click("#all-parts")
        tab.get_by_role("button", name="rocker: see through").click()
        assert all(p["opacity"] < 0.5 for p in tab.evaluate("corner.parts()") if p["body"] == "rocker")
        tab.click("#all-parts")
        _strength_on_the_model(made, tab)
        _lines_of_the_cut_list(made, tab)


def _strength_on_the_model(made, tab) -> None:
    """Each part in the colour of the greatest use among its rows; a bar lights its parts."""
    from assemblies.layout.account import Checked
    from assemblies.making.report.strength_parts import BANDS, IDLE, OPEN

    tab.click("#strength-switch")
    seen = {p["name"]: f"#{p['colour']}" for p in tab.evaluate("corner.parts()")}
    for p in made.study.layout.placed:
        if not isinstance(p.strength, Checked):
            assert seen[p.name] in (OPEN, IDLE), p.name
            continue
        use = max(c.use for c in made.results.strength.checks if c.item in p.strength.items)
        assert seen[p.name] == next(colour for most, colour, _ in BANDS if use <= most), p.name
    bars = tab.locator(".bars b").all_text_contents()
    assert float(bars[0]) == pytest.approx(max(c.use for c in made.results.strength.checks), abs=0.0101)
    assert [float(b) for b in bars] == sorted(map(float, bars), reverse=True)
    tab.locator(".bars button", has_text="rocker, rod eye").click()
    solid = {p["name"] for p in tab.evaluate("corner.parts()") if p["opacity"] == 1}
    assert solid == {
        p.name
        for p in made.study.layout.placed
        if isinstance(p.strength, Checked) and "rocker, rod eye" in p.strength.items
    }
    tab.click("#strength-switch")
    assert {p["colour"] for p in tab.evaluate("corner.parts()")} == {
        p["colour"].removeprefix("#") for p in _data(made.text)["scene"]["parts"]
    }


EMPTY = """() => {
    const c = document.createElement("canvas");
    [c.width, c.height] = [108, 72];
    return c.toDataURL(); }"""


def _lines_of_the_cut_list(made, tab) -> None:
    """A line with parts has their picture, and pressing it lights them; one that is not laid out has none."""
    tab.click("#cut-list > details > summary")
    tab.locator(".thumb canvas[data-drawn]").nth(1).wait_for()
    pictures = tab.evaluate("[...document.querySelectorAll('.thumb canvas')].map(c => c.toDataURL())")
    empty = tab.evaluate(EMPTY)
    assert len({*pictures, empty}) == 3
    tab.locator(".thumb").first.click()
    assert {p["name"] for p in tab.evaluate("corner.parts()") if p["opacity"] == 1} == {
        "rocker front plate",
        "rocker rear plate",
    }


def test_the_places_of_the_inner_joint_lie_in_the_view_at_its_fore_aft(made, browser):
    """A cell round each place within the limit, two triangles each; the marks at both places; off at
    first."""
    z = made.results.steering.zone
    dy, dz = abs(z.y_mm[1] - z.y_mm[0]) / 2, (z.z_mm[1] - z.z_mm[0]) / 2
    within = [
        (z.x_mm, y, height)
        for height, row in zip(z.z_mm, z.worst_deg, strict=True)
        for y, v in zip(z.y_mm, row, strict=True)
        if v is not None and v <= z.limit_deg
    ]
    with opened(browser, made.path.as_uri()) as tab:
        assert not tab.evaluate("corner.zone().shown") and not tab.is_visible("#zone-label")
        tab.locator("#canvas").scroll_into_view_if_needed()
        tab.click("#zone-switch")
        seen = tab.evaluate("corner.zone()")
        assert seen["shown"] and tab.is_visible("#zone-label")
        tab.wait_for_timeout(200)
        on = tab.locator("#canvas").screenshot()
        tab.click("#zone-switch")
        assert not tab.evaluate("corner.zone().shown") and not tab.is_visible("#zone-label")
        tab.wait_for_timeout(200)
        assert tab.locator("#canvas").screenshot() != on
    cells = np.array(seen["corners"]).reshape(-1, 6, 3)
    assert len(within) > 50
    np.testing.assert_allclose((cells.min(1) + cells.max(1)) / 2, within, atol=1e-3)
    np.testing.assert_allclose(np.ptp(cells, axis=1), [(0, 2 * dy, 2 * dz)] * len(within), atol=1e-3)
    np.testing.assert_allclose(seen["marks"], [made.job.tie_rod.inner, z.best.place_mm], atol=1e-9)


def test_the_lock_slider_says_what_the_results_have_at_its_place(made, flat_browser):
    s = made.results.steering
    with opened(flat_browser, made.path.as_uri()) as tab:
        for k in (len(s.lock.rack_mm) - 2, 0):
            tab.locator("#lock").fill(str(k))
            said = tab.inner_text("#lock-says")
            numbers = [float(v.replace("−", "-")) for v in re.findall(r"[+−]?\d+(?:\.\d+)?", said)]
            share = 100 * (s.lock.ackermann[k] if k else s.ackermann_limit)
            want = [s.lock.rack_mm[k], s.lock.inner_deg[k], s.lock.outer_deg[k]]
            assert numbers[:3] == pytest.approx(want, abs=0.051) and numbers[3] == pytest.approx(
                share, abs=0.51
            )
        tab.focus("#lock")
        tab.keyboard.press("ArrowRight")
        assert f"{s.lock.inner_deg[1]:.1f} deg" in tab.inner_text("#lock-says")


def test_view_works_by_keyboard_and_cuts(made, browser):
    with opened(browser, made.path.as_uri()) as tab:
        shots = [tab.locator("#canvas").screenshot()]
        tab.focus("#canvas")
        for key in ("ArrowLeft", "ArrowUp", "+", "Home"):
            tab.keyboard.press(key)
            tab.wait_for_timeout(120)
            shots.append(tab.locator("#canvas").screenshot())
        tab.select_option("#cut", "rocker")
        tab.wait_for_timeout(120)
        shots.append(tab.locator("#canvas").screenshot())
        assert len(set(shots)) == len(shots)
        assert tab.inner_text("#cut-out") == "from the pivot along the axis 0.0 mm"
        tab.select_option("#cut", "y")
        tab.locator("#cut-at").fill("0.5")
        at = float(tab.inner_text("#cut-out").split()[1].replace("−", "-"))
        assert min(made.job.tie_rod.inner[1], 0) - 300 < at < made.job.wheel.centre[1] + 200
        tab.select_option("#cut", "")
        _without_perspective(made, tab)
        _measured(made, tab)
        _apart(made, tab)
        tab.focus("#wheel")
        tab.keyboard.press("ArrowRight")
        tab.keyboard.press("PageUp")
        assert tab.evaluate("corner.pose().wheel") == 11


def _without_perspective(made, tab) -> None:
    """A millimetre is as long near as far, and alike across and upwards."""
    centre = np.array(made.job.wheel.centre)
    for button, across, up, deep in (("Front", 1, 2, 0), ("Side", 0, 2, 1), ("Top", 0, 1, 2)):
        tab.get_by_role("button", name=button, exact=True).click()
        way = np.eye(3) * 100.0
        at = [centre, centre + way[across], centre + way[up], centre + 4 * way[deep]]
        here, aside, above, behind = (np.array(tab.evaluate("p => corner.seen(p)", p.tolist())) for p in at)
        assert np.linalg.norm(aside - here) == pytest.approx(np.linalg.norm(above - here), rel=1e-3)
        assert np.linalg.norm(behind - here) < 0.2
    tab.click("[data-view='three-quarter']")


def _measured(made, tab) -> None:
    """Two presses on hard points measure between them, here and wherever the slider takes them."""
    tab.click("#names-switch")
    tab.click("#ground-switch")
    assert tab.locator("#names .point").count() == len(_data(made.text)["scene"]["points"]) + 3
    tab.click("#measure-switch")
    tab.locator("#canvas").scroll_into_view_if_needed()
    box = tab.locator("#canvas").bounding_box()
    for name in ("wheel_centre", "damper_chassis"):
        x, y = tab.evaluate("n => corner.seen(corner.point(n))", name)
        tab.mouse.click(box["x"] + x, box["y"] + y)
    for wheel in (0.0, 30.0):
        tab.evaluate("w => corner.setPose(w, 0)", wheel)
        pose = made.study.mechanism.at(wheel)
        by = pose.point("damper_chassis") - pose.point("wheel_centre")
        told = tab.evaluate("corner.rule()")
        numbers = [float(v.replace("−", "-")) for v in re.findall(r"[+−]?\d+\.\d", told)]
        assert numbers == pytest.approx([np.linalg.norm(by), *by], abs=0.06), told
    for switch in ("#measure-switch", "#names-switch", "#ground-switch"):
        tab.click(switch)
    tab.evaluate("corner.setPose(0, 0)")


def _apart(made, tab) -> None:
    """Drawn out along the rocker's axis alone, the plates clear of what is between; back as before."""
    axis = np.array(made.job.rocker.axis) / np.linalg.norm(made.job.rocker.axis)

    def places() -> dict:
        return {p["name"]: np.array(p["matrix"])[12:15] for p in tab.evaluate("corner.parts()")}

    before = places()
    tab.click("#apart-switch")
    moved = {n: at - before[n] for n, at in places().items()}
    assert all(np.linalg.norm(np.cross(m, axis)) < 1e-3 for m in moved.values())
    mass = {p.name: np.array(p.centre_of_gravity_mm) for p in made.study.layout.placed if p.mass_kg}
    plates = [f"rocker {n} plate" for n in ("front", "rear")]
    away = (moved[plates[0]] - moved[plates[1]]) @ axis
    assert abs(away) > 30 and away * ((mass[plates[0]] - mass[plates[1]]) @ axis) > 0
    assert np.allclose(moved["lower rail"], 0)
    tab.click("#apart-switch")
    assert all(np.allclose(at, before[n]) for n, at in places().items())


def test_pointing_at_a_curve_reads_it_and_pressing_takes_the_corner_there(made, flat_browser):
    with opened(flat_browser, made.path.as_uri()) as tab:
        figure = tab.locator("#curve-wheel-rate")
        figure.scroll_into_view_if_needed()
        box = figure.locator("svg.plot").bounding_box()
        tab.mouse.move(round(box["x"] + 0.7 * box["width"]), round(box["y"] + 0.4 * box["height"]))
        wheel = float(figure.get_attribute("data-at").split()[1].replace("−", "-"))
        said = float(figure.locator("output").first.inner_text().split()[0].replace("−", "-"))
        assert said == pytest.approx(_curve(made, "wheel_rate_n_per_mm", wheel), abs=0.02)
        tab.mouse.down()
        tab.mouse.up()
        assert tab.evaluate("corner.pose().wheel") == pytest.approx(wheel, abs=0.06)
        tab.mouse.move(5, 5)
        told = float(tab.locator("#curve-damper-length output").first.inner_text().split()[0])
        assert told == pytest.approx(_curve(made, "damper_mm", tab.evaluate("corner.pose().wheel")), abs=0.06)
        plot = tab.locator(".gapmap").first
        plot.scroll_into_view_if_needed()
        d = {
            k: float(plot.get_attribute(f"data-{k}"))
            for k in ("left", "right", "top", "floor", "x0", "x1", "y0", "y1")
        }
        box, wide = plot.bounding_box(), float(plot.get_attribute("viewBox").split()[2])
        dot = box["width"] / wide
        tab.mouse.click(
            box["x"] + dot * (d["left"] + 0.25 * (d["right"] - d["left"])),
            box["y"] + dot * (d["top"] + 0.1 * (d["floor"] - d["top"])),
        )
        now = tab.evaluate("corner.pose()")
        assert now["wheel"] == pytest.approx(d["x0"] + 0.25 * (d["x1"] - d["x0"]), abs=0.5)
        assert now["rack"] == pytest.approx(d["y1"] - 0.1 * (d["y1"] - d["y0"]), abs=0.7)


def test_hard_points_are_told_at_the_pose(made, browser):
    with opened(browser, made.path.as_uri()) as tab:
        tab.click("#point-panel > summary")
        tab.evaluate("corner.setPose(30, 0)")
        row = tab.locator("#points tr", has_text="contact point").locator("td").all_inner_texts()
        want = made.study.mechanism.at(30.0).point("contact")
        assert [float(v.replace("−", "-")) for v in row] == pytest.approx(list(want), abs=0.06)


def test_tapping_a_part_names_it(made, browser):
    with opened(browser, made.path.as_uri()) as tab:
        tab.locator("#canvas").scroll_into_view_if_needed()
        box = tab.locator("#canvas").bounding_box()
        for x in (0.35, 0.4, 0.45, 0.5, 0.55):
            tab.mouse.click(box["x"] + x * box["width"], box["y"] + 0.5 * box["height"])
            if tab.is_visible("#part-label"):
                break
        assert any(tab.inner_text("#part-label").startswith(p.name) for p in made.study.layout.placed)


CARDS = """() => {
    const row = document.querySelector("#strength tbody tr");
    const top = l => row.querySelector(`[data-label=${l}]`).offsetTop;
    return {display: getComputedStyle(row).display, use: top("use"), case: top("case"),
            touch: document.querySelector("#canvas canvas").style.touchAction}; }"""


def test_page_is_accessible_and_no_wider_than_the_screen(made, browser):
    """axe-core, the reference checker, against WCAG 2.1 A and AA and its own good practice; every panel
    opened."""
    with opened(browser, made.path.as_uri(), "phone") as tab:
        tab.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        assert tab.evaluate("document.documentElement.scrollWidth") <= tab.viewport_size["width"]
        assert violations(tab) == []
        tab.emulate_media(color_scheme="dark")
        assert violations(tab, "color-contrast") == []
        paper = tab.evaluate("getComputedStyle(document.body).backgroundColor")
        assert max(int(v) for v in re.findall(r"\d+", paper)) < 60
        tab.select_option("#go", label="Strength")
        assert 0 <= tab.evaluate("document.querySelector('#h-strength').getBoundingClientRect().top") < 300
        assert tab.evaluate("document.activeElement.id") == "h-strength"
        cards = tab.evaluate(CARDS)
        assert cards["display"] == "flex" and cards["use"] < cards["case"]
        assert cards["touch"] == "pan-y"


@pytest.mark.parametrize(
    "wide, high, most_px", [(1280, 900, 12_000), (390, 844, 24_000), (360, 740, 24_000), (844, 390, 24_000)]
)
def test_first_screen_says_it_all_and_the_page_is_short(made, browser, wide, high, most_px):
    """As it opens: verdict, caution, the worst findings and the corner drawn; the rest a few screens, no
    wider than 360 px, the pose bar in the window wherever one has scrolled to."""
    page = browser.new_page(viewport={"width": wide, "height": high})
    try:
        page.goto(made.path.as_uri())
        seen = page.evaluate("""() => {
            const box = q => document.querySelector(q).getBoundingClientRect();
            return {still: box('.still img'), verdict: box('.verdict'), assists: box('.assists'),
                    worst: box('.worst'), fact: box('.facts dd'), bar: box('#posebar'),
                    open: [...document.querySelectorAll('#steering table')]
                        .some(t => t.checkVisibility()), tall: document.documentElement.scrollHeight,
                    wide: document.documentElement.scrollWidth}; }""")
        assert seen["tall"] <= most_px and seen["wide"] <= wide and not seen["open"]
        assert seen["verdict"]["bottom"] < seen["assists"]["bottom"] < high
        assert high < 400 or (seen["worst"]["bottom"] < high and seen["still"]["top"] + 60 < high)
        assert wide < 1000 or seen["still"]["bottom"] < high
        assert high < 800 or seen["fact"]["bottom"] <= seen["bar"]["top"]  # key numbers too
        for at in (0, 2000, seen["tall"]):
            page.evaluate(f"scrollTo(0, {at})")
            bar = page.evaluate("document.querySelector('#posebar').getBoundingClientRect().toJSON()")
            assert bar["top"] >= 0 and bar["bottom"] <= high + 0.5
    finally:
        page.close()


def test_without_webgl_the_pictures_and_curves_stay(made, some_browsers):
    with opened(some_browsers.get(gl=False), made.path.as_uri()) as tab:
        assert (
            tab.is_hidden("#stage")
            and tab.locator("#shots img").count() == 3
            and tab.locator("#shots img").first.is_visible()
        )
        tab.evaluate("corner.setPose(20, 0)")
        eye, chassis = (
            np.array(tab.evaluate("n => corner.point(n)", n)) for n in ("damper_eye", "damper_chassis")
        )
        assert np.linalg.norm(eye - chassis) == pytest.approx(_curve(made, "damper_mm", 20.0), abs=0.01)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_page_prints_with_three_poses_in_the_place_of_the_slider(made, flat_browser, paper, tmp_path):
    from pypdf import PdfReader

    with opened(flat_browser, made.path.as_uri()) as tab:
        tab.emulate_media(media="print")
        assert (
            tab.is_hidden("#posebar")
            and tab.is_hidden("#stage")
            and tab.locator("#shots img").first.is_visible()
        )
        tab.pdf(path=tmp_path / "r.pdf", format=paper, print_background=True)
    pdf = PdfReader(tmp_path / "r.pdf")
    text = "\n".join(p.extract_text() for p in pdf.pages)
    wide = float(pdf.pages[0].mediabox.width)
    assert wide == pytest.approx({"A4": 210, "Letter": 215.9}[paper] / 25.4 * 72, abs=1.5)
    for said in (
        made.results.name,
        "full droop",
        "Wheel rate",
        "Curves over wheel height",
        "Parts",
        made.results.findings[0].text[:30],
    ):
        assert said in text
    assert sum(len(p.images) for p in pdf.pages) == 3
    assert len(pdf.pages) <= 12


BAD = '</script><script>window.ran=1</script><img src=x onerror="window.ran=2">'


def test_markup_in_names_does_not_run(made, browser, tmp_path):
    """The job's name, a member's, a finding's text, a part's and a file's: all shown as they are written,
    none run."""
    from dataclasses import replace

    r = made.results
    bad = Finding(level="stop", code="gap", where=f"rocker to {BAD}", text=BAD + " at wheel +10 mm")
    pairs = [replace(r.clearance.pairs[0], b=BAD), *r.clearance.pairs[1:]]
    results = replace(
        r,
        name=BAD,
        findings=[bad],
        clearance=replace(r.clearance, pairs=pairs),
        assumed=[AssumedRow(key=BAD, value=BAD, why=BAD)],
    )
    layout = replace(
        made.study.layout,
        placed=[
            replace(p, name=p.name + BAD, body=p.body + BAD, material=BAD) for p in made.study.layout.placed
        ],
        flat=[replace(f, name=f.name + BAD) for f in made.study.layout.flat],
    )
    study_ = replace(made.study, layout=layout)
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / "a & b ' quoted.pdf").write_text("x")
    path = report.write(study_, results, tmp_path, {k + BAD: v for k, v in made.shapes.items()})
    assert BAD not in path.read_text(encoding="utf-8")
    with opened(browser, path.as_uri()) as tab:
        tab.evaluate("document.querySelectorAll('details').forEach(d => { d.open = true; })")
        tab.click(".pairs [data-pair='0']")
        tab.wait_for_timeout(300)
        assert tab.evaluate("window.ran") is None
        assert (
            tab.inner_text("h1") == BAD
            and BAD in tab.inner_text(".finding")
            and BAD in tab.inner_text("#partlist")
        )
        assert tab.locator("img[src='x']").count() == 0


def test_a_script_put_into_the_page_afterwards_is_refused(made, browser):
    """The page's own rule, were something to slip through: an injected script and a request both fail."""
    import tests.browser as tools

    context = browser.new_context(**tools.SIZES["desktop"])
    tab = context.new_page()
    tab.goto(made.path.as_uri())
    tab.evaluate(
        "() => { const s = document.createElement('script'); s.textContent = 'window.ran = 1'; "
        "document.body.append(s); }"
    )
    assert tab.evaluate("window.ran") is None
    assert tab.evaluate("fetch('https://127.0.0.1:1/').then(() => 'sent', () => 'refused')") == "refused"
    context.close()


def test_blank_drawing_is_the_outline(browser):
    """The browser's own geometry of the drawn path: its length is the outline's perimeter, its box the
    outline's bounds."""
    outline = Outline(
        belt([Boss(0, 0, 22), Boss(95, 8, 14), Boss(20, 80, 13)], [None, 60.0, None]),
        inner=(rectangle(20, 10, 40, 20, 3).reversed(),),
        holes=(Hole(0, 0, 30.0, "pivot"), Hole(95, 8, 10.0, "rod")),
    )
    alone = Outline(circle(3, 4, 50))
    for o, want in (
        (outline, outline.outer.perimeter_mm + outline.inner[0].perimeter_mm),
        (alone, math.pi * 50),
    ):
        tab = browser.new_page()
        tab.set_content(blanks.drawing("x", o))
        length, box = tab.evaluate(
            "() => { const p = document.querySelector('.metal'), b = p.getBBox(); return "
            "[p.getTotalLength(), [b.x, -b.y - b.height, b.x + b.width, -b.y]]; }"
        )
        assert length == pytest.approx(want, rel=2e-4)
        assert box == pytest.approx(list(o.bounds), abs=0.02)
        tab.close()


def test_scene_is_light_enough_to_move_smoothly(made):
    """Triangles drawn at each pose: an ordinary laptop draws millions a frame at 60 Hz; here far under a
    quarter of one."""
    scene = _data(made.text)["scene"]
    each = [len(base64.b64decode(m["faces"])) // (12 if m["wide"] else 6) for m in scene["meshes"]]
    assert sum(each[p["mesh"]] for p in scene["parts"]) < 250_000


def test_frame_of_a_placed_part_is_used_as_it_is(made):
    scene = _data(made.text)["scene"]
    for told, p in zip(scene["parts"], made.study.layout.placed, strict=True):
        assert np.allclose(np.array(told["frame"]).reshape(4, 4).T, p.frame.matrix()) and isinstance(
            p.frame, Frame
        )
