"""From a request and a use case's result to a page."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from functools import cache
from importlib import resources
from typing import Any
from urllib.parse import quote

import jinja2
from starlette.requests import Request
from starlette.responses import HTMLResponse

from eavelight.app.clock import now
from eavelight.app.desk import LiveVisit
from eavelight.app.ladder import Progress
from eavelight.app.plan_figures import Look
from eavelight.closeout.figures import NARROW_MM, WIDE_MM
from eavelight.endface.dirt import Advice
from eavelight.model.finding import Finding, Limit, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.standards.endface_dirt import load_words
from eavelight.web import words
from eavelight.web.i18n import LANGUAGES, Catalogue, speaker, tell, translations
from eavelight.web.people import Somebody
from eavelight.web.security import token_for
from eavelight.web.site import DEMO, Shelf, Site
from eavelight.wording import quantity, with_uncertainty
from eavelight.wording.numbers import minus, unit_name
from eavelight.wording.numbers import shown as fixed

MARKS = {
    Verdict.PASS: ("✓", "pass"),
    Verdict.FAIL: ("✕", "fail"),
    Verdict.UNDECIDED: ("?", "undecided"),
    Verdict.NOT_MEASURED: ("·", "not-measured"),
}
SURE = {"seen", "stated", "computed", ""}


@cache
def environment() -> jinja2.Environment:
    """The templates, strict about names."""
    made = jinja2.Environment(
        loader=jinja2.FunctionLoader(_source),
        undefined=jinja2.StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        extensions=["jinja2.ext.i18n"],
    )
    made.filters["u"] = lambda text: quote(str(text), safe="")
    return made


def _source(name: str) -> str:
    folder = resources.files("eavelight.web") / "templates"
    return (folder / name).read_text(encoding="utf-8")


class Words:
    """Everything that a template says, in one language."""

    def __init__(self, language: str) -> None:
        self.language = language
        self.catalogue: Catalogue = translations(language)
        self._ = self.catalogue.gettext
        self._entries: dict[str, str] = {}
        self._asked: dict[str, str] = {}

    def of(self, progress: Progress) -> None:
        """From here on entries of this visit are told by what they answer."""
        for item in progress.answers:
            asked = self.question(item.question)
            self._asked[item.question.id] = asked
            title = self._("“{title}”").format(title=asked)
            self._entries |= dict.fromkeys(item.names, title)

    def tell(self, message: Message | None) -> Any:
        """A sentence of a finding."""
        return tell(message, self.language, self._entries)

    def reason(self, text: str) -> str:
        """A reason as it was given, its question in words."""
        id, colon, rest = text.partition(": ")
        return f"{self._asked[id]}: {rest}" if colon and id in self._asked else text

    def named(self, kind: str, id: str) -> Any:
        """The name of a requirement, place, reading, state or step."""
        key = f"{kind}.{id.replace('.', '_').replace(' ', '_').replace('-', '_')}"
        try:
            return tell(Message(key), self.language)
        except KeyError:
            return id

    def requirement(self, id: str) -> Any:
        """A requirement, or a point of no return."""
        return self.named("requirement_name" if "." in id else "step", id)

    def place(self, name: str) -> Any:
        """A place; parts keep the name that the plan gave them."""
        named = self.named("place_name", name)
        return self.spoken(name) if named == name else named

    def state(self, state: str) -> Any:
        """A state in capitals."""
        return self.named("state", state) if state else self._("NOT LOOKED AT YET")

    def choice(self, word: str) -> str:
        """A word of the record."""
        return words.choice(word, self._)

    def mark(self, verdict: Verdict) -> str:
        """The shape that goes with a verdict."""
        return MARKS[verdict][0]

    def style(self, verdict: Verdict) -> str:
        """The class of a verdict."""
        return MARKS[verdict][1]

    def verdict(self, verdict: Verdict) -> Any:
        """A verdict in words."""
        return self.named("verdict", verdict.value)

    def cause(self, cause: Mapping[str, Any]) -> Any:
        """A cause with its place."""
        at = self.place(str(cause.get("at") or "path"))
        return self.tell(Message(f"diagnosis.cause.{cause['cause']}", {"at": at}))

    def percent(self, share: float) -> str:
        """Chances out of a hundred, with no more certainty than there is."""
        if share > 0.99:
            return self._("more than 99 in 100")
        if share < 0.01:
            return self._("less than 1 in 100")
        return self._("{n} in 100").format(n=f"{100 * share:.0f}")

    def spoken(self, word: str) -> str:
        """A word of the plan, such as a colour."""
        return words.spoken(word, self._)

    def all_spoken(self, words_of_state: Iterable[str]) -> str:
        """Words of a state, one after the other."""
        return ", ".join(self.spoken(word) for word in words_of_state)

    def tray(self, reason: str) -> str:
        """Why a tray plan is refused, or what to mind."""
        return self._(words.TRAY[reason]) if reason in words.TRAY else reason

    def cleaning(self, advice: Advice | None) -> str:
        """The next step of cleaning, with what the marks look like."""
        if advice is None:
            return ""
        known = load_words()
        kinds = ", ".join(
            " / ".join(self._(known["kind"].get(n, n)) for n in kind.split("+"))
            for kind in advice.kinds[:3]
        )
        steps = [advice.step, *(["adapter_too"] if advice.adapter_too else [])]
        text = " ".join(self._(known["step"].get(step, step)) for step in steps)
        if not kinds:
            return text
        return self._("Looks like {kinds}. {step}").format(kinds=kinds, step=text)

    def value(self, value: Quantity | None) -> str:
        """A quantity with the digits that its uncertainty allows."""
        if value is None:
            return ""
        if isinstance(value.value, str):
            parts = (
                ": ".join(str(self.place(word)) for word in part.split(": "))
                for part in value.value.split(", ")
            )
            return ", ".join(parts)
        return with_uncertainty(value.value, value.u, value.unit)

    def limit(self, limit: Limit | None) -> str:
        """A limit, provisional where it was only recalled."""
        if limit is None or limit.unit == "1":
            return ""
        low, high = limit.low, limit.high
        if low is not None and high is not None:
            text = self._("{low} to {high}")
        elif high is not None:
            text = self._("at most {high}")
        elif low is not None:
            text = self._("at least {low}")
        else:
            return ""
        text = text.format(
            low="" if low is None else quantity(low, limit.unit),
            high="" if high is None else quantity(high, limit.unit),
        )
        if limit.confidence not in SURE:
            text = self._("{limit} (provisional limit)").format(limit=text)
        return text

    def zone(self, moment: datetime) -> str:
        """The zone of a time, as people write it."""
        return f"UTC{minus(moment.strftime('%z')[:3])}:{moment.strftime('%z')[3:5]}"

    def age(self, since: str, today: datetime) -> str:
        """How long ago a visit began, in the largest unit that says it."""
        hours = (today - datetime.fromisoformat(since)).total_seconds() / 3600
        if hours < 24:
            return self._("{n} h").format(n=max(0, int(hours)))
        return self._("{n} d").format(n=int(hours // 24))

    def question(self, question: Any) -> str:
        """A question as it is asked."""
        return words.title(question, self._)

    def hint(self, question: Any) -> str:
        """One line that helps with a question."""
        return words.hint(question, self._)

    def stage(self, stage: str) -> str:
        """A stage of the work."""
        return self._(words.STAGES[stage])

    def progress(self, state: str) -> tuple[str, str]:
        """Mark and word of a question's state."""
        mark, word = words.PROGRESS[state]
        return mark, self._(word)

    def reading(self, value: object, unit: str | None) -> Any:
        """A reading's value."""
        return words.reading_value(value, unit, self._)

    def side(self, side: str) -> str:
        """A side of a connector."""
        return self._(words.SIDES.get(side, side))

    def view(self, view: str) -> str:
        """What a photo is of."""
        return self._(words.VIEWS.get(view, view))

    def unit(self, unit: str) -> str:
        """A unit as printed."""
        return unit_name(unit)

    def plain(self, value: float) -> str:
        """A number with the digits that it has."""
        return words.plain(value)

    def plain_fixed(self, value: float, decimals: int) -> str:
        """A number with fixed digits and a true minus sign."""
        return fixed(value, decimals)

    def unusual(self, question: Any, value: object) -> bool:
        """Whether a value lies outside what such a reading usually is."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        low, high = question.low, question.high
        return low is not None and high is not None and not low <= value <= high

    def headline(self, item: Finding) -> str:
        """Wavelength of a finding, where it has one."""
        return "" if item.wavelength_nm is None else f"{item.wavelength_nm} nm"


def site_of(request: Request) -> Site:
    """What the application holds."""
    found: Site = request.app.state.site
    return found


def words_of(request: Request) -> Words:
    """The words of this request's language."""
    found: Words = request.state.words
    return found


