"""Device keys (Ed25519) and what they sign."""

import os
import stat
from pathlib import Path

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import (
    Ed25519PrivateKey,
    Ed25519PublicKey,
)

from eavelight.errors import EavelightError

KEY_BYTES = 32


class KeyFileError(EavelightError):
    """The file of a device key cannot be used as it is."""

    def __init__(self, path: Path, expected: str, found: str, advice: str) -> None:
        self.path = path
        super().__init__(f"{path}: expected {expected}, found {found}; {advice}")


class DeviceKey:
    """A private key; its public half is the name of the device."""

    def __init__(self, private: Ed25519PrivateKey) -> None:
        self._private = private
        self.device = private.public_key().public_bytes_raw().hex()

    @classmethod
    def of_seed(cls, seed: bytes) -> "DeviceKey":
        """The key of 32 secret bytes."""
        if len(seed) != KEY_BYTES:
            raise ValueError(f"seed must hold {KEY_BYTES} bytes, got {len(seed)}")
        return cls(Ed25519PrivateKey.from_private_bytes(seed))

    def sign(self, what: str, id: str) -> str:
        """Signature under the digest of one kind of thing, in hexadecimal."""
        return self._private.sign(_message(what, id)).hex()


def signed_by(device: str, what: str, id: str, *, signature: str) -> bool:
    """Whether a device signed this digest as this kind of thing."""
    try:
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(device))
        key.verify(bytes.fromhex(signature), _message(what, id))
    except (InvalidSignature, ValueError):
        return False
    return device == device.lower() and signature == signature.lower()


def _message(what: str, id: str) -> bytes:
    return f"eavelight {what} 1\n{id}".encode()


def load_or_make_key(path: Path) -> DeviceKey:
    """The key in a file that only its owner may read; made on first use."""
    if not path.exists():
        _make(path)
    if os.name == "posix":
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode & 0o077:
            raise KeyFileError(
                path,
                "a key that only its owner may read (0600)",
                f"{mode:04o}",
                "run chmod 600 on it; if others used this machine, delete it and a "
                "new key is made",
            )
    seed = path.read_bytes()
    if len(seed) != KEY_BYTES:
        raise KeyFileError(
            path, f"{KEY_BYTES} bytes", f"{len(seed)}", "restore it or delete it"
        )
    return DeviceKey.of_seed(seed)


def _make(path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    part = path.with_name(f".{path.name}.{os.getpid()}.part")
    handle = os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as stream:
        stream.write(Ed25519PrivateKey.generate().private_bytes_raw())
        stream.flush()
        os.fsync(stream.fileno())
    try:
        # a link fails where another process was first: its key then counts
        os.link(part, path)
    except FileExistsError:
        pass
    finally:
        part.unlink()
