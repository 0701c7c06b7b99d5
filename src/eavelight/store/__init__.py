"""Append-only records and evidence by hash, in SQLite, PostgreSQL or memory."""

from eavelight.store.errors import AlreadyRecorded, StoreError
from eavelight.store.memory import MemoryStore
from eavelight.store.opening import evidence_folder, file_of, open_store
from eavelight.store.protocol import Added, Filters, Store
from eavelight.store.sql import SqlStore

__all__ = [
    "Added",
    "AlreadyRecorded",
    "Filters",
    "MemoryStore",
    "SqlStore",
    "Store",
    "StoreError",
    "evidence_folder",
    "file_of",
    "open_store",
]
