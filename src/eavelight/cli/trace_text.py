"""Traces as tables for people, or as JSON that streams as the files are read."""

import json
from collections.abc import Iterable, Iterator
from typing import Any

import click

from eavelight.app.trace_files import JoinedFiles, TraceFile
from eavelight.app.trace_json import joined_json, record_notes, trace_json
from eavelight.cli.output import print_json
from eavelight.errors import EvidenceError
from eavelight.trace.results import Event, JoinedEvent, TraceAnalysis
from eavelight.wording import quantity, with_uncertainty

HEAD = ("", "metres", "kind", "loss", "reflectance")
KIND = 2


def print_traces_json(items: Iterable[TraceFile], *, single: bool) -> bool:
    """Print one object, or a list that grows as files are read."""
    complete = True
    if not single:
        click.echo('{"traces": [')
    for number, item in enumerate(items):
        complete = complete and item.error is None
        if number:
            click.echo(",")
        click.echo(
            json.dumps(trace_json(item), ensure_ascii=False, allow_nan=False),
            nl=single,
        )
    if not single:
        click.echo("\n]}")
    return complete


def print_traces(items: Iterable[TraceFile], *, single: bool) -> bool:
    """Print a table for each trace; what cannot be read goes to stderr."""
    complete = True
    for item in items:
        if item.analysis is None:
            complete = False
            click.echo(item.error or "not read", err=True)
            continue
        for line in trace_lines(item):
            click.echo(line)
        if not single:
            click.echo()
    return complete


def trace_lines(item: TraceFile) -> Iterator[str]:
    """The table of one trace."""
    analysis = item.analysis
    if analysis is None or item.record is None:
        raise EvidenceError(item.path, "file", "a trace", item.error or "nothing")
    yield (
        f"{item.path} · {analysis.wavelength_nm:.0f} nm · {analysis.pulse_ns:g} ns · "
        f"{analysis.points} points of {analysis.sample_spacing_m:.3f} m"
    )
    yield from _table([HEAD, *(_row(n, e) for n, e in enumerate(analysis.events, 1))])
    yield "  " + " · ".join(_totals(analysis))
    stored = len(item.record.stored_events)
    if stored:
        yield f"  The file stores {stored} events of its own; see --json."
    for note in (*analysis.notes, *record_notes(item.record)):
        yield f"  Note  {note}"


def _totals(analysis: TraceAnalysis) -> Iterator[str]:
    for name, value, u, unit in (
        ("length", analysis.length_m, analysis.length_u_m, "m"),
        ("loss", analysis.loss_db, analysis.loss_u_db, "dB"),
        ("return loss", analysis.orl_db, None, "dB"),
    ):
        shown = "not measured" if value is None else with_uncertainty(value, u, unit)
        yield f"{name} {shown}"


def _row(number: int, event: Event) -> tuple[str, ...]:
    kind = event.kind + (" (two parts together)" if event.merged else "")
    loss = "not measured"
    if event.loss_db is not None:
        loss = with_uncertainty(event.loss_db, event.loss_u_db, "dB")
    reflectance = ""
    if event.reflectance_db is not None:
        bound = "at least " if event.reflectance_is_bound else ""
        reflectance = bound + quantity(event.reflectance_db, "dB")
    place = with_uncertainty(event.position_m, event.position_u_m, "")
    return str(number), place, kind, loss, reflectance


def _table(rows: list[tuple[str, ...]]) -> Iterator[str]:
    widths = [max(len(row[k]) for row in rows) for k in range(len(rows[0]))]
    for row in rows:
        cells = [
            text.ljust(width) if column == KIND else text.rjust(width)
            for column, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  " + "  ".join(cells).rstrip()


def print_joined(together: JoinedFiles, *, as_json: bool) -> bool:
    """Print every trace, then what they show together."""
    complete = all(item.error is None for item in together.items)
    if as_json:
        single = len(together.items) == 1
        data = [trace_json(item) for item in together.items]
        whole: dict[str, Any] = dict(data[0]) if single else {"traces": data}
        if together.joined is not None:
            whole["joined"] = joined_json(together.joined)
        print_json(whole)
        return complete
    print_traces(together.items, single=False)
    for line in joined_lines(together):
        click.echo(line)
    return complete


def joined_lines(together: JoinedFiles) -> Iterator[str]:
    """The table of all traces together."""
    joined = together.joined
    if joined is None:
        return
    wavelengths = sorted({nm for event in joined.events for nm in event.loss_db})
    head = ("", "metres", "kind", *(f"{nm} nm" for nm in wavelengths))
    head += ("both ways", "bend", "since baseline")
    rows = [_joined_row(n, e, wavelengths) for n, e in enumerate(joined.events, 1)]
    yield "Together"
    yield from _table([head, *rows])
    if joined.end_moved_m is not None:
        yield f"  The end moved by {quantity(joined.end_moved_m, 'm', signed=True)}."
    for note in joined.notes:
        yield f"  Note  {note}"


def _joined_row(
    number: int, event: JoinedEvent, wavelengths: list[int]
) -> tuple[str, ...]:
    losses = []
    for nm in wavelengths:
        loss = event.loss_db.get(nm)
        losses.append(
            "" if loss is None else with_uncertainty(loss.value, loss.u, "dB")
        )
    both = ""
    if event.two_way_loss_db is not None:
        both = with_uncertainty(event.two_way_loss_db, event.two_way_loss_u_db, "dB")
    bend = ""
    if event.bend_probability is not None:
        bend = f"{100.0 * event.bend_probability:.0f} in 100"
    change = "" if event.change == "not compared" else event.change
    if change and event.change_db is not None:
        change += f" {with_uncertainty(event.change_db, event.change_u_db, 'dB')}"
    kind = event.kind + (" (two parts together)" if event.merged else "")
    place = with_uncertainty(event.position_m, event.position_u_m, "")
    return str(number), place, kind, *losses, both, bend, change
