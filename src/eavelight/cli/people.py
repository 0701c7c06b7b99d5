"""`eavelight people`: who may sign in to a shared store."""

import click

from eavelight.cli.store_option import store_option


@click.command()
@click.argument("name", required=False)
@click.option(
    "--role",
    type=click.Choice(["technician", "desk", "reader"]),
    help="Add NAME in this role; the password is asked for.",
)
@store_option
def people(name: str | None, *, role: str | None, store: str | None) -> int:
    """List the people of a shared store, or add one.

    A store of your own needs nobody: whoever may read the file may use it.
    """
    from eavelight.app.access import Access
    from eavelight.app.record_place import open_record

    if bool(name) != bool(role):
        raise click.UsageError("to add somebody give NAME and --role.")
    with open_record(store) as place:
        access = Access(place.store)
        if name and role:
            password = click.prompt(
                "Password", hide_input=True, confirmation_prompt=True
            )
            access.add_person(name, role, password)
        for person in access.people():
            click.echo(f"{person.name}  {person.role}")
    return 0
