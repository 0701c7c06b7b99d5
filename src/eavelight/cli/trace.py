"""`eavelight trace FILE...`: events of each trace, measured from its samples."""

from pathlib import Path

import click

EXIT_OK, EXIT_BAD_INPUT = 0, 65


@click.command()
@click.argument(
    "files", nargs=-1, required=True, type=click.Path(path_type=Path, dir_okay=False)
)
@click.option(
    "--lead-m", type=click.FloatRange(min=0), default=0.0, help="Launch lead."
)
@click.option(
    "--tail-m", type=click.FloatRange(min=0), default=0.0, help="Receive lead."
)
@click.option("--json", "as_json", is_flag=True, help="Print the JSON of the contract.")
def trace(
    files: tuple[Path, ...], *, lead_m: float, tail_m: float, as_json: bool
) -> int:
    """Events of each trace, measured from its samples.

    FILE is a record of the SR-4731 layout. Positions count from the instrument, or
    from the end of the lead. Events that a file stores are shown, never trusted.
    """
    from eavelight.app.trace_files import read_traces
    from eavelight.cli.progress import steps
    from eavelight.cli.trace_text import print_traces, print_traces_json

    found = read_traces(files, lead_m=lead_m, tail_m=tail_m)
    watched = steps(found, total=len(files), label="reading traces")
    show = print_traces_json if as_json else print_traces
    complete = show(watched, single=len(files) == 1)
    return EXIT_OK if complete else EXIT_BAD_INPUT
