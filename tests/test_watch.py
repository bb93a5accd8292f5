"""A watched job file: numbers at once, the last good state kept over a mistake, stale builds given up, a page
of this machine only."""

from __future__ import annotations

import functools
import http.client
import json
import os
import shutil
import signal
import subprocess
import sys
import threading
import time
from http.server import ThreadingHTTPServer
from pathlib import Path

import demos
import pytest

from assemblies.clearance import memory
from assemblies.making import build as building
from assemblies.making import watch
from assemblies.making.report.scene import scene, shown_twisted
from assemblies.making.served import handler
from assemblies.making.watch import SOON, Watch
from assemblies.study import study, with_gaps
from tests.browser import browsers, opened
from tests.test_beside import alive

ROOT = Path(__file__).parent.parent
TEXT = (ROOT / "assemblies" / "jobs" / "corrie-rear.toml").read_text(encoding="utf-8")

ROUND = """
[[member]]
name = "rail"
shape = "round"
from = [0, 300, 400]
to = [500, 300, 400]
size = 30
wall = 2
"""


def _with(bump) -> str:
    lines = [f"bump = {bump}" if line.startswith("bump = ") else line for line in TEXT.splitlines()]
    assert lines != TEXT.splitlines()
    return "\n".join(lines) + "\n"


def _wait(for_what, seconds: float = 20.0) -> None:
    end = time.monotonic() + seconds
    while not for_what():
        assert time.monotonic() < end, "it did not happen in time"
        time.sleep(0.02)


class Builds:
    """Stands in for the build: records jobs, asks `progress` while held, writes a page."""

    def __init__(self):
        self.started, self.finished, self.hold = [], [], threading.Event()
        self.hold.set()
        self.deaf = False  # does not ask whether it is still wanted

    def __call__(self, job, out, at_wheel_mm=(), progress=lambda *_: None, **_):
        self.started.append(job.corner.bump)
        say = (lambda *_: None) if self.deaf else progress
        say("first")
        while not self.hold.wait(0.02):
            say("still at it")
        folder = out / job.slug
        (folder / "blanks").mkdir(parents=True, exist_ok=True)
        (folder / "report.html").write_text(
            f"<html><head><link rel='icon' href='data:,'><meta content=\"script-src "
            f"'none'\"></head><body>built for {job.corner.bump:g}</body></html>",
            encoding="utf-8",
        )
        (folder / "blanks" / "a.dxf").write_text("dxf", encoding="utf-8")
        self.finished.append(job.corner.bump)
        return folder, demos.known(job, interference=False).results


def _refused(form):
    raise ValueError("no solids here")


@pytest.fixture
def builds(monkeypatch):
    import parts.files.solid

    made = Builds()
    monkeypatch.setattr(watch, "build", made)
    monkeypatch.setattr(watch, "study", demos.known)
    monkeypatch.setattr(parts.files.solid, "solid", _refused)  # the stand-in makes no solids
    monkeypatch.setattr(watch, "with_gaps", lambda numbers, *_: numbers)  # tested by themselves
    monkeypatch.setattr(watch, "MOMENT_S", 60.0)  # so the first page waits for them
    return made


@pytest.fixture
def watched(tmp_path, builds):
    file = tmp_path / "mine.toml"
    file.write_text(_with(50), encoding="utf-8")
    w = Watch(file, tmp_path / "out", say=lambda _: None)
    yield w
    builds.hold.set()
    w.end()


def _write(w: Watch, text: str) -> None:
    w.path.write_text(text, encoding="utf-8")
    os.utime(w.path, ns=(time.time_ns(), time.time_ns()))


def test_numbers_come_first_then_the_build(watched, builds):
    builds.hold.clear()
    assert watched.step() and not watched.step()
    assert watched.state.version == 1 and watched.state.busy and "corrie rear" in watched.state.text
    builds.hold.set()
    _wait(lambda: watched.state.version == 2)
    assert "built for 50" in watched.state.text and watched.state.busy is None


TABLE = "Table of the tightest gaps"


@pytest.fixture
def gaps(monkeypatch):
    """Gaps that come when they are let."""
    come = threading.Event()

    def found(numbers, still_newest):
        while not come.wait(0.02):
            still_newest()
        return demos.with_gaps("corrie-rear")

    monkeypatch.setattr(watch, "study", lambda *_, **__: demos.corner("corrie-rear"))
    monkeypatch.setattr(watch, "with_gaps", found)
    monkeypatch.setattr(watch, "MOMENT_S", 0.0)
    return come


