"""Class rows close: a swapped or mixed-up number would break an identity."""

import pytest

from eavelight.errors import EvidenceError
from eavelight.standards.pon_classes import (
    Direction,
    PonClass,
    load_pon_classes,
    parse_pon_classes,
    pon_class,
)

CLASSES = list(load_pon_classes().values())
# receivers that take 2 dB more than the identity asks
MORE_TOLERANT = {"gpon-c+", "gpon-d", "gpon-c-1244"}
ROWS = [
    pytest.param(item, way, id=f"{item.id} {way}")
    for item in CLASSES
    for way in ("down", "up")
    if getattr(item, way).launch_min_dbm is not None
]


def numbers(side: Direction) -> tuple[float, float, float, float, float]:
    found = (
        side.launch_min_dbm,
        side.launch_max_dbm,
        side.sensitivity_dbm,
        side.overload_dbm,
        side.penalty_db,
    )
    assert None not in found
    return found


@pytest.mark.parametrize(("item", "way"), ROWS)
def test_sensitivity_closes_with_launch_loss_and_penalty(
    item: PonClass, way: str
) -> None:
    side = getattr(item, way)
    least, _, sensitivity, _, penalty = numbers(side)
    assert sensitivity == pytest.approx(least - side.odn_max_db - penalty, abs=1e-9)


@pytest.mark.parametrize(("item", "way"), ROWS)
def test_overload_closes_with_launch_and_loss(item: PonClass, way: str) -> None:
    side = getattr(item, way)
    _, most, _, overload, _ = numbers(side)
    spare = 2.0 if way == "down" and item.id in MORE_TOLERANT else 0.0
    assert overload == pytest.approx(most - side.odn_min_db + spare, abs=1e-9)


@pytest.mark.parametrize(
    ("id_", "floor", "ceiling"),
    [
        ("gpon-a", -20, -1), ("gpon-b", -20, -1), ("gpon-b+", -26.5, -8),
        ("gpon-c", -27, -8), ("gpon-c+", -29, -10), ("gpon-a-1244", -24, -4),
        ("gpon-b-1244", -24, -4), ("gpon-c-1244", -25, -6),
        ("xgpon-n1", -27, -8), ("xgpon-n2a", -27, -8), ("xgpon-e1", -27, -8),
        ("xgpon-e2a", -27, -8), ("xgpon-n2b", -20.5, -3.5), ("xgpon-e2b", -20.5, -3.5),
        ("xgspon-n1", -27, -9), ("xgspon-n2", -27, -9), ("xgspon-e1", -27, -9),
        ("epon-px10", -22.5, -3), ("epon-px20", -21.5, -3), ("epon-pr10", -19, -1),
        ("epon-pr20", -19, -1), ("epon-pr30", -27, -10),
    ],
)  # fmt: skip
def test_floor_and_ceiling_at_the_house_are_those_of_the_class_table(
    id_: str, floor: float, ceiling: float
) -> None:
    item = pon_class(id_)
    assert item.down.rx_floor_dbm == pytest.approx(floor)
    assert item.down.rx_ceiling_dbm == pytest.approx(ceiling)


@pytest.mark.parametrize(
    "id_",
    ["gpon-d", "xgspon-e2", "epon-px30", "epon-px40", "epon-pr40", "50gpon-n1",
     "ngpon2-n1", "xgspon-b+"],
)  # fmt: skip
def test_an_uncertain_class_is_known_and_gives_no_limit(id_: str) -> None:
    item = pon_class(id_)
    for way in ("down", "up"):
        assert item.floor(way) is None
        assert item.ceiling(way) is None
        assert getattr(item, way).launch_window_dbm is None


def test_the_uncertain_row_is_still_stored() -> None:
    assert pon_class("gpon-d").down.launch_min_dbm == 6.0


def test_the_floor_is_not_the_sensitivity() -> None:
    side = pon_class("gpon-b+").down
    assert side.rx_floor_dbm != side.sensitivity_dbm


