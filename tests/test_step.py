"""The corner's STEP file read back: names, volumes, colours, places; and the colours themselves."""

import math
import re
from dataclasses import replace
from functools import partial

import cadquery as cq
import numpy as np
import pytest

from assemblies.making.step import COLOURS, write_assembly
from parts.files import solid_cache, step, step_bodies
from parts.files.measured import volume_mm3
from parts.files.solid import SolidError, solid
from parts.files.step import StepPart, read_step
from parts.files.step_bytes import same_bytes
from parts.shape.belt import Boss, hull
from parts.shape.form import Form, Frame, Prism, Round
from parts.shape.outline import Hole, Outline, rectangle


@pytest.fixture(autouse=True)
def no_disk(monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CACHE", "off")
    solid_cache.forget()


PLATE = Form(
    (
        Prism(
            Outline(
                hull([Boss(0, 0, 22), Boss(70, 20, 14), Boss(-30, 60, 12)]),
                holes=(Hole(0, 0, 38, "tube", "weld"),),
            ),
            3,
        ),
    )
)
TUBE = Form((Round(38, 46, 32),))
RAIL = Form((Prism(Outline(rectangle(-15, -15, 15, 15), inner=(rectangle(-13, -13, 13, 13),)), 550),))
PIVOT = Frame.looking((1748, 280, 165), (1, 0, 0), (0, 1, 0))


def items():
    pose = np.eye(4)  # 30 degrees right-handed about x, then to the pivot
    c, s = math.cos(math.pi / 6), math.sin(math.pi / 6)
    pose[1:3, 1:3], pose[:3, 3] = [[c, -s], [s, c]], (1748, 280, 165)
    return [
        ("rocker plate left", PLATE, PIVOT, COLOURS["rocker"]),
        ("rocker plate right", PLATE, pose, COLOURS["rod"]),
        ("pivot tube", solid(TUBE), PIVOT, COLOURS["rocker"]),
        ("lower rail", RAIL, Frame.looking((1450, 315, 90), (1, 0, 0), (0, 1, 0)), COLOURS["frame"]),
    ]


def test_names_volumes_colours_and_places_come_back(tmp_path):
    """Volumes against closed forms written by hand, places against the frames."""
    path = write_assembly(tmp_path / "corner.step", items(), "demo corner")
    assert b"PCURVE" not in path.read_bytes()  # they were more than half of a corner's file
    found = {p.name: p for p in read_step(path)}
    assert list(found) == [i[0] for i in items()]
    by_hand = {
        "rocker plate left": 3 * PLATE.pieces[0].outline.area_mm2,
        "rocker plate right": 3 * PLATE.pieces[0].outline.area_mm2,
        "pivot tube": math.pi / 4 * (38**2 - 32**2) * 46,
        "lower rail": (900 - 676) * 550,
    }
    for name, _, _, colour in items():
        part = found[name]
        assert part.shape.isValid() and len(part.shape.Solids()) == 1
        assert volume_mm3(part.shape) == pytest.approx(by_hand[name], rel=1e-6)
        assert part.colour == pytest.approx(colour, abs=1e-6)
    box = found["lower rail"].shape.BoundingBox()
    assert (box.xmin, box.xmax, box.ymin, box.ymax, box.zmin, box.zmax) == pytest.approx(
        (1450, 2000, 300, 330, 75, 105), abs=1e-4
    )
    tube = found["pivot tube"].shape.Center()
    assert (tube.x, tube.y, tube.z) == pytest.approx((1748 + 23, 280, 165), abs=1e-4)
    x, y = PLATE.pieces[
        0
    ].outline.centroid  # the turned plate: (x, y, 1.5), turned about x, moved to the pivot
    c, s = math.cos(math.pi / 6), math.sin(math.pi / 6)
    turned = found["rocker plate right"].shape.Center()
    assert (turned.x, turned.y, turned.z) == pytest.approx(
        (1748 + x, 280 + c * y - s * 1.5, 165 + s * y + c * 1.5), abs=1e-4
    )


def test_the_plain_importer_finds_the_same_total_and_the_same_number(tmp_path):
    write_assembly(tmp_path / "corner.step", items())
    solids = cq.importers.importStep(str(tmp_path / "corner.step")).solids().vals()
    wanted = 2 * 3 * PLATE.pieces[0].outline.area_mm2 + TUBE.pieces[0].volume_mm3 + (900 - 676) * 550
    assert len(solids) == 4 and sum(s.Volume() for s in solids) == pytest.approx(wanted, rel=1e-6)


@pytest.mark.parametrize(
    ("bad", "word"),
    [
        ([], "at least one part"),
        ([("rail", RAIL, Frame(), COLOURS["frame"])] * 2, "'rail'"),
        ([(" ", RAIL, Frame(), COLOURS["frame"])], "empty"),
        (
            [("rail", RAIL, np.diag([1.0, -1, 1, 1]), COLOURS["frame"])],
            "rail: .*rigid motion",
        ),  # a mirror is no motion
        (
            [("rod", Form((Round(20, 5), Round(20, 5, frame=Frame((0, 0, 9))))), Frame(), COLOURS["rod"])],
            "rod: .*2 separate solids",
        ),
    ],
)
def test_what_is_no_assembly_is_refused_and_leaves_no_file(tmp_path, bad, word):
    with pytest.raises(SolidError, match=word):
        write_assembly(tmp_path / "corner.step", bad)
    assert not list(tmp_path.iterdir())


def test_colours_are_told_apart_by_red_blind_and_green_blind_eyes():
    """Least difference of any two colours in CIE Lab (1976) as seen with normal eyes and through the
    full-severity matrices of Machado, Oliveira and Fernandes (IEEE Trans. Vis. Comput. Graph. 15, 2009) in
    linear RGB. Outside reference for the Lab values: sRGB white is L 100, a 0, b 0."""
    red_blind = np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    )
    green_blind = np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    )
    to_xyz = np.array(
        [
            [0.4124564, 0.3575761, 0.1804375],
            [0.2126729, 0.7151522, 0.0721750],
            [0.0193339, 0.1191920, 0.9503041],
        ]
    )

    def lab(linear):
        x = np.clip(linear, 0, 1) @ to_xyz.T / to_xyz.sum(axis=1)
        f = np.where(x > (6 / 29) ** 3, np.cbrt(x), x / (3 * (6 / 29) ** 2) + 4 / 29)
        return np.stack([116 * f[:, 1] - 16, 500 * (f[:, 0] - f[:, 1]), 200 * (f[:, 1] - f[:, 2])], axis=1)

    assert lab(np.ones((1, 3)))[0] == pytest.approx([100, 0, 0], abs=1e-9)
    rgb = np.array(list(COLOURS.values()))
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    apart = ~np.eye(len(rgb), dtype=bool)
    for seen in (np.eye(3), red_blind, green_blind):
        points = lab(linear @ seen.T)
        assert np.linalg.norm(points[:, None] - points[None], axis=2)[apart].min() > 20


