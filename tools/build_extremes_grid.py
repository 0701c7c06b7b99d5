"""Build `src/eavelight/climate/data/extremes.npz` from the released `pvcz` package.

    pip download --no-deps --dest FOLDER pvcz==0.3.0
    python tools/build_extremes_grid.py FOLDER/pvcz-0.3.0.tar.gz           # write
    python tools/build_extremes_grid.py FOLDER/pvcz-0.3.0.tar.gz --check   # compare

The source holds a pickle. It is opened here only, after its SHA-256 was compared with
the release that was read, and never by the program itself. Needs pandas.
"""

import argparse
import hashlib
import io
import sys
import tarfile
from pathlib import Path
from typing import Any

import numpy as np

VERSION = "0.3.0"
TABLE = f"pvcz-{VERSION}/pvcz/PVCZ-2019_ver0p2_world_PV_climate_stressors_and_zones.pkl"
ARCHIVE_SHA256 = "810404cb1fd74f5021b0038a7283dde3ad4520a9a2c42441d3b6ee5a79a1cd30"
TABLE_SHA256 = "1e5fea7d8bed1790e78affaa74740b26c8193cbe38b5969419d03194b8d339a3"
TARGET = Path(__file__).parents[1] / "src/eavelight/climate/data/extremes.npz"
LARGEST_BYTES = 2_000_000
# The grid of GLDAS-2.1: cell centres from 59.875 S and 179.875 W, step 0.25 degrees.
STEP_DEG = 0.25
ROWS, COLUMNS = 600, 1440
# Oceanic west of Europe, where nine modelled years miss the peaks most.
OCEANIC_ZONES = ("Cfb", "Cfc")
OCEANIC_LATITUDES = (36.0, 66.0)
OCEANIC_LONGITUDES = (-25.0, 20.0)


def checked(name: str, content: bytes, expected: str) -> bytes:
    found = hashlib.sha256(content).hexdigest()
    if found != expected:
        sys.exit(f"{name}: expected SHA-256 {expected}, found {found}")
    return content


def table(archive: Path) -> Any:
    import pandas as pd

    packed = checked(archive.name, archive.read_bytes(), ARCHIVE_SHA256)
    with tarfile.open(fileobj=io.BytesIO(packed)) as package:
        member = package.extractfile(TABLE)
        if member is None:
            sys.exit(f"{archive.name}: expected {TABLE}, found no such file")
        pickled = checked(TABLE, member.read(), TABLE_SHA256)
    return pd.read_pickle(io.BytesIO(pickled))


def columns(frame: Any) -> dict[str, np.ndarray]:
    """Land cells in rows from the south, cells from the west, as small integers."""
    latitude = frame["lat"].to_numpy(float)
    longitude = frame["lon"].to_numpy(float)
    row = np.rint((latitude + 59.875) / STEP_DEG).astype(int)
    column = np.rint((longitude + 179.875) / STEP_DEG).astype(int)
    order = np.lexsort((column, row))
    land = np.zeros((ROWS, COLUMNS), bool)
    land[row, column] = True
    if land.sum() != len(frame):
        sys.exit("two rows of the table share one cell")
    oceanic = (
        frame["KG_zone"].isin(OCEANIC_ZONES).to_numpy()
        & (latitude > OCEANIC_LATITUDES[0]) & (latitude < OCEANIC_LATITUDES[1])
        & (longitude > OCEANIC_LONGITUDES[0]) & (longitude < OCEANIC_LONGITUDES[1])
    )  # fmt: skip

    def small(name: str, factor: float, kind: Any) -> np.ndarray:
        values = np.rint(frame[name].to_numpy(float)[order] * factor)
        limits = np.iinfo(kind)
        if not (values.min() >= limits.min and values.max() <= limits.max):
            sys.exit(f"{name}: {values.min()} to {values.max()} does not fit {kind}")
        return values.astype(kind)

    def steps(name: str) -> np.ndarray:
        return np.diff(small(name, 10, np.int16), prepend=np.int16(0))

    return {
        "land": np.packbits(land),
        "low_step_tenths_c": steps("T_ambient_min"),
        "high_step_tenths_c": steps("T_ambient_max"),
        "mean_step_tenths_c": steps("T_ambient_mean"),
        "humidity_tenths_g_per_kg": small("specific_humidity_mean", 10, np.uint8),
        "oceanic_europe": np.packbits(oceanic[order]),
    }


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("archive", type=Path)
    parser.add_argument("--check", action="store_true", help="compare, do not write")
    options = parser.parse_args()
    found = columns(table(options.archive))
    if options.check:
        with np.load(TARGET, allow_pickle=False) as stored:
            same = set(stored.files) == set(found) and all(
                np.array_equal(stored[name], found[name]) for name in found
            )
        sys.exit(0 if same else f"{TARGET.name} differs from its source")
    np.savez_compressed(TARGET, allow_pickle=False, **found)
    size = TARGET.stat().st_size
    print(f"{TARGET.name}: {size} bytes, {found['low_step_tenths_c'].size} land cells")
    if size > LARGEST_BYTES:
        sys.exit(f"larger than {LARGEST_BYTES} bytes")


if __name__ == "__main__":
    main()
