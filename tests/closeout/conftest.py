"""Invented visits, written as folders, for looking at what a closeout says."""

import importlib.util
import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from eavelight.app.assess_visit import assess_visit
from eavelight.app.close_out import material_of
from eavelight.closeout import (
    Document,
    Material,
    closeout_document,
    closeout_html,
    closeout_pdf,
)
from eavelight.trace.codec import StoredEvent, encode, new_record

LIBRARIES = ("matplotlib", "typst", "jinja2", "PIL")


def installed(name: str) -> bool:
    try:
        return importlib.util.find_spec(name) is not None
    except ImportError:
        return False


# documents need the optional part [report]; the core is tested without it
if not all(installed(name) for name in LIBRARIES):
    collect_ignore_glob = ["test_*.py"]

HEAD = """
schema = "eavelight.visit/1"
[visit]
id = "{id}"
purpose = "turn-up"
started = 2026-04-02T08:10:00+02:00
ended = 2026-04-02T11:20:00+02:00
crew = "heron-1"
technician = "t44"
[site]
key = "S-7001"
[assignment]
hub = "H-3"
splitter = "1"
port = "7"
colour_scheme = "tia-598"
tube = 1
fibre = 3
terminal_serial = "INVT00007001"
[plant]
pon_class = "gpon-b+"
launch_dbm = 3.2
launch_u_db = 0.3
terminal_launch_dbm = 2.1
[[plant.part]]
name = "feeder"
kind = "fibre"
fibre = "g652d"
length_m = 4200
[[plant.part]]
name = "splitter"
kind = "splitter"
ratio = 32
[[plant.part]]
name = "port"
kind = "connector"
polish = "apc"
[[plant.part]]
name = "drop cable"
kind = "fibre"
fibre = "g657a1"
length_m = 48
[[plant.part]]
name = "pigtail splice"
kind = "splice"
[[plant.part]]
name = "terminal"
kind = "connector"
polish = "apc"
"""

FEED = """
[feed]
supply_float_v = 13.6
supply_cutoff_v = 10.8
awg = 18
length_m = 22
terminal_idle_w = 4.0
terminal_peak_w = 8.0
terminal_min_v = 9.5
terminal_max_v = 15.0
[feed.battery]
chemistry = "vrla"
capacity_ah = 7.2
"""


def reading(what: str, at: str, value: object, minute: int, **more: object) -> str:
    """One `[[reading]]`, at so many minutes after nine."""
    lines = [
        "[[reading]]",
        f'id = "{what}-{minute}"',
        f'what = "{what}"',
        f'at = "{at}"',
        f"value = {shown(value)}",
        f"time = 2026-04-02T{9 + minute // 60:02d}:{minute % 60:02d}:00+02:00",
    ]
    lines += [f"{key} = {shown(item)}" for key, item in more.items()]
    return "\n".join(lines) + "\n"


EXCEPTION = """
[[exception]]
what = "housing.dew"
at = "box"
reason = "vent ordered, comes with the next visit"
accepted_by = "desk-2"
due = 2026-05-01
"""


def shown(value: object) -> str:
    """A value as TOML writes it."""
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return value if value.startswith("2026-") else f'"{value}"'
    if isinstance(value, list):
        return "[" + ", ".join(shown(item) for item in value) + "]"
    return str(value)


CLOSED = ["lid closed"]
READY = {
    "label": reading("port_label", "port", "1/7", 2),
    "free": reading("port_in_use", "port", False, 2),
    "port": reading("level", "port", -14.7, 6, unit="dBm", wavelength_nm=1490),
    "light": reading("fibre_light", "drop cable", "follows", 9),
    "apc": reading("polish_seen", "terminal", "apc", 12, side="plug"),
    "apc_2": reading("polish_seen", "terminal", "apc", 13, side="adapter"),
    "cleave": reading(
        "cleave_angle", "pigtail splice", 0.4, 20, unit="deg", end="cable"
    ),
    "estimate_1": reading(
        "splice_estimate", "pigtail splice", 0.14, 25, unit="dB", attempt=1
    ),
    "estimate_2": reading(
        "splice_estimate", "pigtail splice", 0.03, 31, unit="dB", attempt=2
    ),
    "face": reading("endface_stated", "terminal", "pass", 36, side="plug"),
    "loss_open": reading(
        "loss", "drop", 0.41, 44, unit="dB", wavelength_nm=1550, state=["lid open"]
    ),
    "loss_1310": reading(
        "loss", "drop", 0.52, 50, unit="dB", wavelength_nm=1310, state=CLOSED
    ),
    "loss_1550": reading(
        "loss", "drop", 0.49, 51, unit="dB", wavelength_nm=1550, state=CLOSED
    ),
    "terminal": reading(
        "level", "terminal", -15.3, 54, unit="dBm", wavelength_nm=1490, state=CLOSED
    ),
    "foreign_ac": reading("foreign_volts", "supply", 0.0, 56, unit="V", kind="ac"),
    "foreign_dc": reading("foreign_volts", "supply", 0.0, 57, unit="V", kind="dc"),
    "loop": reading("loop_resistance", "supply", 0.93, 60, unit="ohm"),
    "supply": reading("volts", "supply", 13.62, 64, unit="V", state=["loaded"]),
    "loaded": reading(
        "volts", "terminal", 13.03, 66, unit="V", state=["loaded"], load_w=8.0
    ),
    "registered": reading("port_registered", "hub", "1/7", 75),
    "online": reading(
        "terminal_online_at", "terminal", "2026-04-02T10:16:00+02:00", 78
    ),
    "stable": reading("seconds_stable", "terminal", 1500, 105, unit="s"),
    "backup": reading("backup_choice", "supply", "accepted", 106),
    "entry": reading("entry_seen", "box", "good", 108),
}
VIEWS = ("house", "label-port", "label-house", "open", "closed", "supply")


