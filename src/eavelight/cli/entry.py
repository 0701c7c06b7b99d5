"""The command group, and the one place that maps errors to exit codes."""

import sys
from typing import Any

import click

from eavelight import __version__
from eavelight.cli.lazy import LazyGroup
from eavelight.errors import EavelightError

EXIT_USAGE, EXIT_BAD_INPUT, EXIT_STOPPED = 64, 65, 130

COMMANDS = {
    "demo": "eavelight.cli.demo:demo",
    "plan": "eavelight.cli.plan:plan",
    "assess": "eavelight.cli.assess:assess",
    "closeout": "eavelight.cli.closeout:closeout",
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
    except click.UsageError as error:
        return _complain(_usage(error), EXIT_USAGE)
    except click.exceptions.Abort:
        return _complain("stopped", EXIT_STOPPED)
    except BrokenPipeError:
        return 0
    except (EavelightError, OSError) as error:
        return _complain(str(error), EXIT_BAD_INPUT)
    return result if isinstance(result, int) else 0


def _usage(error: click.UsageError) -> str:
    where = error.ctx.command_path if error.ctx is not None else "eavelight"
    text = " ".join(error.format_message().split())
    return f"{where}: {text} See {where} --help."


def _complain(text: str, code: int) -> int:
    click.echo(text, err=True)
    return code


if __name__ == "__main__":
    sys.exit(run())
