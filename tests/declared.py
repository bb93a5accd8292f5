"""Whether a row of results.json holds what it declares: rows are not checked as they are made."""

from types import UnionType
from typing import Any, Literal, Union, get_args, get_origin, get_type_hints

from assemblies.results.row import Row

PLAIN = (str, int, float, bool, type(None))


def amiss(value, declared, where="results"):
    """What in a row is not of just the kind its field declares: neither numpy's numbers nor tuples are."""
    kind = get_origin(declared) or declared
    if kind in (UnionType, Union):
        of = [a for a in get_args(declared) if type(value) is (get_origin(a) or a)]
        return amiss(value, of[0], where) if of else [f"{where}: {type(value)}"]
    if kind is Literal:
        return [] if value in get_args(declared) else [f"{where}: {value!r}"]
    if kind is Any:
        return [f"{where}: {leaf!r}" for leaf in leaves(value) if type(leaf) not in PLAIN]
    if type(value) is not kind:
        return [f"{where}: {type(value)}"]
    if kind is list:
        (of,) = get_args(declared)
        return [x for v in value for x in amiss(v, of, f"{where}[]")]
    if kind is dict:
        of = get_args(declared)
        return [
            x for both in value.items() for v, o in zip(both, of, strict=True) for x in amiss(v, o, where)
        ]
    if issubclass(kind, Row):
        kinds = get_type_hints(kind)
        return [x for k, v in vars(value).items() for x in amiss(v, kinds[k], f"{where}.{k}")]
    return []


def leaves(value):
    if isinstance(value, dict):
        value = list(value.values())
    return [x for v in value for x in leaves(v)] if isinstance(value, list | tuple) else [value]