def test_a_corners_tree_has_its_groups_and_each_part_its_steel_and_density(tmp_path):
    """Read back by the kernel: groups as branches, every part under its own. By the file's own text: a
    material of that name, 7.85 as its density, grams in its unit."""
    groups = [("rocker", "S275")] * 2 + [("rocker", "bronze"), ("frame", "S235")]
    tree = [(*i, g, m) for i, (g, m) in zip(items(), groups, strict=True)]
    marks = ("gap mark", TUBE, PIVOT, COLOURS["gap"], "gap marks")
    path = write_assembly(tmp_path / "tree.step", [*tree, marks], "demo corner")
    found = {p.name: p.group for p in read_step(path)}
    assert found == {i[0]: i[4] for i in tree} | {"gap mark": "gap marks"}
    text = path.read_text(encoding="ascii").replace("\n", "")
    for branch in ("demo corner", "rocker", "frame", "gap marks"):
        assert f"PRODUCT('{branch}'" in text
    assert "'S275'" in text and "'S235'" in text and "bronze" not in text  # no steel, no density of steel
    assert "7.85" in text and ".GRAM." in text


STYLE = "MECHANICAL_DESIGN_GEOMETRIC_PRESENTATION_REPRESENTATION"
SHAPES = (
    "DATA;\n#1 = BREP('a, -0. ,1.E-17 ',({},{},\n  {},2.E-08,1.E-007));\n#2 = BREP('',(1.));\n"
    "#3 = CONTEXT();\n"
)


