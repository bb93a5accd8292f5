"""A template filled: style, scripts and data in one file that asks for nothing outside.

The page's own rule (Content-Security-Policy) forbids it, and lets run only the scripts and the style whose
digests it names. All text is escaped on its way in.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from pathlib import Path

from assemblies.making.report.numbers import floored, margin, short, shown, signed, slug, used, words
from assemblies.results import curves

HERE = Path(__file__).parent
SCRIPTS = (
    "vendor/three.min.js",
    "motion.js",
    "view.js",
    "page.js",
    "gaps.js",
    "rocker.js",
    "tools.js",
    "steering.js",
)

NO_VIEW = ("motion.js", "page.js", "gaps.js", "rocker.js", "steering.js")  # enough for a page of curves


def filled(template: str, data: dict, **known) -> str:
    """A template with style, scripts and data put in, everything else escaped."""
    from markupsafe import Markup

    style = _read("page.css")
    scripts = [_read(s) for s in SCRIPTS if data["scene"] or s in NO_VIEW]
    return (
        _templates()
        .get_template(template)
        .render(
            style=Markup(style),
            scripts=[Markup(s) for s in scripts],
            data=Markup(_json(data)),
            svg=lambda f: Markup(curves.svg(f)),
            curves=curves,
            swatch=lambda k, other=False: Markup(curves.swatch(k, other)),
            policy=policy(style, scripts),
            **known,
        )
    )


@cache
def _templates():
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    env = Environment(
        loader=FileSystemLoader(HERE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.filters |= {
        "n": shown,
        "signed": signed,
        "slug": slug,
        "words": words,
        "short": short,
        "floored": floored,
        "margin": margin,
        "used": used,
    }
    return env


def policy(style: str, scripts: list[str]) -> str:
    """The page's rule: nothing from outside, only this style and these scripts, pictures only from within."""
    own = " ".join(f"'sha256-{_digest(s)}'" for s in scripts)
    return (
        f"default-src 'none'; img-src data:; style-src 'sha256-{_digest(style)}'; script-src {own}; "
        f"base-uri 'none'; form-action 'none'"
    )


def alive(text: str, version: int, wrong: bool = False, said: str = "") -> str:
    """The page as the watch serves it: it asks its own server, and only that, whether there is something
    newer than its `version`. `said`: what stands over it from the start, about something `wrong` or not."""
    from markupsafe import escape

    script = _read("live.js")
    text = text.replace("script-src ", f"connect-src 'self'; script-src 'sha256-{_digest(script)}' ", 1)
    kind = ' class="wrong"' if wrong else ""
    note = f'<div id="live" role="status" data-version="{version}"{kind}{"" if said else " hidden"}>'
    text = text.replace("<body>", f"<body>\n{note}{escape(said)}</div>", 1)
    head, body, tail = text.rpartition("</body>")
    return f"{head}<script>{script}</script>\n{body}{tail}"


def empty() -> str:
    """What the watch shows before the job file could be used for the first time."""
    style = _read("page.css")
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><meta '
        f'http-equiv="Content-Security-Policy" content="{policy(style, [])}">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1"><title>rockershed</title><link '
        f'rel="icon" href="data:,"><style>{style}</style></head>'
        "<body><main><h1>Not ready yet</h1><p>This page fills itself as soon as the job file can be "
        "used.</p></main></body></html>"
    )


@cache
def _read(name: str) -> str:
    return (HERE / name).read_text(encoding="utf-8")


@cache
def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()


def _json(data) -> str:
    """JSON that cannot end its own script element or open a comment."""
    text = json.dumps(data, ensure_ascii=True, separators=(",", ":"), allow_nan=False)
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
