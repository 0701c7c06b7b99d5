"""The end of the document: points of no return, clauses, files, versions, cautions."""

import hashlib
from collections.abc import Iterable

from eavelight.closeout.document import (
    Block,
    Bullets,
    Facts,
    Paragraph,
    Row,
    Section,
    Table,
)
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import column
from eavelight.model.finding import Limit, Step
from eavelight.model.observation import FileObservation
from eavelight.standards.clauses import Clause
from eavelight.standards.pon_classes import pon_class
from eavelight.wording import quantity

PON_PREFIX, PLAN_PREFIX = "pon.", "plan."
SCHEMA = "eavelight.visit/1"


def next_section(material: Material) -> Section | None:
    """Next actions with their reasons; None where the visit is ready."""
    actions = material.assessment.next_actions
    if not actions or material.assessment.state == "ready":
        return None
    items = tuple(
        material.say(
            "closeout.action.line",
            text=material.told(item.text),
            minutes=item.minutes,
            why=material.told(item.why),
        )
        for item in actions
    )
    return Section(
        title=material.say("closeout.section.next"),
        blocks=(Bullets(items=items, numbered=True),),
    )


def points_section(material: Material) -> Section | None:
    """The five steps that cannot be undone."""
    steps = material.assessment.before
    if not steps:
        return None
    return Section(
        title=material.say("closeout.section.points"),
        blocks=(
            Table(
                title="",
                columns=(
                    column(material, "answer", weight=1.0),
                    column(material, "step", weight=2.4),
                ),
                rows=tuple(_step_row(material, step) for step in steps),
            ),
        ),
    )


def _step_row(material: Material, step: Step) -> Row:
    name, sign, mark = ("clear", "✓", "pass")
    if step.against:
        name, sign, mark = ("against", "✕", "fail")
    elif step.missing:
        name, sign, mark = ("missing", "?", "undecided")
    notes = [material.told(item) for item in (*step.against, *step.missing)]
    if step.exception is not None:
        reason = step.exception.reason
        notes.append(material.say("closeout.points.exception", reason=reason))
    title = material.say(f"step.{step.step.replace(' ', '_')}")
    answer = material.say(f"closeout.points.{name}")
    return Row(cells=(f"{sign} {answer}", title), mark=mark, notes=tuple(notes))


def clause_section(material: Material) -> Section:
    """Every number that came from a document, with edition and confidence."""
    limits, planned = _limits_used(material)
    supposed = [item for item in _supposed(material) if item not in limits]
    blocks: list[Block] = [Paragraph(text=material.say("closeout.clauses.intro"))]
    for title, rows in (
        ("limits", [_clause_row(material, item) for item in limits]),
        ("plan", [_plan_row(material, *item) for item in planned]),
        ("supposed", [_clause_row(material, item) for item in supposed]),
    ):
        if rows:
            blocks.append(_clause_table(material, f"closeout.clauses.{title}", rows))
    hashes = {(item.file, item.file_sha256) for item in (*limits, *supposed)}
    blocks.append(_hash_table(material, sorted(hashes)))
    return Section(title=material.say("closeout.section.clauses"), blocks=tuple(blocks))


def _limits_used(material: Material) -> tuple[list[Clause], list[tuple[str, Limit]]]:
    known = {item.id: item for item in material.profile.clauses()}
    clauses: dict[str, Clause] = {}
    planned: dict[tuple[str, Limit], None] = {}
    for item in material.assessment.findings:
        limit = item.limit
        if limit is None:
            continue
        if limit.clause in known:
            clauses[limit.clause] = known[limit.clause]
        elif limit.clause.startswith(PON_PREFIX):
            clauses |= {clause.id: clause for clause in _pon_clauses(limit.clause)}
        elif limit.clause.startswith(PLAN_PREFIX):
            planned[item.requirement, limit] = None
    return list(clauses.values()), list(planned)


def _pon_clauses(id: str) -> list[Clause]:
    """Floor and ceiling of `pon.<class>.<way>`."""
    name, _, way = id.removeprefix(PON_PREFIX).rpartition(".")
    found = pon_class(name)
    both = (found.floor(way), found.ceiling(way))
    return [item for item in both if item is not None]


def _supposed(material: Material) -> list[Clause]:
    """What was taken from the profile: guard band, tool classes, plant defaults."""
    profile = material.profile
    found = [profile.limit("guard.factor")]
    for reading in material.observations.readings:
        if reading.u is None and profile.knows_u(reading.what):
            found.append(profile.uncertainty[reading.what])
            share = profile.uncertainty_share.get(reading.what)
            found += [share] if share is not None else []
    kinds = {part.kind for part in material.visit.plan.plant.part}
    found += [
        clause
        for name, clause in profile.plant.items()
        if name.partition(".")[0] in kinds
    ]
    return list({item.id: item for item in found}.values())


