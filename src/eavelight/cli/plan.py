"""`eavelight plan VISIT`: what to expect and to bring, before driving."""

import shutil
from pathlib import Path

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.argument("visit")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON of the contract.")
@click.option("--all", "everything", is_flag=True, help="Show every part and wall.")
@click.option(
    "--plot",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Draw the figures into FILE.svg, FILE.png or FILE.pdf.",
)
@store_option
def plan(
    visit: str, *, store: str | None, as_json: bool, everything: bool, plot: Path | None
) -> int:
    """What to expect and to bring: levels, losses, fibre, copper, battery, heat.

    VISIT is a visit folder, its visit.toml, or an id in the store.
    Exit code 0 when the plan was made.
    """
    from eavelight.app.plan_visit import plan_visit

    if plot is not None and plot.suffix.lower() not in {".svg", ".png", ".pdf"}:
        raise click.BadParameter(
            f"expected FILE.svg, FILE.png or FILE.pdf, found {plot.name!r};"
            " choose one of these endings.",
            param_hint="--plot",
        )
    planned = plan_visit(visit, store=store)
    if plot is not None:
        from eavelight.app.plan_figures import write_figures

        write_figures(planned, plot)
        click.echo(f"wrote {plot}", err=True)
    if as_json:
        from eavelight.app.plan_json import plan_json
        from eavelight.cli.output import print_json

        print_json(plan_json(planned))
    else:
        from eavelight.cli.plan_text import plan_text

        columns = shutil.get_terminal_size((100, 50)).columns
        click.echo(plan_text(planned, everything=everything, width=columns))
    return 0
