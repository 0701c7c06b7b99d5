"""`eavelight import PATH...`: visits into the store."""

from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command(name="import")
@click.argument("paths", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--because",
    metavar="TEXT",
    help="Why values that changed are corrected; it stands in the record.",
)
@click.option(
    "--know-as",
    metavar="NAME",
    help="Know the devices that signed a bundle by this name from now on.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@store_option
def import_visits(
    paths: tuple[Path, ...],
    *,
    because: str | None,
    know_as: str | None,
    as_json: bool,
    store: str | None,
) -> int:
    """Bring visits into the store; importing again changes nothing.

    PATH is a visit folder, a folder of visit folders, or a bundle (.eave). What is
    recorded is never overwritten: another value supersedes the earlier one.
    """
    from eavelight.app.import_export import import_place
    from eavelight.app.record import AGAIN
    from eavelight.app.record_place import open_record
    from eavelight.cli.output import print_json
    from eavelight.cli.record_text import imported_json, imported_lines

    with open_record(store) as place:
        done = [
            item
            for path in paths
            for item in import_place(
                place, path, reason=because or AGAIN, know_as=know_as
            )
        ]
        where = place.store.place
    if as_json:
        print_json(imported_json(done, where))
    else:
        for line in imported_lines(done, where):
            click.echo(line)
    return 0
