"""The limited process: decodes bytes and answers in JSON, without writing anything.

Run by `eavelight.app.intake.limited`. Its memory is bounded, it may create no file
of any size, and it is killed from outside when a file takes too long.
"""

import base64
import io
import json
import sys
from typing import Any, BinaryIO

from eavelight.app.intake.limited import HEAD, SMALL

MEMORY_BYTES = 3 << 30
MOST_DATA = 64_000_000
SMALL_PX = (480, 360)


def limit() -> None:
    """Bound what this process may use, where the system can."""
    try:
        import resource
    except ImportError:  # pragma: no cover  (Windows)
        return
    for what, most in (
        (resource.RLIMIT_AS, MEMORY_BYTES),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(what)
        if hard != resource.RLIM_INFINITY:
            most = min(most, hard)
        resource.setrlimit(what, (most, most))


def looked(data: bytes, about: dict[str, Any]) -> dict[str, Any]:
    """What is in a file: the same reading that the assessment will make."""
    from eavelight.app.evidence_files import observe_bytes
    from eavelight.model.observation import Evidence

    if about["what"] == SMALL:
        return {"error": None, "summary": _small(data)}
    if about["what"] == "photo":
        return {"error": None, "summary": _picture(data)}
    listed = Evidence(
        file="file",
        what=about["what"],
        at=about.get("at"),
        lead_m=about.get("lead_m"),
        tail_m=about.get("tail_m"),
        polish=about.get("polish"),
    )
    found = observe_bytes(listed, data)
    summary: dict[str, Any] = {}
    if about["what"] == "trace" and found.analysis is not None:
        summary = {
            "wavelength_nm": found.analysis.wavelength_nm,
            "length_m": found.analysis.length_m,
            "events": len(found.analysis.events),
        }
    elif found.analysis is not None:
        summary = {"verdict": found.analysis.verdict}
    return {"error": found.error, "summary": summary}


def _picture(data: bytes) -> dict[str, Any]:
    from eavelight.endface.picture import read_picture

    found = read_picture(data)
    rows, columns = found.values.shape[:2]
    return {"rows": int(rows), "columns": int(columns)}


def _small(data: bytes) -> dict[str, Any]:
    """The picture small enough for a list, as JPEG in base64."""
    from PIL import Image, ImageOps

    with Image.open(io.BytesIO(data), formats=["JPEG", "PNG", "WEBP"]) as image:
        image.draft("RGB", SMALL_PX)
        upright = ImageOps.exif_transpose(image).convert("RGB")
    upright.thumbnail(SMALL_PX)
    stream = io.BytesIO()
    upright.save(stream, "JPEG", quality=80)
    return {"jpeg": base64.b64encode(stream.getvalue()).decode("ascii")}


def serve(source: BinaryIO, target: BinaryIO) -> None:
    """Answer until the parent closes the pipe."""
    while len(head := source.read(HEAD.size)) == HEAD.size:
        size, data_size = HEAD.unpack(head)
        if size > 1_000_000 or data_size > MOST_DATA:
            return
        about = json.loads(source.read(size))
        data = source.read(data_size)
        try:
            answer = looked(data, about)
        except MemoryError:
            answer = {"error": "it needs more memory than is allowed", "summary": {}}
        except Exception as error:  # the parent must get an answer for anything
            answer = {"error": f"{type(error).__name__}: {error}", "summary": {}}
        text = json.dumps(answer, allow_nan=False, default=str).encode()
        target.write(HEAD.pack(len(text), 0))
        target.write(text)
        target.flush()


if __name__ == "__main__":
    limit()
    serve(sys.stdin.buffer, sys.stdout.buffer)
