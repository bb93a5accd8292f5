"""Watch a job file and the files it names: after each change the numbers at once, gaps and solids when ready,
in a page that reloads itself where it says anything new.

    rockershed watch mine.toml

The page is served on this machine only (127.0.0.1) and only while the watch runs. The files are looked at
several times a second; no other program is needed for it. A page is of one job alone: what is not worked out
yet for that job is left off, and the place where it will stand says so. A newer change makes running work
give up; a mistake in a file is shown over the page while the last good state stays, and is said to be that.
"""

from __future__ import annotations

import hashlib
import threading
import time
import tomllib
import webbrowser
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import field, replace
from http.server import ThreadingHTTPServer
from pathlib import Path
from typing import Any

from assemblies.job import FrameJob, Job, load
from assemblies.layout.placing import Layout
from assemblies.making.beside import beside, cores
from assemblies.making.build import build
from assemblies.making.report import page
from assemblies.making.report.scene import at_hand, shown_twisted, untwisted
from assemblies.making.served import State, handler
from assemblies.results.folder import FolderError, tidy
from assemblies.results.model import Results
from assemblies.study import Study, study, with_gaps
from parts.base.frozen import dataclass
from parts.files.cache import cache_folder

LOOK_S = 0.1  # between two looks at the files
SETTLE_S = 0.03  # and between two readings of one that changed
MOMENT_S = 0.15  # numbers wait so long for gaps that are known already
END_S = 20.0  # how long an ending watch waits for a build to give up

FRAME_ALONE = "The file has members only: a page shows a corner. check and build take a frame alone."
OLD = "This page shows the last good state, not what the file says now."
SOON = {  # what a page of numbers lacks, told in its place
    "gaps": "The gaps of these numbers are being worked out; until then none is shown.",
    "maps": "What the CAD kernel says of these gaps, and their pictures, are being worked out.",
    "view": "being drawn",
    "files": "Blanks, sheets, solids and nest of these numbers are being made. What lies in the folder until "
    "then is of an earlier state: cut nothing by it.",
}
BROKE = "The build could not be finished; save the file again to try again."
FAILED = "This could not be made, and what lies in the folder is of an earlier state: cut nothing by it."


class Stale(BaseException):  # no error, so that nothing tells it as one
    """Work on a job that is no longer the newest."""


