"""The command group, and the one place that maps errors to exit codes."""

import os
import sys
from typing import Any

import click

from eavelight import __version__
from eavelight.cli.lazy import LazyGroup
from eavelight.errors import EavelightError

EXIT_USAGE, EXIT_BAD_INPUT, EXIT_INTERNAL, EXIT_STOPPED = 64, 65, 70, 130

COMMANDS = {
    "demo": "eavelight.cli.demo:demo",
    "plan": "eavelight.cli.plan:plan",
    "assess": "eavelight.cli.assess:assess",
    "closeout": "eavelight.cli.closeout:closeout",
    "trace": "eavelight.cli.trace:trace",
    "endface": "eavelight.cli.endface:endface",
    "import": "eavelight.cli.import_visits:import_visits",
    "export": "eavelight.cli.export_visits:export_visits",
    "verify": "eavelight.cli.verify:verify",
    "countersign": "eavelight.cli.countersign:countersign",
    "backup": "eavelight.cli.backup:backup",
    "restore": "eavelight.cli.backup:restore",
    "purge": "eavelight.cli.purge:purge",
    "people": "eavelight.cli.people:people",
    "serve": "eavelight.web.command:serve",
    "doctor": "eavelight.cli.doctor:doctor",
}


@click.group(
    cls=LazyGroup,
    commands_at=COMMANDS,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
)
@click.version_option(__version__, "--version", message="%(version)s")
def eavelight() -> None:
    """Put an outdoor fibre terminal into service: ready or not, why, what next."""


def run(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit code."""
    try:
        result: Any = eavelight.main(
            args=arguments, prog_name="eavelight", standalone_mode=False
        )
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except BrokenPipeError:
        return 0
    except Exception as error:
        if os.environ.get("EAVELIGHT_DEBUG"):
            raise
        text, code = _told(error)
        click.echo(text, err=True)
        return code
    return result if isinstance(result, int) else 0


def _told(error: Exception) -> tuple[str, int]:
    """What stderr says about an error, and the exit code."""
    if isinstance(error, click.UsageError):
        return _usage(error), EXIT_USAGE
    if isinstance(error, click.exceptions.Abort):
        return "stopped", EXIT_STOPPED
    if isinstance(error, EavelightError | OSError):
        return str(error), EXIT_BAD_INPUT
    return _internal(error), EXIT_INTERNAL


def _internal(error: Exception) -> str:
    """A fault of the program itself, told in one line."""
    text = " ".join(f"{type(error).__name__}: {error}".split())
    return (
        f"eavelight: internal error, please report it with the input: {text}; "
        "set EAVELIGHT_DEBUG=1 to see where"
    )


def _usage(error: click.UsageError) -> str:
    where = error.ctx.command_path if error.ctx is not None else "eavelight"
    text = " ".join(error.format_message().split())
    return f"{where}: {text} See {where} --help."


if __name__ == "__main__":
    sys.exit(run())
