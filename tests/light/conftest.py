"""The plant that several tests share, worked by hand in `test_levels.py`."""

import pytest

from eavelight.light.path import PartPlan, Path, build_path
from eavelight.standards.profiles import load_profile

GLASS = {1310: 0.34, 1490: 0.23, 1550: 0.20, 1625: 0.22}
SPLIT = {1310: 17.2, 1490: 17.0, 1550: 17.0, 1625: 17.3}


@pytest.fixture(scope="session")
def path() -> Path:
    """A 1:32 plant with a drop of 95 m at four wavelengths."""
    return build_path(
        common_plant(),
        [1310.0, 1490.0, 1550.0, 1625.0],
        defaults=load_profile().part_defaults(),
    )


def common_plant(drop_m: float = 95.0) -> list[PartPlan]:
    return [
        PartPlan(
            name="feeder", kind="fibre", length_m=5800, attenuation_db_per_km=GLASS
        ),
        PartPlan(name="feeder splices", kind="splice", count=5, loss_db=0.05),
        PartPlan(name="street connectors", kind="connector", count=3, loss_db=0.25),
        PartPlan(name="splitter", kind="splitter", ratio=32, loss_db=SPLIT),
        PartPlan(name="port", kind="connector", loss_db=0.25),
        PartPlan(
            name="drop cable",
            kind="fibre",
            length_m=drop_m,
            attenuation_db_per_km=GLASS,
        ),
        PartPlan(name="pigtail splice", kind="splice", loss_db=0.05),
        PartPlan(name="terminal", kind="connector", loss_db=0.20),
    ]
