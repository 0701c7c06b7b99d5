"""A backup is a store again, on either database, or it says what is wrong with it."""

import pytest
from tests.app.record_places import VISIT, add, file_store, text
from tests.store.conftest import server  # noqa: F401

from eavelight.app.backup import back_up, restore
from eavelight.app.record_place import open_record
from eavelight.app.record_verify import verify_stored
from eavelight.app.seal_visit import countersign, seal_visit
from eavelight.errors import EavelightError
from eavelight.store import StoreError


@pytest.fixture
def kept(clean, tmp_path):
    with file_store(tmp_path) as place:
        add(place, clean)
        seal_visit(place, VISIT, extra={})
        countersign(place, VISIT, by="desk")
        back_up(place, tmp_path / "all.backup")
        yield place


def test_restored_store_is_the_same_record_under_another_name(kept, tmp_path):
    found = restore(tmp_path / "all.backup", f"sqlite:///{tmp_path}/new.db")
    assert found.clean
    with open_record(f"sqlite:///{tmp_path}/new.db") as again:
        assert again.store.observations(VISIT) == kept.store.observations(VISIT)
        assert again.store.seals(VISIT) == kept.store.seals(VISIT)
        assert text(again) == text(kept)
        assert again.store.id != kept.store.id
        assert again.key.device != kept.key.device


def test_work_goes_on_in_both_without_two_histories(kept, clean, tmp_path):
    """The restored store has its own chain, so nothing forks when they meet again."""
    restore(tmp_path / "all.backup", f"sqlite:///{tmp_path}/new.db")
    changed = dict(clean, reading=[dict(clean["reading"][0], value=1.0)])
    with open_record(f"sqlite:///{tmp_path}/new.db") as again:
        assert add(again, changed) == 1
        assert add(kept, dict(clean, reading=[dict(clean["reading"][0], value=2.0)]))
        from tests.app.record_places import bundle_of, merge

        merge(kept, bundle_of(again))
        assert verify_stored(kept.store, VISIT).clean


def test_backup_of_sqlite_is_restored_into_postgresql_and_back(
    kept,
    tmp_path,
    server,  # noqa: F811
):
    url = server.new_database("restored")
    assert restore(tmp_path / "all.backup", url).clean
    with open_record(url) as middle:
        back_up(middle, tmp_path / "again.backup")
    assert restore(tmp_path / "again.backup", f"sqlite:///{tmp_path}/b.db").clean
    with open_record(f"sqlite:///{tmp_path}/b.db") as again:
        assert text(again) == text(kept)


def test_store_in_use_is_not_restored_over(kept, tmp_path):
    with pytest.raises(StoreError, match="a new store"):
        restore(tmp_path / "all.backup", f"sqlite:///{tmp_path}/record.db")


def test_damaged_backup_is_refused_before_anything_is_written(kept, tmp_path):
    data = bytearray((tmp_path / "all.backup").read_bytes())
    data[len(data) // 3] ^= 0xFF
    (tmp_path / "bad.backup").write_bytes(data)
    with pytest.raises(EavelightError, match="use another backup"):
        restore(tmp_path / "bad.backup", f"sqlite:///{tmp_path}/never.db")
    assert not (tmp_path / "never.db").exists()


def test_countersignature_names_the_seal_it_stands_under(kept):
    from eavelight.seal import body_of

    first, second = kept.store.seals(VISIT)
    assert body_of(second)["of"] == first.id
    assert body_of(second)["kind"] == "countersignature"
    assert set(body_of(first)["versions"]) == {"code", "clauses", "profile"}


def test_visit_without_a_seal_cannot_be_countersigned(clean, tmp_path):
    with file_store(tmp_path, "x.db") as place:
        add(place, clean)
        with pytest.raises(StoreError, match="close it out first"):
            countersign(place, VISIT, by="desk")
