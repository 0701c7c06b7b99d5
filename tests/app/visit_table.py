"""Readings of a visit as its TOML table holds them, for tests that change some."""


def entry(table, what, at=None, **keys):
    """The first reading of a kind, at a place, with these keys."""
    return next(
        item
        for item in table["reading"]
        if item["what"] == what
        and at in (None, item["at"])
        and all(item.get(key) == value for key, value in keys.items())
    )
