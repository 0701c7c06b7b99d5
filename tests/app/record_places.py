"""Stores with a device each, and the clean visit in one of them."""

from pathlib import Path

from eavelight.app.bundle import members_of, packed, unpacked
from eavelight.app.import_export import import_bundle, import_place
from eavelight.app.record import change_of, record
from eavelight.app.record_bodies import entries_of
from eavelight.app.record_place import OpenRecord
from eavelight.app.record_stored import read_view
from eavelight.app.record_verify import batch_of
from eavelight.seal import DeviceKey, heads_of
from eavelight.store import MemoryStore, open_store

VISIT = "D-101"


def device(name: str, store=None) -> OpenRecord:
    """A device with a store of its own."""
    key = DeviceKey.of_seed(name.encode().ljust(32, b"."))
    place = OpenRecord(store=store or MemoryStore(), key=key)
    place.store.know_device(key.device, name, "2026-01-01")
    return place


def file_store(folder: Path, name: str = "record.db") -> OpenRecord:
    return device("van", open_store(f"sqlite:///{folder}/{name}"))


def add(place: OpenRecord, table, *, reason="corrected") -> int:
    """Record what a table says; its files have bytes of their own."""
    entries = list(entries_of(table))

    def decide(view):
        return change_of(view, entries, files=lambda name: name.encode(), reason=reason)

    return len(record(place, table["visit"]["id"], decide))


def bundle_of(place: OpenRecord, visit: str = VISIT):
    """A bundle of a visit as it stands now, through its bytes."""
    batch = batch_of(place.store, visit)
    data = {row.sha256: place.store.read_bytes(row.sha256) for row in batch.evidence}
    heads = {
        visit: {
            name: {"number": head.number, "id": head.id}
            for name, head in heads_of(batch.observations).items()
        }
    }
    kept = {key: value for key, value in data.items() if value is not None}
    members = members_of(batch, kept, {"heads": heads}, place.key)
    return unpacked(packed(members), "test.eave")


def merge(place: OpenRecord, bundle) -> int:
    return sum(item.observations for item in import_bundle(place, bundle))


def text(place: OpenRecord, visit: str = VISIT) -> bytes:
    return read_view(place.store, visit).text


__all__ = [
    "VISIT",
    "add",
    "bundle_of",
    "device",
    "file_store",
    "import_place",
    "merge",
    "text",
]
