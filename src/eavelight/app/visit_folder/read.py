"""From a folder on disk to a visit, or to the list of everything wrong with it."""

import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Any

from eavelight.app.visit_folder import sense
from eavelight.app.visit_folder.mistakes import NOTHING, Mistakes, nearest
from eavelight.app.visit_folder.shape import T, shaped
from eavelight.errors import FolderError
from eavelight.model.observation import Evidence, ExceptionNote, Reading
from eavelight.model.plan import (
    Assignment,
    Entry,
    Feed,
    Housing,
    Part,
    Plan,
    Plant,
    Site,
    SupplyPlace,
    Tray,
)
from eavelight.model.requirements import REQUIREMENTS, STEPS
from eavelight.model.visit import Visit, VisitHead

SCHEMA = "eavelight.visit/1"
FILE_NAME = "visit.toml"
LARGEST_FILE_BYTES = 8_000_000
SECTIONS: dict[str, type[Any]] = {
    "site": Site,
    "assignment": Assignment,
    "tray": Tray,
    "feed": Feed,
    "housing": Housing,
}
LISTS: dict[str, type[Any]] = {"entry": Entry, "supply_place": SupplyPlace}
KNOWN = (
    "schema", "visit", "site", "assignment", "plant", "tray", "entry", "feed",
    "supply_place", "housing", "reading", "evidence", "exception",
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownNames:
    """Names that the data files define, against which a folder is checked."""

    pon_classes: tuple[str, ...]
    services: tuple[str, ...]
    fibres: tuple[str, ...]
    colour_schemes: tuple[str, ...]
    profiles: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFolder:
    """A visit with the folder it was read from and the bytes of its `visit.toml`."""

    path: Path
    text: bytes
    visit: Visit

    @property
    def in_store(self) -> bool:
        """Whether the visit was opened from a store."""
        return False

    def evidence_path(self, evidence: Evidence) -> Path:
        """Where an evidence file of this visit lies."""
        return self.path / evidence.file

    def recorded_digest(self, evidence: Evidence) -> str | None:  # noqa: ARG002
        """The digest that a record holds; a folder holds none."""
        return None

    def is_copy(self, evidence: Evidence) -> bool:  # noqa: ARG002
        """Whether other bytes stand for the recorded ones."""
        return False


def read_visit_folder(path: Path, names: KnownNames) -> VisitFolder:
    """Read a visit folder, or its `visit.toml`.

    Raises
    ------
    FolderError
        With every mistake found.
    """
    file = path if path.name == FILE_NAME else path / FILE_NAME
    shown = file.as_posix()
    mistakes = Mistakes(shown)
    text = _bytes_of(file, mistakes)
    raw = _table(text, mistakes)
    reader = _Reader(raw, file.parent, names, mistakes)
    visit = reader.visit()
    if mistakes.found or visit is None:
        raise FolderError(tuple(mistakes.found))
    return VisitFolder(path=file.parent, text=text, visit=visit)


def visit_from_table(raw: dict[str, Any], names: KnownNames, *, shown: str) -> Visit:
    """The visit that a table says, wherever the table came from; no file is asked for.

    Raises
    ------
    FolderError
        With every mistake found.
    """
    mistakes = Mistakes(shown)
    visit = _Reader(raw, None, names, mistakes).visit()
    if mistakes.found or visit is None:
        raise FolderError(tuple(mistakes.found))
    return visit


def table_of(text: bytes, *, shown: str) -> dict[str, Any]:
    """The raw table of a `visit.toml`."""
    return _table(text, Mistakes(shown))


def _bytes_of(file: Path, mistakes: Mistakes) -> bytes:
    if not file.is_file():
        mistakes.add(
            FILE_NAME,
            expected="a visit folder with a visit.toml",
            found=NOTHING,
            advice="name the folder of a visit, its visit.toml, or an id in the store",
        )
        raise FolderError(tuple(mistakes.found))
    size = file.stat().st_size
    if size > LARGEST_FILE_BYTES:
        mistakes.add("size", expected=f"at most {LARGEST_FILE_BYTES} bytes", found=size)
        raise FolderError(tuple(mistakes.found))
    return file.read_bytes()


def _table(text: bytes, mistakes: Mistakes) -> dict[str, Any]:
    try:
        return tomllib.loads(text.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        mistakes.add(
            f"byte {error.start}",
            expected="UTF-8 text",
            found=f"byte 0x{text[error.start]:02x}",
            advice="save the file as UTF-8",
        )
    except tomllib.TOMLDecodeError as error:
        told, _, place = str(error).rpartition(" (at ")
        mistakes.add(
            place.rstrip(")") or "text",
            expected="TOML",
            found=told or str(error),
            advice="mend the line; TOML texts stand in quotes, tables in [brackets]",
        )
    except (RecursionError, ValueError) as error:
        mistakes.add("text", expected="TOML of sane depth and values", found=str(error))
    raise FolderError(tuple(mistakes.found))


class _Reader:
    """Turns the raw table into a visit; every check adds to one list of mistakes."""

    def __init__(
        self,
        raw: dict[str, Any],
        folder: Path | None,
        names: KnownNames,
        mistakes: Mistakes,
    ) -> None:
        self.raw = raw
        self.folder = folder
        self.names = names
        self.mistakes = mistakes

    def visit(self) -> Visit | None:
        self._top_level()
        head = self._section("visit", VisitHead, required=True)
        plan = self._plan(head)
        parts = self._part_names()
        readings = self._items(
            "reading", Reading, sense.check_reading_keys, needs_id=True
        )
        for place, reading in readings:
            sense.check_reading(reading, parts, place, self.mistakes)
        evidence = self._items("evidence", Evidence, sense.check_evidence_keys)
        for place, item in evidence:
            sense.check_evidence(item, parts, place, self.mistakes)
            self._evidence_file(item, place)
        exceptions = self._items("exception", ExceptionNote, None)
        for place, note in exceptions:
            known = [*REQUIREMENTS, *STEPS]
            sense.check_exception(note, parts, known, place, self.mistakes)
        self._unique_ids(readings)
        if head is not None:
            self._check_head(head)
        if head is None or plan is None:
            return None
        return Visit(
            head=head,
            plan=plan,
            readings=tuple(reading for _, reading in readings),
            evidence=tuple(item for _, item in evidence),
            exceptions=tuple(note for _, note in exceptions),
        )

    def _top_level(self) -> None:
        for key in self.raw:
            if key not in KNOWN:
                self.mistakes.add(
                    key,
                    expected="a known section",
                    found=key,
                    advice=nearest(key, KNOWN),
                )
        schema = self.raw.get("schema", NOTHING)
        if schema != SCHEMA:
            self.mistakes.add(
                "schema",
                expected=SCHEMA,
                found=schema,
                advice=f'begin the file with schema = "{SCHEMA}"',
            )

    def _table_at(self, key: str, *, required: bool) -> Mapping[str, Any] | None:
        raw = self.raw.get(key)
        if raw is None:
            if required:
                self.mistakes.add(
                    key, expected=f"a section [{key}]", found=NOTHING, advice="add it"
                )
            return None
        if not isinstance(raw, dict):
            self.mistakes.add(key, expected=f"a section [{key}]", found=raw)
            return None
        return raw

    def _section(self, key: str, kind: type[T], *, required: bool = False) -> T | None:
        raw = self._table_at(key, required=required)
        if raw is None:
            return None
        item = shaped(kind, raw, place=key, mistakes=self.mistakes)
        if item is not None:
            sense.check_times(item, key, self.mistakes)
        return item

    def _list_at(self, table: Mapping[str, Any], key: str, place: str) -> list[Any]:
        raw = table.get(key, [])
        if isinstance(raw, list) and all(isinstance(item, dict) for item in raw):
            return raw
        self.mistakes.add(
            place, expected=f"entries [[{place}]]", found=raw, advice="use two brackets"
        )
        return []

    def _items(
        self,
        key: str,
        kind: type[T],
        check: Callable[[Mapping[str, Any], str, Mistakes], None] | None,
        *,
        needs_id: bool = False,
    ) -> list[tuple[str, T]]:
        items = []
        for index, entry in enumerate(self._list_at(self.raw, key, key)):
            label = entry.get("id") or entry.get("file") or entry.get("what")
            place = f"{key}[{index + 1}]" + (f" '{label}'" if label else "")
            raw = _plain_lists(entry)
            if needs_id and "id" not in raw:
                raw["id"] = f"{key}-{index + 1}"
            before = len(self.mistakes.found)
            if check is not None:
                check(raw, place, self.mistakes)
            if len(self.mistakes.found) > before:
                # its keys are wrong: shape errors would only repeat that
                continue
            item = shaped(kind, raw, place=place, mistakes=self.mistakes)
            if item is not None:
                items.append((place, item))
        return items

    def _plan(self, head: VisitHead | None) -> Plan | None:
        sections: dict[str, Any] = {
            key: self._section(key, kind, required=key == "site")
            for key, kind in SECTIONS.items()
        }
        lists: dict[str, Any] = {
            key: tuple(
                item
                for index, raw in enumerate(self._list_at(self.raw, key, key))
                for item in [
                    shaped(
                        kind, raw, place=f"{key}[{index + 1}]", mistakes=self.mistakes
                    )
                ]
                if item is not None
            )
            for key, kind in LISTS.items()
        }
        plant = self._plant()
        sections["assignment"] = sections["assignment"] or Assignment()
        self._check_assignment(sections["assignment"])
        if head is None or plant is None or sections["site"] is None:
            return None
        plan = Plan(purpose=head.purpose, plant=plant, **sections, **lists)
        sense.check_plan(plan, self.mistakes)
        return plan

    def _plant(self) -> Plant | None:
        raw = self._table_at("plant", required=True)
        if raw is None:
            return None
        parts: list[Part] = []
        complete = True
        for index, entry in enumerate(self._list_at(raw, "part", "plant.part")):
            name = entry.get("name")
            place = f"plant.part[{index + 1}]" + (f" '{name}'" if name else "")
            before = len(self.mistakes.found)
            sense.check_part_keys(entry, place, self.mistakes)
            if len(self.mistakes.found) > before:
                complete = False
                continue
            part = shaped(Part, entry, place=place, mistakes=self.mistakes)
            if part is None:
                complete = False
                continue
            parts.append(part)
            self._known_fibre(part.fibre, f"{place}.fibre")
        if complete:
            sense.check_parts(parts, "plant.part", self.mistakes)
        self._parts = {part.name: part for part in parts}
        rest = {key: value for key, value in raw.items() if key != "part"}
        placeholder = [{"name": "terminal", "kind": "connector"}]
        plant = shaped(
            Plant, rest | {"part": placeholder}, place="plant", mistakes=self.mistakes
        )
        if plant is None or not parts:
            return None
        self._check_plant_names(plant)
        return _with_parts(plant, tuple(parts))

    def _check_plant_names(self, plant: Plant) -> None:
        if plant.pon_class not in self.names.pon_classes:
            self.mistakes.unknown(
                "plant.pon_class", plant.pon_class, self.names.pon_classes
            )
        for index, service in enumerate(plant.service):
            if service.pon_class not in self.names.services:
                self.mistakes.unknown(
                    f"plant.service[{index + 1}].pon_class",
                    service.pon_class,
                    self.names.services,
                )
        for index, loop in enumerate(plant.loop):
            self._known_fibre(loop.fibre, f"plant.loop[{index + 1}].fibre")

    def _known_fibre(self, name: str | None, place: str) -> None:
        if name is not None and name not in self.names.fibres:
            self.mistakes.unknown(place, name, self.names.fibres)

    def _check_assignment(self, assignment: Assignment) -> None:
        scheme = assignment.colour_scheme
        if isinstance(scheme, str) and scheme not in self.names.colour_schemes:
            self.mistakes.unknown(
                "assignment.colour_scheme", scheme, self.names.colour_schemes
            )

    def _part_names(self) -> dict[str, Part]:
        parts: dict[str, Part] = getattr(self, "_parts", {})
        # a part with a mistake of its own still has a name that readings may use
        plant = self.raw.get("plant")
        listed = plant.get("part", []) if isinstance(plant, dict) else []
        for raw in listed if isinstance(listed, list) else []:
            if isinstance(raw, dict) and isinstance(raw.get("name"), str):
                kind = raw.get("kind")
                known = kind if kind in sense.FAMILIES.values() else "connector"
                parts.setdefault(
                    raw["name"],
                    Part(name=raw["name"], kind=known),  # type: ignore[arg-type]
                )
        return parts

    def _check_head(self, head: VisitHead) -> None:
        for key in ("id", "baseline"):
            value = getattr(head, key)
            if value is not None and (
                set(value) & set("/\\\0") or value in {".", ".."}
            ):
                self.mistakes.add(
                    f"visit.{key}", expected="an id, never a path", found=value
                )
        if head.profile not in self.names.profiles:
            self.mistakes.unknown("visit.profile", head.profile, self.names.profiles)

    def _unique_ids(self, readings: Iterable[tuple[str, Reading]]) -> None:
        seen: dict[str, str] = {}
        for place, reading in readings:
            if reading.id in seen:
                self.mistakes.add(
                    f"{place}.id",
                    expected="an id used once",
                    found=reading.id,
                    advice=f"it is also the id of {seen[reading.id]}",
                )
            seen.setdefault(reading.id, place)

    def _evidence_file(self, item: Evidence, place: str) -> None:
        where = f"{place}.file"
        if self.folder is None:
            self._evidence_name(item, where)
            return
        target = self.folder / item.file
        inside = self.folder.resolve()
        try:
            resolved = target.resolve()
        except (OSError, ValueError, RuntimeError) as error:
            self.mistakes.add(where, expected="a path", found=str(error))
            return
        if Path(item.file).is_absolute() or not resolved.is_relative_to(inside):
            self.mistakes.add(
                where,
                expected="a path inside the visit folder",
                found=item.file,
                advice="copy the file into the folder",
            )
        elif not resolved.is_file():
            self.mistakes.add(
                where,
                expected="a file in the visit folder",
                found=item.file,
                advice="the file is not there: copy it in, or take the entry out",
            )

    def _evidence_name(self, item: Evidence, where: str) -> None:
        path = PurePosixPath(item.file.replace("\\", "/"))
        drive = PureWindowsPath(item.file).drive
        if path.is_absolute() or drive or ".." in path.parts:
            self.mistakes.add(
                where, expected="a path inside the visit folder", found=item.file
            )


def _plain_lists(entry: Mapping[str, Any]) -> dict[str, Any]:
    """A state or cleaning given as one word is a list of one."""
    raw = dict(entry)
    for key in ("state", "cleaning"):
        if isinstance(raw.get(key), str):
            raw[key] = [raw[key]]
    return raw


def _with_parts(plant: Plant, parts: tuple[Part, ...]) -> Plant:
    from dataclasses import replace

    return replace(plant, part=parts)
