"""Visits into the store and out of it: nothing lost, nothing twice, in any order."""

import tomllib
from copy import deepcopy
from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.app.conftest import clean_table, write
from tests.app.record_places import (
    VISIT,
    add,
    bundle_of,
    device,
    file_store,
    import_place,
    merge,
    text,
)

from eavelight.app.assess_visit import assess_visit
from eavelight.app.assessment_json import assessment_json
from eavelight.app.bundle import packed, unpacked
from eavelight.app.export_choice import Choice
from eavelight.app.import_export import (
    ImportRefusedError,
    export_visits,
    import_bundle,
)
from eavelight.app.record_bodies import plain
from eavelight.app.record_stored import open_stored, read_view
from eavelight.app.record_verify import verify_bundle, verify_stored
from eavelight.errors import EavelightError
from eavelight.seal import body_of
from eavelight.store import Filters, StoreError

EVERYTHING = Choice(personal=True, position=True)


def told(rows):
    return sorted(str(sorted(plain(row).items())) for row in rows)


def bundle_file(place, path, visit=VISIT, choice=EVERYTHING):
    export_visits(place, [visit], path, choice=choice)
    return path


def test_importing_a_folder_twice_changes_nothing(clean, save):
    place, folder = device("van"), save(clean)
    first = import_place(place, folder)
    before = place.store.observations(VISIT)
    second = import_place(place, folder)
    assert first[0].observations == 2 + len(clean["reading"]) + len(clean["evidence"])
    assert second[0].observations == 0
    assert place.store.observations(VISIT) == before


def test_stored_visit_is_the_folder_again(clean, save, tmp_path):
    clean["exception"] = [
        {"what": "housing.dew", "at": "box", "reason": "vent ordered",
         "accepted_by": "desk-2"},
    ]  # fmt: skip
    place, folder = device("van"), save(clean)
    import_place(place, folder)
    out = tmp_path / "out"
    export_visits(place, [VISIT], out, choice=EVERYTHING)
    again = tomllib.loads((out / VISIT / "visit.toml").read_text())
    once = tomllib.loads((folder / "visit.toml").read_text())
    for key in once:
        if isinstance(once[key], list):
            assert told(again[key]) == told(once[key])
        else:
            assert again[key] == once[key]
    for item in clean["evidence"]:
        kept = (out / VISIT / item["file"]).read_bytes()
        assert kept == (folder / item["file"]).read_bytes()


def test_assessment_of_a_stored_visit_is_that_of_its_folder(clean, save, tmp_path):
    folder, url = save(clean), f"sqlite:///{tmp_path}/r.db"
    with file_store(tmp_path, "r.db") as place:
        import_place(place, folder)
    stored = assess_visit(VISIT, alone=True, store=url)
    plain = assess_visit(str(folder), alone=True)
    assert assessment_json(stored.assessment) == assessment_json(plain.assessment)


def test_exported_folder_comes_back_without_a_new_observation(clean, save, tmp_path):
    place, other = device("van"), device("desk")
    import_place(place, save(clean))
    export_visits(place, [VISIT], tmp_path / "out", choice=EVERYTHING)
    assert import_place(other, tmp_path / "out" / VISIT)[0].observations > 0
    assert other.store.observations(VISIT) == place.store.observations(VISIT)
    assert sum(i.observations for i in import_place(place, tmp_path / "out")) == 0


def test_corrected_value_supersedes_and_the_first_one_stays(clean, save):
    place = device("van")
    import_place(place, save(clean))
    entry = next(item for item in clean["reading"] if item["what"] == "loss")
    before, entry["value"] = entry["value"], 0.77
    done = import_place(place, save(clean), reason="misread the display")
    view = read_view(place.store, VISIT)
    assert done[0].observations == 1
    (old,) = view.superseded
    assert old.item["value"] == before
    newest = place.store.observations(VISIT)[-1]
    assert body_of(newest)["reason"] == "misread the display"
    assert body_of(newest)["supersedes"] == [old.recorded.id]
    assert [
        i.item["value"] for i in view.of("reading") if i.item["id"] == entry["id"]
    ] == [0.77]


def test_older_folder_does_not_bring_back_what_was_corrected(clean, save):
    place, older = device("van"), deepcopy(clean)
    import_place(place, save(clean))
    clean["reading"][3]["u"] = 0.11
    import_place(place, save(clean))
    done = import_place(place, save(older))
    assert done[0].observations == 0
    assert "later correction" in done[0].notes[0]


