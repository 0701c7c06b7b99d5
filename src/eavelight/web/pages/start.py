"""The first page: own visits, a new one from a work order, the invented crew."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from eavelight.app.desk import QueueFilters
from eavelight.app.desk.work_order import take_work_order
from eavelight.errors import EavelightError
from eavelight.web.context import LANGUAGE, WHO, Form, posted, shelf_of, shown
from eavelight.web.i18n import LANGUAGES
from eavelight.web.render import page, site_of, visit_base

NEWEST = 5


@shown()
def start(request: Request) -> Response:
    """Where to begin."""
    own = site_of(request).own
    own.look_ahead()
    lines = own.summaries.queue(QueueFilters(limit=NEWEST))
    return page(request, "start.html.j2", {"lines": lines})


def away(request: Request) -> Response:
    """What is shown in place of a page that was never opened, without the server."""
    return page(request, "away.html.j2")


@posted("read")
def open_demo(request: Request, form: Form) -> Response:  # noqa: ARG001
    """Build the invented crew's record, and go there."""
    site_of(request).open_demo()
    return RedirectResponse("/demo/", status_code=303)


@shown("enter")
def new_visit(request: Request) -> Response:
    """The form for a work order."""
    shelf_of(request)
    return page(request, "new.html.j2", {"problem": "", "text": ""})


@posted("enter")
def add_visit(request: Request, form: Form) -> Response:
    """Take a work order as a visit that nobody began yet."""
    shelf = shelf_of(request)
    data = form.data or form.text("text").encode()
    try:
        visit = take_work_order(shelf.live, data)
    except EavelightError as error:
        values = {"problem": str(error), "text": form.text("text")}
        return page(request, "new.html.j2", values, status=422)
    shelf.visit(visit)
    return RedirectResponse(f"{visit_base(shelf, visit)}/ladder", status_code=303)


@posted("")
def choose_language(request: Request, form: Form) -> Response:  # noqa: ARG001
    """Remember a language."""
    code = form.text("language")
    if code not in LANGUAGES:
        raise HTTPException(422)
    answer = RedirectResponse(local(form.text("back")), status_code=303)
    answer.set_cookie(LANGUAGE, code, max_age=31_536_000, samesite="strict")
    return answer


def local(path: str) -> str:
    """A path of this site, whatever was asked for."""
    plain = path.startswith("/") and not path.startswith(("//", "/\\"))
    return path if plain and path.isprintable() else "/"


def who(request: Request) -> Response:
    """The form that asks who is there."""
    return page(request, "who.html.j2", {"problem": False})


@posted("")
def tell_who(request: Request, form: Form) -> Response:
    """Check a name and its password."""
    door = site_of(request).door
    secret = door.sign_in(form.text("name"), form.values.get("key", "")) if door else ""
    if not secret:
        return page(request, "who.html.j2", {"problem": True}, status=401)
    answer = RedirectResponse("/", status_code=303)
    safe = request.url.scheme == "https"
    answer.set_cookie(
        WHO, secret, max_age=43_200, httponly=True, samesite="strict", secure=safe
    )
    return answer


@posted("")
def leave(request: Request, form: Form) -> Response:  # noqa: ARG001
    """End the session."""
    door = site_of(request).door
    if door is not None and WHO in request.cookies:
        door.sign_out(request.cookies[WHO])
    answer = RedirectResponse("/who", status_code=303)
    answer.delete_cookie(WHO)
    return answer