def test_gaps_come_after_the_numbers_and_before_solids_and_pictures(watched, builds, gaps):
    """Until they are known none is shown, and their place says so; so too after a change, though older ones
    are known. Files are not said to be of these numbers before they are."""
    builds.hold.clear()
    for number, bump in enumerate((50, 45), 1):
        gaps.clear()
        _write(watched, _with(bump))
        watched.step()
        text = watched.state.text
        assert watched.state.of == (number, 0) and "The numbers are new" in watched.state.busy
        assert TABLE not in text and "Least to spare" not in text and SOON["gaps"] in text
        assert SOON["files"] in text and ">DXF<" not in text
        gaps.set()
        _wait(lambda number=number: watched.state.of == (number, 1))
        text = watched.state.text
        assert "Numbers and gaps are new" in watched.state.busy and TABLE in text
        assert SOON["gaps"] not in text and SOON["maps"] in text and SOON["files"] in text
    assert not builds.finished
    builds.hold.set()
    _wait(lambda: "built for" in watched.state.text)
    assert watched.state.busy is None and len(builds.finished) == 1


def test_gaps_that_are_known_at_once_come_with_the_numbers(watched, builds, gaps, monkeypatch):
    gaps.set()
    monkeypatch.setattr(watch, "MOMENT_S", 60.0)
    builds.hold.clear()
    watched.step()
    assert watched.state.version == 1 and TABLE in watched.state.text


def test_a_page_that_says_nothing_new_is_not_loaded_again(watched):
    watched._newest = 1
    assert (
        watched._put((1, 1), text="one") and watched._put((1, 2), text="one") and watched.state.version == 1
    )
    assert not watched._put((1, 0), text="less") and not watched._put((0, 9), text="older")
    assert watched._put((1, 3), text="two") and watched.state.version == 2
    watched._newest = 2  # nothing of it is shown yet
    assert not watched._put((1, 4), text="late") and watched.state.text == "two"


FILES = """
[frame]
file = "frame.toml"

[[member]]
name = "tank"
shape = "step"
file = "tank.step"
"""


def test_every_file_that_the_job_names_is_looked_at(watched, builds, tmp_path, monkeypatch):
    """The frame's own file and those that it names too; a STEP file that changed makes all anew, whatever the
    job's tables say."""
    asked = []
    monkeypatch.setattr(watch, "load", lambda _: demos.corner("corrie-rear").job)
    monkeypatch.setattr(
        watch, "study", lambda job, like=None, **_: asked.append(like) or demos.corner("corrie-rear")
    )
    parts = tmp_path / "parts"
    parts.mkdir()
    frame = '[[member]]\nname = "seat"\nshape = "step"\nfile = "parts/seat.step"\n'
    (tmp_path / "frame.toml").write_text(frame, encoding="utf-8")
    for step in (tmp_path / "tank.step", parts / "seat.step"):
        step.write_text("one", encoding="utf-8")
    watched.path.write_text(TEXT + FILES, encoding="utf-8")
    assert watched.step() and len(asked) == 1
    assert not watched.step() and not watched.step()
    for number, step in enumerate((tmp_path / "tank.step", parts / "seat.step"), 2):
        step.write_text("another", encoding="utf-8")
        assert watched.step() and len(asked) == number and asked[-1] is None
    (tmp_path / "frame.toml").write_text("# measured again\n" + frame, encoding="utf-8")
    assert watched.step() and len(asked) == 3  # looked at; no value is another
    (tmp_path / "frame.toml").write_text(frame.replace("parts/seat", "tank"), encoding="utf-8")
    assert watched.step() and len(asked) == 4


@pytest.mark.slow
def test_a_spring_is_shown_as_it_twists_now_or_not_at_all(monkeypatch):
    """A page of numbers waits for no solid: a pack that no page has shown so far is left out until it is
    made, and its place says so; so is one that a heavier car twists otherwise."""
    for shown in ("_meshes", "_packed_meshes"):  # another test may have shown this pack in this process
        monkeypatch.setattr(f"assemblies.making.report.scene.{shown}", {})
    was = demos.corner("heronbank-front")
    heavier = demos.known(was.job.changed({"corner.corner_mass": was.job.corner.corner_mass + 9}), False)
    pack = {was.layout.pack.name: None}  # its shape is not asked for
    quick = functools.partial(scene, shapes=pack, known=True)
    for s in (was, heavier):
        assert quick(s)["parts"] == [] and not shown_twisted(s)
        whole = scene(s, pack)
        assert quick(s) == whole and shown_twisted(s) and len(whole["parts"]) == 1
    assert scene(was, pack)["meshes"] != whole["meshes"]


