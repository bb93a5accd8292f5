"""A stranger's STEP file, read by the CAD kernel in a process of its own.

A few damaged bytes can end the kernel's process without a word, or keep it busy for ever; here that is an
error that says so, and the program that asked goes on. Time is bounded on every system (`SECONDS`, or
environment variable ROCKERSHED_STEP_SECONDS), memory (`GIGABYTES` of address space) where the system holds a
process to it: Linux and the like; Windows has no such limit and macOS does not heed it.

Run as `python -m parts.files.stranger mesh|shape FILE OUT ERROR_MM GIGABYTES`; only that process loads the
kernel.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from io import BytesIO
from pathlib import Path

import numpy as np

from parts.files.interpreter import starts_again

SECONDS = 120.0
GIGABYTES = 8.0
SECONDS_KEY = "ROCKERSHED_STEP_SECONDS"
_REFUSED, _NO_MEMORY = 3, 4  # exit statuses of the reading process


class StrangerError(ValueError):
    """A file that cannot be used; the text goes on from its name: "is damaged ..."."""


def mesh(path: str | Path, error_mm: float) -> bytes:
    """The solids' triangles as `facets` makes them, in numpy's npz. Raises StrangerError."""
    return _read("mesh", path, error_mm)


def shape(path: str | Path) -> bytes:
    """All of the file as one shape in the kernel's own binary form. Raises StrangerError."""
    return _read("shape", path, 0.0)


def seconds() -> float:
    """How long one file may take."""
    try:
        return max(0.1, float(os.environ[SECONDS_KEY]))
    except (KeyError, ValueError):
        return SECONDS


def _read(what: str, path: str | Path, error_mm: float) -> bytes:
    with open(path, "rb") as f:
        if b"ISO-10303-21" not in f.read(1024):
            raise StrangerError("is no STEP file; export it again, as STEP")
    if not starts_again():  # it would start the program that this one is inside of
        raise StrangerError(
            "is read in a Python of its own, which cannot be started from inside this program; run "
            "rockershed or Python by itself"
        )
    root = str(Path(__file__).resolve().parents[2])
    before = os.environ.get("PYTHONPATH")
    env = os.environ | {"PYTHONPATH": root + (os.pathsep + before if before else "")}
    with tempfile.TemporaryDirectory(prefix="rockershed-", ignore_cleanup_errors=True) as folder:
        out = Path(folder) / "read"
        command = [
            sys.executable,
            "-m",
            __name__,
            what,
            str(Path(path).absolute()),
            str(out),
            repr(error_mm),
            repr(GIGABYTES),
        ]
        try:
            done = subprocess.run(
                command,
                env=env,
                cwd=folder,  # so that nothing beside the user's files is taken for these modules
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                timeout=seconds(),
                check=False,
            )
        except subprocess.TimeoutExpired:
            raise StrangerError(
                f"takes the CAD kernel more than {seconds():g} s to read; export the outside that matters "
                f"alone, or set {SECONDS_KEY} higher"
            ) from None
        if done.returncode == 0 and out.is_file():
            return out.read_bytes()
        if done.returncode == _REFUSED:
            raise StrangerError(out.read_text(encoding="utf-8"))
        raise StrangerError(_ended(done.returncode, done.stderr.decode("utf-8", "replace")))


def _ended(status: int, said: str) -> str:
    """Why the reading process ended as it did, as far as can be told."""
    if status == _NO_MEMORY:
        return f"needs more than {GIGABYTES:g} GB of memory to read; export the outside that matters alone"
    last = said.strip().splitlines()[-1:] or [""]
    how = (
        f"signal {-status}" if status < 0 else f"status {status & 0xFFFFFFFF:#x}" if status > 255 else last[0]
    )
    return (
        f"breaks the CAD kernel that reads it ({how[:120]}): it is damaged, or needs too much memory; "
        f"export it again, the outside that matters alone"
    )


# ------------------------------------------------------------ in the process of its own


def _bounded(gigabytes: float) -> None:
    """Hold this process to its memory; no core file, no dialog where it dies."""
    if sys.platform == "win32":
        import ctypes

        ctypes.windll.kernel32.SetErrorMode(0x0001 | 0x0002)  # no dialog: failed critical errors, faults
        return
    import resource

    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    most = int(gigabytes * 2**30)
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    if hard == resource.RLIM_INFINITY or hard > most:
        try:
            resource.setrlimit(resource.RLIMIT_AS, (most, hard))
        except (ValueError, OSError):
            return  # a system that has no such limit


def _made(what: str, path: str, error_mm: float) -> bytes:
    from parts.files import facets

    body = BytesIO()
    if what == "mesh":
        found = facets.facets(path, error_mm)
        np.savez(
            body,
            error=found.error_mm,
            loose=found.loose_faces,
            unproven=found.unproven_faces,
            counts=[len(mesh) for mesh in found.solids],
            triangles=np.concatenate(found.solids),
        )
    else:
        from OCP.BinTools import BinTools

        BinTools.Write_s(facets.read(path), body)
    return body.getvalue()


def main(what: str, path: str, out: str, error_mm: str, gigabytes: str) -> int:
    _bounded(float(gigabytes))
    try:
        body = _made(what, path, float(error_mm))
    except MemoryError:
        return _NO_MEMORY
    except ValueError as e:
        Path(out).write_text(str(e), encoding="utf-8")
        return _REFUSED
    Path(out).write_bytes(body)
    return 0


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
