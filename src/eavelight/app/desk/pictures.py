"""Pictures and documents of a visit for a screen: kept, because drawing takes time."""

from dataclasses import replace
from threading import RLock
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.app.close_out import material_of
from eavelight.app.desk.decide import decision_of
from eavelight.app.desk.keep import Kept
from eavelight.app.desk.live import LiveVisit
from eavelight.app.evidence_files import LARGEST_BYTES
from eavelight.app.intake import LimitedDecoder
from eavelight.app.plan_figures import FIGURES, PAGE, Look, figure_of
from eavelight.app.plan_visit import PlannedVisit
from eavelight.assess.endface import reason_messages
from eavelight.closeout import (
    Material,
    closeout_document,
    closeout_html,
    closeout_pdf,
    customer_html,
    customer_pdf,
    customer_sheet,
)
from eavelight.closeout.copper import resistance_ohm, volts_data
from eavelight.closeout.figures import draw
from eavelight.closeout.level_story import level_figure
from eavelight.closeout.material import Signature
from eavelight.errors import EavelightError
from eavelight.model.observation import FileObservation
from eavelight.trace.results import TraceAnalysis

MOST_POINTS = 6000
DOCUMENTS = ("closeout.pdf", "closeout.html", "customer.pdf", "customer.html")


class Pictures:
    """Figures by visit, state of its record, name and width."""

    def __init__(self) -> None:
        self._kept: Kept[bytes] = Kept(200)
        self._materials: Kept[Material] = Kept(40)
        self._facts: Kept[dict[str, Any]] = Kept(60)
        # the drawing library keeps settings that threads share
        self._lock = RLock()

    def material(self, visit: LiveVisit) -> Material:
        """What documents of a visit are made from."""
        key = (visit.id, visit.line.observations)
        return self._materials.made(key, lambda: material_of(visit.assessed))

    def spoken(self, visit: LiveVisit, look: Look) -> Material:
        """What figures are made from, their labels in a language."""
        return replace(self.material(visit), language=look.language, spoken=look.spoken)

    def level(self, visit: LiveVisit, look: Look) -> bytes | None:
        """The level line as SVG; None where nothing can be expected."""
        figure = level_figure(self.spoken(visit, look))
        if figure is None:
            return None
        return self._drawn(visit, "level", figure.drawing, look)

    def level_words(self, visit: LiveVisit, look: Look) -> str:
        """The level line in words, for who cannot see it."""
        figure = level_figure(self.spoken(visit, look))
        return "" if figure is None else figure.alt

    def volts(self, visit: LiveVisit, look: Look) -> bytes | None:
        """Volts along the copper as SVG; None where no feed is planned."""
        material = self.spoken(visit, look)
        feed = visit.stored.visit.plan.feed
        if feed is None:
            return None
        line = volts_data(material, feed, resistance_ohm(material, feed))
        return self._drawn(visit, "volts", line, look)

    def _drawn(self, visit: LiveVisit, name: str, drawing: Any, look: Look) -> bytes:
        key = (visit.id, visit.line.observations, name, look)

        def make() -> bytes:
            with self._lock:
                return draw(drawing, width_mm=look.width_mm)

        return self._kept.made(key, make)

    def planned(
        self, visit: LiveVisit, planned: PlannedVisit, name: str, look: Look
    ) -> bytes | None:
        """A figure of the plan by `plan-` and its name; None where there is none."""
        start, _, figure = name.partition("-")
        if start != "plan" or figure not in FIGURES:
            return None

        def make() -> bytes:
            with self._lock:
                return figure_of(planned, figure, look) or b""

        key = (visit.id, visit.line.observations, name, look)
        return self._kept.made(key, make) or None

    def face_facts(self, visit: LiveVisit, item: FileObservation) -> dict[str, Any]:
        """What was found in the picture of an end face."""
        from eavelight.app.endface_files import face_json, grade_data

        data = bytes_of(visit, item) or b""
        key = (visit.id, item.sha256, "facts")

        def make() -> dict[str, Any]:
            try:
                graded = grade_data(
                    data,
                    name=item.evidence.file,
                    polish=item.evidence.polish or "apc",
                    um_per_px=item.evidence.um_per_px,
                )
            except EavelightError as error:
                return {"error": str(error)}
            found: dict[str, Any] = face_json(graded)
            found["reasons"] = reason_messages(graded.face) if graded.face else ()
            found["advice"] = graded.advice
            return found

        return self._facts.made(key, make)

    def trace(self, visit: LiveVisit, item: FileObservation) -> bytes:
        """One trace with its events as SVG."""
        from eavelight.app.trace_files import TraceFile
        from eavelight.app.trace_plot import overlay_of
        from eavelight.closeout.figures.trace_overlay import trace_overlay

        def make() -> bytes:
            found = TraceFile(path=item.evidence.file, analysis=item.analysis)
            with self._lock:
                return trace_overlay(overlay_of([found]))

        return self._kept.made((visit.id, item.sha256, "trace"), make)

    def face(self, visit: LiveVisit, item: FileObservation, *, zones: bool) -> bytes:
        """The picture of an end face with its marks drawn over it."""
        from eavelight.app.endface_files import face_drawn

        def make() -> bytes:
            data = bytes_of(visit, item) or b""
            return face_drawn(data, item.analysis, zones=zones) or b""

        return self._kept.made((visit.id, item.sha256, "face", zones), make)

    def small(
        self, visit: LiveVisit, item: FileObservation, decoder: LimitedDecoder
    ) -> bytes:
        """A photo small enough for a list, as JPEG; empty where there is none."""
        return self._kept.made(
            (visit.id, item.sha256, "small"),
            lambda: decoder.small(bytes_of(visit, item) or b""),
        )

    def document(
        self,
        visit: LiveVisit,
        name: str,
        look: Look = PAGE,
    ) -> bytes:
        """A closeout or customer sheet; drawn from what stands, sealed by nobody."""
        material = self.spoken(visit, look)

        def make() -> bytes:
            with self._lock:
                if name.startswith("customer"):
                    sheet = customer_sheet(material)
                    render = customer_pdf if name.endswith(".pdf") else customer_html
                    return render(sheet)
                document = closeout_document(_decided(visit, material))
                draw_it = closeout_pdf if name.endswith(".pdf") else closeout_html
                return draw_it(document)

        key = (visit.id, visit.line.observations, name, look.language)
        return self._kept.made(key, make)


