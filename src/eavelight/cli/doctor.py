"""`eavelight doctor`: features, what is available, what each needs."""

import click

from eavelight import __version__


@click.command()
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def doctor(*, as_json: bool) -> int:
    """Features, what is available here, and what each needs."""
    from dataclasses import asdict

    from eavelight.app.doctor import features, machine
    from eavelight.cli.output import print_json

    found = features()
    if as_json:
        print_json(
            {
                "schema": "eavelight.doctor/1",
                "version": __version__,
                "machine": machine(),
                "features": [asdict(item) for item in found],
            }
        )
        return 0
    words = ", ".join(f"{name} {value}" for name, value in machine().items())
    click.echo(f"eavelight {__version__} · {words}")
    wide = max(len(item.feature) for item in found)
    for item in found:
        mark = "✓" if item.available else "✕"
        click.echo(f"  {mark} {item.feature:<{wide}}  {item.because}")
        if not item.available:
            click.echo(f"    {'':<{wide}}  needs {item.needs}")
    return 0
