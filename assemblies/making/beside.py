"""One part of a build made in a process of its own, beside the rest, so that two cores are used.

    with beside(make, given, say=progress, apart=worth_it()) as made:
        ...the rest...
        value = made()

`make(*given, say)` is a function of a module. The process is a fresh interpreter on every system: it is sent
the function's name and what it is given, tells its progress, and gives back the value or the error. It ends
with the block: let go where it was asked for its value, ended where the block fails or is interrupted. Where
this process is gone without a word (killed) its pipe closes, and the other one ends itself.
"""

from __future__ import annotations

import gc
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
import traceback
from collections.abc import Callable, Generator
from contextlib import contextmanager
from typing import IO, Any

from parts.files.interpreter import starts_again

CORES = "ROCKERSHED_CORES"  # environment variable: 1 makes everything in one process
# no file of the caller's is run again
START = "import sys; sys.path[:] = {path!r}; from assemblies.making.beside import {run}; {run}()"
Say = Callable[..., None]


class Gone(RuntimeError):
    """The process beside ended without a word."""


def cores() -> int:
    """Processes to use at a time: the cores this process may use, unless the user says."""
    asked = os.environ.get(CORES, "")
    if asked.isdigit() and int(asked) > 0:
        return int(asked)
    usable = getattr(os, "sched_getaffinity", None)  # Linux alone has it
    return len(usable(0)) if usable else os.cpu_count() or 1


def _flags() -> list[str]:
    """How this interpreter was told to take environment and letters, for another one."""
    alone = "-I" if sys.flags.isolated else "-E" if sys.flags.ignore_environment else ""
    return [*filter(None, [alone]), *(["-X", "utf8"] if sys.flags.utf8_mode else [])]


@contextmanager
def beside(
    make: Callable[..., Any],
    *given: Any,
    say: Say,
    apart: bool,
    wanted: Callable[[], None] = lambda: None,
) -> Generator[Callable[[], Any]]:
    """Yields what waits for the value and gives it, or raises the error that `make` raised. `wanted` is asked
    several times a second meanwhile: what it raises ends the wait. Not `apart`: made at once, here; so too
    inside a program that is no plain Python, which a second one could not be started of."""
    if not apart or not starts_again():
        value = make(*given, say)
        yield lambda: value
        return
    child = _Child(make, given)
    try:
        yield lambda: child.value(say, wanted)
    finally:
        child.end()


class _Child:
    def __init__(self, make: Callable[..., Any], given: tuple[Any, ...]) -> None:
        code = START.format(path=[os.path.abspath(p) for p in sys.path], run=_child.__name__)
        self.process = subprocess.Popen(
            [sys.executable, *_flags(), "-c", code],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            # without a window (pythonw) there is nowhere to write to: a closed pipe would be an error
            stderr=None if sys.__stderr__ else subprocess.DEVNULL,
        )
        self.heard: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self.sent = pickle.dumps((make, given))
        for work in (self._send, self._listen):
            threading.Thread(target=work, daemon=True).start()

    def _send(self) -> None:
        """What it is to make. The pipe stays open as long as this process is there."""
        try:
            _pipe(self.process.stdin).write(len(self.sent).to_bytes(8, "big") + self.sent)
            _pipe(self.process.stdin).flush()
        except OSError:  # it ended: `_listen` finds that out
            return

    def _listen(self) -> None:
        while True:
            try:
                told = pickle.load(_pipe(self.process.stdout))
            except Exception as e:  # cut off in the middle of a word
                told = ("gone", e)
            self.heard.put(told)
            if told[0] != "say":
                return

    def value(self, say: Say, wanted: Callable[[], None]) -> Any:
        """Waits in short steps, so that Ctrl-C is heard on every system."""
        while True:
            wanted()
            try:
                kind, what = self.heard.get(timeout=0.1)
            except queue.Empty:
                continue
            if kind == "say":
                say(*what)
            elif kind == "made":
                return what
            elif kind == "failed":
                raise what
            else:
                raise Gone(
                    f"the process that makes them ended without a word (exit status {self.process.wait()}): "
                    f"out of memory or ended by hand. Set {CORES}=1 to make all in one process"
                ) from what

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout):
            try:
                _pipe(pipe).close()
            except OSError:
                continue


def _pipe(given: IO[bytes] | None) -> IO[bytes]:
    assert given is not None
    return given


# ------------------------------------------------------------------------------------------------ the child


def _child() -> None:
    """Reads what to make, makes it, tells."""
    gc.set_threshold(200_000)  # as in the command: what is made lives to the end
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C goes to both: the parent says what is to happen
    asked, told = sys.stdin.buffer, sys.stdout.buffer
    sys.stdout = sys.stderr  # what a library prints is no part of the answer
    lock = threading.Lock()

    def tell(kind: str, what: Any) -> None:
        with lock:
            told.write(pickle.dumps((kind, what)))
            told.flush()

    make, given = pickle.loads(asked.read(int.from_bytes(asked.read(8), "big")))
    threading.Thread(target=_end_with, args=(asked,), daemon=True).start()
    try:
        value = make(*given, lambda *what: tell("say", what))
    except Exception as e:
        tell("failed", _carried(e))
    else:
        tell("made", value)
    os._exit(0)  # no library's own end can hold it up


def _end_with(parent: IO[bytes]) -> None:
    """Ends this process as soon as its parent's end of the pipe is closed."""
    parent.read()
    os._exit(1)


def _carried(error: Exception) -> Exception:
    """The error as it can be sent, with where it was raised."""
    error.add_note("".join(traceback.format_exception(error)))
    try:
        pickle.loads(pickle.dumps(error))
        return error
    except Exception:  # its own rules of copying fail in any way: its words go, with where it was raised
        told = RuntimeError(f"{type(error).__name__}: {error}")
        told.__notes__ = error.__notes__
        return told
