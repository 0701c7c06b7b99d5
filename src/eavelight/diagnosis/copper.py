"""The forward model of the feed: conductors, joints, battery, supply, heat."""

from collections.abc import Iterator

import numpy as np

from eavelight.diagnosis.atoms import Atom, Model, atom
from eavelight.diagnosis.shapes import both_signs, log_uniform, mixed
from eavelight.standards.priors import signatures


def copper(model: Model) -> Iterator[Atom]:
    """Resistance in the pair, and in joints that the loop may not show."""
    feed, table = model.case.feed, model.table
    if feed is None:
        return
    spread = signatures()
    loop, load = table.mask("loop"), table.mask("load")
    low, high = spread.range("copper_share")
    more = log_uniform(low * feed.loop_ohm, high * feed.loop_ohm)
    less, crossed = spread.share["copper_less"], spread.share["copper_crossed"]
    odds = model.odds("conductor")
    both = (loop + load)[None, :]
    yield atom(
        "conductor", "supply", "more", odds * (1.0 - less - crossed), both, size=more,
        unit="ohm",
    )  # fmt: skip
    yield atom(
        "conductor", "supply", "less", odds * less, -both,
        size=log_uniform(low * feed.loop_ohm, 0.7 * feed.loop_ohm), unit="ohm",
    )  # fmt: skip
    yield atom(
        "conductor",
        "supply",
        "crossed",
        odds * crossed,
        np.zeros((1, len(table.rows))),
        size=more,
        unit="ohm",
        marks={"polarity": 0.95, "insulation": 0.3, "lengths": 0.02},
    )
    inside, odds = spread.share["joint_in_loop"], model.odds("joint-resistance")
    size = log_uniform(*spread.range("joint_ohm"))
    yield atom(
        "joint-resistance", "terminal", "outside the loop", odds * (1.0 - inside),
        load[None, :], size=size, unit="ohm",
    )  # fmt: skip
    yield atom(
        "joint-resistance", "terminal", "in the loop", odds * inside, both,
        size=size, unit="ohm",
    )  # fmt: skip


def power(model: Model) -> Iterator[Atom]:
    """Volts at the source, and what only shows in marks."""
    if model.case.feed is None:
        return
    table = model.table
    volts = log_uniform(*signatures().range("volts"))
    if model.case.plan.feed is not None and model.case.plan.feed.battery is not None:
        yield atom(
            "battery", "battery", "low", model.odds("battery"),
            -table.mask("battery_v")[None, :], size=volts, unit="V",
        )  # fmt: skip
    yield atom(
        "supply", "supply", "volts", model.odds("supply"),
        table.mask("supply_v")[None, :], size=both_signs(volts, 0.8), unit="V",
    )  # fmt: skip
    yield atom(
        "heat", "box", "hot", model.odds("heat"), np.zeros((1, len(table.rows))),
        size=mixed([(0.0, 1.0, 1.0)]), unit="K",
    )  # fmt: skip
