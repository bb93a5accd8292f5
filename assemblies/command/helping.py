"""`rockershed --help`: the verbs in the order of the work, under what each part of it is for."""

from __future__ import annotations

from typing import Any

from typer.core import TyperGroup

WORK = {
    "Begin": ("new", "measure", "side"),
    "Look": ("check", "compare", "watch", "steer", "swing", "tolerance", "corners"),
    "Make": ("build", "nest", "swept", "fea"),
    "Set up": ("clock", "correct", "asbuilt"),
    "The program itself": ("bench",),
}


class ByWork(TyperGroup):
    """Lists verbs by `WORK`; one that is not in it comes last, under "More"."""

    def list_commands(self, ctx: Any) -> list[str]:
        named = [verb for verbs in WORK.values() for verb in verbs if verb in self.commands]
        return [*named, *sorted(set(self.commands) - set(named))]

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        left = set(self.commands)
        for title, verbs in WORK.items():
            self._section(title, [v for v in verbs if v in self.commands], formatter)
            left -= set(verbs)
        self._section("More", sorted(left), formatter)

    def _section(self, title: str, verbs: list[str], formatter: Any) -> None:
        if not verbs:
            return
        room = formatter.width - 6 - max(map(len, self.commands))
        with formatter.section(title):
            formatter.write_dl([(v, self.commands[v].get_short_help_str(room)) for v in verbs])
