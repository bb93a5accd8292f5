"""Where no word may stand on a drawing: what is drawn, and the words put so far."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry


class Taken:
    """Paper that is taken: `drawn` stays as it is, words come one by one (kept apart, since joining them to
    the drawn anew for each word costs most of a sheet)."""

    def __init__(self, drawn: BaseGeometry, words: Iterable[BaseGeometry] = ()) -> None:
        from shapely import prepare

        prepare(drawn)
        self._drawn = drawn
        self._words = list(words)

    def meets(self, shape: BaseGeometry) -> bool:
        from shapely import intersects

        return self._drawn.intersects(shape) or bool(intersects(self._words, shape).any())

    def add(self, shape: BaseGeometry) -> None:
        self._words.append(shape)
