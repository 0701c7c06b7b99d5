"""A command group that imports a command only when it is used."""

import importlib
from collections.abc import Mapping
from typing import Any

import click


class LazyGroup(click.Group):
    """Commands by `module:function`; help texts come from a table, not from imports."""

    def __init__(
        self, *args: Any, commands_at: Mapping[str, str] | None = None, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.commands_at = dict(commands_at or {})

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of every command, in the order of the job."""
        return list(self.commands_at)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command by name."""
        target = self.commands_at.get(cmd_name)
        if target is None:
            return None
        module, _, name = target.partition(":")
        command = getattr(importlib.import_module(module), name)
        if not isinstance(command, click.Command):
            raise TypeError(f"{target} is not a command")
        return command
