"""Personal data leaves when it must, and the record still verifies."""

import io
import struct
from datetime import date

import pytest
from tests.app.conftest import write
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
from eavelight.app.export_choice import Choice
from eavelight.app.import_export import export_visits
from eavelight.app.photo_privacy import without_position
from eavelight.app.record_stored import open_stored, read_view
from eavelight.app.record_verify import verify_bundle, verify_stored
from eavelight.app.retention import load_rules, purge
from eavelight.app.verify_places import bundle_at, verify_places
from eavelight.errors import FolderError

GPS = b"44 58 48 N"
RULES = {"photo": 30, "person": 30, "position": 30, "text": 30}
LATER = date(2026, 9, 1)


def exif(*, orientation=6):
    """An Exif segment with orientation, a GPS block and an owner's words."""
    entries = [(0x0112, 3, 1, orientation << 16), (0x8825, 4, 1, 50)]
    tiff = b"MM\0*\0\0\0\x08" + struct.pack(">H", len(entries))
    tiff += b"".join(struct.pack(">HHII", *entry) for entry in entries)
    tiff += b"\0\0\0\0" + b"\0" * 20 + GPS
    body = b"Exif\0\0" + tiff
    return b"\xff\xe1" + struct.pack(">H", len(body) + 2) + body


def photo(tag=0, kind="JPEG"):
    image = pytest.importorskip("PIL.Image")
    stream = io.BytesIO()
    picture = image.new("RGB", (40, 30), (200, tag, 90))
    picture.putpixel((3, 4), (9, 8, 7))
    if kind == "JPEG":
        picture.save(stream, kind, quality=95)
        data = stream.getvalue()
        xmp = b"http://ns.adobe.com/xap/1.0/\0exif:GPSLatitude " + GPS
        xmp = b"\xff\xe1" + struct.pack(">H", len(xmp) + 2) + xmp
        return data[:2] + exif() + xmp + data[2:] + GPS
    info = None
    if kind == "PNG":
        from PIL.PngImagePlugin import PngInfo

        info = PngInfo()
        info.add_text("place", GPS.decode())
        picture.save(stream, kind, pnginfo=info, exif=exif()[4:])
    else:
        picture.save(stream, kind, exif=exif()[4:], xmp=GPS, lossless=True)
    return stream.getvalue()


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_picture_loses_its_position_and_keeps_its_pixels(kind):
    image = pytest.importorskip("PIL.Image")
    data = photo(kind=kind)
    stripped = without_position(data)
    assert GPS in data
    assert GPS not in stripped
    before, after = (image.open(io.BytesIO(item)) for item in (data, stripped))
    assert before.tobytes() == after.tobytes()
    assert without_position(stripped) == stripped


def test_picture_stays_turned_as_it_was():
    image = pytest.importorskip("PIL.Image")
    stripped = image.open(io.BytesIO(without_position(photo())))
    assert dict(stripped.getexif()) == {0x0112: 6}


@pytest.mark.parametrize(
    "data", [b"", b"\xff\xd8\xff", b"\xff\xd8\xff\xe1\xff\xff", b"x"]
)
def test_unknown_or_broken_picture_is_not_guessed_at(data):
    assert without_position(data) is None


@pytest.fixture
def photographed(clean, tmp_path):
    folder = tmp_path / "visits" / VISIT
    write(clean, folder)
    for tag, item in enumerate(clean["evidence"]):
        (folder / item["file"]).write_bytes(photo(tag))
    place = device("van")
    import_place(place, folder)
    return place


def every_byte(bundle):
    return b"".join(bundle.data.values()) + b"".join(
        f"{item.body}".encode() for item in bundle.batch.observations
    )


def test_export_strips_position_unless_asked_and_still_verifies(photographed, tmp_path):
    plain, full = tmp_path / "plain.eave", tmp_path / "full.eave"
    export_visits(photographed, [VISIT], plain, choice=Choice())
    export_visits(photographed, [VISIT], full, choice=Choice(position=True))
    assert GPS not in every_byte(bundle_at(plain))
    assert GPS in every_byte(bundle_at(full))
    found = verify_bundle(bundle_at(plain))
    assert found.clean
    assert "verify.copy_evidence" in [r.id for r in found.reports[0].remarks]


def test_stripped_copies_are_used_where_the_originals_are_not(photographed, tmp_path):
    path, other = tmp_path / "plain.eave", device("desk")
    export_visits(photographed, [VISIT], path, choice=Choice())
    import_place(other, path)
    opened = open_stored(other.store, VISIT)
    item = opened.visit.evidence[0]
    assert opened.is_copy(item)
    assert GPS not in opened.evidence_path(item).read_bytes()
    assert verify_stored(other.store, VISIT).clean
    merge(other, bundle_of(photographed))
    assert not open_stored(other.store, VISIT).is_copy(item)


def test_copy_that_was_exchanged_is_found(photographed, tmp_path):
    path, other = tmp_path / "plain.eave", device("desk")
    export_visits(photographed, [VISIT], path, choice=Choice())
    import_place(other, path)
    copy = other.store.copies(
        [open_stored(other.store, VISIT).digests["evidence/house.jpg"]]
    )[0]
    other.store.put_bytes(copy.sha256, b"another picture")
    kinds = [p.kind for p in verify_stored(other.store, VISIT).problems]
    assert kinds == ["evidence changed"]


