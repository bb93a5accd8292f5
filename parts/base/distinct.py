"""The values of an array, or its rows, each once."""

from __future__ import annotations

import numpy as np


def distinct(values, rows: bool = False) -> np.ndarray:
    """In order, each once, as `numpy.unique` gives them. That loads numpy.ma where it is asked for nothing
    else: a twentieth of a second of each start. Rows (n, k) it takes four times as long to put in order.

    >>> distinct([2.0, 1.0, 2.0]).tolist()
    [1.0, 2.0]
    >>> distinct([(2, 1), (1, 5), (2, 1), (1, 4)], rows=True).tolist()
    [[1, 4], [1, 5], [2, 1]]
    """
    if not rows:
        return np.unique(values, return_index=True)[0]
    values = np.asarray(values)
    values = values[np.lexsort(values.T[::-1])]
    new = np.ones(len(values), bool)
    new[1:] = (values[1:] != values[:-1]).any(1)
    return values[new]
