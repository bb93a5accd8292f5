"""Named nodes, groups, a shared frame file, and a frame alone. Row U15 is of the project's list of outside
values."""

import math

import numpy as np
import pytest
from demos import JOBS
from typer.testing import CliRunner

from assemblies.command.cli import app
from assemblies.gaps.cures import shift
from assemblies.job import FrameJob, Job, JobError, load
from assemblies.job.places import put_at
from assemblies.layout.frame import of_car
from assemblies.study import study

TUBE = {"shape": "square", "size": 25, "wall": 2}


def bay(**more) -> dict:
    """Two rails, an upright, a brace and a cross tube: five nodes."""
    return {
        "name": "bay",
        "node": [
            {"name": "A", "at": [0, 260, 150]},
            {"name": "B", "at": [-600, 260, 150]},
            {"name": "C", "at": [-100, 260, 450]},
            {"name": "D", "at": [-600, 260, 450]},
            {"name": "M", "at": [-400, 260, 150], "offset": [0, 0, 5]},
        ],
        "member": [
            {"name": "low", **TUBE, "from": "A", "to": "B"},
            {"name": "high", **TUBE, "from": "C", "to": "D"},
            {"name": "rear", **TUBE, "from": "B", "to": "D"},
            {"name": "brace", **TUBE, "from": "M", "to": "C"},
            {"name": "front", **TUBE, "from": "A", "to": "C"},
            {"name": "cross", **TUBE, "from": "A", "to": [0, -260, 150]},
        ],
    } | more


def points(job) -> dict[str, tuple]:
    return {
        f"{m.name}.{e}": tuple(getattr(m, f))
        for m in job.member
        for e, f in (("from", "from_"), ("to", "to"))
    }


def moved(before, after) -> dict[str, list[float]]:
    a, b = points(before), points(after)
    return {k: np.subtract(b[k], a[k]).round(6).tolist() for k in a if a[k] != b[k]}


def test_a_node_moves_the_ends_of_its_tubes_and_keeps_its_name():
    job = FrameJob.from_dict(bay())
    assert points(job)["brace.from"] == (-400, 260, 155)  # eccentric by its offset
    after = job.changed({"node.C.at": [-90, 260, 460]})
    assert moved(job, after) == {k: [10, 0, 10] for k in ("high.from", "brace.to", "front.to")}
    assert after.to_dict()["member"][1]["from"] == "C"
    assert FrameJob.from_dict(after.to_dict()) == after
    chord = job.changed({"node.M.chords": ["brace"]})
    assert moved(job, chord) == {"brace.from": [0, 0, -5]}


def test_a_group_moves_as_one_and_what_stands_outside_follows_at_shared_nodes():
    group = {"name": "rear end", "members": ["rear"], "points": ["member.cross.to"]}
    job = FrameJob.from_dict(bay(group=[group]))
    after = job.changed({"group.rear end.move": [-20, 0, 5]})
    ends = ("low.to", "high.to", "rear.from", "rear.to", "cross.to")
    assert moved(job, after) == {k: [-20, 0, 5] for k in ends}
    twice = after.changed(
        {"group": [group | {"move": [-20, 0, 5]}, {"name": "all", "nodes": ["B"], "move": [0, 0, 1]}]}
    )
    assert moved(job, twice)["low.to"] == [-20, 0, 6]
    assert FrameJob.from_dict(after.to_dict()) == after


def test_what_moves_a_tube_moves_its_node_or_its_group():
    """A cure's keys put the tube exactly where the cure was worked out, whatever holds its ends."""
    group = {"name": "g", "nodes": ["D"], "members": ["cross"], "move": [1, 2, 3]}
    job = FrameJob.from_dict(bay(group=[group]))
    by = np.array([-3.0, 0.0, 4.5])
    for name in ("high", "brace", "cross"):
        member = job.member_by_name[name]
        changes = shift.placed(member, by)
        after = moved(job, job.changed(changes))
        assert {k: v for k, v in after.items() if k.startswith(name)} == {
            f"{name}.from": list(by),
            f"{name}.to": list(by),
        }
    assert set(shift.placed(job.member_by_name["brace"], by)) == {"node.M.at", "node.C.at"}
    (whole,) = shift.with_group(job, job.member_by_name["cross"], by)
    assert whole == {"group.g.move": [-2, 2, 7.5]}
    key, value = put_at("member.high.to", job.member_by_name["high"].to, (-590, 260, 450), off_node=True)
    assert points(job.changed({key: value}))["high.to"] == (-590, 260, 450)


