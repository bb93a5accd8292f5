"""Watch a job file: after each change the numbers at once, gaps and solids when ready, in a page that reloads
itself.

    rockershed watch mine.toml

The page is served on this machine only (127.0.0.1) and only while the watch runs. The file is looked at
several times a second; no other program is needed for it. Numbers and solids of parts that did not change
come at once; a build, which also checks the gaps and writes the output folder, goes on behind. A newer change
makes a running build give up, and a mistake in the file is shown in the page while the last good state stays.
"""

from __future__ import annotations

import json
import os
import shutil
import threading
import time
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from urllib.parse import unquote, urlsplit

from assemblies.job import FrameJob, Job, JobError, load
from assemblies.making.build import build
from assemblies.making.report import alive, empty, page
from assemblies.study import Study, study, with_gaps

LOOK_S = 0.1  # between two looks at the file
SETTLE_S = 0.03  # and between two readings of one that changed
END_S = 20.0  # how long an ending watch waits for a build to give up
KINDS = {
    ".html": "text/html; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".pdf": "application/pdf",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
}

FRAME_ALONE = "The file has members only: a page shows a corner. check and build take a frame alone."


class Stale(BaseException):  # no error, so that nothing tells it as one
    """A build whose job is no longer the newest."""


@dataclass
class State:
    """What the page shows: raised `version` makes it reload; `error` and `busy` are said above it."""

    text: str = field(default_factory=lambda: alive(empty(), 0))
    version: int = 0
    error: str | None = None
    busy: str | None = None


