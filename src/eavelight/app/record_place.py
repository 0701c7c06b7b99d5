"""The open store of this user, with the key of this device for it."""

import os
from dataclasses import dataclass

from eavelight.app.clock import now
from eavelight.app.store_url import EVIDENCE, store_url, user_folder
from eavelight.seal import DeviceKey, load_or_make_key
from eavelight.store import Filters, Store, StoreError, file_of, open_store

__all__ = ["Filters", "OpenRecord", "Store", "open_record", "store_url", "user_folder"]


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenRecord:
    """An open store with the key that this device has for it."""

    store: Store
    key: DeviceKey

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()

    def __enter__(self) -> "OpenRecord":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def open_record(url: str | None = None, *, make: bool = True) -> OpenRecord:
    """Open the store, and make it where it may be made."""
    place = store_url(url)
    file = file_of(place)
    if not make and file is not None and not file.is_file():
        raise StoreError(
            str(file),
            "a store",
            "nothing there",
            "name another with --store, or import a visit first",
        )
    store = open_store(place, evidence=os.environ.get(EVIDENCE))
    key = load_or_make_key(user_folder() / "keys" / f"{store.id}.key")
    store.know_device(key.device, _host(), now().isoformat(timespec="seconds"))
    return OpenRecord(store=store, key=key)


def _host() -> str:
    import platform

    return platform.node().partition(".")[0] or "this device"
