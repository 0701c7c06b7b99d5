"""`eavelight backup -o FILE` and `eavelight restore FILE --store URL`."""

from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.option(
    "-o",
    "--out",
    required=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="The file to write.",
)
@store_option
def backup(*, out: Path, store: str | None) -> int:
    """Write all of the store, evidence and people included, into one file.

    Keep it as safe as the store: it holds personal values. Device keys are not in it.
    """
    from eavelight.app.backup import back_up
    from eavelight.app.record_place import open_record

    with open_record(store, make=False) as place:
        done = back_up(place, out)
    click.echo(f"{done.path}  {done.rows} rows, {done.files} evidence files")
    if done.missing:
        click.echo(
            f"  Note  {len(done.missing)} evidence files have no bytes in the store:"
            " purged or left out, or see eavelight verify"
        )
    return 0


@click.command()
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option(
    "--store",
    "store",
    required=True,
    metavar="URL",
    help="A store that does not exist yet, in SQLite or PostgreSQL.",
)
def restore(file: Path, *, store: str) -> int:
    """Make a new store of a backup and verify it.

    Exit code: 0 all as recorded, 1 not.
    """
    from eavelight.app.backup import restore as run
    from eavelight.cli.record_text import verified_lines

    found = run(file, store)
    for line in verified_lines([found]):
        click.echo(line)
    return 0 if found.clean else 1