def look_of(request: Request, *, language: str = "", narrow: bool = False) -> Look:
    """How figures and documents are drawn for a request."""
    said = language if language in LANGUAGES else words_of(request).language
    width = NARROW_MM if narrow else WIDE_MM
    return Look(width_mm=width, language=said, spoken=speaker(said))


def person_of(request: Request) -> Somebody | None:
    """Who asks; None before they said so."""
    found: Somebody | None = request.state.person
    return found


def page(
    request: Request,
    template: str,
    values: Mapping[str, Any] | None = None,
    *,
    status: int = 200,
) -> HTMLResponse:
    """A page from a template."""
    said = words_of(request)
    visit = (values or {}).get("visit")
    if isinstance(visit, LiveVisit):
        said.of(visit.progress)
    site = site_of(request)
    shelf: Shelf | None = getattr(request.state, "shelf", None)
    path = request.url.path
    if request.url.query:
        path = f"{path}?{request.url.query}"
    context: dict[str, Any] = {
        "w": said,
        "lang": said.language,
        "languages": LANGUAGES,
        "path": path if request.method == "GET" else "/",
        "token": token_for(site.secret, request.state.session),
        "person": person_of(request),
        "made": int(now().timestamp()),
        "signs_in": site.door is not None,
        "shelf": shelf.name if shelf else "",
        "base": f"/{shelf.name}" if shelf else "",
        "invented": shelf is not None and shelf.name == DEMO,
        "_": said.catalogue.gettext,
        "gettext": said.catalogue.gettext,
        "ngettext": said.catalogue.ngettext,
        **(values or {}),
    }
    text = environment().get_template(template).render(context)
    return HTMLResponse(text, status_code=status)


def visit_base(shelf: Shelf, visit: LiveVisit | str) -> str:
    """The address of a visit's pages."""
    id = visit if isinstance(visit, str) else visit.id
    return f"/{shelf.name}/visits/{quote(id, safe='')}"
