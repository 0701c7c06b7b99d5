"""The registry picks a layout by content and says what others lack."""

from dataclasses import replace

import pytest

from eavelight.errors import EvidenceError
from eavelight.trace.codec import (
    CODECS,
    Codec,
    Settings,
    decode,
    encode,
    new_record,
    samples_digest,
)
from eavelight.trace.codec.blocks import GeneralParameters

RECORD = new_record(
    [-1.0, -2.0], spacing_m=1.0, wavelength_nm=1550, pulse_ns=10, group_index=1.468
)


def test_another_kind_of_file_is_refused_by_name() -> None:
    with pytest.raises(EvidenceError) as caught:
        decode(b"%PDF-1.7", name="a.sor")
    assert str(caught.value) == (
        "a.sor: byte 0: expected a trace record (SR-4731, versions 1 and 2), "
        "found 25 50 44 46; take the file again from the instrument"
    )


def test_an_empty_file_is_refused() -> None:
    with pytest.raises(EvidenceError, match="found an empty file"):
        decode(b"")


def test_a_layout_that_cannot_be_read_here_says_why() -> None:
    other = Codec(
        title="other",
        suffixes=(".other",),
        recognises=lambda data: data.startswith(b"OTHER"),
        decode=None,
        unavailable_because="needs a library",
    )
    assert not other.available
    with pytest.raises(EvidenceError, match=r"other \(not here: needs a library\)"):
        decode(b"OTHER", codecs=(*CODECS, other))


def test_every_layout_of_the_registry_is_available() -> None:
    assert all(codec.available for codec in CODECS)


def test_the_digest_of_the_samples_ignores_the_header() -> None:
    general = replace(RECORD.general, comment=b"copied")
    blocks = tuple(
        replace(block, body=general)
        if isinstance(block.body, GeneralParameters)
        else block
        for block in RECORD.blocks
    )
    copied = decode(encode(replace(RECORD, blocks=blocks)))
    assert samples_digest(copied) == samples_digest(RECORD)


def test_the_digest_tells_one_changed_sample() -> None:
    other = new_record(
        [-1.0, -2.001],
        spacing_m=1.0,
        wavelength_nm=1550,
        pulse_ns=10,
        group_index=1.468,
        settings=Settings(version=2),
    )
    assert samples_digest(other) != samples_digest(RECORD)
