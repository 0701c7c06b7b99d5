"""Is the record complete: would a stranger understand it in five years."""

from collections.abc import Callable

from eavelight.assess.context import Context
from eavelight.assess.endface import pictures_of, stated_of
from eavelight.assess.judge import finding
from eavelight.assess.splice import splices_of_drop
from eavelight.model.finding import Finding, Verdict
from eavelight.model.message import Message


def assess_record(context: Context) -> list[Finding]:
    """`record.complete`, with everything that is missing named."""
    requirement = "record.complete"
    wanted = _wanted(context)
    missing = [name for name, there in wanted if not there(context)]
    values = {
        "missing": tuple(Message(f"record.item.{_key(name)}") for name in missing),
        "count": len(missing),
        "of": len(wanted),
    }
    if not missing:
        verdict = Verdict.PASS
    elif len(missing) == len(wanted):
        verdict = Verdict.NOT_MEASURED
    else:
        verdict = Verdict.UNDECIDED
    return [
        finding(
            context,
            requirement,
            "path",
            verdict=verdict,
            because=Message(f"{requirement}.{_key(verdict)}", values),
            decide_by=(
                Message(f"{requirement}.decide_by", values) if missing else None
            ),
        )
    ]


def missing_items(context: Context) -> tuple[str, ...]:
    """Names of what the record still lacks, in the profile's order."""
    return tuple(name for name, there in _wanted(context) if not there(context))


def _key(text: str) -> str:
    return text.replace(" ", "_").replace("-", "_")


def _wanted(context: Context) -> list[tuple[str, Callable[[Context], bool]]]:
    record = context.profile.record
    items = [*record["items"]]
    photos = [*record["photos"]]
    if context.plan.feed is not None:
        items += record["items_with_feed"]
        photos += record["photos_with_feed"]
    return [
        *((name, CHECKS[name]) for name in items),
        *((f"photo {view}", _photo(view)) for view in photos),
    ]


def _photo(view: str) -> Callable[[Context], bool]:
    return lambda context: any(
        item.evidence.view == view for item in context.files("photo")
    )


def _level(at: str) -> Callable[[Context], bool]:
    return lambda context: bool(context.current("level", at))


def _two_losses(context: Context) -> bool:
    closed = {
        item.reading.wavelength_nm
        for item in context.current("loss", "drop")
        if item.lid_closed
    }
    return len(closed) >= 2


def _estimates(context: Context) -> bool:
    return all(
        context.current("splice_estimate", part.name)
        for part in splices_of_drop(context)
    )


def _plug_face(context: Context) -> bool:
    return bool(
        stated_of(context, "terminal", "plug")
        or pictures_of(context, "terminal", "plug")
    )


def _stable(context: Context) -> bool:
    last = context.selection.latest("seconds_stable", "terminal")
    least = context.profile.number("record.online_stable")
    return last is not None and last.reading.number >= least


CHECKS: dict[str, Callable[[Context], bool]] = {
    "level at port": _level("port"),
    "level at terminal": _level("terminal"),
    "loss at two wavelengths": _two_losses,
    "splice estimate": _estimates,
    "terminal plug face": _plug_face,
    "online time": lambda context: bool(
        context.current("terminal_online_at", "terminal")
    ),
    "online stable": _stable,
    "backup choice": lambda context: bool(context.current("backup_choice", "supply")),
}
