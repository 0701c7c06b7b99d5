"""What every request carries: session, language, person; and what handlers share."""

import functools
import secrets
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from eavelight.app.desk import LiveVisit
from eavelight.web.i18n import preferred
from eavelight.web.people import HERE, Somebody
from eavelight.web.render import Words, site_of
from eavelight.web.security import App, Receive, Scope, Send, token_holds
from eavelight.web.site import Shelf, Site

SESSION, LANGUAGE, WHO = "eavelight_session", "eavelight_language", "eavelight_who"
MOST_FIELDS = 80


class Carry:
    """Sets session, language and person on every request."""

    def __init__(self, app: App, *, site: Site) -> None:
        self.app = app
        self.site = site

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = dict(scope["headers"])
        cookies = cookies_of(headers.get(b"cookie", b"").decode("latin-1"))
        session = cookies.get(SESSION, "")
        fresh = not _plain(session)
        if fresh:
            session = secrets.token_urlsafe(24)
        accepted = headers.get(b"accept-language", b"").decode("latin-1")
        scope.setdefault("state", {})
        scope["state"]["session"] = session
        scope["state"]["words"] = Words(preferred(accepted, cookies.get(LANGUAGE, "")))
        bearer = headers.get(b"authorization", b"").decode("latin-1")
        scope["state"]["person"] = await run_in_threadpool(
            self._person, cookies.get(WHO, ""), bearer
        )

        async def sender(message: Any) -> None:
            if fresh and message["type"] == "http.response.start":
                cookie = f"{SESSION}={session}; Path=/; HttpOnly; SameSite=Strict"
                head = (b"set-cookie", cookie.encode())
                message = {**message, "headers": [*message["headers"], head]}
            await send(message)

        await self.app(scope, receive, sender)

    def _person(self, who: str, bearer: str) -> Somebody | None:
        door = self.site.door
        if door is None:
            return HERE
        kind, _, token = bearer.partition(" ")
        if kind.lower() == "bearer" and token:
            return door.who_has(token.strip())
        return door.who(who) if who else None


def _plain(session: str) -> bool:
    return 16 <= len(session) <= 64 and all(
        c.isascii() and (c.isalnum() or c in "-_") for c in session
    )


def cookies_of(header: str) -> dict[str, str]:
    """Cookies of a request; a header that is none gives none."""
    jar: SimpleCookie = SimpleCookie()
    try:
        jar.load(header)
    except CookieError:
        return {}
    return {name: morsel.value for name, morsel in jar.items()}


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What was posted: fields, and one file where there was one."""

    values: Mapping[str, str]
    data: bytes | None = None
    several: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    def text(self, name: str) -> str:
        """A field without blanks around it."""
        return self.values.get(name, "").strip()


def may(request: Request, act: str) -> None:
    """Refuse who may not; who was not asked yet is asked."""
    person: Somebody | None = request.state.person
    if person is None:
        raise HTTPException(401)
    if not person.may(act):
        raise HTTPException(403)


def shelf_of(request: Request) -> Shelf:
    """The record that an address names."""
    found = site_of(request).shelf(request.path_params["shelf"])
    if found is None:
        raise HTTPException(404)
    request.state.shelf = found
    return found


def visit_of(request: Request) -> tuple[Shelf, LiveVisit]:
    """The visit that an address names."""
    shelf = shelf_of(request)
    found = shelf.visit(request.path_params["visit"])
    if found is None:
        raise HTTPException(404)
    return shelf, found


Shown = Callable[[Request], Response]
Posted = Callable[[Request, Form], Response]


def shown(act: str = "read") -> Callable[[Shown], Shown]:
    """A page that only shows."""

    def wrap(handler: Shown) -> Shown:
        @functools.wraps(handler)
        def handle(request: Request) -> Response:
            may(request, act)
            return handler(request)

        return handle

    return wrap


def posted(act: str) -> Callable[[Posted], Callable[[Request], Awaitable[Response]]]:
    """A form that changes something: its token is checked before anything is done."""

    def wrap(handler: Posted) -> Callable[[Request], Awaitable[Response]]:
        @functools.wraps(handler)
        async def handle(request: Request) -> Response:
            form = await form_of(request)
            secret = site_of(request).secret
            if not token_holds(secret, request.state.session, form.text("token")):
                raise HTTPException(403, "token")
            if act:
                may(request, act)
            return await run_in_threadpool(handler, request, form)

        return handle

    return wrap


async def form_of(request: Request) -> Form:
    """The fields of a posted form."""
    async with request.form(max_files=1, max_fields=MOST_FIELDS) as sent:
        values: dict[str, str] = {}
        several: dict[str, tuple[str, ...]] = {}
        data = None
        for name, value in sent.multi_items():
            if isinstance(value, UploadFile):
                content = await value.read()
                data = content or data
            else:
                # a button and an empty field may share a name: what was said counts
                if value or name not in values:
                    values[name] = value
                several[name] = (*several.get(name, ()), value)
        return Form(values=values, data=data, several=several)


def wants_json(request: Request) -> bool:
    """Whether the page's own script asks."""
    return "application/json" in request.headers.get("accept", "")