def _clause_row(material: Material, item: Clause) -> Row:
    unit = {"Ω": "ohm", "°": "deg", "1": ""}.get(item.unit, item.unit)
    value = f"{item.value:g} {unit}".strip().replace("-", "−")
    if unit in {"dB", "dBm", "V", "ohm", "deg"} and abs(item.value) >= 0.01:
        value = quantity(item.value, unit)
    bound = {"max": "at_most", "min": "at_least"}.get(item.bound, "nominal")
    text = item.quantity + (f"; {item.condition}" if item.condition else "")
    return Row(
        cells=(
            text,
            material.say(f"closeout.clauses.{bound}", value=value),
            f"{item.document} {item.edition}, {item.where}",
            material.say(f"confidence.{item.confidence}"),
            item.id,
        )
    )


def _plan_row(material: Material, requirement: str, item: Limit) -> Row:
    low, high = quantity(item.low, item.unit), quantity(item.high, item.unit)
    if item.low is not None and item.high is not None:
        text = material.say("bound.range", low=low, high=high)
    elif item.low is not None:
        text = material.say("bound.low", low=low)
    else:
        text = material.say("bound.high", high=high)
    plan = material.say("confidence.stated")
    return Row(cells=(material.requirement(requirement), text, "", plan, item.clause))


def _clause_table(material: Material, title: str, rows: Iterable[Row]) -> Table:
    return Table(
        title=material.say(title),
        columns=(
            column(material, "what", weight=2.4),
            column(material, "number_of", weight=1.3),
            column(material, "document", weight=1.9),
            column(material, "confidence", weight=1.5),
            column(material, "clause", weight=1.8, code=True),
        ),
        rows=tuple(rows),
    )


def _hash_table(material: Material, hashes: Iterable[tuple[str, str]]) -> Table:
    return Table(
        title=material.say("closeout.clauses.files"),
        columns=(
            column(material, "file", weight=1.3),
            column(material, "hash", weight=2.0, code=True),
        ),
        rows=tuple(Row(cells=pair) for pair in hashes),
    )


def file_section(material: Material) -> Section:
    """The record and every evidence file with its hash."""
    record = Row(
        cells=(
            "visit.toml",
            material.say("closeout.files.record"),
            _size(material, len(material.record)),
            hashlib.sha256(material.record).hexdigest(),
        )
    )
    files = material.observations.files
    table = Table(
        title="",
        columns=(
            column(material, "file", weight=1.6),
            column(material, "made", weight=0.9),
            column(material, "size", weight=0.9, right=True),
            column(material, "hash", weight=2.3, code=True),
        ),
        rows=(record, *(_file_row(material, item) for item in files)),
    )
    blocks: tuple[Block, ...] = (table,)
    if not files:
        blocks = (Paragraph(text=material.say("closeout.files.none")), table)
    return Section(title=material.say("closeout.section.files"), blocks=blocks)


def _size(material: Material, size: int) -> str:
    return material.say("closeout.files.bytes", value=f"{size:,}".replace(",", " "))


def _file_row(material: Material, item: FileObservation) -> Row:
    made = "kept" if item.content is None and item.analysis is None else "decoded"
    text = material.say(f"closeout.files.{made}")
    notes: tuple[str, ...] = ()
    if item.error is not None:
        notes = (material.say("closeout.files.unread", error=item.error),)
    size = _size(material, item.size_bytes)
    return Row(cells=(item.evidence.file, text, size, item.sha256), notes=notes)


def version_section(material: Material) -> Section:
    """What one needs to compute this again."""
    say, profile = material.say, material.profile
    titled = say("closeout.head.titled", title=profile.title, edition=profile.edition)
    pairs = [
        (
            say("closeout.versions.program"),
            say("closeout.author", version=material.version),
        ),
        (say("closeout.versions.schema"), SCHEMA),
        (say("closeout.versions.profile"), titled),
        (say("closeout.versions.profile_hash"), profile.sha256),
    ]
    baseline = material.visit.head.baseline
    if baseline:
        pairs.append((say("closeout.head.baseline"), baseline))
    return Section(
        title=say("closeout.section.versions"), blocks=(Facts(pairs=tuple(pairs)),)
    )


def note_section(material: Material) -> Section | None:
    """What could not be read or compared."""
    if not material.notes:
        return None
    return Section(
        title=material.say("closeout.section.notes"),
        blocks=(Bullets(items=material.notes),),
    )


def caution_section(material: Material) -> Section:
    """The usual cautions of this job."""
    items = tuple(material.told(item) for item in material.assessment.cautions)
    return Section(
        title=material.say("closeout.section.cautions"), blocks=(Bullets(items=items),)
    )
