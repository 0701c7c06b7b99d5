"""Evidence files: identity by SHA-256, content where a room can decode it."""

import hashlib
from pathlib import Path

from eavelight.app.trace_files import analysis_of
from eavelight.errors import EvidenceError
from eavelight.model.observation import Evidence, FileObservation
from eavelight.trace.codec import decode, samples_digest

LARGEST_BYTES = 200_000_000


def observe_file(
    evidence: Evidence, path: Path, *, measure: bool = True
) -> FileObservation:
    """Hash one evidence file and decode it as what it is listed as.

    A file that cannot be decoded keeps its identity and says why. `measure` off only
    decodes, for visits that are compared and not assessed.
    """
    size = path.stat().st_size
    if size > LARGEST_BYTES:
        digest = _hash_in_pieces(path)
        return FileObservation(
            evidence=evidence,
            sha256=digest,
            size_bytes=size,
            error=f"larger than {LARGEST_BYTES} bytes, not decoded",
        )
    data = path.read_bytes()
    digest = hashlib.sha256(data).hexdigest()
    content, samples, analysis, error = None, None, None, None
    if evidence.what == "trace":
        try:
            content = decode(data, name=evidence.file)
            samples = samples_digest(content)
            if measure:
                analysis = analysis_of(
                    content,
                    lead_m=evidence.lead_m or 0.0,
                    tail_m=evidence.tail_m or 0.0,
                )
        except EvidenceError as problem:
            error = str(problem)
    return FileObservation(
        evidence=evidence,
        sha256=digest,
        size_bytes=size,
        samples_sha256=samples,
        content=content,
        analysis=analysis,
        error=error,
    )


def _hash_in_pieces(path: Path) -> str:
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while piece := stream.read(1 << 20):
            digest.update(piece)
    return digest.hexdigest()
