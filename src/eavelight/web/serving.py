"""Runs the application until it is stopped."""

import socket
from dataclasses import dataclass

import click
import uvicorn

from eavelight.errors import EavelightError
from eavelight.web.server import create_app, make_site
from eavelight.web.site import Settings

HERE = ("127.0.0.1", "localhost", "[::1]")


class ServeError(EavelightError):
    """The application cannot be served as asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Served:
    """Where and to whom the application is served."""

    host: str
    port: int
    store: str | None
    names: tuple[str, ...] = ()
    cert: str | None = None
    key: str | None = None
    shared: bool = False


def run(served: Served) -> None:
    """Serve until the process is told to stop."""
    hosts = (*served.names, served.host) if served.shared else HERE
    site = make_site(Settings(store=served.store, hosts=hosts, shared=served.shared))
    if site.door is not None and not site.door.anybody:
        site.close()
        raise ServeError(
            "people: expected somebody who may sign in, found nobody; add people to "
            "the store first"
        )
    listener = _listening(served)
    port = listener.getsockname()[1]
    scheme = "https" if served.cert else "http"
    name = f"[{served.host}]" if ":" in served.host else served.host
    click.echo(f"Eavelight: {scheme}://{name}:{port}/   (stop with Ctrl+C)")
    config = uvicorn.Config(
        create_app(site),
        log_level="warning",
        server_header=False,
        date_header=True,
        ssl_certfile=served.cert,
        ssl_keyfile=served.key,
        timeout_keep_alive=30,
        limit_concurrency=200,
        h11_max_incomplete_event_size=65_536,
        proxy_headers=False,
    )
    uvicorn.Server(config).run(sockets=[listener])


def _listening(served: Served) -> socket.socket:
    """The socket, taken before anything is said."""
    family = socket.AF_INET6 if ":" in served.host else socket.AF_INET
    listener = socket.socket(family)
    listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listener.bind((served.host, served.port))
    except OSError as error:
        listener.close()
        raise ServeError(
            f"port {served.port}: expected a free one, found: {error.strerror}; "
            "choose another with --port"
        ) from None
    listener.listen(128)
    return listener
