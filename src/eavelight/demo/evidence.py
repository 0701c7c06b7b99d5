"""Traces and pictures of the invented visits, from the simulators of this room.

Every file says that it is invented: in the record's comment, or drawn on the picture.
"""

import io
from datetime import datetime
from pathlib import Path

import numpy as np

from eavelight.demo import endface_simulator as faces
from eavelight.demo.trace_simulator import Fibre, Instrument, Joint, simulate_trace
from eavelight.demo.truth import House
from eavelight.errors import MissingFeatureError
from eavelight.trace.codec import Settings, encode, new_record

LABEL = "INVENTED, for demonstration"
LEAD_M = 150.0


def trace_bytes(
    house: House,
    wavelength_nm: int,
    *,
    visit: str,
    time: datetime,
    rng: np.random.Generator,
    bend_db: float = 0.0,
    kink: tuple[float, float] | None = None,
    seed: int = 0,
) -> bytes:
    """A record taken at the terminal toward the port, behind a launch lead."""
    joint_db = house.splice_db + bend_db
    plant = (
        Fibre(length_m=LEAD_M, seed=1),
        Joint(kind="connector", loss_db=house.terminal_db, reflectance_db=-62.0),
        Fibre(length_m=2.0, seed=seed + 2),
        Joint(kind="splice", loss_db=joint_db),
        *_drop(house.drop_m, kink, seed + 3),
        Joint(kind="connector", loss_db=house.port_db, reflectance_db=-61.0),
        Fibre(length_m=180.0, seed=4),
        Joint(kind="splitter", loss_db=16.8),
        Fibre(length_m=900.0, seed=5),
        Joint(kind="end", loss_db=0.0),
    )
    instrument = Instrument(
        pulse_ns=10.0,
        spacing_m=0.16,
        range_m=900.0,
        receiver_ns=3.0,
        front_reflectance_db=-55.0,
    )
    drawn = simulate_trace(plant, instrument, wavelength_nm, rng=rng)
    settings = Settings(
        acquired=time,
        texts={"fibre_id": visit, "comment": LABEL},
        backscatter_db=drawn.backscatter_db,
        averages=20000,
        averaging_time_s=20,
        first_sample_m=drawn.first_m,
    )
    record = new_record(
        -drawn.samples_db,
        spacing_m=drawn.spacing_m,
        wavelength_nm=drawn.wavelength_nm,
        pulse_ns=drawn.pulse_ns,
        group_index=drawn.group_index,
        settings=settings,
    )
    return encode(record)


def _drop(
    length_m: float, kink: tuple[float, float] | None, seed: int
) -> tuple[Fibre | Joint, ...]:
    """The drop cable, with a bend of so many dB at so many metres if there is one."""
    if kink is None:
        return (Fibre(length_m=length_m, seed=seed),)
    place, loss = kink
    return (
        Fibre(length_m=place, seed=seed),
        Joint(kind="bend", loss_db=loss),
        Fibre(length_m=length_m - place, seed=seed + 1),
    )


def face_bytes(seed: int, *, dirty: bool = False, cleaned_once: bool = False) -> bytes:
    """A picture of a plug's end face.

    Dirty, it carries a flake, a speck and a drop of oil; one dry pass takes all but the
    oil.
    """
    rng = np.random.default_rng(seed + (500 if cleaned_once else 0))
    oil = faces.Droplet(row_um=-14.0, col_um=12.0, diameter_um=11.0)
    marks: tuple[faces.Mark, ...] = ()
    if cleaned_once:
        marks = (oil,)
    elif dirty:
        marks = (
            faces.Flake(row_um=6.0, col_um=-9.0, radius_um=7.0),
            oil,
            faces.Disc(row_um=24.0, col_um=8.0, diameter_um=5.0),
        )
    offset = (float(rng.uniform(-12, 12)), float(rng.uniform(-12, 12)))
    scene = faces.Scene(offset_um=offset, axis_ratio=1.0098, axis_deg=20.0, marks=marks)
    return faces.encoded(faces.draw(scene, rng))


def photo_bytes(view: str, *, visit: str, text: str) -> bytes:
    """A drawn stand-in for a photo: what it would show, in words and simple shapes."""
    try:
        from PIL import Image, ImageDraw, ImageFont
    except ImportError as error:
        raise MissingFeatureError("pictures of the demo", "image", str(error)) from None
    image = Image.new("RGB", (800, 600), "white")
    draw = ImageDraw.Draw(image)
    large, small = ImageFont.load_default(34), ImageFont.load_default(22)
    draw.rectangle((40, 40, 760, 560), outline="black", width=3)
    SHAPES.get(view, _frame)(draw)
    draw.text((60, 56), f"{visit} · {view}", fill="black", font=large)
    draw.text((60, 470), text, fill="black", font=small)
    draw.text(
        (60, 516), f"Drawing instead of a photo. {LABEL}.", fill="black", font=small
    )
    stream = io.BytesIO()
    image.save(stream, "PNG")
    return stream.getvalue()


def _frame(draw: object) -> None:
    draw.rectangle((280, 180, 520, 430), outline="black", width=3)  # type: ignore[attr-defined]


def _house(draw: object) -> None:
    line = draw.line  # type: ignore[attr-defined]
    line(
        (220, 430, 220, 260, 400, 150, 580, 260, 580, 430, 220, 430),
        fill="black",
        width=4,
    )
    draw.rectangle((500, 320, 550, 390), outline="black", width=4)  # type: ignore[attr-defined]


def _open_box(draw: object) -> None:
    _frame(draw)
    for radius in (60, 72, 84):
        box = (400 - radius, 305 - radius // 2, 400 + radius, 305 + radius // 2)
        draw.ellipse(box, outline="black", width=2)  # type: ignore[attr-defined]


def _label(draw: object) -> None:
    draw.rectangle((250, 230, 550, 380), outline="black", width=5)  # type: ignore[attr-defined]


SHAPES = {
    "house": _house,
    "open": _open_box,
    "label-port": _label,
    "label-house": _label,
}


def write_file(folder: Path, name: str, data: bytes) -> str:
    """Write one evidence file and return its path inside the visit."""
    path = folder / "evidence" / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    return f"evidence/{name}"
