"""What was looked at, as marks that are good or bad.

Where a finding already compared what was seen with the plan, the mark is its verdict.
"""

from collections.abc import Iterator, Sequence

from eavelight.assess.context import Context
from eavelight.assess.endface import (
    graded_as,
    is_cleaned,
    last_graded,
    pictures_of,
    stated_of,
)
from eavelight.assess.selection import BATTERY_STATES
from eavelight.diagnosis.case import Mark
from eavelight.model.finding import Finding, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation, Reading

# requirement: kind of mark, for findings whose pass is good and whose fail is bad
PLAIN = {
    "identity.port": "port label",
    "identity.registered": "port registered",
    "identity.port_in_use": "port in use",
    "identity.polish": "polish",
    "cleave.angle": "cleave",
    "bend.radius": "radius",
    "evidence.duplicate": "same file",
    "evidence.noise_copied": "same file",
    "evidence.repeated_values": "values repeated",
    "evidence.order": "order",
    "evidence.length_agrees": "lengths",
    "trace.reflectance": "reflection",
}
FACE_KINDS = {
    "before cleaning": "face before cleaning",
    "after cleaning one side": "face after one side",
    "after cleaning both sides": "face after both sides",
}
BATTERY_LINES = {"battery missing", "battery low", "replace battery"}
# A lead-acid battery at rest below this share of its float voltage is not full.
REST_SHARE = 0.895
STABLE_S = 600.0


def marks_of(context: Context, findings: Sequence[Finding]) -> Iterator[Mark]:
    """Every mark of a visit."""
    yield from _plain(findings)
    yield from _strand(context, findings)
    yield from _polarity(findings)
    yield from _faces(context)
    yield from _sleeves(context)
    yield from _lines(context)
    yield from _numbers(context)


def _plain(findings: Sequence[Finding]) -> Iterator[Mark]:
    told: set[tuple[str, str]] = set()
    for item in findings:
        kind = PLAIN.get(item.requirement)
        if kind is None or item.verdict not in {Verdict.PASS, Verdict.FAIL}:
            continue
        bad = item.verdict is Verdict.FAIL
        if kind in {"same file", "order", "values repeated"} and not bad:
            if (kind, "") in told:
                continue
            told.add((kind, ""))
        if bad and kind == "order" and (kind, "bad") in told:
            continue
        told.add((kind, "bad") if bad else (kind, item.subject))
        yield Mark(
            kind=kind,
            at=item.subject,
            bad=bad,
            ids=item.observations,
            why=item.because,
        )


def _strand(context: Context, findings: Sequence[Finding]) -> Iterator[Mark]:
    for item in findings:
        if item.requirement != "identity.fibre":
            continue
        seen, light = context.current("fibre_seen"), context.current("fibre_light")
        name = item.because.id
        if seen and item.verdict is not Verdict.NOT_MEASURED and "tracer" not in name:
            numbers = item.because.values.get("marks", ())
            others = [m for m in numbers if isinstance(m, Message) and "other" in m.id]
            yield Mark(
                kind="strand",
                at=item.subject,
                bad=bool(others),
                ids=tuple(one.reading.id for one in seen),
                why=others[0] if others else item.because,
            )
        if light:
            reading = light[-1].reading
            yield _light(item, reading, "steady")
            if reading.text != "steady":
                yield _light(item, reading, "dark")


def _light(item: Finding, reading: Reading, word: str) -> Mark:
    return Mark(
        kind=f"light {word}",
        at=item.subject,
        bad=reading.text == word,
        ids=(reading.id,),
        why=item.because,
    )


def _polarity(findings: Sequence[Finding]) -> Iterator[Mark]:
    for item in findings:
        if item.requirement != "feed.polarity":
            continue
        if item.verdict not in {Verdict.PASS, Verdict.FAIL}:
            continue
        damp = "insulation" in item.because.id or "foreign" in item.because.id
        yield Mark(
            kind="insulation" if damp else "polarity",
            at=item.subject,
            bad=item.verdict is Verdict.FAIL,
            ids=item.observations,
            why=item.because,
        )


