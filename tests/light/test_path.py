"""A path is a chain of parts with mean, spread, skew and extremes."""

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from eavelight.light.path import (
    PartPlan,
    Path,
    attenuation_at_db_per_km,
    build_path,
    fibre_sigma_db,
    loss_at_db,
)
from eavelight.standards.profiles import load_profile

DEFAULTS = load_profile().part_defaults()
GLASS = {1310: 0.34, 1490: 0.23, 1550: 0.20, 1625: 0.22}
SPLIT = {1310: 17.2, 1490: 17.0, 1550: 17.0, 1625: 17.3}
NM = [1310.0, 1490.0, 1550.0, 1625.0]


def built(parts: list[PartPlan], wavelengths: list[float] | None = None) -> Path:
    return build_path(parts, wavelengths or NM, defaults=DEFAULTS)


def test_the_drop_loses_what_its_parts_lose(path: Path) -> None:
    np.testing.assert_allclose(
        path.drop().total_db,
        [0.5323, 0.52185, 0.519, 0.5209],
        atol=1e-9,
    )


def test_the_drop_holds_both_its_connectors(path: Path) -> None:
    drop = path.drop()
    assert drop.names == ("port", "drop cable", "pigtail splice", "terminal")


def test_a_reversed_path_loses_the_same(path: Path) -> None:
    assert path.reversed().names[0] == "terminal"
    np.testing.assert_allclose(path.reversed().total_db, path.total_db)


def test_parts_without_numbers_take_those_of_the_profile() -> None:
    path = built(
        [
            PartPlan(name="s", kind="splice"),
            PartPlan(name="c", kind="connector"),
            PartPlan(name="x", kind="splitter", ratio=32),
        ]
    )
    np.testing.assert_allclose(path.loss_db[:, 0], [0.05, 0.25, 16.5])
    np.testing.assert_allclose(path.worst_db[:, 0], [0.20, 0.50, 17.8])


def test_an_attenuator_needs_its_loss() -> None:
    with pytest.raises(ValueError, match="the part 'a' needs one"):
        built([PartPlan(name="a", kind="attenuator")])


def test_an_unknown_kind_is_refused() -> None:
    with pytest.raises(ValueError, match="splitter"):
        built([PartPlan(name="a", kind="prism")])


def test_a_fibre_may_state_its_loss_instead_of_its_attenuation() -> None:
    path = built([PartPlan(name="f", kind="fibre", length_m=100, loss_db=0.07)])
    np.testing.assert_allclose(path.loss_db, 0.07)


def test_reels_are_independent_draws() -> None:
    long = built([PartPlan(name="f", kind="fibre", length_m=12000, loss_db=4.0)])
    short = built([PartPlan(name="f", kind="fibre", length_m=1000, loss_db=0.3)])
    assert long.u_db[0, 0] == pytest.approx(0.04 * math.sqrt(6))
    assert short.u_db[0, 0] == pytest.approx(0.02)


def test_the_smallest_loss_of_a_drop_is_that_of_its_glass_alone(path: Path) -> None:
    least = path.drop().total_least_db
    assert least[0] == pytest.approx(0.095 * 0.7 / 1.31**4)


@pytest.mark.parametrize("kind", ["splice", "connector"])
def test_uncertainty_of_many_grows_with_the_root_of_their_number(kind: str) -> None:
    one = built([PartPlan(name="p", kind=kind)])
    nine = built([PartPlan(name="p", kind=kind, count=9)])
    assert nine.u_db[0, 0] == pytest.approx(3.0 * one.u_db[0, 0])


def test_attenuation_between_known_wavelengths_is_met_at_the_known_ones() -> None:
    np.testing.assert_allclose(
        attenuation_at_db_per_km(GLASS, list(GLASS)), list(GLASS.values())
    )


def test_attenuation_below_the_known_wavelengths_follows_scattering() -> None:
    assert attenuation_at_db_per_km(GLASS, 1270) == pytest.approx(
        0.34 * (1310 / 1270) ** 4
    )


def test_a_loss_beyond_the_known_wavelengths_is_held() -> None:
    assert loss_at_db(SPLIT, 1270) == 17.2
    assert loss_at_db(SPLIT, 1650) == 17.3


def test_an_unknown_part_and_wavelength_are_named(path: Path) -> None:
    with pytest.raises(ValueError, match="pigtail splice"):
        path.index("splice 9")
    with pytest.raises(ValueError, match="1577"):
        path.column(1577)
    with pytest.raises(ValueError, match="comes after"):
        path.between("terminal", "port")


@settings(deadline=None, max_examples=40)
@given(length=st.floats(0, 20000), mean=st.floats(0.001, 2.0), count=st.integers(1, 20))
def test_least_mean_and_worst_never_cross(
    length: float, mean: float, count: int
) -> None:
    path = built(
        [
            PartPlan(
                name="f", kind="fibre", length_m=length, attenuation_db_per_km=GLASS
            ),
            PartPlan(name="s", kind="splice", loss_db=mean, count=count),
            PartPlan(name="c", kind="connector", loss_db=mean, count=count),
            PartPlan(name="x", kind="splitter", loss_db=15.0 * mean, ratio=8),
            PartPlan(name="w", kind="coupler", loss_db=mean),
            PartPlan(name="a", kind="attenuator", loss_db=mean),
        ]
    )
    assert np.all(path.least_db <= path.loss_db + 1e-12)
    assert np.all(path.loss_db <= path.worst_db + 1e-12)
    assert np.all(path.u_db >= 0)


def test_defaults_are_named_after_the_profile() -> None:
    assert {field.name for field in dataclasses.fields(DEFAULTS)} == {
        name.replace(".", "_") for name in load_profile().plant
    }


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: loss_at_db({}, 1310), "at least one"),
        (lambda: attenuation_at_db_per_km({}, 1550), "at least one wavelength"),
        (lambda: fibre_sigma_db(1.0, 0.02, reel_km=0.0), "must be positive"),
    ],
)
def test_nonsense_is_refused(call: object, said: str) -> None:
    with pytest.raises(ValueError, match=said):
        call()  # type: ignore[operator]


def test_the_whole_drop_has_skew_and_a_worst_case(path: Path) -> None:
    drop = path.drop()
    assert drop.total_third == pytest.approx(2 * 0.04**4 / 0.05)
    assert np.all(drop.total_worst_db > drop.total_db)


def test_a_column_is_found_by_its_wavelength(path: Path) -> None:
    assert path.column(1550) == 2