def test_export_without_personal_data_holds_none_and_verifies(clean, tmp_path):
    clean["exception"] = [
        {"what": "housing.dew", "at": "box", "reason": "Mrs Example said later",
         "accepted_by": "desk-2"},
    ]  # fmt: skip
    clean["reading"].append(
        {"id": "n1", "what": "note", "at": "box", "value": "dog of Mr Example",
         "time": clean["reading"][-1]["time"]},
    )  # fmt: skip
    place, other = device("van"), device("desk")
    add(place, clean)
    path = tmp_path / "bare.eave"
    export_visits(place, [VISIT], path, choice=Choice(personal=False))
    raw = path.read_bytes()
    for secret in (b"Example", b"t08", b"desk-2", b"41.2", b"81.4"):
        assert secret not in raw
    assert verify_places([str(path)])[0].clean
    import_place(other, path)
    report = verify_stored(other.store, VISIT)
    assert report.clean
    assert "verify.withheld_personal" in [remark.id for remark in report.remarks]
    assert open_stored(other.store, VISIT).visit.head.technician == "withheld"
    merge(other, bundle_of(place))
    assert text(other) == text(place)


def test_traces_lose_the_names_in_their_header(clean, tmp_path):
    import numpy as np

    from eavelight.trace.codec import Settings, decode, encode, new_record

    record = new_record(
        np.linspace(-1, -30, 400), spacing_m=0.5, wavelength_nm=1550, pulse_ns=10,
        group_index=1.468,
        settings=Settings(texts={"operator": "J Example", "comment": "Example St"}),
    )  # fmt: skip
    clean["evidence"] = [{"file": "d.sor", "what": "trace", "at": "terminal"}]
    folder = write(clean, tmp_path / "v" / VISIT)
    (folder / "d.sor").write_bytes(encode(record))
    place = device("van")
    import_place(place, folder)
    path = tmp_path / "bare.eave"
    export_visits(place, [VISIT], path, choice=Choice(personal=False))
    bundle = bundle_at(path)
    (data,) = bundle.data.values()
    assert b"Example" not in path.read_bytes()
    assert np.array_equal(decode(data).samples_db, decode(encode(record)).samples_db)
    assert verify_bundle(bundle).clean


@pytest.fixture
def purged(clean, tmp_path):
    with file_store(tmp_path, "purge.db") as place:
        add(place, clean)
        purge(place, RULES, today=LATER)
        yield place


def test_purge_takes_bytes_and_values_and_verify_says_so(purged):
    report = verify_stored(purged.store, VISIT)
    assert report.clean
    assert {"verify.purged_evidence", "verify.purged_personal"} <= {
        remark.id for remark in report.remarks
    }
    assert purged.store.personal(VISIT) == {}
    view = read_view(purged.store, VISIT)
    for item in view.of("evidence"):
        assert purged.store.read_bytes(item.item["sha256"]) is None
    assert view.table["visit"]["technician"] == "withheld"


def test_purge_removes_no_observation_and_assessing_still_works(
    purged, clean, tmp_path
):
    items = purged.store.observations(VISIT)
    assert len(items) == 3 + len(clean["reading"]) + len(clean["evidence"])
    assessed = assess_visit(VISIT, alone=True, store=f"sqlite:///{tmp_path}/purge.db")
    assert any("not kept here" in note for note in assessed.notes)


def test_purging_again_purges_nothing(purged):
    before = purged.store.observations(VISIT)
    assert purge(purged, RULES, today=LATER) == []
    assert purged.store.observations(VISIT) == before


def test_purge_cut_off_before_deleting_is_finished_by_the_next(purged):
    sha256 = read_view(purged.store, VISIT).of("evidence")[0].item["sha256"]
    purged.store.put_bytes(sha256, b"evidence/house.jpg")
    purge(purged, RULES, today=LATER)
    assert purged.store.read_bytes(sha256) is None


def test_what_is_not_yet_old_or_has_no_rule_stays(clean):
    place = device("van")
    add(place, clean)
    assert purge(place, RULES, today=date(2026, 4, 20)) == []
    assert purge(place, {"trace": 1}, today=LATER) == []
    (found,) = purge(place, RULES, today=LATER, dry_run=True)
    assert len(found.evidence) == len(clean["evidence"])
    assert len(place.store.personal(VISIT)) == 3


def test_bytes_that_another_visit_still_needs_stay(clean):
    place = device("van")
    add(place, clean)
    clean["visit"] |= {"id": "D-900"}
    for name in ("started", "ended"):
        clean["visit"][name] = clean["visit"][name].replace(year=2027)
    add(place, clean)
    (found,) = purge(place, RULES, today=LATER)
    assert (found.visit, found.evidence) == (VISIT, ())
    assert verify_stored(place.store, "D-900").clean


def test_purge_travels_with_the_record(clean, purged):
    other = device("desk")
    add(other, clean)
    merge(other, bundle_of(purged))
    assert verify_stored(other.store, VISIT).clean
    sha256 = read_view(purged.store, VISIT).of("evidence")[0].item["sha256"]
    assert other.store.read_bytes(sha256) is None


def test_importing_what_was_purged_brings_no_personal_value_back(clean, purged):
    before = purged.store.observations(VISIT)
    assert add(purged, clean) == 0
    assert purged.store.observations(VISIT) == before
    assert purged.store.personal(VISIT) == {}


@pytest.mark.parametrize(
    "rules", ["[keep_days]\nphotos = 3", "[keep]\n", "[keep_days]\nphoto = -1", "x"]
)
def test_rules_with_a_mistake_are_refused(tmp_path, rules):
    path = tmp_path / "rules.toml"
    path.write_text(rules)
    with pytest.raises(FolderError, match=r"rules\.toml"):
        load_rules(path)


def test_rules_as_the_program_comes_keep_traces():
    assert "trace" not in load_rules()
    assert load_rules()["photo"] > 365
