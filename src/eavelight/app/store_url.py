"""Where the store of this user is; light, so that a visit alone opens quickly."""

import os
from pathlib import Path

STORE, EVIDENCE = "EAVELIGHT_STORE", "EAVELIGHT_EVIDENCE"
FILE_NAME = "record.db"


def user_folder() -> Path:
    """The user's data folder: the default store and the device keys."""
    from platformdirs import user_data_path

    return user_data_path("eavelight")


def store_url(url: str | None = None) -> str:
    """The store's URL: as given, else of the environment, else the user's own file."""
    return url or os.environ.get(STORE) or str(user_folder() / FILE_NAME)


def store_exists(url: str | None = None) -> bool:
    """Whether a store was named, or the user's own is there."""
    if url or os.environ.get(STORE):
        return True
    return (user_folder() / FILE_NAME).is_file()
