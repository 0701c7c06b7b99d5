"""Battery types as data: from a capacity on a label to models, curve and tables."""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from eavelight.power.battery import (
    RestVoltage,
    TemperatureTable,
    capacity_fraction_linear,
    sizing_factor,
    sizing_factor_polynomial,
)
from eavelight.power.discharge import Block, points_from_power_table
from eavelight.power.rate_models import (
    Kibam,
    Peukert,
    RateModel,
    kibam_capacity_ah,
    models_from_points,
)
from eavelight.standards.clauses import nearest

Row = tuple[float, float, float]
"""Hours, watts of the block, end voltage of the block."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryType:
    """What is known about a chemistry in the small sizes of house supplies.

    `capacity_spread` is how far a new battery may lie from its label; the pairs of
    `life_years`, `halving_k`, `recharge_factor` and `recharge_tail_h` are (low, high)
    as sources disagree.
    """

    id: str
    title: str
    volts_per_cell: float
    float_per_cell: float
    cells_step: int
    curve_cells: int
    curve_hours: float
    depth: tuple[float, ...]
    volts: tuple[float, ...]
    ohm_ah_per_cell: float
    sheet_hours: tuple[float, ...]
    sheet_ratio: tuple[float, ...]
    wells: tuple[tuple[float, float], ...]
    exponents: tuple[float, ...]
    capacity_spread: float
    temperature: TemperatureTable
    rest: RestVoltage
    life_years: tuple[float, float]
    halving_k: tuple[float, float]
    life_reference_c: float
    end_fraction: float
    loss_per_month: float
    loss_reference_c: float
    loss_doubling_k: float
    float_25c_per_cell_v: float
    float_slope_per_cell_v_per_k: float
    float_clamp_c: tuple[float, float]
    charge_window_c: tuple[float, float]
    discharge_window_c: tuple[float, float]
    empty_freezes_c: float
    gas_float_ma_per_ah: float
    gas_boost_ma_per_ah: float
    recharge_factor: tuple[float, float]
    recharge_tail_h: tuple[float, float]
    confidence: Mapping[str, str]

    def cells(self, float_v: float) -> int:
        """Cells in series that a supply with this float voltage charges.

        A supply that feeds a steady 12 V still carries a block of six.

        >>> [battery_type("vrla").cells(volts) for volts in (13.6, 12.0, 54.4)]
        [6, 6, 24]
        """
        step = self.cells_step
        return max(1, round(float_v / self.float_per_cell / step)) * step

    def sheet_ah(self, capacity_ah: float, rating_hours: float) -> float:
        """Capacity over the longest duration of the sheet from that on a label.

        >>> battery_type("vrla").sheet_ah(6.5, 10.0)
        6.99
        """
        logs = np.log(self.sheet_hours)
        ratio = float(np.interp(np.log(rating_hours), logs, self.sheet_ratio))
        return capacity_ah / ratio * self.sheet_ratio[-1]

    def block(self, capacity_ah: float, *, rating_hours: float, cells: int) -> Block:
        """Voltage over depth of this many cells of this capacity."""
        scale = cells / self.curve_cells
        full = self.sheet_ah(capacity_ah, rating_hours)
        return Block(
            depth=self.depth,
            volts=tuple(v * scale for v in self.volts),
            reference_a=full / self.curve_hours,
            resistance_ohm=self.ohm_ah_per_cell * cells / full,
        )

    def models(
        self,
        capacity_ah: float,
        *,
        rating_hours: float,
        near_h: float,
        block: Block | None = None,
        table: Sequence[Row] = (),
        end_v: float = 0.0,
    ) -> tuple[RateModel, ...]:
        """Models whose spread is the spread of the sources.

        With a maker's `table` of constant power (then `block` is needed) only models
        of that table are made.
        """
        if table:
            if block is None:
                raise ValueError("block is needed beside a table")
            hours, charge = points_from_power_table(table, block, end_v=end_v)
            if len(hours) > 1:
                return models_from_points(
                    hours, charge, near_h=near_h, curve_h=self.curve_hours
                )
            capacity_ah, rating_hours = charge[0], hours[0]
        full = self.sheet_ah(capacity_ah, rating_hours)
        found = list(
            models_from_points(
                self.sheet_hours,
                [full * ratio for ratio in self.sheet_ratio],
                near_h=near_h,
                curve_h=self.curve_hours,
            )
        )
        found.extend(self._others(full))
        return tuple(found)

    def _others(self, full_ah: float) -> list[RateModel]:
        longest = self.sheet_hours[-1]
        found: list[RateModel] = [
            Peukert(capacity_ah=full_ah, rating_h=longest, exponent=k, most_ah=full_ah)
            for k in self.exponents
        ]
        for c, k in self.wells:
            unit = kibam_capacity_ah(
                longest, available_fraction=c, rate_per_h=k, total_ah=1.0
            )
            found.append(
                Kibam.of(
                    available_fraction=c,
                    rate_per_h=k,
                    total_ah=full_ah / unit,
                    curve_h=self.curve_hours,
                )
            )
        return found


@cache
def _document() -> dict[str, Any]:
    path = files("eavelight.standards") / "data" / "parameters" / "batteries.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


@cache
def sizing_table() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """IEEE 485 temperatures in °C and factors, rows seen and rows recalled."""
    rows = _document()["ieee_485"]
    merged = sorted(
        (float(f), v) for f, v in {**rows["seen"], **rows["recalled"]}.items()
    )
    return tuple(_celsius(f) for f, _ in merged), tuple(v for _, v in merged)


@cache
def capacity_test_table() -> tuple[tuple[float, ...], tuple[float, ...]]:
    """IEEE 450 and 1188 test divisors: temperatures in °C and divisors."""
    rows = sorted(
        (float(f), v) for f, v in _document()["ieee_485"]["test_divisor"].items()
    )
    return tuple(_celsius(f) for f, _ in rows), tuple(v for _, v in rows)


def _temperature_table(entry: Mapping[str, Any]) -> TemperatureTable:
    if entry.get("low_cold") != "ieee 485":
        points = tuple(entry["low_cold_c"])
        return TemperatureTable(
            temperature_c=points,
            low=tuple(entry["low_cold_fraction"]),
            high=tuple(entry["high_cold_fraction"]),
            covered_c=(points[0], points[-1] + 20.0),
        )
    table_c, factors = sizing_table()
    polynomial = _document()["ieee_485"]["polynomial"]
    grid = tuple(float(t) for t in range(-40, 61))
    low = []
    for celsius in grid:
        factor = sizing_factor(celsius, table_c=table_c, table_factor=factors)
        if np.isnan(factor):
            factor = sizing_factor_polynomial(celsius, coefficients=polynomial)
        low.append(1.0 / factor)
    high = [
        capacity_fraction_linear(
            celsius,
            per_k=entry["high_cold_per_k"],
            reference_c=entry["high_cold_reference_c"],
        )
        for celsius in grid
    ]
    return TemperatureTable(
        temperature_c=grid,
        low=tuple(low),
        high=tuple(high),
        covered_c=(table_c[0], table_c[-1]),
    )


_NOT_FIELDS = {
    "rest_charge", "rest_low_v", "rest_high_v", "low_cold", "low_cold_c",
    "low_cold_fraction", "high_cold_fraction", "high_cold_per_k",
    "high_cold_reference_c",
}  # fmt: skip


def _tuples(value: Any) -> Any:
    return tuple(_tuples(item) for item in value) if isinstance(value, list) else value


@cache
def battery_types() -> dict[str, BatteryType]:
    """Every battery type by id."""
    found = {}
    for entry in _document()["battery"]:
        confidence = {
            key.removesuffix("_confidence"): value
            for key, value in entry.items()
            if key.endswith("_confidence")
        }
        fields = {
            key: _tuples(value)
            for key, value in entry.items()
            if key not in _NOT_FIELDS and not key.endswith("_confidence")
        }
        found[entry["id"]] = BatteryType(
            **fields,
            confidence=confidence,
            temperature=_temperature_table(entry),
            rest=RestVoltage(
                charge=tuple(entry["rest_charge"]),
                low_v=tuple(entry["rest_low_v"]),
                high_v=tuple(entry["rest_high_v"]),
            ),
        )
    return found


def battery_type(chemistry: str) -> BatteryType:
    """Battery type by chemistry; an unknown one names the nearest."""
    types = battery_types()
    if chemistry not in types:
        raise ValueError(
            f"chemistry: no battery type {chemistry!r}; {nearest(chemistry, types)}"
        )
    return types[chemistry]