def test_two_readings_of_one_id_at_two_times_both_stay(clean, save):
    place, other = device("van"), device("second van")
    add(place, clean)
    changed = deepcopy(clean)
    entry = next(i for i in changed["reading"] if i["what"] == "level")
    entry["value"] -= 0.4
    entry["time"] += timedelta(minutes=3)
    add(other, changed)
    merge(place, bundle_of(other))
    readings = read_view(place.store, VISIT).of("reading")
    same = [i.item["id"] for i in readings if i.item["id"].startswith(entry["id"])]
    alike = [name for name in same if name.partition("~")[0] == entry["id"]]
    assert len(alike) == 2
    assert len(set(alike)) == 2
    assert open_stored(place.store, VISIT).visit.readings


def test_bundle_carries_a_visit_to_another_store_whole(clean, save, tmp_path):
    place, other = device("van"), device("desk")
    import_place(place, save(clean))
    path = bundle_file(place, tmp_path / "one.eave")
    done = import_place(other, path)
    assert text(other) == text(place)
    assert "unknown here" in done[0].notes[0]
    assert verify_stored(other.store, VISIT).clean
    assert not any(
        item.observations or item.evidence for item in import_place(other, path)
    )


def test_device_can_be_known_when_its_bundle_is_taken(clean, save, tmp_path):
    place, other = device("van"), device("desk")
    import_place(place, save(clean))
    path = bundle_file(place, tmp_path / "one.eave")
    assert import_place(other, path, know_as="van 7")[0].notes == ()
    assert other.store.devices()[place.key.device] == "van 7"


def test_same_bundle_is_written_twice_with_the_same_bytes(
    clean, save, tmp_path, monkeypatch
):
    place = device("van")
    import_place(place, save(clean))
    monkeypatch.setattr("eavelight.app.import_export.stamp", lambda: "2026-04-02")
    one = bundle_file(place, tmp_path / "one.eave").read_bytes()
    two = bundle_file(place, tmp_path / "two.eave").read_bytes()
    assert one == two


def test_every_single_byte_change_of_a_bundle_is_found(tmp_path):
    place = device("van")
    add(place, deepcopy(SMALL))
    data = bundle_file(place, tmp_path / "one.eave").read_bytes()
    assert verify_bundle(unpacked(data, "one.eave")).clean
    rng = np.random.default_rng(9)
    for position in rng.integers(len(data), size=2000):
        changed = bytearray(data)
        changed[position] ^= int(rng.integers(1, 256))
        try:
            found = verify_bundle(unpacked(bytes(changed), "one.eave"))
        except EavelightError:
            continue
        assert not found.clean, position


def test_changed_bundle_is_refused_and_nothing_is_imported(clean, save, tmp_path):
    place, other = device("van"), device("desk")
    import_place(place, save(clean))
    data = bytearray(bundle_file(place, tmp_path / "one.eave").read_bytes())
    position = data.index(b"recorded_at")
    data[position + 16] ^= 1
    (tmp_path / "bad.eave").write_bytes(data)
    with pytest.raises(ImportRefusedError, match="changed"):
        import_place(other, tmp_path / "bad.eave")
    assert other.store.visits(Filters()) == ()


def test_bundle_packed_again_around_a_changed_member_says_which(clean, save, tmp_path):
    place = device("van")
    import_place(place, save(clean))
    data = bundle_file(place, tmp_path / "one.eave").read_bytes()
    import io
    import zipfile

    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    photo = next(name for name in members if name.startswith("evidence/"))
    members[photo] = b"another picture"
    found = verify_bundle(unpacked(packed(members), "one.eave"))
    kinds = {problem.kind for problem in found.problems}
    assert kinds == {"bundle member changed"}
    assert {p.kind for p in found.reports[0].problems} == {"evidence changed"}


@pytest.mark.parametrize("name", ["../../evil.txt", "/etc/evil", "a/../../evil"])
def test_evidence_name_that_leaves_the_folder_is_refused(clean, tmp_path, name):
    place = device("van")
    clean["evidence"][0]["file"] = name
    add(place, clean)
    with pytest.raises(EavelightError, match="inside the visit folder"):
        export_visits(place, [VISIT], tmp_path / "out", choice=EVERYTHING)
    assert not (tmp_path / "evil.txt").exists()
    with pytest.raises(EavelightError, match="inside the visit folder"):
        open_stored(place.store, VISIT)


