"""The base of every row in results.json: a frozen dataclass, checked where it comes from a file
(`model.read`), not where it is made: its maker hands over plain values and lists."""

Curve = list[float | None]  # over poses; null where the mechanism cannot stand


class Row:
    __pydantic_config__ = {"extra": "forbid"}  # of one that is read from a file: an unknown key is an error