def _faces(context: Context) -> Iterator[Mark]:
    """Every face as last seen; what it was before cleaning stays in the record."""
    for connector, side in _seen_faces(context):
        picture = last_graded(pictures_of(context, connector, side))
        stated = stated_of(context, connector, side)
        last = stated[-1].reading if stated else None
        if last is not None and (picture is None or _overtakes(last, picture)):
            kinds = (FACE_KINDS[word] for word in last.state if word in FACE_KINDS)
            yield Mark(
                kind=next(kinds, "face"),
                at=connector,
                bad=last.text == "fail",
                ids=(last.id,),
                side=side,
            )
        elif picture is not None:
            cleaned = is_cleaned(picture)
            yield Mark(
                kind="face after both sides" if cleaned else "face before cleaning",
                at=connector,
                bad=graded_as(picture) == "fail",
                ids=(picture.evidence.file,),
                side=side,
            )


def _seen_faces(context: Context) -> list[tuple[str, str]]:
    """Connector and side of every face with a picture or a statement, once each."""
    pictured = [
        (item.evidence.at, item.evidence.side or "plug")
        for item in context.files("endface")
    ]
    stated = [
        (item.reading.at, item.reading.side or "plug")
        for item in context.selection.all_of("endface_stated")
    ]
    return list(dict.fromkeys((at, side) for at, side in [*pictured, *stated] if at))


def _overtakes(stated: Reading, picture: FileObservation) -> bool:
    """Whether words outrank a picture: only of a cleaning that came after it."""
    after = any(word.startswith("after cleaning") for word in stated.state)
    time = picture.evidence.time
    return after and not is_cleaned(picture) and (time is None or stated.time >= time)


def _sleeves(context: Context) -> Iterator[Mark]:
    looks = context.selection.all_of("sleeve_seen")
    for name in sorted({item.reading.at for item in looks}):
        mine = [item.reading for item in looks if item.reading.at == name]
        last = max(mine, key=lambda reading: (reading.attempt or 0, reading.time))
        yield Mark(kind="sleeve", at=name, bad=last.text != "clear", ids=(last.id,))


def _lines(context: Context) -> Iterator[Mark]:
    """Status lines in a state where they should be quiet."""
    for item in context.selection.all_of("status_line"):
        reading = item.reading
        states = set(reading.state)
        if states & (BATTERY_STATES | {"battery lead off"}):
            continue
        battery = reading.line in BATTERY_LINES
        yield Mark(
            kind="battery line" if battery else "mains line",
            at="battery" if battery else "supply",
            bad=reading.text == "alarm",
            ids=(reading.id,),
            side=reading.line,
        )


def _numbers(context: Context) -> Iterator[Mark]:
    """Numbers that only say good or bad: stability, rest of the battery, heat."""
    feed, housing = context.plan.feed, context.plan.housing
    stable = context.selection.latest("seconds_stable")
    if stable is not None:
        reading = stable.reading
        yield Mark(
            kind="unstable",
            at="terminal",
            bad=reading.number < STABLE_S,
            ids=(reading.id,),
        )
    for item in context.current("volts", "battery"):
        rest = {"disconnected", "battery lead off"} & set(item.reading.state)
        if rest and feed is not None:
            low = abs(item.reading.number) < REST_SHARE * feed.supply_float_v
            yield Mark(
                kind="battery rest", at="battery", bad=low, ids=(item.reading.id,)
            )
    box = context.selection.latest("temperature", "box")
    if box is not None and housing is not None and housing.rated_high_c is not None:
        yield Mark(
            kind="hot",
            at="box",
            bad=box.reading.number >= housing.rated_high_c,
            ids=(box.reading.id,),
        )
