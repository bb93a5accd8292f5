"""Parts made once in a study: a corner that is laid out again with another value makes anew only what that
value touches."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, TypeVar

Part = TypeVar("Part")


class Made:
    """What a function gave for these very values. It lives as long as the study, and what was refused is
    asked for again."""

    def __init__(self) -> None:
        self._known: dict[tuple, Any] = {}

    def __call__(self, make: Callable[..., Part], *of: Any, **named: Any) -> Part:
        """`make(*of, **named)`; every value can be hashed, or is a mapping of such."""
        key = make, *map(_content, of), *sorted(named.items())
        if key not in self._known:
            self._known[key] = make(*of, **named)
        return self._known[key]


def _content(value: Any) -> Any:
    return tuple(value.items()) if isinstance(value, Mapping) else value
