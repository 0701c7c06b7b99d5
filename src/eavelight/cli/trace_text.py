"""Traces as tables for people, or as JSON that streams as the files are read."""

import json
from collections.abc import Iterable, Iterator

import click

from eavelight.app.trace_files import TraceFile
from eavelight.app.trace_json import record_notes, trace_json
from eavelight.errors import EvidenceError
from eavelight.trace.results import Event, TraceAnalysis
from eavelight.wording import quantity, with_uncertainty

HEAD = ("", "metres", "kind", "loss", "reflectance")


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
    widths = [max(len(row[column]) for row in rows) for column in range(len(HEAD))]
    for row in rows:
        cells = [
            text.rjust(width) if column in {0, 1, 3, 4} else text.ljust(width)
            for column, (text, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  " + "  ".join(cells).rstrip()
