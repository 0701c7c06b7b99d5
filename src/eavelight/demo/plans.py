"""The invented crew's work orders: one street, five houses, nothing real.

Numbers are plausible and made up. The street: 7.4 km of feeder, a 1:32 splitter, a
drop along each house, a terminal on its outside wall, a supply in its garage.
"""

from copy import deepcopy
from datetime import datetime, timedelta, timezone
from typing import Any

CREW, TECHNICIAN = "east-4", "t08"
ZONE = timezone(timedelta(hours=-5))
FIRST_DAY = datetime(2026, 4, 14, 8, 30, tzinfo=ZONE)

Table = dict[str, Any]


def start_of(day: int) -> datetime:
    """When the visit of a day begins."""
    return FIRST_DAY + timedelta(days=day)


def visit_table(number: int, *, purpose: str = "turn-up") -> Table:
    """Head, site and plan of one visit of the invented crew."""
    start = start_of(number)
    return {
        "schema": "eavelight.visit/1",
        "visit": {
            "id": f"D-{100 + number}",
            "purpose": purpose,
            "started": start,
            "ended": start + timedelta(hours=2, minutes=20),
            "crew": CREW,
            "technician": TECHNICIAN,
            "profile": "default",
        },
        "site": {
            "key": f"S-{700 + number}",
            "latitude": 41.2,
            "longitude": -81.4,
            "elevation_m": 310,
        },
        "assignment": {
            "hub": "H-3",
            "splitter": "4",
            "port": str(10 + number),
            "colour_scheme": "tia-598",
            "tube": 1,
            "fibre": number,
            "terminal_serial": f"EXMP0000{700 + number:04d}",
        },
        "plant": plant_table(drop_m=30.0 + 6.0 * number),
        "tray": {
            "length_mm": 150,
            "width_mm": 90,
            "winding_radius_mm": 35,
            "holder_offset_mm": 40,
            "sleeve_mm": 60,
            "strands": 2,
            "pigtail_m": 2.0,
            "spare_attempts": 3,
        },
        "entry": [
            {
                "name": "drop",
                "outside_diameter_mm": 5.0,
                "grommet_min_mm": 4,
                "grommet_max_mm": 6,
                "from": "below",
                "loop_width_mm": 120,
            },
            {
                "name": "power cord",
                "outside_diameter_mm": 6.5,
                "grommet_min_mm": 5,
                "grommet_max_mm": 8,
                "from": "below",
                "loop_width_mm": 160,
            },
        ],
        "feed": deepcopy(FEED),
        "supply_place": deepcopy(PLACES),
        "housing": deepcopy(HOUSING),
    }


def plant_table(*, drop_m: float) -> Table:
    """The light path of one house."""
    return {
        "pon_class": "gpon-b+",
        "launch_dbm": 3.2,
        "launch_u_db": 0.3,
        "terminal_launch_dbm": 2.4,
        "terminal_launch_u_db": 0.4,
        "part": [
            {"name": "feeder", "kind": "fibre", "fibre": "g652d", "length_m": 7400},
            {"name": "feeder splices", "kind": "splice", "count": 6, "loss_db": 0.05},
            {
                "name": "splitter",
                "kind": "splitter",
                "ratio": 32,
                "loss_db": {"1310": 16.9, "1490": 16.7, "1550": 16.7, "1625": 16.9},
            },
            {"name": "port", "kind": "connector", "polish": "apc", "loss_db": 0.25},
            {
                "name": "drop cable",
                "kind": "fibre",
                "fibre": "g657a1",
                "length_m": drop_m,
            },
            {"name": "pigtail splice", "kind": "splice"},
            {"name": "pigtail", "kind": "fibre", "fibre": "g652d", "length_m": 2.0},
            {"name": "terminal", "kind": "connector", "polish": "apc", "loss_db": 0.2},
        ],
        "loop": [{"at": "tray", "fibre": "g652d", "radius_mm": 35, "turns": 3}],
    }


FEED: Table = {
    "supply_float_v": 13.6,
    "supply_cutoff_v": 11.0,
    "supply_limit_w": 32,
    "place": "garage",
    "awg": 18,
    "length_m": 24,
    "construction": "power pair and status",
    "status_lines": 4,
    "status_polarity": "open is alarm",
    "return_shared": True,
    "pairs": 1,
    "conductor_temperature_c": 20,
    "terminal_idle_w": 4.4,
    "terminal_peak_w": 8.0,
    "terminal_min_v": 10.0,
    "terminal_max_v": 15.0,
    "battery": {
        "chemistry": "vrla",
        "capacity_ah": 7.2,
        "rating_hours": 20,
        "temperature_c": 15,
        "age_years": 0,
        "date_code": "2026-02",
        "target_hours": 8,
        "load_profile": [
            {"from_h": 0, "watts": 8.0},
            {"from_h": 0.1, "watts": 4.4},
        ],
    },
}

PLACES: list[Table] = [
    {
        "name": "garage",
        "length_m": 24,
        "low_c": -8,
        "high_c": 36,
        "hazards": [],
    },
    {"name": "hall cupboard", "length_m": 28, "low_c": 16, "high_c": 27},
    {
        "name": "carport",
        "length_m": 11,
        "low_c": -14,
        "high_c": 38,
        "hazards": ["vehicles", "splash"],
    },
]

HOUSING: Table = {
    "width_mm": 250,
    "height_mm": 300,
    "depth_mm": 100,
    "colour": "light grey",
    "facing_deg": 180,
    "shade": "partial",
    "internal_w": 6.0,
    "rated_low_c": -40,
    "rated_high_c": 65,
    "rating_refers_to": "air in box",
}
