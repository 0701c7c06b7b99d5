"""Evidence files: identity by SHA-256, content where a room can decode it."""

import hashlib
from pathlib import Path
from typing import TYPE_CHECKING, Any

from eavelight.app.trace_files import analysis_of
from eavelight.errors import EvidenceError, MissingFeatureError
from eavelight.model.observation import Evidence, FileObservation
from eavelight.trace.codec import decode, samples_digest

if TYPE_CHECKING:
    from eavelight.endface.face import Face

LARGEST_BYTES = 200_000_000
NOT_KEPT = "its bytes are not kept here; its digest is"
NOT_RECORDED = "its bytes are not those that were recorded; see eavelight verify"


def observe_file(
    evidence: Evidence,
    path: Path,
    *,
    measure: bool = True,
    recorded: str | None = None,
    is_copy: bool = False,
) -> FileObservation:
    """Hash one evidence file and decode it as what it is listed as.

    A file that cannot be decoded keeps its identity and says why. `measure` off only
    decodes, for visits that are compared and not assessed. `recorded` is the digest
    that a record holds; it stays the identity where the bytes are gone or `is_copy`.
    """
    if recorded is not None and not path.is_file():
        return FileObservation(
            evidence=evidence, sha256=recorded, size_bytes=0, error=NOT_KEPT
        )
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        digest = _hash_in_pieces(path)
        return FileObservation(
            evidence=evidence,
            sha256=digest,
            size_bytes=size,
            error=f"larger than {LARGEST_BYTES} bytes, not decoded",
        )
    return observe_bytes(
        evidence, path.read_bytes(), measure=measure, recorded=recorded, is_copy=is_copy
    )


def observe_bytes(
    evidence: Evidence,
    data: bytes,
    *,
    measure: bool = True,
    recorded: str | None = None,
    is_copy: bool = False,
) -> FileObservation:
    """Hash evidence bytes and decode them as what they are listed as."""
    digest = hashlib.sha256(data).hexdigest()
    if recorded is not None and digest != recorded and not is_copy:
        return FileObservation(
            evidence=evidence, sha256=digest, size_bytes=len(data), error=NOT_RECORDED
        )
    content, samples, error = None, None, None
    analysis: Any = None
    try:
        if evidence.what == "trace":
            content = decode(data, name=evidence.file)
            samples = samples_digest(content)
            if measure:
                analysis = analysis_of(
                    content,
                    lead_m=evidence.lead_m or 0.0,
                    tail_m=evidence.tail_m or 0.0,
                )
        elif evidence.what == "endface" and measure:
            analysis = _graded(evidence, data)
    except (EvidenceError, MissingFeatureError) as problem:
        error = str(problem)
    return FileObservation(
        evidence=evidence,
        sha256=recorded or digest,
        size_bytes=len(data),
        samples_sha256=samples,
        content=content,
        analysis=analysis,
        error=error,
    )


def _graded(evidence: Evidence, data: bytes) -> "Face | None":
    """The graded face of a picture; loaded here, because few visits need it."""
    from eavelight.app.endface_files import grade_data

    return grade_data(
        data,
        name=evidence.file,
        polish=evidence.polish or "apc",
        um_per_px=evidence.um_per_px,
    ).face


def _hash_in_pieces(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()
