"""Runs the demo and words its summary."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import close_out
from eavelight.cli.progress import steps
from eavelight.demo.crew import SCENARIOS, build_crew
from eavelight.errors import MissingFeatureError
from eavelight.model.finding import Assessment, Verdict
from eavelight.model.message import Message
from eavelight.wording import say


def run_demo(folder: Path) -> Iterator[dict[str, Any]]:
    """Build every visit first, so that each is compared with all, then assess."""
    built = list(
        steps(build_crew(folder), total=len(SCENARIOS), label="building the visits")
    )
    for scenario, place in steps(built, total=len(built), label="writing closeouts"):
        assessed = assess_visit(str(place))
        written, problem = _closeouts(place)
        yield {
            "visit": assessed.assessment.visit,
            "folder": place.as_posix(),
            "lesson": scenario.title,
            "state": assessed.assessment.state,
            "reason": reason(assessed.assessment),
            "first_action": say(assessed.assessment.next_actions[0].text),
            "files": [path.as_posix() for path in written],
            "not_written": problem,
        }


def keep_in_store(folder: Path, places: list[str]) -> Path:
    """Import the visits into a store of the demo's own."""
    from eavelight.app.import_export import import_place
    from eavelight.app.record_place import open_record
    from eavelight.app.seal_visit import seal_visit

    file = folder / "record.db"
    with open_record(str(file)) as place:
        for name in places:
            for item in import_place(place, Path(name)):
                if item.observations:
                    seal_visit(place, item.visit, extra={})
    return file


def _closeouts(place: Path) -> tuple[list[Path], str | None]:
    written: list[Path] = []
    for suffix in (".pdf", ".html"):
        target = place / f"closeout{suffix}"
        try:
            close_out(str(place), target)
        except MissingFeatureError as error:
            return written, str(error)
        written.append(target)
    return written, None


def reason(assessment: Assessment) -> str:
    """One sentence for the state: that of the first action."""
    if assessment.next_actions:
        return say(assessment.next_actions[0].why)
    failing = [f for f in assessment.findings if f.verdict is Verdict.FAIL]
    return say(failing[0].because) if failing else ""


def summary_lines(
    rows: list[dict[str, Any]], folder: Path, store: str
) -> Iterator[str]:
    """The summary as people read it, ending with what to try next."""
    for row in rows:
        state = say(Message(f"state.{row['state'].replace(' ', '_')}"))
        yield f"{row['visit']}  {state:<16} {row['lesson']}"
        yield f"       why    {row['reason']}"
        yield f"       first  {row['first_action']}"
        yield ""
    yield "Written (all of it invented):"
    for row in rows:
        for name in (f"{row['folder']}/visit.toml", *row["files"]):
            yield f"  {name}"
        if row["not_written"]:
            yield f"  no closeout: {row['not_written']}"
    yield f"Kept in the store {store}: eavelight verify --store {store}"
    yield ""
    yield "In a browser: eavelight serve, then open the invented crew on the first page"
    last = rows[min(1, len(rows) - 1)]["folder"] if rows else folder.as_posix()
    yield f"Try next: eavelight assess {last} --all"