class Watch:
    """A watched job file. `step` looks once; `run` looks until told to stop."""

    def __init__(self, path: Path, out: Path, say: Callable[[str], None] = print):
        self.path, self.out, self.say = Path(path), Path(out), say
        self.state = State()
        self.job: Job | None = None  # the last good one
        self.folder: Path | None = None
        self.solids: dict[str, object] = {}  # by the form's content
        self._seen: bytes | None = None
        self._mark: tuple | None = None
        self._lock = threading.Lock()
        self._newest = 0
        self._builder: threading.Thread | None = None

    # looking

    def step(self) -> bool:
        """Look at the file once; whether it had changed. What is wrong with it goes into the state, never
        up."""
        mark = self._stat()
        if mark == self._mark and self._seen is not None:
            return False
        seen = self._settled()
        self._mark = mark
        if seen == self._seen:
            return False
        self._seen = seen
        start = time.perf_counter()
        try:
            job = load(self.path)
        except JobError as e:
            self._put(error=str(e), busy=None)
            self.say(f"{self.path.name} cannot be used:\n{e}")
            return True
        if isinstance(job, FrameJob):
            self._put(error=FRAME_ALONE, busy=None)
            self.say(f"{self.path.name}: {FRAME_ALONE}")
            return True
        if job == self.job:  # a comment, or back again
            self._put(error=None)
            return True
        self._newest += 1
        self.job = job
        numbers = self._numbers(job)
        self.say(f"numbers after {time.perf_counter() - start:.2f} s; gaps and solids follow")
        before, number = self._builder, self._newest
        self._builder = threading.Thread(target=self._built, args=(job, numbers, number, before), daemon=True)
        self._builder.start()
        return True

    def _settled(self) -> bytes:
        """The file's content once it holds still: an editor may empty it before it writes it."""
        before = None
        for _ in range(10):
            try:
                now = self.path.read_bytes()
            except OSError as e:
                now = f"{e}".encode()
            if now == before:
                break
            before = now
            time.sleep(SETTLE_S)
        return now

    def _stat(self) -> tuple | None:
        try:
            s = self.path.stat()
            return s.st_mtime_ns, s.st_size, s.st_ino
        except OSError:
            return None

    def run(self, ended: threading.Event) -> None:
        while not ended.wait(LOOK_S):
            self.step()

    # working

    def _numbers(self, job: Job):
        """The page of the numbers, with the solids that are known already; gives back their study."""
        try:
            done = study(job, interference=False)
            shapes = (
                {p.name: self.solids[p.form.key] for p in done.layout.placed if p.form.key in self.solids}
                if done.layout
                else {}
            )
            text = page(done, done.results, shapes, quick=True)
        except Exception as e:  # a watch outlives whatever a half-typed job does to the numbers
            self._put(error=f"The numbers could not be worked out: {e}", busy=None)
            return None
        self._put(
            text=text, error=None, busy="The numbers are new. Gaps, blanks and solids are being worked out."
        )
        return done

    def _built(self, job: Job, numbers, number: int, before: threading.Thread | None) -> None:
        """A whole build, given up as soon as the job is no longer the newest."""

        def still_newest(*_) -> None:
            if number != self._newest:
                raise Stale

        if before is not None:
            before.join()
        start = time.perf_counter()
        try:
            still_newest()
            self._gaps(numbers, number, still_newest)
            folder, results = build(job, self.out, progress=still_newest)
        except Stale:
            return
        except Exception as e:
            if self._put(number, busy=None, error=f"The build could not be finished: {e}"):
                self.say(f"the build could not be finished: {e}")
            return
        self.folder = folder
        self._keep(numbers.layout if numbers is not None else None)
        report = folder / "report.html"
        if not report.exists():  # a slip in it is a finding
            self._put(number, busy=None, error="The report could not be made: see summary.txt.")
        elif self._put(number, text=report.read_text(encoding="utf-8"), busy=None):
            stops = sum(f.level == "stop" for f in results.findings)
            self.say(
                f"built in {time.perf_counter() - start:.1f} s: {folder}; {len(results.findings)} findings, "
                f"{stops} of them stop it"
            )

    def _gaps(self, numbers, number: int, still_newest: Callable[..., None]) -> None:
        """The page with its gaps, before any new solid: what is found here the build looks up."""
        if not isinstance(numbers, Study) or numbers.layout is None:
            return
        done = with_gaps(numbers, still_newest)
        assert done.layout is not None
        shapes = {p.name: self.solids[p.form.key] for p in done.layout.placed if p.form.key in self.solids}
        text = page(done, done.results, shapes, quick=True)
        busy = "Numbers and gaps are new. Blanks, solids and pictures are being worked out."
        if self._put(number, text=text, busy=busy):
            self.say("gaps; solids follow")

    def _keep(self, layout) -> None:
        """Remember a build's solids by their content, for the next page of numbers."""
        from parts.files.solid import solid

        kept: dict[str, object] = {}
        for p in layout.placed if layout is not None else ():
            try:
                kept[p.form.key] = solid(p.form)
            except ValueError:  # a part without a solid is in the findings
                continue
        self.solids = kept

    def _put(self, number: int | None = None, **news) -> bool:
        """Change the state, unless it comes from a build that is no longer the newest."""
        with self._lock:
            if number is not None and number != self._newest:
                return False
            if "text" in news:
                version = self.state.version + 1
                news = {**news, "text": alive(news["text"], version), "version": version}
            self.state = State(**{**vars(self.state), **news})
            return True

    def end(self) -> None:
        """Let a running build give up, and leave nothing half-made behind."""
        self._newest += 1
        if self._builder is not None:
            self._builder.join(END_S)
        if self.job is not None:
            target = self.out / self.job.slug
            shutil.rmtree(target.with_name(f".{target.name}.new-{os.getpid()}"), ignore_errors=True)


# ------------------------------------------------------------------------------------------------ served


def handler(watch: Watch) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        """The page, its state and the files of the last build; to browsers of this machine only."""

        def do_GET(self) -> None:
            if self.headers.get("Host", "").rpartition(":")[0] not in ("127.0.0.1", "localhost"):
                self.send_error(403)
                return
            place = unquote(urlsplit(self.path).path).lstrip("/")
            if place in ("", "report.html"):
                self._send(watch.state.text.encode(), KINDS[".html"])
            elif place == "state":
                s = watch.state
                self._send(
                    json.dumps({"version": s.version, "error": s.error, "busy": s.busy}).encode(),
                    KINDS[".json"],
                )
            else:
                self._file(place)

        def _file(self, place: str) -> None:
            root = watch.folder and watch.folder.resolve()
            path = (root / place).resolve() if root and "\0" not in place else None
            if root is None or path is None or not path.is_relative_to(root) or not path.is_file():
                self.send_error(404)
                return
            self._send(path.read_bytes(), KINDS.get(path.suffix.lower(), "application/octet-stream"))

        def _send(self, body: bytes, kind: str) -> None:
            self.send_response(200)
            for name, value in (
                ("Content-Type", kind),
                ("Content-Length", str(len(body))),
                ("Cache-Control", "no-store"),
                ("X-Content-Type-Options", "nosniff"),
            ):
                self.send_header(name, value)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *_) -> None:
            """Quiet: the terminal is for the job."""

    return Handler


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
