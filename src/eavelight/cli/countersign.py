"""`eavelight countersign VISIT`: the desk's signature under the last seal."""

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.argument("visits", nargs=-1, required=True)
@click.option("--role", default="desk", show_default=True, help="In what role.")
@store_option
def countersign(visits: tuple[str, ...], *, role: str, store: str | None) -> int:
    """Sign that a sealed visit was looked at; what was added since is sealed too."""
    from eavelight.app.record_place import open_record
    from eavelight.app.seal_visit import countersign as run

    with open_record(store, make=False) as place:
        for visit in visits:
            seal = run(place, visit, by=role)
            click.echo(f"{visit}  countersigned  {seal.id}")
    return 0
