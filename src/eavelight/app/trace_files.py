"""Trace files in, analyses out, one after the other: memory stays flat."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

from eavelight.errors import EavelightError, EvidenceError
from eavelight.trace.analyse import analyse
from eavelight.trace.codec import TraceRecord, decode
from eavelight.trace.joined import join
from eavelight.trace.results import Joined, TraceAnalysis

LARGEST_BYTES = 64_000_000


@dataclass(frozen=True, slots=True, kw_only=True)
class TraceFile:
    """One file: its record and analysis, or why there is none."""

    path: str
    record: TraceRecord | None = None
    analysis: TraceAnalysis | None = None
    error: str | None = None


def read_trace(path: Path, *, lead_m: float = 0.0, tail_m: float = 0.0) -> TraceFile:
    """Read and analyse one trace file.

    Raises
    ------
    EvidenceError
        If the file cannot be read as a trace.
    """
    record = decode(_bytes_of(path), name=path.as_posix())
    analysis = analysis_of(record, lead_m=lead_m, tail_m=tail_m)
    return TraceFile(path=path.as_posix(), record=record, analysis=analysis)


def _bytes_of(path: Path) -> bytes:
    if not path.is_file():
        raise EvidenceError(
            path.as_posix(), "file", "a trace file", "nothing", advice="check the name"
        )
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        raise EvidenceError(
            path.as_posix(), "size", f"at most {LARGEST_BYTES} bytes", f"{size} bytes"
        )
    return path.read_bytes()


def analysis_of(
    record: TraceRecord, *, lead_m: float = 0.0, tail_m: float = 0.0
) -> TraceAnalysis:
    """Analyse what a record holds; its stored events are never used."""
    name = "record"
    if record.points < 16 or not record.sample_spacing_m > 0:
        raise EvidenceError(
            name, "samples", "at least 16 samples with a spacing", f"{record.points}"
        )
    return analyse(
        -record.samples_db,
        sample_spacing_m=record.sample_spacing_m,
        pulse_ns=record.pulse_ns[0],
        wavelength_nm=record.wavelength_nm,
        group_index=record.group_index,
        backscatter_db=record.backscatter_db,
        lead_m=max(lead_m - record.first_sample_m, 0.0),
        tail_m=tail_m,
    )


def read_traces(
    paths: Iterable[Path], *, lead_m: float = 0.0, tail_m: float = 0.0
) -> Iterator[TraceFile]:
    """Read many files; one that cannot be read says why and the rest go on."""
    for path in paths:
        try:
            yield read_trace(path, lead_m=lead_m, tail_m=tail_m)
        except (EavelightError, OSError) as error:
            yield TraceFile(path=path.as_posix(), error=str(error))


@dataclass(frozen=True, slots=True, kw_only=True)
class JoinedFiles:
    """Several files of one line with what they show together."""

    items: tuple[TraceFile, ...]
    joined: Joined | None


def join_traces(
    items: Iterable[TraceFile],
    *,
    reverse: TraceFile | None = None,
    baseline: TraceFile | None = None,
) -> JoinedFiles:
    """Read several traces of one line as one; unreadable ones are left out."""
    listed = tuple(items)
    usable = [item.analysis for item in listed if item.analysis is not None]
    if not usable:
        return JoinedFiles(items=listed, joined=None)
    joined = join(
        usable,
        reverse=None if reverse is None else reverse.analysis,
        baseline=None if baseline is None else baseline.analysis,
    )
    return JoinedFiles(items=listed, joined=joined)
