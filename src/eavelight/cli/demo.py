"""`eavelight demo`: the invented crew's visits, assessed and written up."""

from pathlib import Path

import click

EXIT_OK = 0


@click.command()
@click.option(
    "--out",
    "folder",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("demo-out"),
    show_default=True,
    help="Folder to write the visits and closeouts into.",
)
@click.option("--json", "as_json", is_flag=True, help="Print the summary as JSON.")
def demo(folder: Path, *, as_json: bool) -> int:
    """Build the invented crew's visits, assess them, write their closeouts.

    Everything in them is invented: houses, readings, traces and pictures.
    """
    from eavelight.cli.demo_run import keep_in_store, run_demo, summary_lines
    from eavelight.cli.output import print_json

    rows = list(run_demo(folder))
    store = keep_in_store(folder, [row["folder"] for row in rows]).as_posix()
    if as_json:
        print_json({"schema": "eavelight.demo/1", "visits": rows, "store": store})
        return EXIT_OK
    for line in summary_lines(rows, folder, store):
        click.echo(line)
    return EXIT_OK
