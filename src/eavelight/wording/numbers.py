"""Numbers as people read them: unit always, and only the digits that mean something."""

import math
from datetime import datetime

# Decimals of a unit where no uncertainty says better.
DECIMALS = {
    "dBm": 1, "dB": 2, "V": 2, "W": 1, "ohm": 2, "nm": 0, "m": 1, "mm": 0, "km": 2,
    "deg": 1, "s": 0, "h": 1, "°C": 0, "K": 0, "Ah": 1, "%": 0, "µm": 1, "Mohm": 1,
    "A": 2, "min": 0,
}  # fmt: skip
NAMES = {"ohm": "Ω", "deg": "°", "Mohm": "MΩ", "%": "%", "1": ""}
CLOSE = {"°", "%"}


def minus(text: str) -> str:
    """A hyphen in front of a number as the minus sign that it means."""
    return text.replace("-", "−") if text.startswith("-") else text


def shown(value: float, decimals: int) -> str:
    """A number with fixed decimals, never a negative zero."""
    text = f"{value:.{decimals}f}"
    if float(text) == 0:
        text = f"{0:.{decimals}f}"
    return minus(text)


def unit_name(unit: str) -> str:
    """The unit as printed."""
    return NAMES.get(unit, unit)


def quantity(value: float | None, unit: str, *, signed: bool = False) -> str:
    """A number with its unit.

    >>> quantity(-18.69, "dBm")
    '−18.7 dBm'
    >>> quantity(None, "V")
    'unknown'
    """
    if value is None or not math.isfinite(value):
        return "unknown"
    text = shown(value, DECIMALS.get(unit, 2))
    if signed and value > 0:
        text = "+" + text
    return _joined(text, unit)


def _joined(text: str, unit: str) -> str:
    name = unit_name(unit)
    if not name:
        return text
    return f"{text}{name}" if name in CLOSE else f"{text} {name}"


def with_uncertainty(value: float, u: float | None, unit: str) -> str:
    """A number with twice its standard uncertainty, to the digits that allows.

    >>> with_uncertainty(-16.86, 0.19, "dBm")
    '−16.9 ± 0.4 dBm'
    """
    if u is None or u <= 0 or not math.isfinite(u):
        return quantity(value, unit)
    wide = 2.0 * u
    decimals = max(0, min(3, -math.floor(math.log10(wide))))
    if decimals == 0 and wide < 1:
        decimals = 1
    text = f"{shown(value, decimals)} ± {shown(wide, decimals)}"
    return _joined(text, unit)


def clock(value: datetime) -> str:
    """A time of day with its offset; the date stands in the head of the page."""
    return value.strftime("%Y-%m-%d %H:%M")
