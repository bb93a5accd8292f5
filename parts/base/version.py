"""Which release made a file."""

from functools import cache
from importlib.metadata import PackageNotFoundError
from importlib.metadata import version as installed


@cache
def version() -> str:
    """Of this project as installed; "unknown" where its files were only copied."""
    try:
        return installed("rockershed")
    except PackageNotFoundError:
        return "unknown"
