"""Evidence bytes by SHA-256: in a folder, or in an object store by URL."""

import os
from pathlib import Path
from typing import Any, Protocol

from eavelight.store.errors import StoreError


class ByteStore(Protocol):
    """Keeps bytes under their digest."""

    def put(self, sha256: str, data: bytes) -> None: ...
    def get(self, sha256: str) -> bytes | None: ...
    def forget(self, sha256: str) -> None: ...


def checked(sha256: str) -> str:
    """A digest that may become part of a path."""
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        raise ValueError(f"sha256 must be 64 hexadecimal digits, got {sha256!r}")
    return sha256


class FolderBytes:
    """A folder; a file is there whole and durable, or not at all."""

    def __init__(self, root: Path) -> None:
        self.root = root

    def path(self, sha256: str) -> Path:
        return self.root / checked(sha256)[:2] / sha256

    def put(self, sha256: str, data: bytes) -> None:
        path = self.path(sha256)
        if path.is_file() and path.read_bytes() == data:
            return
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f".{sha256}.{os.getpid()}.part")
        with part.open("wb") as stream:
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
        for folder in (path.parent, self.root, self.root.parent):
            _sync_folder(folder)

    def get(self, sha256: str) -> bytes | None:
        try:
            return self.path(sha256).read_bytes()
        except FileNotFoundError:
            return None

    def forget(self, sha256: str) -> None:
        self.path(sha256).unlink(missing_ok=True)


def _sync_folder(folder: Path) -> None:
    """Make a new name in a folder durable, where the system can."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:
        return
    try:
        os.fsync(handle)
    except OSError:
        pass
    finally:
        os.close(handle)


class UrlBytes:
    """Anything that fsspec can reach."""

    def __init__(self, url: str) -> None:
        import fsspec

        self.url = url
        try:
            self._files, self._root = fsspec.core.url_to_fs(url)
        except (ImportError, ValueError) as error:
            raise StoreError(
                url, "a place for evidence", str(error), "correct EAVELIGHT_EVIDENCE"
            ) from None

    def _path(self, sha256: str) -> str:
        return f"{self._root.rstrip('/')}/{checked(sha256)[:2]}/{sha256}"

    def put(self, sha256: str, data: bytes) -> None:
        if self.get(sha256) != data:
            self._files.pipe_file(self._path(sha256), data)

    def get(self, sha256: str) -> bytes | None:
        try:
            found: Any = self._files.cat_file(self._path(sha256))
        except FileNotFoundError:
            return None
        return bytes(found)

    def forget(self, sha256: str) -> None:
        if self._files.exists(self._path(sha256)):
            self._files.rm_file(self._path(sha256))


class MemoryBytes:
    """A dictionary."""

    def __init__(self) -> None:
        self.found: dict[str, bytes] = {}

    def put(self, sha256: str, data: bytes) -> None:
        self.found[checked(sha256)] = data

    def get(self, sha256: str) -> bytes | None:
        return self.found.get(sha256)

    def forget(self, sha256: str) -> None:
        self.found.pop(sha256, None)


def byte_store(place: str | Path) -> ByteStore:
    """The byte store at a folder or URL."""
    if isinstance(place, str) and "://" in place and not place.startswith("file://"):
        return UrlBytes(place)
    return FolderBytes(Path(str(place).removeprefix("file://")))
