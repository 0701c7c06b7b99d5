"""Use cases: visits into the store and out of it, as folders or as one file."""

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from eavelight import __version__
from eavelight.app.bundle import (
    SUFFIX,
    Bundle,
    members_of,
    of_visit,
    packed,
    read_members,
    unpacked,
    visits_of,
)
from eavelight.app.evidence_files import LARGEST_BYTES
from eavelight.app.export_choice import Choice, chosen
from eavelight.app.names import known_names
from eavelight.app.record import AGAIN, change_of, line_of, record, stamp
from eavelight.app.record_bodies import EVIDENCE, entries_of
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_stored import sha256_of
from eavelight.app.record_verify import batch_of, verify_bundle
from eavelight.app.record_view import Standing, View, view_of
from eavelight.app.visit_folder.read import (
    FILE_NAME,
    read_visit_folder,
    table_of,
)
from eavelight.errors import EavelightError, EvidenceError
from eavelight.model.recorded import Batch
from eavelight.seal import heads_of, references
from eavelight.store import StoreError
from eavelight.wording import say

RECORD = "record"
# a record with these says what it lacks and is still worth having
BEARABLE = {"evidence missing", "evidence changed"}


class ImportRefusedError(EavelightError):
    """A bundle or exported folder does not verify."""

    def __init__(self, place: str, reasons: tuple[str, ...]) -> None:
        self.place = place
        self.reasons = reasons
        more = f" (and {len(reasons) - 1} more)" if len(reasons) > 1 else ""
        super().__init__(
            f"{place}: expected a record as it was exported, found: {reasons[0]}{more}"
            "; nothing was imported; see eavelight verify, and ask for it again"
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What importing one visit added."""

    visit: str
    place: str
    observations: int
    evidence: int = 0
    seals: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Exported:
    """What was written for some visits."""

    path: Path
    visits: tuple[str, ...]
    size_bytes: int
    heads: Mapping[str, Mapping[str, str]]
    notes: tuple[str, ...] = ()


def import_place(
    place: OpenRecord, path: Path, *, reason: str = AGAIN, know_as: str | None = None
) -> list[Imported]:
    """Import a visit folder, a folder of visit folders, or a bundle."""
    if path.name == FILE_NAME:
        path = path.parent
    if path.is_file():
        size = path.stat().st_size
        if size > 20 * LARGEST_BYTES:
            raise EvidenceError(
                str(path), "file", "a bundle of visits", f"{size} bytes"
            )
        bundle = unpacked(path.read_bytes(), path.as_posix())
        return import_bundle(place, bundle, know_as=know_as)
    if (path / FILE_NAME).is_file():
        return [
            *_import_chain(place, path, know_as),
            _import_folder(place, path, reason),
        ]
    folders = sorted(p.parent for p in path.glob(f"*/{FILE_NAME}"))
    if not folders:
        raise StoreError(
            path.as_posix(),
            f"a visit folder, a folder of them, or a bundle ({SUFFIX})",
            "neither" if path.exists() else "nothing there",
            "name the folder that holds visit.toml",
        )
    return [
        done
        for folder in folders
        for done in import_place(place, folder, reason=reason, know_as=know_as)
    ]


def _import_chain(
    place: OpenRecord, folder: Path, know_as: str | None
) -> list[Imported]:
    """The chain that an exported folder carries beside its visit.toml."""
    bundle = folder_bundle(folder)
    if bundle is None:
        return []
    done = import_bundle(place, bundle, know_as=know_as)
    return [item for item in done if item.observations or item.seals or item.evidence]


def _import_folder(place: OpenRecord, folder: Path, reason: str) -> Imported:
    opened = read_visit_folder(folder, known_names())
    table = table_of(opened.text, shown=(folder / FILE_NAME).as_posix())
    entries = list(entries_of(table))
    visit = opened.visit.head.id
    notes: list[str] = []

    def files(name: str) -> bytes:
        path = folder / name
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise EvidenceError(
                path.as_posix(), "size", f"at most {LARGEST_BYTES} bytes", str(size),
                advice="export a smaller file from the instrument",
            )  # fmt: skip
        return path.read_bytes()

    evidence = 0

    def decide(view: View):  # type: ignore[no-untyped-def]  # noqa: ANN202
        nonlocal evidence
        change = change_of(
            _as_exported(place, view), entries, files=files, reason=reason
        )
        evidence = len(change.evidence)
        notes[:] = change.notes
        return change

    links = record(place, visit, decide)
    told = tuple(f"{name}: a later correction stands; kept as it is" for name in notes)
    return Imported(
        visit=visit,
        place=folder.as_posix(),
        observations=len(links),
        evidence=evidence if links else 0,
        notes=told,
    )


def _as_exported(place: OpenRecord, view: View) -> View:
    """The view with the digests that a folder exported from here would show."""
    digests = {
        str(item.item["sha256"]) for item in view.standing if "sha256" in item.item
    }
    copies = {c.original: c.sha256 for c in place.store.copies(digests) if c.sha256}
    if not copies:
        return view
    rows = place.store.evidence(copies.values())

    def shown(item: Standing) -> Standing:
        row = rows.get(copies.get(str(item.item.get("sha256")), ""))
        if row is None:
            return item
        facts = {"sha256": row.sha256, "size": row.size, "media_type": row.media_type}
        return replace(item, item={**item.item, **facts})

    changed = (shown(item) for item in view.of(EVIDENCE))
    fresh = (item for item in changed if item not in view.standing)
    return replace(view, standing=(*view.standing, *fresh))


def import_bundle(
    place: OpenRecord, bundle: Bundle, *, know_as: str | None = None
) -> list[Imported]:
    """Merge the chains of a bundle into the store."""
    store = place.store
    told = verify_bundle(bundle)
    reasons = [say(problem.message) for problem in told.problems]
    notes: dict[str, list[str]] = {}
    for report in told.reports:
        for problem in report.problems:
            if problem.kind in BEARABLE:
                notes.setdefault(report.visit, []).append(say(problem.message))
            else:
                reasons.append(say(problem.message))
    if reasons:
        raise ImportRefusedError(bundle.name, tuple(reasons))
    if know_as:
        for device in sorted(_devices(bundle.batch)):
            store.know_device(device, know_as, stamp())
    done = []
    for visit in visits_of(bundle.batch):
        part = of_visit(bundle.batch, [visit])
        done.append(_merge(place, bundle, part, visit, tuple(notes.get(visit, ()))))
    return done


def _devices(batch: Batch) -> set[str]:
    return {item.device for item in batch.observations} | {
        seal.device for seal in batch.seals
    }


def _merge(
    place: OpenRecord,
    bundle: Bundle,
    part: Batch,
    visit: str,
    notes: tuple[str, ...],
) -> Imported:
    store = place.store
    refs = references(part.observations)
    wanted = {*refs.evidence, *refs.personal}
    copies = tuple(copy for copy in part.copies if copy.original in wanted)
    used = {*refs.evidence, *(copy.sha256 for copy in copies if copy.sha256)}
    for sha256 in sorted(used & bundle.data.keys()):
        data = bundle.data[sha256]
        # what was purged here stays purged
        if sha256_of(data) == sha256 and not _purged_here(place, visit, sha256):
            store.put_bytes(sha256, data)
    union = {i.id: i for i in (*store.observations(visit), *part.observations)}
    gone = references(tuple(union.values())).purged
    seals = {s.id: s for s in (*store.seals(visit), *part.seals)}
    line = replace(
        line_of(visit, tuple(union.values())),
        sealed_at=max((seal.sealed_at for seal in seals.values()), default=""),
    )
    added = store.merge(
        replace(
            part,
            personal=tuple(p for p in part.personal if p.sha256 not in gone),
            evidence=tuple(row for row in part.evidence if row.sha256 in used),
            copies=copies,
            lines=(line,),
            uses={visit: tuple(sorted(refs.evidence))},
        )
    )
    _forget_purged(place, visit, gone)
    strange = sorted(d[:8] for d in _devices(part) - store.devices().keys())
    if strange:
        notes += (f"signed by a device unknown here: {', '.join(strange)}",)
    return Imported(
        visit=visit,
        place=bundle.name,
        observations=added.observations,
        evidence=added.evidence,
        seals=added.seals,
        notes=notes,
    )


def _purged_here(place: OpenRecord, visit: str, sha256: str) -> bool:
    return sha256 in references(place.store.observations(visit)).purged


def _forget_purged(place: OpenRecord, visit: str, gone: Iterable[str]) -> None:
    """A purge that came with a bundle holds here too."""
    listed = list(gone)
    if not listed:
        return
    place.store.forget_personal(listed)
    users = place.store.used_by(listed)
    for sha256 in listed:
        if not any(sha256 in used for v, used in users.items() if v != visit):
            place.store.forget_bytes(sha256)


def folder_bundle(folder: Path) -> Bundle | None:
    """The record beside the visit.toml of an exported folder."""
    root = folder / RECORD
    if not (root / "manifest.json").is_file():
        return None
    members = {
        path.relative_to(root).as_posix(): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }
    return read_members(members, folder.as_posix(), [])


def export_visits(
    place: OpenRecord, visits: Iterable[str], out: Path, *, choice: Choice
) -> Exported:
    """Write visits as one file (by its ending) or as folders."""
    listed = tuple(dict.fromkeys(visits))
    batches: list[Batch] = []
    data: dict[str, dict[str, bytes]] = {}
    notes: list[str] = []
    for visit in listed:
        batch = batch_of(place.store, visit)
        if not batch.observations:
            raise StoreError(
                place.store.place, f"visit {visit}", "no such visit", "see its list"
            )
        part = chosen(place, visit, batch, choice)
        batches.append(part.batch)
        data[visit] = part.data
        notes += part.notes
    whole = _joined(batches)
    heads = {
        batch.observations[0].visit: {
            device: {"number": head.number, "id": head.id}
            for device, head in heads_of(batch.observations).items()
        }
        for batch in batches
    }
    if out.suffix == SUFFIX:
        every = {sha: value for part in data.values() for sha, value in part.items()}
        members = members_of(whole, every, _manifest(heads, choice), place.key)
        size = write_new(out, packed(members))
    else:
        size = 0
        for visit, batch in zip(listed, batches, strict=True):
            manifest = _manifest({visit: heads[visit]}, choice)
            members = members_of(batch, data[visit], manifest, place.key)
            size += _write_folder(out, visit, batch, members=members)
    return Exported(
        path=out,
        visits=listed,
        size_bytes=size,
        heads={
            visit: {device: str(head["id"]) for device, head in chains.items()}
            for visit, chains in heads.items()
        },
        notes=tuple(notes),
    )


def _joined(batches: list[Batch]) -> Batch:
    def all_of(name: str):  # type: ignore[no-untyped-def]  # noqa: ANN202
        return tuple(
            dict.fromkeys(item for batch in batches for item in getattr(batch, name))
        )

    return Batch(
        observations=all_of("observations"),
        seals=all_of("seals"),
        personal=all_of("personal"),
        evidence=all_of("evidence"),
        copies=all_of("copies"),
    )


def _manifest(heads: object, choice: Choice) -> dict[str, object]:
    return {
        "heads": heads,
        "exported_at": stamp(),
        "version": __version__,
        "personal": choice.personal,
        "position": choice.position,
    }


def _write_folder(
    out: Path, visit: str, batch: Batch, *, members: Mapping[str, bytes]
) -> int:
    """A visit folder with its record beside it."""
    folder = out / safe_name(visit)
    if folder.exists():
        raise StoreError(
            folder.as_posix(), "no folder yet", "one", "choose another place"
        )
    personal = {value.sha256: value for value in batch.personal}
    view = view_of(visit, batch.observations, personal)
    copies = {copy.original: copy.sha256 for copy in batch.copies if copy.sha256}
    size, table = 0, view.table
    lost = set()
    for item in view.of("evidence"):
        sha256 = str(item.item["sha256"])
        data = members.get(f"evidence/{sha256}")
        if data is None:
            data = members.get(f"evidence/{copies.get(sha256, '')}")
        if data is None:
            lost.add(item.item["file"])
            continue
        size += _write(inside(folder, str(item.item["file"])), data)
    if lost:
        kept = [e for e in table["evidence"] if e["file"] not in lost]
        table["evidence"] = kept
    for name, value in members.items():
        size += _write(folder / RECORD / name, value)
    import tomli_w

    return size + _write(folder / FILE_NAME, tomli_w.dumps(table).encode())


def _write(path: Path, data: bytes) -> int:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return len(data)


def safe_name(visit: str) -> str:
    """A visit's id as the name of a folder."""
    if set(visit) & set("/\\\0:") or visit in {".", ".."}:
        raise EvidenceError(
            visit, "visit id", "an id, never a path", visit, advice="do not use it"
        )
    return visit


def inside(folder: Path, name: str) -> Path:
    """A path below a folder, whatever a record says."""
    path = folder / name
    if not path.resolve().is_relative_to(folder.resolve()):
        raise EvidenceError(
            name, "file", "a path inside the visit folder", name, advice="do not use it"
        )
    return path


def write_new(path: Path, data: bytes) -> int:
    """Write all of a file or nothing."""
    if not path.parent.is_dir():
        raise StoreError(
            path.as_posix(), "a folder to write into", "none", "make it first"
        )
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
    return len(data)
