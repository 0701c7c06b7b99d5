"""Evidence that cannot be what it claims: neutral words, never an accusation."""

from collections.abc import Iterator
from datetime import datetime, timedelta

from eavelight.assess.context import Context
from eavelight.assess.evidence_noise import assess_noise
from eavelight.assess.evidence_values import assess_values
from eavelight.assess.judge import finding
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation, OtherVisit, Reading

# Clocks of two instruments on one job may differ by this much without a word.
CLOCK_SLACK = timedelta(minutes=5)


def assess_evidence(context: Context) -> list[Finding]:
    """Findings on the order of times, on files, noise and values seen before."""
    return [
        *_order(context),
        *_duplicates(context),
        *assess_noise(context),
        *assess_values(context),
    ]


def _order(context: Context) -> list[Finding]:
    requirement = "evidence.order"
    problems = list(_problems(context))
    if problems:
        return [
            finding(
                context,
                requirement,
                subject,
                verdict=Verdict.FAIL,
                because=message,
                observations=observations,
            )
            for subject, message, observations in problems
        ]
    observed = context.observations
    if not observed.readings and not any(i.evidence.time for i in observed.files):
        return [
            finding(
                context,
                requirement,
                "path",
                verdict=Verdict.NOT_MEASURED,
                because=Message(f"{requirement}.not_measured", {}),
            )
        ]
    return [
        finding(
            context,
            requirement,
            "path",
            verdict=Verdict.PASS,
            because=Message(f"{requirement}.pass", {"count": len(observed.readings)}),
        )
    ]


Problem = tuple[str, Message, tuple[str, ...]]


def _problems(context: Context) -> Iterator[Problem]:
    observed = context.observations
    if observed.ended is not None and observed.ended < observed.started:
        values = {"started": observed.started, "ended": observed.ended}
        yield "path", Message("evidence.order.fail.ended", values), ()
    yield from _outside(context)
    yield from _online(context)
    yield from _shrunk(context)


def _times(context: Context) -> Iterator[tuple[str, str, datetime]]:
    for reading in context.observations.readings:
        if reading.what != "note":
            yield reading.id, reading.at, reading.time
    for item in context.observations.files:
        if item.evidence.time is not None:
            yield item.evidence.file, item.evidence.at or "box", item.evidence.time


def _outside(context: Context) -> Iterator[Problem]:
    """Taken before the visit began or after it ended."""
    observed = context.observations
    for name, at, time in _times(context):
        values = {"name": name, "time": time, "started": observed.started}
        if time < observed.started - CLOCK_SLACK:
            yield at, Message("evidence.order.fail.before", values), (name,)
        elif (
            observed.ended is not None
            and observed.ended >= observed.started
            and time > observed.ended + CLOCK_SLACK
        ):
            values["ended"] = observed.ended
            yield at, Message("evidence.order.fail.after", values), (name,)


def _online(context: Context) -> Iterator[Problem]:
    """Online later than the reading that reports it, or the end of the visit."""
    for item in context.selection.all_of("terminal_online_at"):
        online, reading = item.reading.value, item.reading
        if not isinstance(online, datetime) or online.tzinfo is None:
            continue
        values = {"name": reading.id, "time": online, "reported": reading.time}
        ended = context.observations.ended
        if online > reading.time + CLOCK_SLACK:
            yield (
                "terminal",
                Message("evidence.order.fail.online", values),
                (reading.id,),
            )
        elif ended is not None and online > ended + CLOCK_SLACK:
            values["ended"] = ended
            yield (
                "terminal",
                Message("evidence.order.fail.closed_first", values),
                (reading.id,),
            )
        yield from _stable(context, online)


def _stable(context: Context, online: datetime) -> Iterator[Problem]:
    """Stable for longer than it has been online."""
    last = context.selection.latest("seconds_stable", "terminal")
    if last is None:
        return
    reading = last.reading
    passed = (reading.time - online).total_seconds()
    if reading.number > passed + CLOCK_SLACK.total_seconds():
        values = {"seconds": reading.number, "passed": passed, "name": reading.id}
        yield "terminal", Message("evidence.order.fail.stable", values), (reading.id,)


def _shrunk(context: Context) -> Iterator[Problem]:
    """Read after shrinking, before it was read before shrinking."""
    grouped: dict[tuple[str, str, int], list[Reading]] = {}
    for item in context.selection.everything:
        reading = item.reading
        if {"before shrink", "after shrink"} & set(reading.state):
            key = (reading.what, reading.at, reading.attempt or 0)
            grouped.setdefault(key, []).append(reading)
    for (_, at, _), readings in grouped.items():
        after = [r for r in readings if "after shrink" in r.state]
        before = [r for r in readings if "before shrink" in r.state]
        if after and before and after[-1].time < before[0].time:
            values = {"name": after[-1].id, "other": before[0].id}
            yield (
                at,
                Message("evidence.order.fail.shrink", values),
                (
                    after[-1].id,
                    before[0].id,
                ),
            )


def _duplicates(context: Context) -> list[Finding]:
    requirement = "evidence.duplicate"
    files = context.observations.files
    found = [*_within(context), *_across(context)]
    if found:
        return found
    verdict = Verdict.PASS if files else Verdict.NOT_MEASURED
    values = {"files": len(files), "others": len(context.others)}
    name = "pass" if files else "not_measured"
    return [
        finding(
            context,
            requirement,
            "path",
            verdict=verdict,
            because=Message(f"{requirement}.{name}", values),
        )
    ]


def _same(one: FileObservation, other: FileObservation) -> str | None:
    """Why two files are the same evidence: bytes, or trace samples alone."""
    if one.sha256 == other.sha256:
        return "file"
    if one.samples_sha256 and one.samples_sha256 == other.samples_sha256:
        return "samples"
    return None


def _within(context: Context) -> Iterator[Finding]:
    """One file that stands for two different claims in the same visit."""
    files = context.observations.files
    for index, item in enumerate(files):
        for earlier in files[:index]:
            same = _same(item, earlier)
            if same is None or item.evidence.file == earlier.evidence.file:
                continue
            values: dict[str, object] = {
                "file": item.evidence.file,
                "other": earlier.evidence.file,
                "same": same,
            }
            yield _duplicate(context, item, Verdict.FAIL, "within", values)


def _across(context: Context) -> Iterator[Finding]:
    for item in context.observations.files:
        for other in context.others:
            if other.visit == context.visit:
                continue
            for theirs in other.files:
                same = _same(item, theirs)
                if same is None:
                    continue
                later = _is_later(context, other)
                values: dict[str, object] = {
                    "file": item.evidence.file,
                    "other": theirs.evidence.file,
                    "visit": other.visit,
                    "site": other.site,
                    "same": same,
                }
                yield _duplicate(
                    context,
                    item,
                    Verdict.FAIL if later else Verdict.PASS,
                    "across" if later else "told",
                    values,
                )
                break


def _is_later(context: Context, other: OtherVisit) -> bool:
    """Whether this visit is the later of the two; ties go by id."""
    mine = (context.observations.started, context.visit)
    return mine > (other.started, other.visit)


def _duplicate(
    context: Context,
    item: FileObservation,
    verdict: Verdict,
    name: str,
    values: dict[str, object],
) -> Finding:
    return finding(
        context,
        "evidence.duplicate",
        item.evidence.at or "box",
        verdict=verdict,
        because=Message(f"evidence.duplicate.{verdict}.{name}", values),
        measured=Quantity(value=item.evidence.file, unit=""),
        observations=(item.evidence.file,),
    )
