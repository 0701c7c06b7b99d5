"""`eavelight serve`: the web application, on this device unless asked otherwise."""

import click

LOOPBACK = {"127.0.0.1", "localhost", "::1"}


@click.command()
@click.option("--port", type=click.IntRange(0, 65535), default=8417, show_default=True)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Another address serves others too: people must then sign in.",
)
@click.option(
    "--name",
    "names",
    multiple=True,
    help="Name under which others reach it; may be given again.",
)
@click.option("--cert", type=click.Path(dir_okay=False), help="Certificate file.")
@click.option("--key", type=click.Path(dir_okay=False), help="Key of the certificate.")
@click.option(
    "--store",
    metavar="URL",
    help="The store: a file, sqlite:///FILE or postgresql+psycopg://HOST/NAME;"
    " else EAVELIGHT_STORE, else the file in your data folder.",
)
def serve(
    *,
    port: int,
    host: str,
    names: tuple[str, ...],
    cert: str | None,
    key: str | None,
    store: str | None,
) -> int:
    """Serve the ladder, the plan and the desk to a browser.

    Only this device is served unless --host says otherwise. The invented crew is one
    click away on the first page.
    """
    try:
        from eavelight.web.serving import Served, run
    except ModuleNotFoundError as error:
        from eavelight.errors import MissingFeatureError

        raise MissingFeatureError("the web application", "web", str(error)) from None
    if host not in LOOPBACK and not (cert and key):
        raise click.UsageError(
            "Others are only served over TLS: give --cert and --key."
        )
    if host not in LOOPBACK and not names and host in {"0.0.0.0", "::"}:
        raise click.UsageError("Say with --name under which name others reach it.")
    run(
        Served(
            host=host,
            port=port,
            names=names,
            cert=cert,
            key=key,
            store=store,
            shared=host not in LOOPBACK,
        )
    )
    return 0
