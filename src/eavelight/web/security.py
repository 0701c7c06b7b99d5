"""What guards every request: for whom, from where, how much, and with which headers."""

import hashlib
import hmac
import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

Scope = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]
Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

SAFE = {"GET", "HEAD", "OPTIONS"}
MOST_BODY = 34_000_000
MOST_FORM = 200_000
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
    "connect-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'"
)
PICTURE_POLICY = "default-src 'none'; style-src 'unsafe-inline'; sandbox"
PAGE_POLICY = (
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; sandbox "
    "allow-downloads"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), payment=(), usb=()",
    "cache-control": "no-store",
}
SECRET_BYTES = 32


def load_or_make_secret(path: Path) -> bytes:
    """The secret that form tokens rest on; it outlives a restart."""
    if path.is_file() and len(data := path.read_bytes()) == SECRET_BYTES:
        return data
    path.parent.mkdir(parents=True, exist_ok=True)
    data = secrets.token_bytes(SECRET_BYTES)
    path.touch(mode=0o600)
    path.write_bytes(data)
    return data


def signed(secret: bytes, purpose: str, text: str) -> str:
    """A mark under a text that only this server can make."""
    mark = hmac.new(secret, f"{purpose}:{text}".encode(), hashlib.sha256)
    return mark.hexdigest()


def token_for(secret: bytes, session: str) -> str:
    """The token that a form of this session must carry."""
    return signed(secret, "form", session)


def token_holds(secret: bytes, session: str, token: str) -> bool:
    """Whether a form was made for this session."""
    if not session:
        return False
    return hmac.compare_digest(token_for(secret, session), token)


def host_name(host: str) -> str:
    """The name in a Host header, without its port."""
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.rpartition(":")[0] or host if ":" in host else host


class Guard:
    """Refuses requests for other hosts, from other pages, and of too many bytes."""

    def __init__(self, app: App, *, hosts: Iterable[str]) -> None:
        self.app = app
        self.hosts = frozenset(name.lower() for name in hosts)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        headers = {
            name.decode("latin-1").lower(): value.decode("latin-1")
            for name, value in scope["headers"]
        }
        problem = self._problem(scope, headers)
        if problem is not None:
            await _refuse(send, *problem)
            return
        most = MOST_BODY if _multipart(headers) else MOST_FORM
        limited = _Limited(receive, most)
        await self.app(scope, limited, _with_headers(send, limited))

    def _problem(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str] | None:
        host = headers.get("host", "")
        if host_name(host).lower() not in self.hosts:
            return 421, "This address is not served here."
        if scope["method"] not in SAFE:
            origin = headers.get("origin")
            if origin is not None and urlsplit(origin).netloc.lower() != host.lower():
                return 403, "Sent from another page."
            site = headers.get("sec-fetch-site", "same-origin")
            if site not in {"same-origin", "none"}:
                return 403, "Sent from another page."
        most = MOST_BODY if _multipart(headers) else MOST_FORM
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > most:
            return 413, "Too many bytes."
        return None


def _multipart(headers: dict[str, str]) -> bool:
    kind = headers.get("content-type", "").partition(";")[0].strip()
    return kind in {"multipart/form-data", "application/octet-stream"}


class TooLongError(Exception):
    """More bytes than were allowed."""


class _Limited:
    """Counts what arrives, whatever was announced."""

    def __init__(self, receive: Receive, most: int) -> None:
        self._receive = receive
        self._left = most

    async def __call__(self) -> MutableMapping[str, Any]:
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                raise TooLongError
        return message


def _with_headers(send: Send, limited: _Limited) -> Send:  # noqa: ARG001
    async def sender(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            present = {name.lower() for name, _ in message["headers"]}
            extra = [
                (name.encode(), value.encode())
                for name, value in HEADERS.items()
                if name.encode() not in present
            ]
            message = {**message, "headers": [*message["headers"], *extra]}
        await send(message)

    return sender


async def _refuse(send: Send, status: int, text: str) -> None:
    body = text.encode()
    headers = [
        (b"content-type", b"text/plain; charset=utf-8"),
        (b"content-length", str(len(body)).encode()),
        *((name.encode(), value.encode()) for name, value in HEADERS.items()),
    ]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
