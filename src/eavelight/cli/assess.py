"""`eavelight assess VISIT`: verdict, reasons, next actions."""

import click

from eavelight.cli.store_option import store_option

EXIT = {"ready": 0, "not ready": 1, "undecided": 2}


@click.command()
@click.argument("visit")
@click.option("--json", "as_json", is_flag=True, help="Print the JSON of the contract.")
@click.option("--all", "everything", is_flag=True, help="Show passes and points too.")
@click.option("--alone", is_flag=True, help="Compare with no other visit.")
@store_option
def assess(
    visit: str, *, store: str | None, as_json: bool, everything: bool, alone: bool
) -> int:
    """Verdict, reasons and next actions of a visit.

    VISIT is a visit folder, its visit.toml, or an id in the store.
    Exit code: 0 ready, 1 not ready, 2 cannot tell yet.
    """
    from eavelight.app.assess_visit import assess_visit

    assessed = assess_visit(visit, alone=alone, store=store)
    if as_json:
        from eavelight.app.assessment_json import assessment_json
        from eavelight.cli.output import print_json

        print_json(assessment_json(assessed.assessment, notes=assessed.notes))
    else:
        from eavelight.cli.assess_text import assessment_text

        click.echo(assessment_text(assessed, everything=everything))
    return EXIT[assessed.assessment.state]