class Watch:
    """A watched job file. `step` looks once; `run` looks until told to stop."""

    def __init__(self, path: Path, out: Path, say: Callable[[str], None] = print):
        self.path, self.out, self.say = Path(path), Path(out), say
        self.state = State()
        self.job: Job | None = None  # the last good one
        self.folder: Path | None = None
        self._numbers: Study | None = None  # of the last good job
        self._worked: tuple | None = None  # all that those hang on; None where they are to be worked again
        self._solids: dict[str, object] = {}  # by the form's content
        self._seen = Files({}, {}, {})
        self._lock = threading.Lock()
        self._newest = 0
        self._worker: threading.Thread | None = None

    # looking

    def step(self) -> bool:
        """Look at the files once; whether they had changed. What is wrong with them goes into the state,
        never up."""
        known, marks = self._seen, self._seen.marks
        if marks and marks == {f: _mark(f) for f in marks}:
            return False
        self._seen = seen = self._settled()
        if seen == known and self._worked is not None:
            return False
        start = time.perf_counter()
        try:
            job = load(self.path)
            if isinstance(job, FrameJob):
                raise ValueError(FRAME_ALONE)
            worked = job, job.assumed, seen.solids
            if worked == self._worked:  # a comment, or back again
                self._put(error=None)
                return True
            alike = self._worked is not None and self._worked[-1] == seen.solids
            numbers = study(job, interference=False, like=self._numbers if alike else None)
        except Exception as e:  # a watch outlives whatever a half-typed job does to the numbers
            said = str(e) if isinstance(e, ValueError) else f"the numbers could not be worked out: {e}"
            old = [OLD] if self.state.version else []
            self._put(error="\n".join([f"{self.path.name} cannot be used.", *old, said]))
            self.say(f"{self.path.name} cannot be used:\n{said}")
            return True
        self._newest += 1
        self.job, self._worked, self._numbers = job, worked, numbers
        self.say(f"numbers after {time.perf_counter() - start:.2f} s; gaps and solids follow")
        moment, before = threading.Event(), self._worker
        self._worker = threading.Thread(
            target=self._work, args=(numbers, self._newest, before, moment), daemon=True
        )
        self._worker.start()
        if not moment.wait(MOMENT_S):
            busy = "The numbers are new. Gaps, solids and sheets follow."
            self._show(numbers, (self._newest, 0), _lacking(numbers), busy)
        return True

    def _settled(self) -> Files:
        """The files once they hold still: an editor may empty one before it writes it."""
        before = None
        for _ in range(10):
            now = Files.of(self.path)
            if now == before:
                break
            before = now
            time.sleep(SETTLE_S)
        return now

    def run(self, ended: threading.Event) -> None:
        while not ended.wait(LOOK_S):
            self.step()

    # working

    def _work(
        self, numbers: Study, number: int, before: threading.Thread | None, moment: threading.Event
    ) -> None:
        """Gaps, then the view, then a whole build; given up as soon as the job is no longer the newest."""

        def still_newest(*_: object) -> None:
            if number != self._newest:
                raise Stale

        if before is not None:
            before.join()
        start, done, lacks = time.perf_counter(), numbers, _lacking(numbers)
        try:
            still_newest()
            if numbers.layout is not None:
                done, lacks = with_gaps(numbers, still_newest), {k: lacks[k] for k in lacks if k != "gaps"}
                shown = self._show(
                    done, (number, 1), lacks, "Numbers and gaps are new. Solids and sheets follow."
                )
                moment.set()
                if shown:
                    self.say("gaps; solids follow")
                if self._draw(numbers, numbers.layout, still_newest):
                    self._show(done, (number, 2), lacks, "The view is new too. Sheets and files follow.")
            # apart, so that no long call of the CAD kernel holds up the next numbers
            apart = cores() > 1 and cache_folder() is not None
            given = numbers.job, self.out
            with beside(_built, *given, say=still_newest, apart=apart, wanted=still_newest) as made:
                self.folder, results = made()
            report = self.folder / "report.html"
            if not report.exists():  # a slip in it is a finding
                raise FolderError("The report could not be made: see summary.txt.")
        except Stale:
            return
        except Exception as e:
            if self._show(done, (number, 3), dict.fromkeys(lacks, FAILED), None, error=f"{BROKE}\n{e}"):
                self._worked = None  # the next save tries again
                self.say(f"the build could not be finished: {e}")
            return
        if self._put((number, 3), text=report.read_text(encoding="utf-8"), busy=None):
            stops = sum(f.level == "stop" for f in results.findings)
            told = f"{len(results.findings)} findings, {stops} of them stop it"
            self.say(f"built in {time.perf_counter() - start:.1f} s: {self.folder}; {told}")

    def _show(
        self, done: Study, of: tuple[int, int], lacks: Mapping[str, str], busy: str | None, **error: str
    ) -> bool:
        """The page of what is known so far, with the solids that are known already."""
        try:
            text = page(done, done.results, at_hand(done.layout, self._solids), quick=True, lacks=lacks)
        except Exception as e:
            return self._put(of, busy=busy, error=f"The page could not be made. {OLD}\n{e}")
        return self._put(of, text=text, busy=busy, **error)

    def _draw(self, numbers: Study, layout: Layout, still_newest: Callable[..., None]) -> bool:
        """Make what the view lacks; whether it lacked anything."""
        from parts.files.solid import solid

        drawn: dict[str, object] = {}
        for p in layout.placed:
            still_newest()
            key = p.form.key
            with suppress(Exception):  # what cannot be drawn the build tells of
                drawn[key] = self._solids.get(key) or solid(p.form)
        lacked = not shown_twisted(numbers) or bool(drawn.keys() - self._solids.keys())
        if layout.pack is not None:
            with suppress(Exception):
                untwisted(numbers)
        self._solids = drawn
        return lacked

    def _put(self, of: tuple[int, int] | None = None, **news: Any) -> bool:
        """Change the state, unless it comes from work on an older job, or on less of this one. A page that
        says nothing new is no new version; a mistake stands until a newer job is shown."""
        with self._lock:
            s = self.state
            if of is not None:
                if of[0] != self._newest or of < s.of:
                    return False
                if of[0] > s.of[0]:
                    s = replace(s, error=None)
                s = replace(s, of=of)
            shown = replace(s, **news)
            self.state = shown if shown.text == s.text else replace(shown, version=s.version + 1)
            return True

    def end(self) -> None:
        """Let running work give up, and leave nothing half-made behind."""
        self._newest += 1
        if self._worker is not None:
            self._worker.join(END_S)
        if self.job is not None:
            with suppress(OSError):  # no folder yet
                tidy(self.out / self.job.slug)


