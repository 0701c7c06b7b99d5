"""Use case: verify whatever is named: visits of the store, bundles, folders."""

from collections.abc import Iterable
from pathlib import Path

from eavelight.app.bundle import Bundle, unpacked
from eavelight.app.import_export import folder_bundle
from eavelight.app.names import known_names
from eavelight.app.record_bodies import entries_of, same_item
from eavelight.app.record_place import OpenRecord, open_record
from eavelight.app.record_verify import (
    Verified,
    all_visits,
    ids_in,
    verify_bundle,
    verify_store,
)
from eavelight.app.record_view import View, view_of
from eavelight.app.visit_folder.read import FILE_NAME, read_visit_folder, table_of
from eavelight.model.message import Message
from eavelight.seal import Problem
from eavelight.store import StoreError


def verify_places(
    places: Iterable[str],
    *,
    store: str | None = None,
    against: Path | None = None,
    heads: Iterable[str] = (),
) -> list[Verified]:
    """Verify every place; without any, every visit of the store."""
    listed = list(places)
    files = [place for place in listed if Path(place).exists()]
    visits = [place for place in listed if place not in files]
    found = [_verify_file(Path(place)) for place in files]
    if visits or not listed:
        with open_record(store, make=False) as record:
            found.append(_verify_visits(record, visits, against, heads))
    return found


def _verify_visits(
    record: OpenRecord,
    visits: list[str],
    against: Path | None,
    heads: Iterable[str],
) -> Verified:
    expected = ids_in(bundle_at(against)) if against else {}
    listed = visits or list(dict.fromkeys([*all_visits(record.store), *expected]))
    for head in heads:
        name = expected.setdefault(listed[0], {}) if len(listed) == 1 else {}
        if len(listed) != 1:
            raise StoreError("--head", "one visit", f"{len(listed)}", "name the visit")
        name[head] = "the head that was given"
    return verify_store(record.store, listed, expected=expected)


def bundle_at(path: Path) -> Bundle:
    """The bundle in a file, or beside the visit.toml of an exported folder."""
    if path.is_file() and path.name != FILE_NAME:
        return unpacked(path.read_bytes(), path.as_posix())
    folder = path.parent if path.name == FILE_NAME else path
    found = folder_bundle(folder)
    if found is None:
        raise StoreError(
            folder.as_posix(),
            "a bundle or an exported folder",
            "a folder without a record",
            "a folder that was never in a store has nothing to verify; import it first",
        )
    return found


def _verify_file(path: Path) -> Verified:
    bundle = bundle_at(path)
    found = verify_bundle(bundle)
    if path.is_file() and path.name != FILE_NAME:
        return found
    problems = _folder_problems(path if path.is_dir() else path.parent, bundle)
    return Verified(
        place=found.place,
        reports=found.reports,
        problems=(*found.problems, *problems),
    )


def _folder_problems(folder: Path, bundle: Bundle) -> list[Problem]:
    """Where the visit.toml or the files of a folder left its record."""
    opened = read_visit_folder(folder, known_names())
    visit = opened.visit.head.id
    items = tuple(i for i in bundle.batch.observations if i.visit == visit)
    personal = {value.sha256: value for value in bundle.batch.personal}
    try:
        view = view_of(visit, items, personal)
    except ValueError:
        return []
    names = _differences(folder, opened.text, view, bundle)
    if not names:
        return []
    message = Message("verify.folder_differs", {"names": tuple(names)})
    place = (folder / FILE_NAME).as_posix()
    return [Problem(kind="folder differs", place=place, message=message)]


def _differences(folder: Path, text: bytes, view: View, bundle: Bundle) -> list[str]:
    table = table_of(text, shown=FILE_NAME)
    standing, names = view.by_key(), []
    copies = {c.original: c.sha256 for c in bundle.batch.copies if c.sha256}
    for entry in entries_of(table):
        here = standing.pop(entry.key, [])
        plain = [_without_bytes(item.item) for item in here]
        same = [
            item
            for item, shown in zip(here, plain, strict=True)
            if same_item(shown, entry.item, item.unknown)
        ]
        if not same:
            names.append(" ".join(entry.key))
        elif entry.kind == "evidence":
            digest = str(same[0].item["sha256"])
            data = (folder / str(entry.item["file"])).read_bytes()
            kept = bundle.data.get(digest) or bundle.data.get(copies.get(digest, ""))
            if data != kept:
                names.append(" ".join(entry.key))
    lost = [
        " ".join(key)
        for key, items in standing.items()
        if key[0] != "evidence" or str(items[0].item["sha256"]) in bundle.data
    ]
    return [*names, *lost]


def _without_bytes(item: dict[str, object]) -> dict[str, object]:
    return {k: v for k, v in item.items() if k not in {"sha256", "size", "media_type"}}