@pytest.mark.slow
def test_pages_after_tweaks_are_those_of_a_watch_begun_anew(tmp_path, monkeypatch):
    """Byte for byte, with gaps: after values of plate and spring, a new name, a neighbour, and another shape
    in that neighbour's file. The watch begun anew finds nothing that was kept."""

    def never(*_, **__):
        raise watch.Stale

    monkeypatch.setattr(watch, "beside", never)
    monkeypatch.setattr(Watch, "_draw", lambda *_: False)
    monkeypatch.setattr(watch, "MOMENT_S", 300.0)
    tank = '[[member]]\nname = "tank"\nshape = "step"\nfile = "tank.step"\nat = [-700, 150, 300]\n'

    def shown(w: Watch) -> str:
        assert w.step() and w.state.error is None
        assert w._worker is not None
        w._worker.join()
        assert w.state.of == (w._newest, 1) and TABLE in w.state.text
        return w.state.text

    pages, fresh = list[str](), list[str]()
    kept = Watch(tmp_path / "mine.toml", tmp_path / "out", say=lambda _: None)
    tweaked = TEXT.replace("plate_thickness = 4", "plate_thickness = 5").replace("rate = 60 ", "rate = 66 ")
    for change, shape in (
        (TEXT, None),
        (tweaked.replace('"corrie rear"', '"another"'), None),
        (TEXT + tank, "pump"),
        (TEXT + tank, "casting"),
    ):
        kept.path.write_text(change, encoding="utf-8")
        if shape:
            shutil.copy(ROOT / "tests" / "data" / f"{shape}.step", tmp_path / "tank.step")
        monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
        pages.append(shown(kept))
        if len(pages) == 1:
            continue
        monkeypatch.setenv("ROCKERSHED_CACHE", "off")
        memory.forget()
        fresh.append(shown(Watch(kept.path, tmp_path / "out", say=lambda _: None)))
    assert len(set(fresh)) == 3 and [a == b for a, b in zip(pages[1:], fresh, strict=True)] == [True] * 3


def test_a_study_with_its_gaps_added_is_the_study_with_gaps():
    """As a watch has them: the numbers first, the gaps from there on."""
    whole = study(demos.corner("corrie-rear").job).results
    assert with_gaps(demos.corner("corrie-rear")).results.to_json() == whole.to_json()
    assert whole.clearance.checked and not demos.corner("corrie-rear").results.clearance.checked


def test_a_mistake_is_told_and_the_last_good_state_stays(watched, builds):
    watched.step()
    _wait(lambda: watched.state.version == 2)
    good = watched.state.text
    _write(watched, _with('"much"'))
    assert watched.step()
    assert "corner.bump" in watched.state.error and watched.state.text == good and watched.state.version == 2
    _write(watched, "this is no job [")
    watched.step()
    assert "TOML" in watched.state.error and watched.state.text == good
    _write(watched, 'schema = 1\nname = "rails"\n' + ROUND)
    watched.step()
    assert "members only" in watched.state.error and watched.state.text == good
    watched.path.unlink()
    watched.step()
    assert "no such file" in watched.state.error and watched.state.text == good
    _write(watched, _with(50))
    watched.step()
    assert watched.state.error is None and watched.state.version == 2 and builds.started == [50]


def test_a_build_that_ends_does_not_hide_a_mistake_made_meanwhile(watched, builds):
    builds.hold.clear()
    watched.step()
    _write(watched, _with('"much"'))
    watched.step()
    builds.hold.set()
    _wait(lambda: builds.finished == [50] and watched.state.version == 2)
    assert "corner.bump" in watched.state.error and "built for 50" in watched.state.text


def test_a_comment_builds_nothing(watched, builds):
    watched.step()
    _wait(lambda: watched.state.version == 2)
    _write(watched, "# measured again on Sunday\n" + _with(50))
    assert watched.step()
    assert watched.state.version == 2 and builds.started == [50]


