"""A part of a build in a process of its own: its value, its error, its end with the rest. Real processes."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from assemblies.making.beside import Gone, beside, cores

ROOT = Path(__file__).parent.parent


def doubled(given, say):
    for k in range(300):  # more than a pipe holds unread
        say("part", k, "x" * 500)
    print("what a library prints is no answer")
    return [2 * v for v in given], os.getpid()


def failing(where, say):
    raise ValueError(f"{where} cannot be made")


def ended(say):
    os._exit(7)


def waiting(file, say):
    Path(file).write_text(str(os.getpid()), encoding="utf-8")
    time.sleep(60)


def test_value_and_progress_come_back_from_another_process_or_the_same():
    heard = []
    for apart in (True, False):
        with beside(doubled, [1, 2], say=lambda *a: heard.append(a), apart=apart) as made:
            value, pid = made()
        assert value == [2, 4] and (pid != os.getpid()) is apart
    assert [k for _, k, _ in heard] == 2 * list(range(300))


def test_its_error_is_the_same_error_and_a_process_that_vanishes_is_told():
    with (
        pytest.raises(ValueError, match=r"^nest cannot be made"),
        beside(failing, "nest", say=print, apart=True) as made,
    ):
        made()
    with (
        pytest.raises(Gone, match=r"exit status 7.*ROCKERSHED_CORES=1"),
        beside(ended, say=print, apart=True) as made,
    ):
        made()


def alive(pid: int) -> bool:
    if sys.platform == "win32":
        shown = subprocess.run(["tasklist", "/fi", f"PID eq {pid}"], capture_output=True, text=True)
        return str(pid) in shown.stdout
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    state = Path(f"/proc/{pid}/stat")  # ended, but nobody asked for its status: gone too
    return not (state.is_file() and state.read_text().rpartition(")")[2].split()[0] == "Z")


def _soon(what, seconds: float = 20.0) -> bool:
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if what():
            return True
        time.sleep(0.05)
    return False


def test_it_ends_where_the_rest_fails(tmp_path):
    with (
        pytest.raises(RuntimeError, match="the rest"),
        beside(waiting, tmp_path / "pid", say=print, apart=True),
    ):
        assert _soon((tmp_path / "pid").is_file)
        raise RuntimeError("the rest")
    assert _soon(lambda: not alive(int((tmp_path / "pid").read_text())))


def test_it_ends_where_it_is_no_longer_wanted(tmp_path):
    def wanted():
        if (tmp_path / "pid").is_file():
            raise RuntimeError("something newer")

    with (
        pytest.raises(RuntimeError, match="something newer"),
        beside(waiting, tmp_path / "pid", say=print, apart=True, wanted=wanted) as made,
    ):
        made()
    assert _soon(lambda: not alive(int((tmp_path / "pid").read_text())))


@pytest.mark.parametrize("how", ["interrupt", "kill"])
def test_no_orphan_where_the_build_is_interrupted_or_killed(tmp_path, how):
    """On Windows a signal to one process is its end: both ways are `terminate` there."""
    script = (
        "import test_beside as t, pathlib, signal\n"
        "signal.signal(signal.SIGINT, signal.default_int_handler)\n"  # a shell's background job ignores it
        "from assemblies.making.beside import beside\n"
        f"with beside(t.waiting, pathlib.Path({str(tmp_path / 'pid')!r}), say=print, apart=True) as made:\n"
        "    made()\n"
    )
    env = {**os.environ, "PYTHONPATH": os.pathsep.join((str(ROOT), str(ROOT / "tests")))}
    parent = subprocess.Popen([sys.executable, "-c", script], env=env, stderr=subprocess.PIPE)
    try:
        pid = tmp_path / "pid"
        assert _soon(lambda: pid.is_file() and pid.read_text())
        if how == "interrupt" and sys.platform != "win32":
            parent.send_signal(signal.SIGINT)
        else:
            parent.kill()
        parent.communicate(timeout=20)
        assert _soon(lambda: not alive(int(pid.read_text()))), "an orphan is left"
    finally:
        parent.kill()


def told(say):
    return sys.flags.isolated, sys.flags.utf8_mode, [p for p in sys.path if p.endswith("place.zip")]


def test_it_is_told_what_this_interpreter_was_told_and_finds_what_this_one_finds(tmp_path):
    """Started `python -I -X utf8` with nowhere to write to (as `pythonw`), this function in a zip, the path
    relative; an environment that would end any interpreter which heeds it."""
    import zipfile

    with zipfile.ZipFile(tmp_path / "a place.zip", "w") as z:
        z.write(__file__, "zipped_beside.py")
    script = (
        f"import sys; sys.path[:0] = ['a place.zip', {str(ROOT)!r}]; sys.__stderr__ = None\n"
        "import os; from zipped_beside import beside, told\n"
        "os.environ['PYTHONHOME'] = 'nowhere'\n"
        "with beside(told, say=print, apart=True) as made: isolated, utf8, zips = made()\n"
        "print(isolated, utf8, len(zips))\n"
    )
    command = [sys.executable, "-I", "-X", "utf8", "-c", script]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True)
    assert done.stdout.split() == ["1", "1", "1"], done.stderr


@pytest.mark.parametrize("program", ["", "/opt/cad/bin/CAD", r"python of another name/editor.exe"])
def test_inside_another_program_all_is_made_in_one_process(monkeypatch, program):
    monkeypatch.setattr(sys, "executable", program)
    with beside(doubled, [1], say=lambda *_: None, apart=True) as made:
        assert made() == ([2], os.getpid())


def test_the_user_says_how_many_cores(monkeypatch):
    monkeypatch.setenv("ROCKERSHED_CORES", "1")
    assert cores() == 1
    monkeypatch.setenv("ROCKERSHED_CORES", "many")
    assert cores() == (len(os.sched_getaffinity(0)) if sys.platform == "linux" else os.cpu_count())
