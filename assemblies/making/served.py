"""The page of a watch, its state and the files of the last build, served to browsers of this machine only."""

from __future__ import annotations

import json
from dataclasses import field
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any, Protocol
from urllib.parse import unquote, urlsplit

from assemblies.making.report import alive, empty
from parts.base.frozen import dataclass

KINDS = {
    ".html": "text/html; charset=utf-8",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".pdf": "application/pdf",
    ".json": "application/json",
    ".csv": "text/csv; charset=utf-8",
    ".txt": "text/plain; charset=utf-8",
}


@dataclass(frozen=True)
class State:
    """What the page shows: raised `version` makes it reload; `error` and `busy` are said above it."""

    text: str = field(default_factory=empty)
    version: int = 0
    error: str | None = None
    busy: str | None = None
    of: tuple[int, int] = (0, 0)  # the job's number, and how far it is worked

    @property
    def said(self) -> str:
        return "\n".join(filter(None, (self.error, self.busy)))


class Serving(Protocol):
    state: State
    folder: Path | None  # of the last build


def handler(watch: Serving) -> type[BaseHTTPRequestHandler]:
    class Handler(BaseHTTPRequestHandler):
        """The page, its state and the files of the last build; to browsers of this machine only."""

        def do_GET(self) -> None:
            if self.headers.get("Host", "").rpartition(":")[0] not in ("127.0.0.1", "localhost"):
                self.send_error(403)
                return
            place = unquote(urlsplit(self.path).path).lstrip("/")
            s = watch.state
            if place in ("", "report.html"):
                self._send(alive(s.text, s.version, bool(s.error), s.said).encode(), KINDS[".html"])
            elif place == "state":
                told = {"version": s.version, "error": s.error, "busy": s.busy}
                self._send(json.dumps(told).encode(), KINDS[".json"])
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

        def log_message(self, format: str, *args: Any) -> None:
            """Quiet: the terminal is for the job."""

    return Handler