def _decided(visit: LiveVisit, material: Material) -> Material:
    """What documents are made from, with what the desk decided."""
    made = decision_of(visit.stored.store, visit.id)
    if made is None:
        return material
    reason = f": {made.reason}" if made.reason else ""
    day = made.at[:16].replace("T", " ")
    said = material.say(f"closeout.signature.{made.answer.replace(' ', '_')}", day=day)
    none = material.say("closeout.signature.none")
    return replace(
        material,
        signatures=(
            Signature(
                role=material.say("closeout.signature.technician"),
                who=visit.stored.visit.head.technician or "",
                state=none,
            ),
            Signature(
                role=material.say("closeout.signature.desk"),
                who=made.by,
                state=f"{said}{reason}",
            ),
        ),
    )


def bytes_of(visit: LiveVisit, item: FileObservation) -> bytes | None:
    """The bytes of a file of a visit; None where they are not kept."""
    path = visit.stored.evidence_path(item.evidence)
    if not path.is_file() or path.stat().st_size > LARGEST_BYTES:
        return None
    return path.read_bytes()


def peaks_kept(samples: NDArray[np.float64], most: int) -> NDArray[np.intp]:
    """Where to draw a long trace: the lowest and the highest point of each stretch.

    >>> peaks_kept(np.array([0.0, 0.0, 9.0, 0.0, 0.0, 0.0, 0.0, -9.0]), 4).tolist()
    [0, 2, 4, 7]
    """
    if samples.size <= most:
        return np.arange(samples.size)
    wide = -(-2 * samples.size // most)
    starts = np.arange(0, samples.size, wide)
    full = samples[: samples.size // wide * wide].reshape(-1, wide)
    ends = np.sort(np.stack([full.argmin(axis=1), full.argmax(axis=1)], axis=1), axis=1)
    index = (starts[: full.shape[0], None] + ends).ravel()
    return np.unique(np.append(index, samples.size - 1))


def trace_points(item: FileObservation) -> dict[str, Any] | None:
    """A trace as numbers for the viewer: not more points than a screen can show."""
    found = item.analysis
    if not isinstance(found, TraceAnalysis):
        return None
    samples = np.asarray(found.samples_db, dtype=float)
    index = peaks_kept(samples, MOST_POINTS)
    metres = index * found.sample_spacing_m - found.zero_m
    return {
        "file": item.evidence.file,
        "wavelength_nm": round(found.wavelength_nm),
        "pulse_ns": found.pulse_ns,
        "metres": [round(float(x), 2) for x in metres],
        "decibel": [round(-float(y), 3) for y in samples[index]],
        "shown": [int(index.size), int(samples.size)],
        "events": [
            {
                "number": number,
                "position_m": round(event.position_m, 2),
                "position_u_m": round(event.position_u_m, 2),
                "kind": event.kind,
                "loss_db": event.loss_db,
                "loss_u_db": event.loss_u_db,
                "reflectance_db": event.reflectance_db,
            }
            for number, event in enumerate(found.events, start=1)
        ],
    }