def test_a_default_that_the_file_now_says_is_no_longer_told_as_assumed(watched, builds):
    """The job is the same, what is told of it is not."""
    builds.hold.clear()
    for more, told in (("", True), ("\n[loads]\nkerb_step = 60\n", False)):
        _write(watched, _with(50) + more)
        assert watched.step() and ("loads.kerb_step" in watched.state.text) is told


def test_a_newer_change_makes_the_running_build_give_up(watched, builds):
    builds.hold.clear()
    watched.step()
    _wait(lambda: builds.started == [50])
    _write(watched, _with(45))
    watched.step()
    _wait(lambda: builds.started == [50, 45])
    assert builds.finished == []
    builds.hold.set()
    _wait(lambda: builds.finished == [45])
    _wait(lambda: "built for 45" in watched.state.text)


def test_a_build_that_ends_too_late_to_give_up_is_not_shown(watched, builds, monkeypatch):
    builds.deaf = True
    builds.hold.clear()
    watched.step()
    _wait(lambda: builds.started == [50])
    monkeypatch.setattr(watch, "MOMENT_S", 0.0)  # the gaps wait for it
    _write(watched, _with(45))
    watched.step()
    assert watched.state.of == (2, 0)
    shown = []
    put = watched._put
    watched._put = lambda number=None, **news: shown.append(put(number, **news)) or shown[-1]
    builds.hold.set()
    _wait(lambda: builds.finished == [50, 45] and "built for 45" in watched.state.text)
    assert shown == [False, True, True] and watched.state.of == (2, 3)


def test_a_failed_build_is_told(watched, monkeypatch):
    def fails(*_, **__):
        raise building.BuildError("the folder is full")

    monkeypatch.setattr(watch, "build", fails)
    watched.step()
    _wait(lambda: watched.state.error is not None)
    assert "the folder is full" in watched.state.error and "cannot be used" not in watched.state.error
    assert watched.state.busy is None and watch.FAILED in watched.state.text
    assert SOON["files"] not in watched.state.text and not watched.step()
    first = watched._newest
    _write(watched, _with(50))  # saved again as it is, once there is room
    assert watched.step() and watched._newest == first + 1


def test_what_a_slip_leaves_unknown_is_not_said_to_be_on_its_way(watched, builds, gaps, monkeypatch):
    def slips(*_):
        raise ZeroDivisionError("a slip")

    monkeypatch.setattr(watch, "with_gaps", slips)
    watched.step()
    _wait(lambda: watched.state.error is not None)
    assert SOON["gaps"] not in watched.state.text and TABLE not in watched.state.text
    assert watch.FAILED in watched.state.text and not builds.started


def test_an_unusable_file_at_the_start_gives_a_page_that_waits(tmp_path, builds):
    file = tmp_path / "mine.toml"
    file.write_text("nothing = 1", encoding="utf-8")
    w = Watch(file, tmp_path / "out", say=lambda _: None)
    w.step()
    assert w.state.version == 0 and w.state.error and "Not ready yet" in w.state.text and not builds.started


# ------------------------------------------------------------------------------------------------ served


@pytest.fixture
def served(watched):
    server = ThreadingHTTPServer(("127.0.0.1", 0), handler(watched))
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True).start()
    yield server.server_address[1]
    server.shutdown()
    server.server_close()


def _get(port: int, path: str, host: str | None = None) -> tuple[int, bytes]:
    c = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    c.putrequest("GET", path, skip_host=host is not None)
    if host is not None:
        c.putheader("Host", host)
    c.endheaders()
    answer = c.getresponse()
    body = answer.read()
    c.close()
    return answer.status, body


def test_only_the_builds_own_files_are_served_and_only_to_this_machine(watched, served, tmp_path):
    (tmp_path / "secret.txt").write_text("secret", encoding="utf-8")
    assert _get(served, "/blanks/a.dxf")[0] == 404
    watched.step()
    _wait(lambda: watched.state.version == 2)
    assert _get(served, "/blanks/a.dxf") == (200, b"dxf")
    for path in (
        "/../secret.txt",
        "/../../secret.txt",
        "/%2e%2e/%2e%2e/secret.txt",
        "/blanks/../../../secret.txt",
        "/blanks",
        "/a%00b",
        "//etc/passwd",
    ):
        status, body = _get(served, path)
        assert status == 404 and b"secret" not in body, path
    for host in ("elsewhere.example:80", "127.0.0.1.elsewhere.example:80", ""):
        assert _get(served, "/", host)[0] == 403
    assert json.loads(_get(served, "/state")[1]) == {"version": 2, "error": None, "busy": None}
    assert b'data-version="2" hidden></div>' in _get(served, "/")[1]
    watched._put(error="rod <b> cannot")  # stands over the page before its script has run
    assert b'data-version="2" class="wrong">rod &lt;b&gt; cannot</div>' in _get(served, "/")[1]


