"""`eavelight export VISIT... -o OUT`: visits out of the store."""

from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command(name="export")
@click.argument("visits", nargs=-1)
@click.option(
    "-o",
    "--out",
    required=True,
    type=click.Path(path_type=Path),
    help="FILE.eave for one file, else a folder that gets one folder per visit.",
)
@click.option("--every", is_flag=True, help="All visits of the store.")
@click.option(
    "--without-personal",
    is_flag=True,
    help="Leave out photos and all that names people or places; it still verifies.",
)
@click.option(
    "--with-position",
    is_flag=True,
    help="Keep the position and other metadata inside pictures.",
)
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
@store_option
def export_visits(
    visits: tuple[str, ...],
    *,
    out: Path,
    every: bool,
    without_personal: bool,
    with_position: bool,
    as_json: bool,
    store: str | None,
) -> int:
    """Write visits as one file or as folders, with all that verifies them.

    Pictures lose their position unless asked otherwise. Keep the printed heads: a
    record that later lacks one of them was cut short.
    """
    from eavelight.app.export_choice import Choice
    from eavelight.app.import_export import export_visits as run
    from eavelight.app.record_place import open_record
    from eavelight.app.record_verify import all_visits
    from eavelight.cli.output import print_json
    from eavelight.cli.record_text import exported_json, exported_lines

    if bool(visits) == every:
        raise click.UsageError("name the visits, or say --every.")
    choice = Choice(personal=not without_personal, position=with_position)
    with open_record(store, make=False) as place:
        listed = tuple(all_visits(place.store)) if every else visits
        done = run(place, listed, out, choice=choice)
    if as_json:
        print_json(exported_json(done))
    else:
        for line in exported_lines(done):
            click.echo(line)
    return 0
