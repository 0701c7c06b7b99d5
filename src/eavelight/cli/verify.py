"""`eavelight verify`: whether the record still is what was recorded, and where not."""

from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.argument("places", metavar="[VISIT|BUNDLE|FOLDER]...", nargs=-1)
@click.option(
    "--against",
    type=click.Path(path_type=Path, exists=True),
    help="A bundle or folder exported earlier: all that it holds must still be there.",
)
@click.option("--head", "heads", multiple=True, metavar="ID", help="A head or seal id.")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@store_option
def verify(
    places: tuple[str, ...],
    *,
    against: Path | None,
    heads: tuple[str, ...],
    as_json: bool,
    store: str | None,
) -> int:
    """Check every link, signature, seal and byte of evidence.

    Without a name every visit of the store is verified. Exit code: 0 as recorded,
    1 something was changed, added, reordered or is missing.
    """
    from eavelight.app.verify_places import verify_places
    from eavelight.cli.output import print_json
    from eavelight.cli.record_text import verified_json, verified_lines

    found = verify_places(places, store=store, against=against, heads=heads)
    if as_json:
        print_json(verified_json(found))
    else:
        for line in verified_lines(found):
            click.echo(line)
    return 0 if all(item.clean for item in found) else 1
