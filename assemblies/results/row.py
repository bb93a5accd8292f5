"""The base of every model in results.json: unknown keys are errors, and a changed copy is checked anew."""

from typing import Any, Self

from pydantic import BaseModel, ConfigDict


class Row(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True, defer_build=True)

    def changed(self, **content: Any) -> Self:
        """A copy with some fields new, checked as a whole. Raises ValidationError for a name that is none."""
        return type(self).model_validate(dict(self) | content)