def _built(job: Job, out: Path, progress: Callable[..., None]) -> tuple[Path, Results]:
    return build(job, out, progress=progress)


def _lacking(numbers: Study) -> dict[str, str]:
    """What a page of numbers lacks; a corner that cannot stand has no gaps and no view."""
    return {k: said for k, said in SOON.items() if numbers.layout is not None or k == "files"}


# ------------------------------------------------------------------------------------------------ files


@dataclass(frozen=True)
class Files:
    """A job's files as they were read: the text of its own and its frame's, the neighbours' solids by digest,
    and what told of each, before it was read, whether it has changed."""

    texts: dict[Path, bytes]
    solids: dict[Path, bytes]
    marks: dict[Path, tuple | None] = field(compare=False)

    @classmethod
    def of(cls, path: Path) -> Files:
        marks: dict[Path, tuple | None] = {}

        def read(file: Path) -> bytes:
            marks[file] = _mark(file)
            return _bytes(file)

        texts = {path: read(path)}
        texts |= {f: read(f) for f in _named(path, texts[path], "frame")}
        named = [f for base, text in texts.items() for f in _named(base, text, "member")]
        return cls(texts, {f: hashlib.sha256(read(f)).digest() for f in named}, marks)


def _named(base: Path, text: bytes, table: str) -> list[Path]:
    """The files that a table, or each of several, names; none where the text cannot be read."""
    try:
        tables = tomllib.loads(text.decode("utf-8-sig")).get(table)
    except (ValueError, RecursionError):
        return []
    files = [t.get("file") for t in (tables if isinstance(tables, list) else [tables]) if isinstance(t, dict)]
    return [base.parent.absolute() / Path(f).expanduser() for f in files if isinstance(f, str)]


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except (OSError, ValueError) as e:
        return f"{e}".encode()


def _mark(path: Path) -> tuple | None:
    try:
        s = path.stat()
        return s.st_mtime_ns, s.st_size, s.st_ino
    except (OSError, ValueError):
        return None


# ------------------------------------------------------------------------------------------------ served


def watch(
    path: Path,
    out: Path,
    port: int = 0,
    open_page: bool = False,
    say: Callable[[str], None] = print,
    ended: threading.Event | None = None,
) -> None:
    """Watch `path` until Ctrl-C (or `ended`); builds go to `out`. `port` 0 takes a free one; `open_page`
    opens the browser."""
    seen = Watch(path, out, say)
    server = ThreadingHTTPServer(("127.0.0.1", port), handler(seen))
    server.daemon_threads = True
    threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.1}, daemon=True).start()
    address = f"http://127.0.0.1:{server.server_address[1]}/"
    say(f"Watching {path}; the page is {address} (Ctrl-C ends)")
    if open_page:
        webbrowser.open(address)
    try:
        seen.run(ended or threading.Event())
    except KeyboardInterrupt:
        say("Ending.")
    finally:
        seen.end()
        server.shutdown()
        server.server_close()