@pytest.mark.parametrize(
    "kind, table, said",
    [
        (
            "member",
            {"name": "low", **TUBE, "from": "a", "to": [0, 0, 0]},
            'low.from: is "a"; must be a point',
        ),
        ("group", {"nodes": ["Z"]}, "group.g.nodes: names 'Z'; must name a node of the job; known: A, B"),
        ("group", {"members": ["lowe"]}, "names 'lowe'; must name a member of the job; did you mean 'low'"),
        ("group", {"points": ["member.low.from"]}, "that end is at node 'A'; name the node in nodes"),
        ("group", {"points": ["member.low.size"]}, "must be the key of a point"),
        ("group", {"points": ["wheel.centre"]}, "must be the key of a point, or a table"),
        ("node", {"name": "B", "at": [0, 0, 0]}, "node.B: 2 nodes have this name"),
        ("group", {"move": [1, 2]}, "group.g.move: has 2 numbers"),
    ],
)
def test_a_wrong_name_is_one_clear_line(kind, table, said):
    tables = bay(group=[])
    tables[kind].append({"name": "g"} | table)
    with pytest.raises(JobError) as e:
        FrameJob.from_dict(tables)
    lines = [x for x in str(e.value).splitlines() if said in x]
    assert len(lines) == 1, str(e.value)


def test_a_frame_alone_is_held_against_a_closed_form():
    """Row U15, closed form: a brace of SHS 25 between two chords of SHS 40, axes 400 apart, nodes 280 apart
    along; and with the node at one chord 8 mm off its axis."""
    chord = {"shape": "square", "size": 40, "wall": 3}
    job = FrameJob.from_dict(
        {
            "name": "U15",
            "node": [{"name": "low", "at": [0, 0, 0]}, {"name": "high", "at": [280, 0, 400]}],
            "member": [
                {"name": "lower", **chord, "from": [-500, 0, 0], "to": [800, 0, 0]},
                {"name": "upper", **chord, "from": [-500, 0, 400], "to": [800, 0, 400]},
                {"name": "brace", **TUBE, "from": "low", "to": "high"},
            ],
        }
    )
    made = study(job).layout.junctions
    tube = made.tubes["brace"]
    assert tube.member.length_mm == pytest.approx(488.26222, abs=1e-3)
    assert tube.length_mm == pytest.approx(456.936, abs=1e-3)  # long point to long point, opposite edges
    assert tube.generators_mm == pytest.approx((439.436, 439.436), abs=1e-3)  # along any edge
    assert tube.from_cut.flat[0].from_square_deg == pytest.approx(34.99202, abs=1e-3)
    off = study(job.changed({"node.high.offset": [0, 0, -8]})).layout.junctions.tubes["brace"]
    way = np.subtract(off.member.to, off.member.from_)
    assert math.degrees(math.atan2(way[2], way[0])) == pytest.approx(54.462322, abs=1e-3)
    assert off.generators_mm[0] == pytest.approx(442.4053, abs=1e-3)


def test_what_stands_on_nothing_is_said():
    extra = [
        {"name": "stray", **TUBE, "from": [-300, 150, 200], "to": [-300, 150, 400]},
        *bay()["member"],
    ]
    nodes = [*bay()["node"], {"name": "N", "at": [0, 0, 900]}]
    found = study(FrameJob.from_dict(bay(member=extra, node=nodes))).results
    said = {f.where: f.text for f in found.findings if f.code.startswith("frame-")}
    assert "'stray' meets no other tube" in said["stray"] and "'cross'" not in said["stray"]
    assert said["node N"].startswith("No tube names this node")
    assert "'stray' from" in said["open ends"] and "'cross' to" not in said["open ends"]  # the mirror image's
    assert found.what == "frame" and found.side == "one" and found.not_checked
    alone = [m for m in bay()["member"] if m["name"] != "cross"]
    assert any(
        f.where == "the two sides" for f in study(FrameJob.from_dict(bay(member=alone))).results.findings
    )


def test_a_frame_listed_on_both_sides_is_sawn_once():
    job = FrameJob.from_dict(bay())
    low = study(job).layout.members["low"]
    assert (of_car(job, low), of_car(job.changed({"frame.sides": "both"}), low)) == (2, 1)
    right = {"name": "low right", **TUBE, "from": [0, -260, 150], "to": [-600, -260, 150]}
    assert of_car(FrameJob.from_dict(bay(member=[*bay()["member"], right])), low) == 1