def changed(**values: str) -> dict[str, str]:
    """The clean readings with some of them others, or taken out by an empty text."""
    return {**READY, **values}


BEND = changed(
    loss_1310=reading(
        "loss", "drop", 0.91, 50, unit="dB", wavelength_nm=1310, state=CLOSED
    ),
    loss_1550=reading(
        "loss", "drop", 4.02, 51, unit="dB", wavelength_nm=1550, state=CLOSED
    ),
    terminal=reading(
        "level", "terminal", -17.6, 54, unit="dBm", wavelength_nm=1490, state=CLOSED
    ),
)
JOINT = changed(
    loaded=reading(
        "volts", "terminal", 10.4, 66, unit="V", state=["loaded"], load_w=8.0
    ),
)
FEW = {name: READY[name] for name in ("label", "port", "estimate_2", "loss_open")}
KINDS = {"ready": READY, "bend": BEND, "joint": JOINT, "incomplete": FEW}


def picture(
    shade: int, *, kind: str = "JPEG", size: tuple[int, int] = (400, 300)
) -> bytes:
    """A flat scene with a box in it."""
    from PIL import Image

    image = Image.new("RGB", size, (shade, shade, 200))
    image.paste(
        (240, 240, 240), (size[0] // 3, size[1] // 4, size[0] // 2, size[1] // 2)
    )
    stream = io.BytesIO()
    image.save(stream, kind)
    return stream.getvalue()


def trace() -> bytes:
    """A short drop behind a lead, with noise and two stored events."""
    spacing, rng = 0.5, np.random.default_rng(11)
    metres = np.arange(1200) * spacing
    level = -18.0 - 0.19e-3 * metres
    level = np.where(metres > 150, level - 0.15, level)
    level = np.where(metres > 198, -40.0 + rng.normal(0, 2, metres.size), level)
    events = [
        StoredEvent(position_m=150.0, loss_db=0.15, code="0F9999"),
        StoredEvent(position_m=198.0, loss_db=0.0, code="0E9999"),
    ]
    record = new_record(
        level + rng.normal(0, 0.02, metres.size),
        spacing_m=spacing,
        wavelength_nm=1550,
        pulse_ns=20,
        group_index=1.468,
        events=events,
    )
    return encode(record)


def evidence(file: str, what: str, **more: object) -> str:
    """One `[[evidence]]`."""
    lines = ["[[evidence]]", f'file = "{file}"', f'what = "{what}"']
    return "\n".join([*lines, *(f"{k} = {shown(v)}" for k, v in more.items())]) + "\n"


def write_files(folder: Path, *, views: tuple[str, ...] = VIEWS) -> str:
    """Evidence files of an ordinary visit, and their lines in the record."""
    (folder / "evidence").mkdir(parents=True, exist_ok=True)
    lines = []
    for number, view in enumerate(views):
        name = f"evidence/{view}.jpg"
        (folder / name).write_bytes(picture(60 + 20 * number))
        lines.append(evidence(name, "photo", view=view))
    (folder / "evidence/plug.png").write_bytes(picture(90, kind="PNG", size=(200, 200)))
    lines.append(
        evidence(
            "evidence/plug.png", "endface", at="terminal", side="plug", cleaning=["dry"]
        )
    )
    (folder / "evidence/drop.sor").write_bytes(trace())
    lines.append(
        evidence(
            "evidence/drop.sor", "trace", at="terminal", toward="port", lead_m=150.0
        )
    )
    return "".join(lines)


def write_visit(folder: Path, kind: str = "ready", *, more: str = "") -> Path:
    """A visit of one kind; `more` is added to its text."""
    folder.mkdir(parents=True, exist_ok=True)
    files = write_files(folder, views=VIEWS[:2] if kind == "incomplete" else VIEWS)
    text = HEAD.format(id=f"V-{kind}") + FEED + "".join(KINDS[kind].values())
    (folder / "visit.toml").write_text(text + files + more, encoding="utf-8")
    return folder


@pytest.fixture
def visit(tmp_path: Path) -> Callable[..., Path]:
    """Writes a visit of a kind and gives its folder, alone in its parent."""

    def make(kind: str = "ready", *, more: str = "") -> Path:
        return write_visit(tmp_path / "visits" / f"V-{kind}", kind, more=more)

    return make


@dataclass(frozen=True, kw_only=True)
class Made:
    """A visit with its document and what the doors made of it."""

    folder: Path
    document: Document
    html: str
    pdf: bytes


def material_at(folder: Path) -> Material:
    return material_of(assess_visit(str(folder), alone=True))


def made_of(folder: Path) -> Made:
    document = closeout_document(material_at(folder))
    return Made(
        folder=folder,
        document=document,
        html=closeout_html(document).decode("utf-8"),
        pdf=closeout_pdf(document),
    )


@pytest.fixture(scope="session")
def made(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Made]:
    """The documents of each kind of visit, made once for all tests."""
    held: dict[str, Made] = {}

    def of(kind: str) -> Made:
        if kind not in held:
            folder = tmp_path_factory.mktemp(kind) / f"V-{kind}"
            more = "" if kind == "ready" else EXCEPTION
            held[kind] = made_of(write_visit(folder, kind, more=more))
        return held[kind]

    return of


@pytest.fixture
def material() -> Callable[[Path], Material]:
    """What the closeout of a folder is made from."""
    return material_at


@pytest.fixture
def rendered() -> Callable[[Path], Made]:
    """Document, page and PDF of a folder."""
    return made_of
