"""The application: routes, guards, and what a request meets first."""

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from eavelight.app.desk import LiveRecord
from eavelight.app.store_url import user_folder
from eavelight.errors import EavelightError
from eavelight.web.api import api_routes
from eavelight.web.context import Carry
from eavelight.web.pages import (
    compare,
    handover,
    ladder,
    pictures,
    plan,
    queue,
    start,
    visit,
)
from eavelight.web.people import Door
from eavelight.web.render import page
from eavelight.web.security import Guard, TooLongError, load_or_make_secret
from eavelight.web.site import OWN, Settings, Shelf, Site

VISIT = "/{shelf}/visits/{visit}"


def make_site(settings: Settings) -> Site:
    """Open the record and everything that stands beside it."""
    folder = settings.folder or user_folder()
    live = LiveRecord(settings.store)
    return Site(
        settings=settings,
        secret=load_or_make_secret(folder / "web.secret"),
        own=Shelf(OWN, live, folder / "cache"),
        folder=folder,
        door=Door(live) if settings.shared else None,
    )


def create_app(site: Site) -> Starlette:
    """The application on an open site."""

    @asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:  # noqa: ARG001
        site.decoder.warm()
        yield
        site.close()

    app = Starlette(
        routes=[*_routes(), *api_routes()],
        middleware=[
            Middleware(Guard, hosts=site.settings.hosts),
            Middleware(Carry, site=site),
        ],
        exception_handlers={
            HTTPException: told,
            EavelightError: told_error,
            TooLongError: told_long,
            Exception: told_fault,
        },
        lifespan=lifespan,
    )
    app.state.site = site
    return app


def _routes() -> list[Route | Mount]:
    from importlib.resources import files

    static = StaticFiles(directory=str(files("eavelight.web") / "static"))
    return [
        Mount("/static", static),
        Route("/", start.start),
        Route("/ping", ping),
        Route("/away", start.away),
        Route("/keep_worker.js", keep_worker),
        Route("/who", start.who),
        Route("/who", start.tell_who, methods=["POST"]),
        Route("/leave", start.leave, methods=["POST"]),
        Route("/language", start.choose_language, methods=["POST"]),
        Route("/demo/open", start.open_demo, methods=["POST"]),
        Route("/{shelf}/", queue.queue),
        Route("/{shelf}/closeouts", queue.closeouts, methods=["POST"]),
        Route("/{shelf}/accept", queue.accept_several, methods=["POST"]),
        Route("/{shelf}/new", start.new_visit),
        Route("/{shelf}/new", start.add_visit, methods=["POST"]),
        *_visit_routes(),
    ]


def _visit_routes() -> list[Route | Mount]:
    shows = {
        "": visit.visit_page,
        "/plan": plan.plan,
        "/handover": handover.handover,
        "/code.svg": handover.code,
        "/visit.toml": handover.record_text,
        "/ladder": ladder.ladder,
        "/ladder/next": ladder.next_question,
        "/ladder/{question}": ladder.question,
        "/figure/{name}.svg": pictures.figure,
        "/compare/{other}": compare.compare,
        "/file/{mark}": pictures.evidence,
        "/small/{mark}.jpg": pictures.small_photo,
        "/face/{mark}.png": pictures.face_picture,
        "/face/{mark}": pictures.face_page,
        "/trace/{mark}.json": pictures.trace_numbers,
        "/trace/{mark}.svg": pictures.trace_picture,
        "/trace/{mark}": pictures.trace_page,
        "/document/{document}": handover.document,
    }
    takes = {
        "/decision": visit.decide_visit,
        "/exception": visit.accept_one,
        "/begin": visit.begin,
        "/go-on": visit.go_on,
        "/finish": visit.finish,
        "/seal": visit.seal,
        "/ladder/{question}": ladder.enter,
        "/ladder/{question}/undo": ladder.undo,
    }
    return [
        *(Route(VISIT + path, handler) for path, handler in shows.items()),
        *(
            Route(VISIT + path, handler, methods=["POST"])
            for path, handler in takes.items()
        ),
    ]


def ping(request: Request) -> Response:
    """Whether the server answers, with a fresh token for what waited."""
    from eavelight.web.render import site_of
    from eavelight.web.security import token_for

    token = token_for(site_of(request).secret, request.state.session)
    return JSONResponse({"ok": True, "token": token})


def keep_worker(request: Request) -> Response:  # noqa: ARG001
    """The worker that keeps pages; at the root, because it serves all of it."""
    from importlib.resources import files

    script = files("eavelight.web") / "static" / "keep_worker.js"
    return Response(script.read_bytes(), media_type="text/javascript")


def told(request: Request, error: Exception) -> Response:
    """A page for what was not found or not allowed."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    detail = error.detail if isinstance(error, HTTPException) else ""
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": detail}, status_code=status)
    if status == 401:
        return RedirectResponse("/who", status_code=303)
    return page(
        request, "told.html.j2", {"status": status, "detail": detail}, status=status
    )


def told_error(request: Request, error: Exception) -> Response:
    """A page for what the record or a file does not allow."""
    if request.url.path.startswith("/api/"):
        return JSONResponse({"error": str(error)}, status_code=422)
    values = {"status": 422, "detail": str(error)}
    return page(request, "told.html.j2", values, status=422)


def told_long(request: Request, error: Exception) -> Response:  # noqa: ARG001
    """More bytes than allowed."""
    return page(request, "told.html.j2", {"status": 413, "detail": ""}, status=413)


def told_fault(request: Request, error: Exception) -> Response:  # noqa: ARG001
    """A fault of the program itself; nothing of it is shown."""
    return page(request, "told.html.j2", {"status": 500, "detail": ""}, status=500)