@pytest.mark.parametrize(
    ("id_", "down", "up"),
    [("epon-pr10", 21.5, 23), ("epon-pr20", 25.5, 27), ("epon-pr30", 30.5, 32),
     ("epon-px10", 21, 23), ("epon-px20", 26, 26)],
)  # fmt: skip
def test_the_power_budget_is_that_of_the_ieee_table(
    id_: str, down: float, up: float
) -> None:
    item = pon_class(id_)
    for side, budget in ((item.down, down), (item.up, up)):
        least, _, sensitivity, _, _ = numbers(side)
        assert least - sensitivity == pytest.approx(budget)


def test_the_floor_is_a_clause_as_weak_as_its_row() -> None:
    floor = pon_class("xgspon-n1").floor()
    assert floor is not None
    assert (floor.id, floor.value, floor.bound) == (
        "pon.xgspon-n1.down.floor",
        -27.0,
        "min",
    )
    assert floor.provisional


def test_upstream_limits_are_those_at_the_line_terminal() -> None:
    floor, ceiling = (
        pon_class("gpon-b+").floor("up"),
        pon_class("gpon-b+").ceiling("up"),
    )
    assert floor is not None
    assert ceiling is not None
    assert (floor.value, ceiling.value) == (-27.5, -8.0)


@pytest.mark.parametrize(
    ("id_", "low", "high"),
    [("epon-px10", 5, 20), ("epon-px20", 10, 24), ("epon-pr30", 15, 29),
     ("epon-prx30", 15, 29)],
)  # fmt: skip
def test_channel_loss_is_that_of_the_ieee_overview(
    id_: str, low: float, high: float
) -> None:
    item = pon_class(id_)
    assert (item.smallest_loss("up").value, item.largest_loss("up").value) == (
        low,
        high,
    )


def test_a_way_is_down_or_up() -> None:
    with pytest.raises(ValueError, match="'down' or 'up'"):
        pon_class("gpon-b+").floor("sideways")


def test_a_loss_limit_exists_even_where_levels_do_not() -> None:
    assert pon_class("50gpon-c+").largest_loss().value == 32.0
    assert pon_class("50gpon-c+").smallest_loss("up").value == 17.0


def test_nominal_wavelengths_lie_in_their_bands() -> None:
    for item in CLASSES:
        for side in (item.down, item.up):
            assert side.band_nm[0] <= side.wavelength_nm <= side.band_nm[1]


def test_an_unknown_class_names_the_nearest() -> None:
    with pytest.raises(ValueError, match=r"gpon-b\+"):
        pon_class("gpon-b++")


ROW = """
[[pon_class]]
id = "x"
name = "X"
document = "D"
edition = "1"
where = "table"
odn_min_db = 10
odn_max_down_db = 20
odn_max_up_db = 20
confidence = "recalled"
[pon_class.down]
wavelength_nm = 1490
band_nm = [1480, 1500]
launch_min_dbm = 0
launch_max_dbm = 1
sensitivity_dbm = -21
overload_dbm = -9
penalty_db = 1
[pon_class.up]
wavelength_nm = 1310
band_nm = [1260, 1360]
"""


def test_half_a_row_is_refused() -> None:
    assert parse_pon_classes(ROW, file="x.toml")[0].down.rx_floor_dbm == -20
    with pytest.raises(EvidenceError, match="all five levels or none"):
        parse_pon_classes(ROW.replace("penalty_db = 1\n", ""), file="x.toml")


def test_a_misspelt_key_names_the_nearest() -> None:
    with pytest.raises(EvidenceError, match="did you mean 'overload_dbm'"):
        parse_pon_classes(ROW.replace("overload_dbm", "overlod_dbm"), file="x.toml")


def test_the_launch_window_is_that_of_the_row() -> None:
    assert pon_class("gpon-b+").down.launch_window_dbm == (1.5, 5.0)
    assert pon_class("gpon-b+").usable


def test_a_class_without_its_document_is_refused() -> None:
    with pytest.raises(EvidenceError, match="a key 'document'"):
        parse_pon_classes(ROW.replace('document = "D"\n', ""), file="x.toml")
