"""Evidence in the order of the path: what was planned, read, found and attached."""

from collections.abc import Iterator

from eavelight.closeout.document import Paragraph, Row, Section, Table
from eavelight.closeout.material import Material
from eavelight.closeout.phrases import column, finding_blocks
from eavelight.closeout.pictures import pictures_of
from eavelight.closeout.traces import trace_blocks
from eavelight.model.finding import Finding
from eavelight.model.observation import FileObservation
from eavelight.model.plan import Part
from eavelight.wording import quantity, with_uncertainty

ELSEWHERE = ("feed.", "housing.", "evidence.", "record.", "baseline.")


def path_sections(material: Material) -> tuple[Section, ...]:
    """The table of the path, then every place with something to show."""
    say = material.say
    wavelength = material.expectation.down_nm
    head = Section(
        title=say("closeout.section.path"),
        blocks=(
            Paragraph(text=say("closeout.path.intro", wavelength=wavelength)),
            _path_table(material),
        ),
    )
    return (head, *_places(material))


def _path_table(material: Material) -> Table:
    expectation, levels = material.expectation, material.expectation.levels
    path = expectation.path
    at = path.column(expectation.down_nm)
    rows = []
    for row, part in enumerate(material.visit.plan.plant.part):
        value, u = float(path.loss_db[row, at]), float(path.u_db[row, at])
        level = ""
        if levels is not None:
            column_at = levels.wavelengths_nm.tolist().index(expectation.down_nm)
            level = with_uncertainty(
                float(levels.expected_dbm[row + 1, column_at]),
                float(levels.expected_u_db[row + 1, column_at]),
                "dBm",
            )
        rows.append(
            Row(
                cells=(
                    part.name,
                    _planned(material, part),
                    with_uncertainty(value, u, "dB"),
                    level,
                    _read(material, part.name),
                )
            )
        )
    return Table(
        title=material.say("closeout.path.table"),
        columns=(
            column(material, "part", weight=1.5),
            column(material, "planned", weight=1.5),
            column(material, "loss", weight=1.2, right=True),
            column(material, "level", weight=1.4, right=True),
            column(material, "read", weight=1.4, right=True),
        ),
        rows=tuple(rows),
    )


def _planned(material: Material, part: Part) -> str:
    words: list[str] = []
    if part.kind == "fibre":
        length = part.length_m or 0.0
        long = length >= 1000
        return material.say(
            f"closeout.path.{'fibre_km' if long else 'fibre'}",
            fibre=part.fibre,
            length=length / 1000 if long else length,
        )
    words.append(material.word(part.kind))
    if part.count > 1:
        words.append(material.say("closeout.path.count", count=part.count))
    if part.ratio is not None:
        words.append(material.say("closeout.path.ratio", ratio=part.ratio))
    if part.polish is not None:
        words.append(part.polish)
    return ", ".join(words)


def _read(material: Material, name: str) -> str:
    """Levels that count at a place, at the wavelength of the line."""
    found = [
        item.reading
        for item in material.context.current("level", name)
        if item.reading.wavelength_nm == material.expectation.down_nm
    ]
    texts = []
    for reading in found:
        text = with_uncertainty(reading.number, material.u_of(reading), "dBm")
        if reading.below:
            value = quantity(reading.number, "dBm")
            text = material.say("closeout.readings.below", value=value)
        texts.append(text)
    return ", ".join(texts)


def _places(material: Material) -> Iterator[Section]:
    findings = [
        item
        for item in material.assessment.findings
        if not item.requirement.startswith(ELSEWHERE)
    ]
    files = [
        item for item in material.observations.files if item.evidence.what != "photo"
    ]
    parts = [part.name for part in material.visit.plan.plant.part]
    known = ["hub", *parts, "drop", "path", "tray", "box"]
    others = [item.subject for item in findings]
    others += [item.evidence.at or "path" for item in files]
    for place in dict.fromkeys([*known, *others]):
        here = [item for item in findings if item.subject == place]
        attached = [item for item in files if (item.evidence.at or "path") == place]
        if here or attached:
            yield _place(material, place, here, attached)


def _place(
    material: Material,
    place: str,
    findings: list[Finding],
    files: list[FileObservation],
) -> Section:
    blocks = finding_blocks(material, findings, placed=False)
    faces = [item for item in files if item.evidence.what == "endface"]
    blocks += pictures_of(material, faces)
    for item in files:
        if item.evidence.what == "trace":
            blocks += trace_blocks(material, item)
    return Section(title=material.place(place), blocks=tuple(blocks), level=3)


def record_section(material: Material) -> Section | None:
    """Findings about the record itself."""
    findings = material.findings_about("record.", "evidence.", "baseline.")
    about = [item for item in findings if item.requirement != "evidence.length_agrees"]
    if not about:
        return None
    return Section(
        title=material.say("closeout.section.record"),
        blocks=tuple(finding_blocks(material, about)),
    )


def wall_section(material: Material) -> Section | None:
    """The box on the wall; only where something is to be said of it."""
    about = material.findings_about("housing.")
    if not about:
        return None
    return Section(
        title=material.say("closeout.section.wall"),
        blocks=tuple(finding_blocks(material, about)),
    )


def photo_section(material: Material) -> Section | None:
    """Photos in the order of the record."""
    photos = [
        item for item in material.observations.files if item.evidence.what == "photo"
    ]
    if not photos:
        return None
    return Section(
        title=material.say("closeout.section.photos"),
        blocks=tuple(pictures_of(material, photos)),
    )
