"""`eavelight closeout VISIT -o FILE`: the document that is handed over."""

import click


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
def closeout(visit: str, *, out: str, alone: bool, customer: bool) -> int:
    """Write the closeout of a visit.

    VISIT is a visit folder or its visit.toml. Exit code: 0 written, whatever the
    verdict; 64 and above when it could not be.
    """
    from eavelight.app.close_out import close_out
    from eavelight.model.message import Message
    from eavelight.wording import say

    written = close_out(visit, out, alone=alone, customer=customer)
    state = say(Message(f"state.{written.state.replace(' ', '_')}"))
    click.echo(f"{written.path}  {state}")
    return 0