def test_two_corners_share_one_frame_file(tmp_path):
    """The tubes of the frame file come first, the job's own after; its bars are the frame file's affair."""
    text = (JOBS / "tarnside-front.toml").read_text(encoding="utf-8")
    own = load(JOBS / "tarnside-front.toml")
    (tmp_path / "frame.toml").write_text(
        'name = "tub"\n[[node]]\nname = "N"\nat = [-900, 250, 150]\n'
        '[[member]]\nname = "rear rail"\nshape = "square"\nsize = 25\nwall = 2\nfrom = "N"\nto = '
        "[-400, 250, 150]\n",
        encoding="utf-8",
    )
    head = "[frame]\n" if "\n[frame]\n" in text else None
    text = (
        text.replace(head, f'{head}file = "frame.toml"\n')
        if head
        else f'{text}\n[frame]\nfile = "frame.toml"\n'
    )
    (tmp_path / "front.toml").write_text(text, encoding="utf-8")
    job = load(tmp_path / "front.toml")
    assert [m.name for m in job.member] == ["rear rail", *(m.name for m in own.member)]
    assert job.frame.sawn is False and own.frame.sawn is True
    assert job.changed({"node.N.at": [-910, 250, 150]}).member[0].from_ == (-910, 250, 150)
    assert Job.from_dict(job.to_dict()) == job
    assert job.mirrored().member[0].from_ == (-900, -250, 150) and job.mirrored().mirrored() == job
    (tmp_path / "front.toml").write_text(text.replace("frame.toml", "nothing.toml"), encoding="utf-8")
    with pytest.raises(JobError, match=r"nothing\.toml: no such file"):
        load(tmp_path / "front.toml")


@pytest.mark.slow
def test_the_command_takes_a_frame_alone(tmp_path):
    """Cut list, STEP and sheet tell the same tubes; a verb that needs a corner says so."""
    from parts.files.measured import volume_mm3
    from parts.files.step import read_step

    file = tmp_path / "bay.toml"
    tables = bay()
    rows = [f'name = "{tables["name"]}"']
    for kind in ("node", "member"):
        for t in tables[kind]:
            rows += [f"[[{kind}]]", *(f"{k} = {v!r}".replace("'", '"') for k, v in t.items())]
    file.write_text("\n".join(rows), encoding="utf-8")
    run = CliRunner().invoke(app, ["clock", str(file)])
    assert run.exit_code == 2 and "has members only" in run.output
    asked = ["--only", "sheets,solids", "--change", "node.C.at=[-90,260,460]"]
    run = CliRunner().invoke(app, ["build", str(file), "--out", str(tmp_path / "out"), *asked])
    assert run.exit_code in (0, 1), run.output
    out = tmp_path / "out" / "bay"
    made = study(load(file).changed({"node.C.at": [-90, 260, 460]})).layout
    solids = {p.name: p for p in read_step(out / "bay.step")}
    assert set(solids) == {p.name for p in made.placed}
    for p in made.placed:
        assert volume_mm3(solids[p.name].shape) * 7.85e-6 == pytest.approx(p.mass_kg, rel=2e-3), p.name
    listed = (out / "sheets" / "cut-list.csv").read_text(encoding="utf-8-sig")
    assert all(f",{made.junctions.tubes[n].length_mm:.1f}," in listed for n in ("brace", "rear", "front"))
    for name in ("frame-book.pdf", "tube-ends.pdf", "tube-ends.csv", "bar-cutting.csv"):
        assert (out / "sheets" / name).stat().st_size > 200
    assert (out / "bay-other-side.step").exists()


@pytest.mark.parametrize(
    "chord, brace, angles, off, gap",
    [
        (200, 150, (45, 45), 20.066017, 28.0),
        (40, 25, (50, 40), 0.0, 4.8529255),
        (40, 25, (50, 40), 0.56482392, 6.0),
    ],
)
def test_two_braces_on_one_face_tell_their_gap(chord, brace, angles, off, gap):
    """Row U14, closed form; case a is a published example of EN 1993 (printed e 20.1). The node's offset is
    the eccentricity: beyond the chord's axis, away from the braces."""
    size = {"shape": "square", "wall": 4}
    far = [
        (s * 900 * math.cos(math.radians(a)), 0, 900 * math.sin(math.radians(a)) - off)
        for s, a in zip((-1, 1), angles, strict=True)
    ]
    job = FrameJob.from_dict(
        {
            "name": "K",
            "node": [{"name": "N", "at": [0, 0, 0], "offset": [0, 0, -off]}],
            "member": [
                {"name": "chord", **size, "size": chord, "from": [-1500, 0, 0], "to": [1500, 0, 0]},
                *(
                    {"name": f"brace {i}", **size, "size": brace, "from": "N", "to": list(p)}
                    for i, p in enumerate(far)
                ),
            ],
        }
    )
    (row,) = study(job).results.junctions.nodes
    assert row.off_axis_mm == pytest.approx(off, abs=1e-6) and row.brace_gap_mm == pytest.approx(
        gap, rel=1e-5
    )
