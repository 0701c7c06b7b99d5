"""Whether what a record says can be meant: refused where no trace comes out of it."""

from eavelight.trace.codec._meaning import first_body, likely_wavelength
from eavelight.trace.codec._source import Source
from eavelight.trace.codec.blocks import (
    Block,
    DataPoints,
    FixedParameters,
    GeneralParameters,
    KeyEvents,
)

# Glass guides light between these group indices; plastics and hollow fibre included.
POSSIBLE_INDEX = (90_000, 200_000)
USUAL_INDEX = (140_000, 155_000)
# Nominal and actual wavelength of one laser lie closer together than two bands do.
BAND_NM = 60.0
# The range setting is a round number near what the samples cover, or zero.
RANGE_RATIO = (0.5, 2.0)


def check_meaning(source: Source, blocks: tuple[Block, ...]) -> None:
    """Note or refuse values that contradict each other or physics.

    Settings and samples are there: without them the record was refused before.
    """
    fixed = next(b.body for b in blocks if isinstance(b.body, FixedParameters))
    data = next(b.body for b in blocks if isinstance(b.body, DataPoints))
    general = first_body(blocks, GeneralParameters)
    _check_wavelength(source, general, fixed)
    _check_scales(source, fixed)
    _check_points(source, fixed, data)
    table = first_body(blocks, KeyEvents)
    if table is not None and table.events:
        _check_events(source, table, fixed)


def _check_wavelength(
    source: Source, general: GeneralParameters | None, fixed: FixedParameters
) -> None:
    nominal = float(general.nominal_wavelength) if general else 0.0
    actual = fixed.wavelength / 10
    chosen = likely_wavelength(nominal, actual)
    place = source.places["FxdParams.wavelength"]
    if chosen is None:
        source.refuse(place, "a wavelength between 600 and 1800 nm", f"{actual} nm")
    if chosen != actual:
        source.note(
            "wavelength.actual", place, f"about {nominal} nm", found=f"{actual} nm"
        )
    elif abs(chosen - nominal) > BAND_NM and general:
        source.note(
            "wavelength.nominal",
            source.places["GenParams.nominal_wavelength"],
            f"about {actual} nm",
            found=f"{nominal} nm",
        )


def _check_scales(source: Source, fixed: FixedParameters) -> None:
    index, place = fixed.group_index, source.places["FxdParams.group_index"]
    if not POSSIBLE_INDEX[0] <= index <= POSSIBLE_INDEX[1]:
        source.refuse(place, "a group index between 0.9 and 2", f"{index / 1e5:g}")
    if not USUAL_INDEX[0] <= index <= USUAL_INDEX[1]:
        wanted = "a group index between 1.40 and 1.55"
        source.note("index.unusual", place, wanted, found=f"{index / 1e5:g}")
    place = source.places["FxdParams.data_spacings"]
    for spacing in fixed.data_spacings:
        if spacing <= 0:
            source.refuse(place, "a sample spacing above zero", spacing)
    place = source.places["FxdParams.pulse_widths"]
    for width in fixed.pulse_widths:
        if width == 0:
            source.refuse(place, "a pulse width above zero", "0 ns")
        if width < 0:
            source.note(
                "pulse.sign", place, f"{width & 0xFFFF} ns", found=f"{width} ns"
            )


def _check_points(source: Source, fixed: FixedParameters, data: DataPoints) -> None:
    counts = [len(part.raw) // 2 for part in data.sets]
    found, place = sum(counts), source.places["DataPts.total"]
    if data.total != found:
        source.note("points.total", place, f"{found} points", found=data.total)
    place = source.places["FxdParams.points"]
    stated = sum(fixed.points)
    lengths = list(fixed.points)
    if min(lengths) <= 0 or stated != found:
        # Several curves then come apart only by one scale factor for each.
        lengths = [found] if len(lengths) == 1 else counts
        if len(lengths) != len(fixed.points):
            source.refuse(place, f"points that add up to {found}", stated)
        source.note("points.settings", place, f"{found} points", found=stated)
    if min(lengths) < 2:
        source.refuse(place, "at least two samples for each pulse width", min(lengths))
    covered = found * fixed.data_spacings[0] * 1e-4
    if len(fixed.points) == 1 and fixed.acquisition_range != 0:
        ratio = fixed.acquisition_range / covered
        if not RANGE_RATIO[0] <= ratio <= RANGE_RATIO[1]:
            source.note(
                "range.unlike",
                source.places["FxdParams.acquisition_range"],
                f"a range near {covered:.0f}",
                found=fixed.acquisition_range,
            )


def _check_events(source: Source, table: KeyEvents, fixed: FixedParameters) -> None:
    numbers = [event.number for event in table.events]
    if numbers != list(range(numbers[0], numbers[0] + len(numbers))):
        place = source.places["KeyEvents.number"]
        source.note("events.numbers", place, "events numbered in order", found="other")
    times = [event.time for event in table.events]
    if times != sorted(times):
        place = source.places["KeyEvents.time"]
        source.note("events.order", place, "events in order of distance", found="other")
    reach = max(fixed.points) * max(fixed.data_spacings) * 1e-4
    if not (min(times) >= 0 and max(times) <= 1.01 * max(reach, 1.0)):
        place = source.places["KeyEvents.time"]
        source.note("events.beyond", place, "events on the trace", found="one beyond")