def test_what_is_neither_folder_nor_bundle_is_said(tmp_path):
    with pytest.raises(StoreError, match="visit folder"):
        import_place(device("van"), tmp_path)
    (tmp_path / "x.eave").write_bytes(b"no bundle")
    with pytest.raises(EavelightError, match="bundle of visits"):
        import_place(device("van"), tmp_path / "x.eave")


def test_folder_that_is_there_is_not_written_over(clean, tmp_path):
    place = device("van")
    add(place, clean)
    export_visits(place, [VISIT], tmp_path / "out", choice=EVERYTHING)
    with pytest.raises(StoreError, match="choose another place"):
        export_visits(place, [VISIT], tmp_path / "out", choice=EVERYTHING)


def test_list_of_visits_knows_site_crew_and_times(clean, tmp_path):
    place = device("van")
    add(place, clean)
    (line,) = place.store.visits(Filters(site=clean["site"]["key"], crew="east-4"))
    assert line.started.startswith("2026-04-15T13:30")
    assert line.observations == len(place.store.observations(VISIT))


SMALL = clean_table()
SMALL["reading"] = SMALL["reading"][:10]
SMALL["evidence"] = SMALL["evidence"][:2]


def part_of(readings, files, changes):
    table = deepcopy(SMALL)
    for index, value in changes:
        entry = table["reading"][index]
        if isinstance(entry["value"], float):
            entry["value"] = float(value)
        else:
            entry["state"] = ["lid open"]
    table["reading"] = [r for i, r in enumerate(table["reading"]) if i in readings]
    table["evidence"] = [e for i, e in enumerate(table["evidence"]) if i in files]
    return table


parts = st.builds(
    part_of,
    st.sets(st.integers(0, 9), min_size=1),
    st.sets(st.integers(0, 1)),
    st.lists(st.tuples(st.integers(0, 9), st.integers(-30, -10)), max_size=2),
)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(
    st.lists(st.tuples(st.integers(0, 2), parts), min_size=2, max_size=6),
    st.randoms(use_true_random=False),
)
def test_devices_merge_to_one_record_in_any_order(work, random):
    devices = [device(name) for name in ("one", "two", "three")]
    bundles = []
    for who, table in work:
        add(devices[who], table)
        # each export repeats what earlier ones held, each import mixes the chains
        bundles.append(bundle_of(devices[who]))
        if random.random() < 0.3:
            merge(devices[random.randrange(3)], random.choice(bundles))
    results = []
    for _ in range(2):
        target = device("desk")
        shuffled = [
            *bundles,
            *random.sample(bundles, k=random.randint(0, len(bundles))),
        ]
        random.shuffle(shuffled)
        for bundle in shuffled:
            merge(target, bundle)
        ids = {item.id for item in target.store.observations(VISIT)}
        results.append((ids, text(target)))
        assert verify_stored(target.store, VISIT).clean
        assert merge(target, bundles[0]) == 0
    assert results[0] == results[1]


def test_two_histories_of_one_device_are_refused(clean):
    place, twin, desk = device("van"), device("van"), device("desk")
    add(place, clean)
    changed = deepcopy(clean)
    changed["reading"][0]["value"] = 1.5
    add(twin, changed)
    import_bundle(desk, bundle_of(place))
    with pytest.raises(EavelightError, match="already recorded"):
        import_bundle(desk, bundle_of(twin))
    assert text(desk) == text(place)


def test_folder_beside_its_record_is_told_where_it_left_it(clean, tmp_path):
    from eavelight.app.verify_places import verify_places

    place = device("van")
    add(place, clean)
    export_visits(place, [VISIT], tmp_path, choice=EVERYTHING)
    folder = tmp_path / VISIT
    assert verify_places([str(folder)])[0].clean
    raw = tomllib.loads((folder / "visit.toml").read_text())
    raw["reading"][3]["tool"] = "another meter"
    write(raw, folder)
    (found,) = verify_places([str(folder)])
    assert [problem.kind for problem in found.problems] == ["folder differs"]
    assert raw["reading"][3]["id"] in str(found.problems[0].message.values["names"])
