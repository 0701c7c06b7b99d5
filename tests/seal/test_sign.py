"""Device keys: kept for their owner alone, and what they sign is theirs."""

import os

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from eavelight.seal import DeviceKey, KeyFileError, load_or_make_key, signed_by


def test_public_key_and_signature_are_those_of_rfc_8032():
    # RFC 8032, 7.1, test 1: secret key, public key, signature of the empty message
    seed = bytes.fromhex(
        "9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60"
    )
    public = "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"
    signature = (
        "e5564300c360ac729086e2cc806e828a84877f1eb8e5d974d873e06522490155"
        "5fb8821590a33bacc61e39701cf9b46bd25bf5f0595bbe24655141438e7a100b"
    )
    assert DeviceKey.of_seed(seed).device == public
    assert Ed25519PrivateKey.from_private_bytes(seed).sign(b"").hex() == signature


def test_signature_holds_only_for_its_device_kind_and_digest():
    key, other = DeviceKey.of_seed(b"a" * 32), DeviceKey.of_seed(b"b" * 32)
    signature = key.sign("seal", "1f")
    assert signed_by(key.device, "seal", "1f", signature=signature)
    assert not signed_by(other.device, "seal", "1f", signature=signature)
    assert not signed_by(key.device, "observation", "1f", signature=signature)
    assert not signed_by(key.device, "seal", "1e", signature=signature)
    assert not signed_by(key.device.upper(), "seal", "1f", signature=signature)
    assert not signed_by("no key", "seal", "1f", signature="no signature")


def test_key_is_made_once_and_only_its_owner_may_read_it(tmp_path):
    path = tmp_path / "keys" / "store.key"
    first = load_or_make_key(path)
    assert load_or_make_key(path).device == first.device
    if os.name == "posix":
        assert path.stat().st_mode & 0o777 == 0o600
        assert path.parent.stat().st_mode & 0o077 == 0
    assert [item.name for item in path.parent.iterdir()] == ["store.key"]


@pytest.mark.skipif(os.name != "posix", reason="permissions of this kind are POSIX")
def test_key_that_others_may_read_is_refused(tmp_path):
    path = tmp_path / "store.key"
    load_or_make_key(path)
    path.chmod(0o644)
    with pytest.raises(KeyFileError, match="chmod 600"):
        load_or_make_key(path)


def test_damaged_key_file_is_refused(tmp_path):
    path = tmp_path / "store.key"
    load_or_make_key(path)
    path.write_bytes(b"short")
    with pytest.raises(KeyFileError, match="32 bytes"):
        load_or_make_key(path)
