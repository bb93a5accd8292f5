"""A script as a reader of README or `examples` runs it: in the project's folder, its files elsewhere."""

import contextlib
import io
from pathlib import Path

ROOT = Path(__file__).parent.parent


def printed_by(code: str, name: str, outputs: Path) -> str:
    out = io.StringIO()
    with contextlib.chdir(ROOT), contextlib.redirect_stdout(out):
        exec(compile(code.replace("outputs/", f"{outputs.as_posix()}/"), name, "exec"), {})
    return out.getvalue().strip()
