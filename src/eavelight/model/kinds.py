"""The kinds of reading: unit, allowed places, extra keys and the range of sense.

Places are reserved words or one of three families: `connector` (any connector part),
`splice` (any splice part), `fibre` (any fibre part). `anywhere` allows all of them.
"""

from dataclasses import dataclass, field
from types import MappingProxyType

CONNECTOR = "connector"
SPLICE = "splice"
FIBRE = "fibre"
ANYWHERE = "anywhere"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingKind:
    """What one kind of reading must look like."""

    value: str
    places: tuple[str, ...]
    unit: str | None = None
    low: float | None = None
    high: float | None = None
    words: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    extra: tuple[str, ...] = field(default=())


NUMBER, FLAG, TEXT, TIME = "number", "flag", "text", "time"
LIGHT_PLACES = ("hub", CONNECTOR)

KINDS: MappingProxyType[str, ReadingKind] = MappingProxyType(
    {
        "level": ReadingKind(
            value=NUMBER,
            places=LIGHT_PLACES,
            unit="dBm",
            low=-80,
            high=30,
            needs=("wavelength_nm",),
            extra=("below",),
        ),
        "level_reported": ReadingKind(
            value=NUMBER,
            places=("terminal",),
            unit="dBm",
            low=-80,
            high=30,
            extra=("wavelength_nm",),
        ),
        "level_upstream": ReadingKind(
            value=NUMBER,
            places=("hub",),
            unit="dBm",
            low=-80,
            high=30,
            extra=("wavelength_nm",),
        ),
        "loss": ReadingKind(
            value=NUMBER,
            places=("drop", "path"),
            unit="dB",
            low=-20,
            high=80,
            needs=("wavelength_nm",),
        ),
        "splice_estimate": ReadingKind(
            value=NUMBER,
            places=(SPLICE,),
            unit="dB",
            low=-5,
            high=40,
            extra=("attempt",),
        ),
        "splice_loss": ReadingKind(
            value=NUMBER,
            places=(SPLICE,),
            unit="dB",
            low=-10,
            high=60,
            needs=("wavelength_nm", "direction"),
            extra=("attempt",),
        ),
        "cleave_angle": ReadingKind(
            value=NUMBER,
            places=(SPLICE,),
            unit="deg",
            low=0,
            high=90,
            extra=("end", "attempt"),
        ),
        "polish_seen": ReadingKind(
            value=TEXT, places=(CONNECTOR,), words=("apc", "pc"), extra=("side",)
        ),
        "endface_stated": ReadingKind(
            value=TEXT, places=(CONNECTOR,), words=("pass", "fail"), extra=("side",)
        ),
        "radius": ReadingKind(
            value=NUMBER, places=("tray", "box", "drop"), unit="mm", low=0, high=5000
        ),
        "volts": ReadingKind(
            value=NUMBER,
            places=("supply", "terminal", "battery"),
            unit="V",
            low=-400,
            high=400,
            extra=("load_w",),
        ),
        "loop_resistance": ReadingKind(
            value=NUMBER,
            places=("supply",),
            unit="ohm",
            low=0,
            high=1e6,
            extra=("line",),
        ),
        "temperature": ReadingKind(
            value=NUMBER,
            places=("outside", "box", "battery"),
            unit="°C",
            low=-90,
            high=150,
        ),
        "port_label": ReadingKind(value=TEXT, places=("port", "hub")),
        "port_registered": ReadingKind(value=TEXT, places=("port", "hub")),
        "port_in_use": ReadingKind(value=FLAG, places=("port",)),
        "neighbours_affected": ReadingKind(value=FLAG, places=("hub",)),
        "terminal_online_at": ReadingKind(value=TIME, places=("terminal",)),
        "neighbour_alarm_at": ReadingKind(value=TIME, places=("hub",)),
        "seconds_stable": ReadingKind(
            value=NUMBER, places=("terminal",), unit="s", low=0, high=1e8
        ),
        "backup_choice": ReadingKind(
            value=TEXT, places=("supply",), words=("accepted", "declined")
        ),
        "fibre_seen": ReadingKind(
            value=TEXT, places=(FIBRE,), extra=("colour", "tracer", "strands")
        ),
        "fibre_light": ReadingKind(
            value=TEXT, places=(FIBRE,), words=("follows", "steady", "dark")
        ),
        "sleeve_seen": ReadingKind(
            value=TEXT,
            places=(SPLICE,),
            words=("clear", "bubble", "bare glass", "off centre", "bent"),
            extra=("attempt",),
        ),
        "foreign_volts": ReadingKind(
            value=NUMBER,
            places=("supply", "box"),
            unit="V",
            low=-5000,
            high=5000,
            needs=("kind",),
        ),
        "insulation": ReadingKind(
            value=NUMBER, places=("supply",), unit="Mohm", low=0, high=1e9
        ),
        "status_line": ReadingKind(
            value=TEXT,
            places=("terminal",),
            words=("normal", "alarm"),
            needs=("line",),
        ),
        "lamp": ReadingKind(value=TEXT, places=("supply", "terminal"), needs=("lamp",)),
        "entry_seen": ReadingKind(value=TEXT, places=("box",), extra=("entry",)),
        "note": ReadingKind(value=TEXT, places=(ANYWHERE,)),
    }
)

STATUS_LINES = ("on battery", "battery missing", "battery low", "replace battery")

COMMON_KEYS = ("id", "what", "at", "value", "unit", "u", "time", "tool", "state")

EVIDENCE_KEYS: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {
        "trace": ("at", "toward", "lead_m", "lead_fibre", "tail_m"),
        "endface": ("at", "side", "cleaning", "polish", "um_per_px", "cleaned"),
        "photo": ("view", "at"),
    }
)
EVIDENCE_NEEDS: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {"trace": ("at",), "endface": ("at",), "photo": ("view",)}
)
EVIDENCE_COMMON_KEYS = ("file", "what", "time")

PART_KEYS: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {
        "fibre": ("fibre", "length_m", "attenuation_db_per_km", "mode_field_um"),
        "splice": ("count", "loss_db"),
        "connector": ("count", "polish", "loss_db"),
        "splitter": ("ratio", "loss_db"),
        "coupler": ("loss_db",),
        "attenuator": ("loss_db",),
    }
)
PART_NEEDS: MappingProxyType[str, tuple[str, ...]] = MappingProxyType(
    {
        "fibre": ("fibre", "length_m"),
        "splice": (),
        "connector": (),
        "splitter": ("ratio",),
        "coupler": ("loss_db",),
        "attenuator": ("loss_db",),
    }
)
PART_COMMON_KEYS = ("name", "kind")
