"""Fibre types with edition, typical values and the clauses of their bend limits."""

import tomllib
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from eavelight.glass.fibre import AttenuationModel, BendLimit, FibreType
from eavelight.standards.clauses import clause, nearest


@cache
def _document() -> dict[str, Any]:
    path = files("eavelight.standards") / "data" / "parameters" / "fibre_types.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def _pairs(table: Mapping[str, float]) -> tuple[tuple[float, ...], tuple[float, ...]]:
    return tuple(float(key) for key in table), tuple(table.values())


@cache
def fibre_types() -> dict[str, FibreType]:
    """Every fibre type by id.

    >>> fibre_types()["g657a2"].design_radius_mm
    7.5
    """
    document = _document()
    make_up: dict[str, Any] = {
        name: AttenuationModel(**values)
        for name, values in document["attenuation"].items()
    }
    found = {}
    for entry in document["fibre"]:
        fields: dict[str, Any] = {
            key: tuple(value) if isinstance(value, list) else value
            for key, value in entry.items()
            if key not in {"aliases", "macrobend", "mode_field_um", "group_index"}
        }
        mode_nm, mode_um = _pairs(entry["mode_field_um"])
        index_nm, index = _pairs(entry["group_index"])
        found[entry["id"]] = FibreType(
            **fields,
            mode_field_nm=mode_nm,
            mode_field_um=mode_um,
            group_index_nm=index_nm,
            group_index=index,
            bend_limits=tuple(
                BendLimit(loss_db=clause(row["clause"]).value, **row)
                for row in entry["macrobend"]
            ),
            **make_up,
        )
    return found


def fibre_type(name: str) -> FibreType:
    """Fibre type by id, or by an older or longer name of it.

    B2 of old cable counts as A2 for its bend limits.

    >>> fibre_type("G.657.A1").id
    'g657a1'
    """
    types = fibre_types()
    aliases = {
        alias: entry["id"]
        for entry in _document()["fibre"]
        for alias in (entry["id"], *entry["aliases"])
    }
    word = name.strip().lower()
    if word not in aliases:
        raise ValueError(f"name: no fibre type {name!r}; {nearest(word, types)}")
    return types[aliases[word]]


def attenuation_default(
    name: str, wavelength_nm: float, *, cabled: bool = True
) -> tuple[float, float]:
    """Typical attenuation of a type and its standard uncertainty [dB/km].

    >>> attenuation_default("g652d", 1550.0)
    (0.21, 0.02)
    """
    model = fibre_type(name).attenuation(cabled=cabled)
    return (
        float(model.mean(wavelength_nm)),
        float(model.standard_uncertainty(wavelength_nm)),
    )
