"""What import, export and verify print, for people and for scripts."""

from collections.abc import Iterable, Iterator
from typing import Any

from eavelight.app.import_export import Exported, Imported
from eavelight.app.record_verify import Verified
from eavelight.seal import Problem, Report
from eavelight.wording import say

CLEAN, DIRTY = "✓", "✕"


def imported_lines(done: Iterable[Imported], where: str) -> Iterator[str]:
    """One line per visit, and what is to be known of it."""
    listed = list(done)
    for item in listed:
        what = (
            f"{item.observations} new observations, {item.evidence} new files"
            if item.observations or item.evidence or item.seals
            else "nothing new"
        )
        yield f"{item.visit}  {what}  ({item.place})"
        for note in item.notes:
            yield f"  Note  {note}"
    visits = len({item.visit for item in listed})
    yield f"{visits} {'visit' if visits == 1 else 'visits'} in {where}"


def imported_json(done: Iterable[Imported], where: str) -> dict[str, Any]:
    """What was imported, as data."""
    return {
        "schema": "eavelight.import/1",
        "store": where,
        "visits": [
            {
                "visit": item.visit,
                "from": item.place,
                "observations": item.observations,
                "evidence": item.evidence,
                "seals": item.seals,
                "notes": list(item.notes),
            }
            for item in done
        ],
    }


def exported_lines(done: Exported) -> Iterator[str]:
    """Where it was written, and the heads to keep."""
    size = done.size_bytes / 1e6
    yield f"{done.path}  {len(done.visits)} visits, {size:.1f} MB"
    for visit, heads in done.heads.items():
        for device, head in heads.items():
            yield f"  {visit}  head of device {device[:8]}  {head}"
    for note in done.notes:
        yield f"  Note  {note}"


def exported_json(done: Exported) -> dict[str, Any]:
    """What was exported, as data."""
    return {
        "schema": "eavelight.export/1",
        "file": done.path.as_posix(),
        "visits": list(done.visits),
        "size_bytes": done.size_bytes,
        "heads": {visit: dict(heads) for visit, heads in done.heads.items()},
        "notes": list(done.notes),
    }


def verified_lines(found: Iterable[Verified]) -> Iterator[str]:
    """Every visit with what is wrong first, then what is to be known."""
    for place in found:
        yield place.place
        for problem in place.problems:
            yield f"  {DIRTY} {say(problem.message)}"
        for report in place.reports:
            yield from _report(report)
        wrong = sum(not report.clean for report in place.reports)
        total = len(place.reports)
        if place.clean:
            yield f"{total} {_visits(total)} as recorded."
        elif wrong:
            yield f"{wrong} of {total} {_visits(total)} NOT as recorded."
        else:
            yield "NOT as recorded."


def _visits(count: int) -> str:
    return "visit" if count == 1 else "visits"


def _report(report: Report) -> Iterator[str]:
    counts = report.counts
    facts = (
        f"{counts['observations']} observations, {counts['chains']} "
        f"{'device' if counts['chains'] == 1 else 'devices'}, "
        f"{counts['evidence']} files, {counts['seals']} "
        f"{'seal' if counts['seals'] == 1 else 'seals'}"
    )
    mark = CLEAN if report.clean else DIRTY
    yield f"  {mark} {report.visit}  {facts}"
    for problem in report.problems:
        yield f"      {DIRTY} {say(problem.message)}"
    for remark in report.remarks:
        yield f"      · {say(remark)}"


def verified_json(found: Iterable[Verified]) -> dict[str, Any]:
    """What verifying gave, as data."""
    return {
        "schema": "eavelight.verify/1",
        "places": [
            {
                "place": place.place,
                "clean": place.clean,
                "problems": [_problem(item) for item in place.problems],
                "visits": [_report_json(report) for report in place.reports],
            }
            for place in found
        ],
    }


def _problem(item: Problem) -> dict[str, str]:
    return {"kind": item.kind, "place": item.place, "text": say(item.message)}


def _report_json(report: Report) -> dict[str, Any]:
    return {
        "visit": report.visit,
        "clean": report.clean,
        **report.counts,
        "problems": [_problem(item) for item in report.problems],
        "remarks": [{"kind": r.id, "text": say(r)} for r in report.remarks],
        "heads": {device: head.id for device, head in report.heads.items()},
    }
