"""`eavelight purge`: what has been kept for as long as its kind is kept."""

from datetime import datetime
from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.option(
    "--rules",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="A TOML file with [keep_days]: photo, endface, trace, person, position, text.",
)
@click.option("--dry-run", is_flag=True, help="Say what would go, and let it stay.")
@click.option(
    "--today",
    type=click.DateTime(["%Y-%m-%d"]),
    help="The day to count from; else today.",
)
@store_option
def purge(
    *, rules: Path | None, dry_run: bool, today: datetime | None, store: str | None
) -> int:
    """Delete evidence bytes and personal values that are past their time.

    Observations stay, and hold the digests: verify then says purged, not missing.
    """
    from eavelight.app.clock import now
    from eavelight.app.record_place import open_record
    from eavelight.app.retention import load_rules
    from eavelight.app.retention import purge as run

    chosen = load_rules(rules)
    day = (today or now()).date()
    with open_record(store, make=False) as place:
        done = run(place, chosen, today=day, dry_run=dry_run)
    for item in done:
        click.echo(
            f"{item.visit}  {len(item.evidence)} files, "
            f"{len(item.personal)} personal values"
        )
    click.echo(f"{len(done)} visits {'would lose' if dry_run else 'lost'} data.")
    return 0
