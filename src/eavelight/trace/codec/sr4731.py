"""Records of the layout of Telcordia SR-4731, versions 1 and 2, read and written.

What is vital for a trace (map, settings, samples) is read or refused. Every other
block that does not read as expected is kept as bytes and noted.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from eavelight.errors import EvidenceError
from eavelight.trace.codec._checks import check_meaning
from eavelight.trace.codec._fields import (
    EVENT,
    FIXED,
    GENERAL,
    LANDMARK,
    SUPPLIER,
    TOTALS,
    Field,
    closed_text,
    pack,
    read_fields,
    write_fields,
)
from eavelight.trace.codec._source import Cursor, Source
from eavelight.trace.codec.blocks import (
    Block,
    Body,
    Checksum,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvent,
    KeyEvents,
    Landmark,
    LinkParameters,
    Opaque,
    SampleSet,
    SupplierParameters,
)
from eavelight.trace.codec.checksum import crc16_ccitt_false
from eavelight.trace.codec.record import TraceRecord

MAP_NAME = b"Map\0"
LARGEST_FILE = 8 * 2**20
# Far above what any record needs, so that a lying count costs no time.
MOST_BLOCKS, MOST_EVENTS, MOST_SCALES = 1024, 4096, 1024
VITAL = (b"FxdParams", b"DataPts")


@dataclass(frozen=True, slots=True, kw_only=True)
class _Entry:
    """What the map says about a block, and where the walk along the sizes puts it."""

    name: bytes
    revision: int
    start: int
    end: int
    place: int

    @property
    def version(self) -> int:
        return 2 if self.revision >= 200 else 1


def recognises(data: bytes) -> bool:
    """Whether bytes begin as a record of this layout does.

    Parameters
    ----------
    data : bytes
        Content of a file [byte]

    Returns
    -------
    recognised : bool
        True for the word Map, or a map revision of the first version [1]

    Examples
    --------
    >>> recognises(b"Map")
    False
    """
    if data.startswith(MAP_NAME):
        return True
    return len(data) >= 2 and 100 <= int.from_bytes(data[:2], "little") < 200


def decode_sr4731(data: bytes, *, name: str, strict: bool = False) -> TraceRecord:
    """Read a record.

    Parameters
    ----------
    data : bytes
        Content of a file [byte]
    name : str
        What to call the file in an error [text]
    strict : bool, optional
        Refuse what a tolerant reading only notes [1]

    Returns
    -------
    record : TraceRecord
        Every block, and the notes [1]

    Raises
    ------
    EvidenceError
        If the bytes hold no readable trace; says at which byte.
    """
    source = Source(data, name, strict=strict)
    if len(data) > LARGEST_FILE:
        source.refuse(LARGEST_FILE, "the end of a record", "more bytes")
    headed = data.startswith(MAP_NAME)
    revision, map_end, map_rest, entries = _read_map(source, headed=headed)
    blocks = _read_blocks(source, entries)
    end = entries[-1].end if entries else map_end
    if end < len(data):
        source.note(
            "file.longer", end, "the end of the file", found=f"{len(data) - end} bytes"
        )
    _check_presence(source, blocks, end)
    check_meaning(source, blocks)
    return TraceRecord(
        headed=headed,
        map_revision=revision,
        map_rest=map_rest,
        blocks=blocks,
        trailing=data[end:],
        notes=source.notes,
    )


def _read_map(
    source: Source, *, headed: bool
) -> tuple[int, int, bytes, tuple[_Entry, ...]]:
    cursor = Cursor(source, 4 if headed else 0, len(source.data))
    revision = cursor.integer("H", "map revision")
    if (revision >= 200) != headed:
        wanted = "map revision 200" if headed else "map revision 100"
        source.note("map.revision", cursor.place - 2, wanted, found=revision)
    size = cursor.integer("i", "map size")
    if not cursor.place <= size <= len(source.data):
        wanted = f"a map size within the {len(source.data)} bytes of the file"
        source.refuse(cursor.place - 4, wanted, size)
    cursor.end = size
    count = cursor.integer("H", "number of blocks")
    if not 1 <= count <= MOST_BLOCKS:
        source.refuse(cursor.place - 2, f"1 to {MOST_BLOCKS} blocks", count)
    start, entries = size, []
    for _ in range(count - 1):
        place = cursor.place
        name = cursor.text("a block name")
        block_revision = cursor.integer("H", "block revision")
        length = cursor.integer("i", "block size")
        if not 0 <= length <= len(source.data) - start:
            shown = name[:32].decode("latin-1")
            wanted = f"a size of block {shown} that ends within the file"
            found = f"{length} where {len(source.data) - start} bytes are left"
            source.refuse(cursor.place - 4, wanted, found)
        entries.append(
            _Entry(
                name=name,
                revision=block_revision,
                start=start,
                end=start + length,
                place=place,
            )
        )
        start += length
    rest_place, rest = cursor.place, cursor.rest()
    if rest:
        source.note(
            "map.longer", rest_place, "the end of the map", found=f"{len(rest)} bytes"
        )
    return revision, size, rest, tuple(entries)


def _read_blocks(source: Source, entries: tuple[_Entry, ...]) -> tuple[Block, ...]:
    blocks: list[Block] = []
    seen: set[bytes] = set()
    for entry in entries:
        known = entry.name in READERS
        if known and entry.name in seen:
            shown = entry.name.decode("latin-1")
            source.note(
                "block.repeated", entry.place, f"one block {shown}", found="another"
            )
            known = False
        seen.add(entry.name)
        if known:
            blocks.append(_read_known(source, entry))
        else:
            blocks.append(_kept(source, entry))
    return tuple(blocks)


def _kept(source: Source, entry: _Entry) -> Block:
    raw = source.data[entry.start : entry.end]
    return Block(
        name=entry.name, revision=entry.revision, headed=False, body=Opaque(raw=raw)
    )


def _read_known(source: Source, entry: _Entry) -> Block:
    header = entry.name + b"\0"
    headed = source.data[entry.start : entry.end].startswith(header)
    if headed != (entry.version == 2):
        wanted = "its name at the start" if entry.version == 2 else "no name"
        shown = entry.name.decode("ascii")
        source.note(
            "block.header", entry.start, f"block {shown} with {wanted}", found="other"
        )
    start = entry.start + (len(header) if headed else 0)
    cursor = Cursor(source, start, entry.end)
    try:
        body = READERS[entry.name](cursor, entry.version)
    except EvidenceError as error:
        if source.strict or entry.name in VITAL:
            raise
        # The trace is still whole: keep the block as it is, and say what was wrong.
        place = int(error.place.removeprefix("byte "))
        source.note("block.damaged", place, error.expected, found=error.found)
        return _kept(source, entry)
    return Block(name=entry.name, revision=entry.revision, headed=headed, body=body)


def _rest(cursor: Cursor, block: str) -> bytes:
    place, rest = cursor.place, cursor.rest()
    if rest:
        cursor.source.note(
            "block.longer", place, f"the end of {block}", found=f"{len(rest)} bytes"
        )
    return rest


def _plain_reader(
    kind: Callable[..., Body], table: tuple[Field, ...], block: str
) -> Callable[[Cursor, int], Body]:
    def read(cursor: Cursor, version: int) -> Body:
        values = read_fields(cursor, table, version=version, block=block)
        return kind(**values, rest=_rest(cursor, block))

    return read


def _read_events(cursor: Cursor, version: int) -> KeyEvents:
    count = cursor.integer("h", "number of events")
    if not 0 <= count <= MOST_EVENTS:
        wanted = f"at most {MOST_EVENTS} events"
        cursor.source.refuse(cursor.place - 2, wanted, count)
    events = tuple(
        KeyEvent(**read_fields(cursor, EVENT, version=version, block="KeyEvents"))
        for _ in range(count)
    )
    totals = read_fields(cursor, TOTALS, version=version, block="KeyEvents")
    return KeyEvents(events=events, **totals, rest=_rest(cursor, "KeyEvents"))


def _read_link(cursor: Cursor, version: int) -> LinkParameters:
    count = cursor.integer("h", "number of landmarks")
    if not 0 <= count <= MOST_EVENTS:
        wanted = f"at most {MOST_EVENTS} landmarks"
        cursor.source.refuse(cursor.place - 2, wanted, count)
    landmarks = tuple(
        Landmark(**read_fields(cursor, LANDMARK, version=version, block="LnkParams"))
        for _ in range(count)
    )
    if cursor.place < cursor.end:
        left = cursor.end - cursor.place
        cursor.source.refuse(cursor.place, "the end of LnkParams", f"{left} bytes")
    return LinkParameters(landmarks=landmarks)


def _read_data(cursor: Cursor, _version: int) -> DataPoints:
    cursor.source.places["DataPts.total"] = cursor.place
    total = cursor.integer("i", "number of points")
    count = cursor.integer("h", "number of scale factors")
    if not 1 <= count <= MOST_SCALES:
        wanted = f"1 to {MOST_SCALES} scale factors"
        cursor.source.refuse(cursor.place - 2, wanted, count)
    sets = []
    for _ in range(count):
        points = cursor.integer("i", "points of a scale factor")
        left = max(0, cursor.end - cursor.place - 2) // 2
        if not 0 <= points <= left:
            cursor.source.refuse(cursor.place - 4, f"at most {left} points", points)
        scale = cursor.integer("h", "scale factor")
        if scale <= 0:
            cursor.source.refuse(cursor.place - 2, "a scale factor above zero", scale)
        sets.append(SampleSet(scale=scale, raw=cursor.take(2 * points, "samples")))
    return DataPoints(total=total, sets=tuple(sets), rest=_rest(cursor, "DataPts"))


def _read_checksum(cursor: Cursor, _version: int) -> Body:
    place = cursor.place
    stored = cursor.integer("H", "checksum")
    if cursor.place < cursor.end:
        left = cursor.end - cursor.place
        cursor.source.refuse(cursor.place, "the end of Cksum", f"{left} bytes")
    computed = crc16_ccitt_false(cursor.source.data[:place])
    if stored != computed:
        cursor.source.note(
            "checksum.wrong", place, f"checksum {computed:#06x}", found=f"{stored:#06x}"
        )
    return Checksum(stored=stored, right=stored == computed)


READERS: dict[bytes, Callable[[Cursor, int], Body]] = {
    b"GenParams": _plain_reader(GeneralParameters, GENERAL, "GenParams"),
    b"SupParams": _plain_reader(SupplierParameters, SUPPLIER, "SupParams"),
    b"FxdParams": _plain_reader(FixedParameters, FIXED, "FxdParams"),
    b"KeyEvents": _read_events,
    b"LnkParams": _read_link,
    b"DataPts": _read_data,
    b"Cksum": _read_checksum,
}


def _check_presence(source: Source, blocks: tuple[Block, ...], end: int) -> None:
    names = [block.name for block in blocks]
    for name in VITAL:
        if name not in names:
            source.refuse(end, f"a block {name.decode()}", "none in the map")
    for name in (b"GenParams", b"SupParams", b"Cksum"):
        if name not in names:
            source.note("block.missing", end, f"a block {name.decode()}", found="none")
    if b"Cksum" in names[:-1]:
        source.note(
            "checksum.place", end, "Cksum as the last block", found="another after it"
        )


def encode(record: TraceRecord) -> bytes:
    """Bytes of a record; those it was decoded from, if nothing was changed.

    Sizes, counts and a checksum that was right are computed anew.

    Parameters
    ----------
    record : TraceRecord
        A decoded or a new record [1]

    Returns
    -------
    data : bytes
        Content of a file [byte]

    Raises
    ------
    ValueError
        If a value does not fit its field.
    """
    bodies = [_block_bytes(block) for block in record.blocks]
    out = bytearray(_map_bytes(record, [len(body) for body in bodies]))
    for block, body in zip(record.blocks, bodies, strict=True):
        if isinstance(block.body, Checksum) and block.body.right:
            out += body[:-2]
            out += crc16_ccitt_false(bytes(out)).to_bytes(2, "little")
        else:
            out += body
    return bytes(out + record.trailing)


def _map_bytes(record: TraceRecord, sizes: list[int]) -> bytes:
    entries = b"".join(
        closed_text(block.name, "block name")
        + pack("Hi", (block.revision, size), "block revision and size")
        for block, size in zip(record.blocks, sizes, strict=True)
    )
    start = MAP_NAME if record.headed else b""
    size = len(start) + 8 + len(entries) + len(record.map_rest)
    counts = (record.map_revision, size, len(sizes) + 1)
    return start + pack("HiH", counts, "map") + entries + record.map_rest


def _block_bytes(block: Block) -> bytes:
    return (block.name + b"\0" if block.headed else b"") + _content(
        block.body, block.version
    )


TABLES: dict[type[Any], tuple[Field, ...]] = {
    GeneralParameters: GENERAL,
    SupplierParameters: SUPPLIER,
    FixedParameters: FIXED,
}


def _content(body: Body, version: int) -> bytes:
    if isinstance(body, KeyEvents):
        parts = [pack("h", (len(body.events),), "number of events")]
        parts += [write_fields(event, EVENT, version=version) for event in body.events]
        parts += [write_fields(body, TOTALS, version=version), body.rest]
        return b"".join(parts)
    if isinstance(body, LinkParameters):
        parts = [pack("h", (len(body.landmarks),), "number of landmarks")]
        parts += [write_fields(m, LANDMARK, version=version) for m in body.landmarks]
        return b"".join(parts)
    if isinstance(body, DataPoints):
        parts = [pack("ih", (body.total, len(body.sets)), "number of points")]
        for part in body.sets:
            counts = (len(part.raw) // 2, part.scale)
            parts += [pack("ih", counts, "points and scale factor"), part.raw]
        return b"".join([*parts, body.rest])
    if isinstance(body, Checksum):
        return pack("H", (body.stored,), "checksum")
    if isinstance(body, Opaque):
        return body.raw
    return write_fields(body, TABLES[type(body)], version=version) + body.rest
