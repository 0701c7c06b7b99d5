"""`eavelight closeout VISIT -o FILE`: the document that is handed over."""

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.argument("visit")
@click.option(
    "-o",
    "--out",
    required=True,
    metavar="FILE",
    help="Where to write it; .pdf or .html chooses the form.",
)
@click.option("--alone", is_flag=True, help="Compare with no other visit.")
@click.option("--customer", is_flag=True, help="Write the customer's sheet instead.")
@store_option
def closeout(
    visit: str, *, store: str | None, out: str, alone: bool, customer: bool
) -> int:
    """Write the closeout of a visit.

    VISIT is a visit folder, its visit.toml, or an id in the store; that of
    the store is sealed with it. Exit code: 0 written, whatever the verdict; 64 and
    above when it could not be.
    """
    from eavelight.app.close_out import close_out
    from eavelight.model.message import Message
    from eavelight.wording import say

    written = close_out(visit, out, alone=alone, customer=customer, store=store)
    state = say(Message(f"state.{written.state.replace(' ', '_')}"))
    click.echo(f"{written.path}  {state}")
    return 0
