"""The forward model: what each cause, at each place it can occur, does to every row."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from eavelight.diagnosis.atoms import (
    Atom,
    Model,
    alike,
    atom,
    drop_fibre,
    loss_sizes,
    slack_fibre,
)
from eavelight.diagnosis.case import Case
from eavelight.diagnosis.copper import copper, power
from eavelight.diagnosis.readings import measurement, strays
from eavelight.diagnosis.rows import Table
from eavelight.diagnosis.shapes import (
    bend_shapes,
    joined,
    log_uniform,
    mixed,
    power_shapes,
)
from eavelight.standards.priors import Priors, priors, signatures

Array = NDArray[np.float64]
CLEAN_BOTH, CLEAN_ONE, CLEAN_BEFORE = (
    "after cleaning both sides",
    "after cleaning one side",
    "before cleaning",
)
LOSS_ROWS = ("loss", "splice_loss", "event")
LEVEL_ROWS = ("level", "level_reported", "level_upstream")


def atoms_of(case: Case, table: Table, prior: Priors | None = None) -> list[Atom]:
    """Every atom of a case."""
    model = Model(case=case, table=table, priors=prior or priors())
    found: list[Atom] = []
    for maker in (
        _contamination,
        _mismatch,
        _bend,
        _pressure,
        _splice,
        _break,
        _upstream,
        _identity,
        measurement,
        _copied,
        copper,
        power,
        strays,
    ):
        found.extend(maker(model))
    return [atom for atom in found if atom.odds > 0.0]


def cleaned_rows(model: Model, connector: str) -> tuple[Array, Array]:
    """Rows taken after both sides were cleaned, and those known to be before."""
    first = first_cleaned(model.case, connector)
    after, before = [], []
    for row in model.table.rows:
        stated = CLEAN_BOTH in row.states
        later = first is not None and row.time is not None and row.time >= first
        after.append(stated or (later and CLEAN_BEFORE not in row.states))
        before.append(
            CLEAN_BEFORE in row.states or (first is not None and not after[-1])
        )
    return np.array(after, dtype=float), np.array(before, dtype=float)


def first_cleaned(case: Case, connector: str) -> datetime | None:
    """When both sides were first clean after cleaning, by words or by pictures."""
    times = [
        item.reading.time
        for item in case.seen
        if item.reading.what == "endface_stated"
        and item.reading.at == connector
        and CLEAN_BOTH in item.reading.state
    ]
    if connector in case.cleaned:
        times.append(case.cleaned[connector])
    return min(times, default=None)


def _contamination(model: Model) -> Iterator[Atom]:
    share = signatures().share
    connectors = model.case.parts_of("connector")
    shapes = power_shapes("dirt", model.nm)
    for name in connectors:
        odds = model.odds("contamination") / len(connectors)
        along = model.part(name)
        after, before = cleaned_rows(model, name)
        # pictures show clean faces even where nothing was read since
        shown = after + before * (name in model.case.cleaned)
        if not np.any(shown * np.abs(along)):
            yield model.optical(
                "contamination", name, mode="dirty", odds=odds, along=along,
                shapes=shapes, size=loss_sizes(),
            )  # fmt: skip
            continue
        modes = [("stays", share["dirt_stays"], 1.0, False)]
        if np.any(before * np.abs(along)):
            left = 1.0 - share["dirt_stays"] - share["dirt_half"]
            modes += [
                ("half gone", share["dirt_half"], 0.4, False),
                ("cleaned off", left, 0.0, True),
            ]
        for mode, weight, rest, mended in modes:
            kept = 1.0 - after * (1.0 - rest)
            marks = {"face after both sides": 0.04} if mended else {}
            yield model.optical(
                "contamination", name, mode=mode, odds=odds * weight,
                along=along * kept, shapes=shapes, size=loss_sizes(), mended=mended,
                marks=marks,
            )  # fmt: skip


def _mismatch(model: Model) -> Iterator[Atom]:
    spread = signatures()
    connectors = model.case.parts_of("connector")
    loose = spread.share["not_seated"]
    planned = mixed(
        [(spread.amplitude["mismatch_db"], spread.amplitude["mismatch_sigma_db"], 1.0)]
    )
    for name in connectors:
        odds = model.odds("connector-mismatch") / len(connectors)
        common: dict[str, Any] = {
            "along": model.part(name),
            "shapes": power_shapes("mismatch", model.nm),
        }
        yield model.optical(
            "connector-mismatch", name, mode="polish", odds=odds * (1.0 - loose),
            size=joined(planned, loss_sizes(), 0.4), **common,
        )  # fmt: skip
        yield model.optical(
            "connector-mismatch", name, mode="not seated", odds=odds * loose,
            size=loss_sizes(), marks={"polish": 0.01}, **common,
        )  # fmt: skip


def _bend(model: Model) -> Iterator[Atom]:
    case, table, share = model.case, model.table, signatures().share
    places = {"box": slack_fibre(case)}
    marked = {m.at for m in case.marks if m.kind == "radius" and m.bad}
    if "drop" in marked or case.events:
        places["drop"] = drop_fibre(case)
    if "tray" in marked:
        places["tray"] = slack_fibre(case)
    lids = np.array([row.lid for row in table.rows])
    closed, opened = lids == 3, (lids == 1) | (lids == 2)
    moves = share["bend_moves"]
    loss, level = table.mask(*LOSS_ROWS), table.mask(*LEVEL_ROWS)
    for at, fibre in places.items():
        along = model.part(fibre)
        modes = [("always", 1.0 - moves, np.ones(len(table.rows)))]
        if at == "box" and np.any(closed) and np.any(opened):
            shut = share["bend_only_closed"]
            modes = [
                ("always", (1.0 - moves) * (1.0 - shut), np.ones(len(table.rows))),
                ("closed only", (1.0 - moves) * shut, 1.0 - opened),
            ]
        modes += [("moved", moves / 2.0, loss), ("moved back", moves / 2.0, level)]
        for mode, weight, here in modes:
            if not np.any(along * here):
                continue
            yield model.optical(
                "bend", at, mode=mode,
                odds=model.odds("bend") * weight / len(places), along=along * here,
                shapes=bend_shapes(model.nm), size=loss_sizes(),
            )  # fmt: skip
        if not np.any(along):
            yield model.optical(
                "bend", at, mode="unseen", odds=model.odds("bend") / len(places),
                along=along, shapes=bend_shapes(model.nm), size=loss_sizes(),
            )  # fmt: skip


def _pressure(model: Model) -> Iterator[Atom]:
    yield model.optical(
        "crush-or-ice", drop_fibre(model.case), mode="pressed",
        odds=model.odds("crush-or-ice"), along=model.part(drop_fibre(model.case)),
        shapes=power_shapes("pressure", model.nm), size=loss_sizes(),
    )  # fmt: skip


def _splice(model: Model) -> Iterator[Atom]:
    table, share = model.table, signatures().share
    splices = model.case.parts_of("splice")
    for name in splices:
        odds = model.odds("splice") / len(splices)
        own = np.array(
            [r.kind == "splice_estimate" and r.at == name for r in table.rows]
        )
        late = np.array(["after shrink" in row.states for row in table.rows])
        early = np.array(["before shrink" in row.states for row in table.rows])
        base = power_shapes("joint", model.nm)
        loss = base.values * model.part(name)
        modes = [("hidden", 1.0, np.zeros_like(loss))]
        if np.any(own):
            seen = share["splice_seen"]
            shrunk = share["splice_after_shrink"] if np.any(own & late) else 0.0
            modes = [
                ("hidden", 1.0 - seen - shrunk, np.zeros_like(loss)),
                ("seen", 0.6 * seen, np.tile(1.0 * own, (len(loss), 1))),
                ("half seen", 0.4 * seen, np.tile(0.5 * own, (len(loss), 1))),
            ]
            if shrunk and np.any(own & early):
                modes.append(
                    ("shrunk", shrunk, np.tile(1.0 * (own & late), (len(loss), 1)))
                )
        for mode, weight, estimate in modes:
            yield atom(
                "splice", name, mode, odds * weight, loss + estimate,
                weights=base.weights, size=loss_sizes(),
            )  # fmt: skip


def _break(model: Model) -> Iterator[Atom]:
    yield model.optical(
        "break", drop_fibre(model.case), mode="dark", odds=model.odds("break"),
        along=model.part(drop_fibre(model.case)), shapes=power_shapes("flat", model.nm),
        size=joined(
            log_uniform(*signatures().range("dark_db")), loss_sizes(), 0.15
        ),
    )  # fmt: skip


def before_port(model: Model) -> Array:
    """Rows that see the plant above the port."""
    names = model.case.path.names
    if "port" not in names or names.index("port") == 0:
        return np.zeros(len(model.table.rows))
    return model.part(names[names.index("port") - 1])


def _upstream(model: Model) -> Iterator[Atom]:
    share, odds = signatures().share, model.odds("upstream")
    along, nm = before_port(model), model.nm
    gain, bent = share["upstream_gain"], share["upstream_bend"]
    dark = joined(loss_sizes(), log_uniform(*signatures().range("dark_db")), 0.15)
    yield model.optical(
        "upstream", "hub", mode="loss", odds=odds * (1.0 - gain - bent), along=along,
        shapes=power_shapes("flat", nm), size=dark,
    )  # fmt: skip
    yield model.optical(
        "upstream", "hub", mode="bend", odds=odds * bent, along=along,
        shapes=bend_shapes(nm), size=loss_sizes(),
    )  # fmt: skip
    yield model.optical(
        "upstream", "hub", mode="gain", odds=odds * gain, along=-along,
        shapes=power_shapes("flat", nm), size=log_uniform(0.4, 6.0),
    )  # fmt: skip


def _identity(model: Model) -> Iterator[Atom]:
    spread, nm = signatures(), model.nm
    step, sigma = spread.amplitude["split_db"], spread.amplitude["split_sigma_db"]
    along = before_port(model)
    yield model.optical(
        "wrong-split", "hub", mode="step", odds=model.odds("wrong-split"), along=along,
        shapes=alike(len(nm)),
        size=mixed(
            [
                (step, sigma, 0.5), (-step, sigma, 0.3),
                (2 * step, 1.4 * sigma, 0.12), (-2 * step, 1.4 * sigma, 0.08),
            ]
        ),
    )  # fmt: skip
    port = spread.amplitude["port_sigma_db"]
    yield model.optical(
        "wrong-port", "port", mode="other port", odds=model.odds("wrong-port"),
        along=along, shapes=alike(len(nm)),
        size=mixed(
            [(0.0, port, 0.8), (step, 0.8, 0.06), (-step, 0.8, 0.06), (0.0, 3.0, 0.08)]
        ),
    )  # fmt: skip
    fibre = drop_fibre(model.case)
    dark = spread.share["dark_fibre"]
    common: dict[str, Any] = {"along": model.part(fibre), "shapes": alike(len(nm))}
    yield model.optical(
        "wrong-fibre", fibre, mode="dark", odds=model.odds("wrong-fibre") * dark,
        size=log_uniform(*spread.range("dark_db")), **common,
    )  # fmt: skip
    yield model.optical(
        "wrong-fibre", fibre, mode="lit", odds=model.odds("wrong-fibre") * (1 - dark),
        size=mixed([(0.0, 0.4, 0.7), (0.0, 2.0, 0.3)]), **common,
    )  # fmt: skip


def _copied(model: Model) -> Iterator[Atom]:
    kinds = {"same file", "values repeated"}
    marks = [mark for mark in model.case.marks if mark.kind in kinds]
    bad = [mark.at for mark in marks if mark.bad]
    yield atom(
        "copied-evidence", bad[0] if bad else "box", "copied",
        model.odds("copied-evidence"), np.zeros((1, len(model.table.rows))),
        size=mixed([(0.0, 1.0, 1.0)]),
    )  # fmt: skip
