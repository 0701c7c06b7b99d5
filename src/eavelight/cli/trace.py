"""`eavelight trace FILE...`: events of each trace, measured from its samples."""

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from eavelight.app.trace_files import TraceFile

EXIT_OK, EXIT_BAD_INPUT = 0, 65
FILE = click.Path(path_type=Path, dir_okay=False)


@click.command()
@click.argument("files", nargs=-1, required=True, type=FILE)
@click.option(
    "--lead-m", type=click.FloatRange(min=0), default=0.0, help="Launch lead [m]."
)
@click.option(
    "--tail-m", type=click.FloatRange(min=0), default=0.0, help="Receive lead [m]."
)
@click.option("--join", "joined", is_flag=True, help="Take the files together.")
@click.option("--reverse", type=FILE, help="Trace from the other end, with --join.")
@click.option("--baseline", type=FILE, help="Earlier trace, with --join.")
@click.option("--plot", type=FILE, help="Draw into FILE.svg, .png or .pdf.")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON of the contract.")
def trace(
    files: tuple[Path, ...],
    *,
    lead_m: float,
    tail_m: float,
    joined: bool,
    reverse: Path | None,
    baseline: Path | None,
    plot: Path | None,
    as_json: bool,
) -> int:
    """Events of each trace, measured from its samples.

    FILE is a record of the SR-4731 layout. Positions count from the instrument, or
    from the end of the lead. Events that a file stores are shown, never trusted.
    """
    from eavelight.app.trace_files import join_traces, read_traces
    from eavelight.cli import trace_text
    from eavelight.cli.progress import steps

    if not joined and (reverse or baseline):
        raise click.UsageError("--reverse and --baseline go with --join")
    found = read_traces(files, lead_m=lead_m, tail_m=tail_m)
    watched: Iterable[TraceFile] = steps(found, total=len(files), label="reading")
    if joined or plot is not None:
        watched = tuple(watched)
    if joined:
        pair = (
            _other(reverse, lead_m=tail_m, tail_m=lead_m),
            _other(baseline, lead_m=lead_m, tail_m=tail_m),
        )
        together = join_traces(watched, reverse=pair[0], baseline=pair[1])
        complete = trace_text.print_joined(together, as_json=as_json)
    else:
        show = trace_text.print_traces_json if as_json else trace_text.print_traces
        complete = show(watched, single=len(files) == 1)
    if plot is not None:
        from eavelight.app.trace_plot import plot_traces

        plot_traces(watched, plot)
    return EXIT_OK if complete else EXIT_BAD_INPUT


def _other(path: Path | None, *, lead_m: float, tail_m: float) -> "TraceFile | None":
    """A trace to compare with; unlike those of the list it must be readable."""
    from eavelight.app.trace_files import read_trace

    return None if path is None else read_trace(path, lead_m=lead_m, tail_m=tail_m)