@pytest.mark.slow
def test_page_reloads_after_a_change_and_shows_a_mistake(watched, served):
    address = f"http://127.0.0.1:{served}/"
    watched.step()
    with browsers() as found, opened(found.get(gl=False), address, allowed=(address,)) as tab:
        tab.get_by_text("built for 50").wait_for()
        _write(watched, _with('"much"'))
        watched.step()
        tab.locator("#live").wait_for(state="visible")
        for share in (0, 0.5, 1):  # in the window wherever the reader is, not only "visible"
            tab.evaluate(f"scrollTo(0, {share} * document.documentElement.scrollHeight)")
            box = tab.evaluate("document.querySelector('#live').getBoundingClientRect().toJSON()")
            assert 0 <= box["top"] < box["bottom"] <= tab.viewport_size["height"]
        assert "corner.bump" in tab.inner_text("#live") and "built for 50" in tab.inner_text("body")
        _write(watched, _with(41))
        watched.step()
        tab.get_by_text("built for 41").wait_for()
        assert tab.is_hidden("#live")


@pytest.mark.slow
def test_page_that_is_old_before_its_first_question_reloads(watched, served):
    """The build may end between the page and its first look at the state: what counts is the version the page
    itself is of."""
    address = f"http://127.0.0.1:{served}/"
    pages = iter(
        [f"<html><head><link rel='icon' href='data:,'></head><body>page {n}</body></html>" for n in range(3)]
    )
    watched._put(text=next(pages))
    with browsers() as found, opened(found.get(gl=False), "about:blank", allowed=(address,)) as tab:

        def late(route):
            watched._put(text=next(pages))
            route.continue_()

        tab.route("**/state", late, times=1)
        tab.goto(address)
        tab.get_by_text("page 1").wait_for()


def never_ending(job, out, progress):
    (out / f"{job.corner.bump:g}").write_text(str(os.getpid()), encoding="utf-8")
    time.sleep(60)


@pytest.mark.slow
def test_a_build_is_a_process_of_its_own_and_ends_with_its_job_and_with_the_watch(
    watched, tmp_path, monkeypatch
):
    monkeypatch.setenv("ROCKERSHED_CORES", "2")
    monkeypatch.setenv("ROCKERSHED_CACHE", str(tmp_path / "cache"))
    monkeypatch.setattr(watch, "_built", never_ending)
    watched.out.mkdir()

    def pid(bump: int) -> int:
        told = watched.out / str(bump)
        _wait(lambda: told.is_file() and told.read_text())
        return int(told.read_text())

    watched.step()
    first = pid(50)
    _write(watched, _with(45))
    watched.step()
    assert first != os.getpid() and alive(pid(45)) and not alive(first)
    watched.end()
    assert not alive(pid(45)) and watched.state.error is None


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="an interrupt is sent to another process by a signal here")
def test_interrupt_ends_cleanly_and_leaves_nothing_half_made(tmp_path):
    file = tmp_path / "mine.toml"
    file.write_text(_with(50), encoding="utf-8")
    p = subprocess.Popen(
        [
            sys.executable,
            "-u",
            "-m",
            "assemblies.command.cli",
            "watch",
            str(file),
            "--out",
            str(tmp_path / "out"),
            "--no-browser",
        ],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        start_new_session=True,
        preexec_fn=lambda: signal.signal(signal.SIGINT, signal.SIG_DFL),  # a background job ignores it
    )
    lines = []
    for line in p.stdout:
        lines.append(line)
        if line.startswith("numbers after"):
            break
    time.sleep(0.5)
    p.send_signal(signal.SIGINT)
    said, _ = p.communicate(timeout=60)
    assert p.returncode == 0 and "Ending." in said and "Traceback" not in said, said
    assert not list((tmp_path / "out").glob(".*")) if (tmp_path / "out").exists() else True
