"""A visit as the store holds it, opened like a folder."""

import hashlib
import shutil
import tempfile
import weakref
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from eavelight.app.names import known_names
from eavelight.app.record_bodies import EVIDENCE
from eavelight.app.record_view import View, view_of
from eavelight.app.visit_folder import VisitFolder
from eavelight.app.visit_folder.read import visit_from_table
from eavelight.model.observation import Evidence
from eavelight.store import Store, StoreError


class EvidenceFolder:
    """A temporary folder that goes when nobody holds it any more."""

    @cached_property
    def path(self) -> Path:
        """The folder, made when the first file is asked for."""
        made = Path(tempfile.mkdtemp(prefix="eavelight-"))
        weakref.finalize(self, shutil.rmtree, made, ignore_errors=True)
        return made


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StoredVisit(VisitFolder):
    """A visit of the store; evidence bytes are laid out as files when asked for."""

    view: View
    store: Store
    digests: Mapping[str, str]
    copies: Mapping[str, str] = field(default_factory=dict)
    folder: "EvidenceFolder"

    @property
    def in_store(self) -> bool:
        """Always."""
        return True

    def evidence_path(self, evidence: Evidence) -> Path:
        """A file with the bytes of an evidence; it does not exist where none are."""
        sha256 = self.digests[evidence.file]
        path = self.folder.path / f"{sha256}{Path(evidence.file).suffix}"
        if not path.exists():
            data = evidence_bytes(self.store, sha256, self.copies.get(sha256))
            if data is not None:
                path.write_bytes(data)
        return path

    def lay_out(self) -> None:
        """Make every file now, so that the store may be closed."""
        for item in self.visit.evidence:
            self.evidence_path(item)

    def recorded_digest(self, evidence: Evidence) -> str | None:
        """The digest that the record holds."""
        return self.digests[evidence.file]

    def is_copy(self, evidence: Evidence) -> bool:
        """Whether other bytes stand for the recorded ones here."""
        sha256 = self.digests[evidence.file]
        return sha256 in self.copies and self.store.read_bytes(sha256) is None


def evidence_bytes(store: Store, sha256: str, copy: str | None = None) -> bytes | None:
    """The bytes as recorded, else those of a copy that stands for them."""
    data = store.read_bytes(sha256)
    if data is None and copy:
        data = store.read_bytes(copy)
    return data


def read_view(store: Store, visit: str) -> View:
    """The view of a visit in a store."""
    items = store.observations(visit)
    if not items:
        raise StoreError(
            store.place,
            f"visit {visit}",
            "no such visit in the store, and no folder of that name",
            "name the folder of a visit, its visit.toml, or an id in the store",
        )
    return view_of(visit, items, store.personal(visit))


def open_stored(store: Store, visit: str, *, written: bool = True) -> StoredVisit:
    """Open a visit of the store; without its text where nobody will read that."""
    view = read_view(store, visit)
    table: dict[str, Any] = view.table
    shown = f"{visit} in {store.place}"
    digests = {
        str(item.item["file"]): str(item.item["sha256"]) for item in view.of(EVIDENCE)
    }
    return StoredVisit(
        path=Path(visit),
        text=view.text if written else b"",
        visit=visit_from_table(table, known_names(), shown=shown),
        view=view,
        store=store,
        digests=digests,
        copies=usable_copies(store, digests.values()),
        folder=EvidenceFolder(),
    )


def usable_copies(store: Store, digests: Iterable[str]) -> dict[str, str]:
    """For evidence, the digest of a copy whose bytes are kept."""
    return {
        copy.original: copy.sha256
        for copy in store.copies(digests)
        if copy.sha256 and store.evidence([copy.sha256])
    }


def sha256_of(data: bytes) -> str:
    """The digest that names evidence."""
    return hashlib.sha256(data).hexdigest()
