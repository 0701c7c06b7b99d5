"""Evidence bytes: whole, durable, and only under their digest, wherever they lie."""

import hashlib

import pytest
from tests.store.conftest import server  # noqa: F401

from eavelight.app.record_place import open_record
from eavelight.store import StoreError, evidence_folder, open_store
from eavelight.store.bytes import FolderBytes, UrlBytes, byte_store

DATA = b"a picture"
SHA = hashlib.sha256(DATA).hexdigest()


@pytest.fixture(params=["folder", "memory://evidence", "file"])
def kept(request, tmp_path):
    if request.param == "folder":
        return byte_store(tmp_path / "evidence")
    if request.param == "file":
        return byte_store(f"file://{tmp_path}/evidence")
    return byte_store(request.param)


def test_bytes_come_back_and_can_be_forgotten(kept):
    assert kept.get(SHA) is None
    kept.put(SHA, DATA)
    kept.put(SHA, DATA)
    assert kept.get(SHA) == DATA
    kept.forget(SHA)
    kept.forget(SHA)
    assert kept.get(SHA) is None


def test_damaged_file_is_mended_by_putting_it_again(kept):
    kept.put(SHA, b"damaged")
    kept.put(SHA, DATA)
    assert kept.get(SHA) == DATA


@pytest.mark.parametrize("name", ["", "ab", "../" + "a" * 61, "A" * 64, "g" * 64])
def test_what_is_no_digest_names_no_file(kept, name):
    with pytest.raises(ValueError, match="sha256"):
        kept.put(name, DATA)
    with pytest.raises(ValueError, match="sha256"):
        kept.get(name)


def test_no_half_file_is_left_beside_a_whole_one(tmp_path):
    FolderBytes(tmp_path).put(SHA, DATA)
    assert [p.name for p in tmp_path.rglob("*") if p.is_file()] == [SHA]


def test_place_that_nothing_can_reach_is_said():
    with pytest.raises(StoreError, match="EAVELIGHT_EVIDENCE"):
        UrlBytes("nonsense://place")


def test_evidence_lies_beside_the_file_of_the_store(tmp_path):
    store = open_store(f"sqlite:///{tmp_path}/r.db")
    store.put_bytes(SHA, DATA)
    store.close()
    folder = evidence_folder(tmp_path / "r.db")
    assert (folder / SHA[:2] / SHA).read_bytes() == DATA


def test_evidence_of_a_shared_store_may_lie_in_a_folder(
    tmp_path,
    monkeypatch,
    server,  # noqa: F811
):
    monkeypatch.setenv("EAVELIGHT_EVIDENCE", str(tmp_path / "shared"))
    with open_record(server.new_database("evidence")) as place:
        place.store.put_bytes(SHA, DATA)
        assert place.store.read_bytes(SHA) == DATA
    assert (tmp_path / "shared" / SHA[:2] / SHA).is_file()