@pytest.mark.parametrize("first, other", [(1, 2), (2, 1)])
def test_a_file_hangs_on_its_shapes_alone(first, other):
    """Written by hand as the kernel may order it: the colours by either shape first, the second sharing the
    first one's colour; and nothing as 2e-18. Either way the same bytes, the shapes and names untouched."""
    text = (
        f"{SHAPES.format('-0.', '1.98E-18', '-3.965E-021')}"
        f"#4 = {STYLE}('',(#5)\n  ,#3);\n#5 = STYLED_ITEM('color',(#6),#{first});\n"
        f"#6 = STYLE('',#7);\n#7 = COLOUR_RGB('',0.5,0.5,0.5);\n"
        f"#8 = {STYLE}('',(#9),#3);\n#9 = STYLED_ITEM('color',(#10),#{other});\n#10 = STYLE('',#7);\n"
        f"#11 = DENSITY(#5);\nENDSEC;\nEND;\n"
    )
    got = same_bytes(text.encode()).decode()
    item = {1: "5", 2: "9"}[first]
    assert got == (
        f"{SHAPES.format('0.', '0.', '0.')}"
        f"#4 = {STYLE}('',(#5),#3);\n#5 = STYLED_ITEM('color',(#6),#1);\n#6 = STYLE('',#7);\n"
        f"#7 = COLOUR_RGB('',0.5,0.5,0.5);\n#8 = {STYLE}('',(#9),#3);\n"
        f"#9 = STYLED_ITEM('color',(#10),#2);\n#10 = STYLE('',#7);\n#11 = DENSITY(#{item});\nENDSEC;\nEND;\n"
    )


def test_a_files_bytes_do_not_hang_on_how_many_were_written_before():
    """As the kernel writes the same occurrence as its 98th and its 1098th: the line breaks elsewhere."""
    from parts.files.step import _settled

    said = (
        "#5 = NEXT_ASSEMBLY_USAGE_OCCURRENCE('{}',{}'rocker front plate right'{},{}'',{}#63,#1,$);\n#6 = X;\n"
    )
    gap = "\n  "
    few, many = ("98", "", "", "", gap), ("1098", "", "", gap, "")
    some, long = ("497", "", gap, "", ""), ("10980", gap, "", "", "")
    one = said.format("1", "", "", "", "").encode()
    assert [_settled(said.format(*f).encode()) for f in (few, many, some, long)] == [one] * 4


# ------------------------------------------------------------ put together of what was read back before


def several() -> list[StepPart]:
    """Two solids in one, a hollow one, one shape twice, groups that take turns, words that look like text of
    the file."""
    box, ball = cq.Solid.makeBox(4, 5, 6), cq.Solid.makeSphere(3)
    hollow = cq.Solid.makeSphere(9).cut(ball)
    both = cq.Compound.makeCompound([cq.Solid.makeBox(4, 5, 6), ball.moved(cq.Location((20, 0, 0)))])
    aside = cq.Location((30, -40, 1e3), (1, 2, 3), 40)
    return [
        StepPart("it's #5 = 50 %d; 'x'", both.moved(aside), (0.8, 0.1, 0.1), "one", "S355"),
        StepPart("hollow", hollow.moved(aside), (0.1, 0.8, 0.1), "two", "S235"),
        StepPart("box", box, None, "one"),
        StepPart("box again", box.moved(cq.Location((64, 0, 0))), (0.8, 0.1, 0.1), "", "S235"),
    ]


def words(file: bytes) -> bytes:
    """Without its line breaks, which hang on the length of a number."""
    return re.sub(rb"\s+", b"", file)


def test_an_assembly_of_kept_solids_is_the_file_that_the_kernel_writes_whole(monkeypatch, tmp_path):
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    whole = step._proven("a.step", "title", several(), True)
    for _ in ("made", "kept"):
        made = step.write_step(tmp_path / "a.step", "title", several()).read_bytes()
        assert words(made) == words(whole) and b"PCURVE" not in made
    monkeypatch.setattr(step, "_body", lambda *_: pytest.fail("made again"))
    assert step.write_step(tmp_path / "a.step", "title", several()).read_bytes() == made


def entities(file: bytes) -> set[bytes]:
    """What each entity says, with all that it names in the place of the numbers: in whatever order."""
    rows = dict(re.findall(rb"^#(\d+)=(.*?);$", words(file).replace(b";", b";\n"), re.MULTILINE))

    def said(n: bytes) -> bytes:
        if n not in known:
            known[n] = b"..."  # a ring, if there is one
            known[n] = step_bodies.REF.sub(lambda m: said(m[1]) if m[1] else m[0], rows[n])
        return known[n]

    known: dict[bytes, bytes] = {}
    return {said(n) for n in rows}


@pytest.mark.parametrize("k", range(4))
def test_a_part_alone_is_put_together_from_the_solids_of_the_tree(k, monkeypatch, tmp_path):
    """The kernel's own file says the same, entity for entity; only in the part's own axes can it be put
    together."""
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path))
    there = several()[k]
    here = replace(there, shape=there.shape.moved(there.shape.location().inverse))
    step.write_step(tmp_path / "a.step", "title", [here, StepPart("other", cq.Solid.makeBox(1, 2, 3))])
    with monkeypatch.context() as no_other:
        no_other.setattr(step, "_check_step", lambda *_: pytest.fail("written whole again"))
        made = step.write_step(tmp_path / "b.step", "title", [here], as_assembly=False).read_bytes()
        no_other.setattr(step, "_of_bodies", lambda *_, **__: pytest.fail("put together again"))
        assert step.write_step(tmp_path / "b.step", "title", [here], as_assembly=False).read_bytes() == made
    whole = step._proven("c.step", "title", [here], False)
    assert entities(made) == entities(whole) and len(words(made)) == pytest.approx(
        len(words(whole)), rel=0.01
    )
    (found,) = read_step(tmp_path / "b.step")
    assert step._unlike(found.shape, here.shape) == "" and found.name == here.name
    away = replace(here, shape=here.shape.moved(cq.Location((30, -40, 1e3), (1, 2, 3), 40)))
    (found,) = read_step(step.write_step(tmp_path / "d.step", "title", [away], as_assembly=False))
    assert step._unlike(found.shape, away.shape) == ""


@pytest.mark.parametrize(
    "fault, word",
    [
        (lambda a, b: [replace(a, name=b.name), replace(b, name=a.name)], "as another part"),
        (lambda a, b: [a, replace(b, shape=b.shape.moved(cq.Location((0, 0, 2e-4))))], "elsewhere"),
        (
            lambda a, b: [a, replace(b, shape=b.shape.moved(cq.Location((0, 0, 0), (1, 0, 0), 1e-6)))],
            "elsewhere",
        ),
        (lambda a, b: [a], "the names read back are"),
    ],
    ids=["names changed over", "moved", "turned", "lost"],
)
def test_an_assembly_that_reads_back_wrong_is_refused(fault, word, monkeypatch, tmp_path):
    """Planted in what the kernel reads of two boxes."""
    real, box = step.read_step, cq.Solid.makeBox(1, 2, 3)
    parts = [StepPart("a", box), StepPart("b", box.moved(cq.Location((9, 0, 0))))]
    write = partial(step.write_step, tmp_path / "a.step", "two", parts)
    write()
    monkeypatch.setattr(step, "read_step", lambda p: fault(*found) if len(found := real(p)) == 2 else found)
    with pytest.raises(SolidError, match=word):
        write()


def test_solids_of_another_file_are_not_put_in():
    hollow = cq.Solid.makeSphere(9).cut(cq.Solid.makeBox(4, 5, 6))
    one = step._proven("a.step", "", [StepPart("a", hollow)], True)
    body = step_bodies.taken(one)
    with pytest.raises(step_bodies.NoBody, match="1 bodies for balls numbered"):
        step_bodies.put_in(one, [body])  # no ball in it of radius 1
    balls = step._proven("a.step", "", [StepPart("a", step._balls(1, 2))], True)
    with pytest.raises(step_bodies.NoBody, match="2 balls for 1 solids"):
        step_bodies.put_in(balls, [body])
    with pytest.raises(step_bodies.NoBody, match="name others"):
        step_bodies.taken(re.sub(rb"(CLOSED_SHELL\(''),\(#\d+", rb"\1,(#9999", one))
