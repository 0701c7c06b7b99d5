"""Traces: every event a part, every part in its place, nothing unexplained.

Only the stretch that the crew answers for is judged: from the instrument to the place
it looked toward. One direction cannot tell a loss from a change of mode field, so a
one-way loss carries that doubt and never fails a good splice alone.
"""

import math
from dataclasses import replace

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, judged, limit_of, not_measured
from eavelight.assess.trace_layout import (
    Match,
    PlacedPart,
    lay_out,
    matched,
    step_u_db,
)
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import FileObservation
from eavelight.standards.clauses import Clause
from eavelight.trace.results import Event, TraceAnalysis


def assess_trace(context: Context) -> list[Finding]:
    """Findings on every trace that was read."""
    read = [
        item
        for item in context.files("trace")
        if isinstance(item.analysis, TraceAnalysis)
    ]
    if not read:
        reason = "unread" if context.files("trace") else ""
        return [
            not_measured(context, name, subject, reason=reason)
            for name, subject in (
                ("trace.event", "drop"),
                ("trace.unexplained", "drop"),
                ("trace.length", "drop"),
                ("trace.orl", "path"),
            )
        ]
    return [found for item in read for found in _trace(context, item)]


def traced_length(context: Context) -> tuple[float, float, tuple[str, ...]] | None:
    """Length of the drop as the best trace of it shows, with u and its file [m]."""
    best: tuple[float, float, tuple[str, ...]] | None = None
    for item in context.files("trace"):
        if not isinstance(item.analysis, TraceAnalysis):
            continue
        if {item.evidence.at, item.evidence.toward} != {"port", "terminal"}:
            continue
        for found in _trace(context, item):
            measured = found.measured
            if found.requirement != "trace.length" or measured is None:
                continue
            u = measured.u or 0.0
            if best is None or u < best[1]:
                best = (float(measured.value), u, (item.evidence.file,))
    return best


def _trace(context: Context, item: FileObservation) -> list[Finding]:
    analysis: TraceAnalysis = item.analysis
    at = item.evidence.at or "terminal"
    toward = item.evidence.toward or ("port" if at != "port" else "terminal")
    placed = lay_out(
        context.plan,
        at,
        toward,
        share=context.profile.number("trace.length") / 100.0,
        least_m=context.profile.number("trace.length.least"),
    )
    last = next((p for p in placed if p.part.name == toward), placed[-1])
    judged_parts = [p for p in placed if p.position_m <= last.position_m]
    matches = matched(analysis.events, placed)
    view = _View(context, item, analysis, judged_parts=judged_parts, last=last)
    inside = [m for m in matches if view.inside(m.event)]
    return [
        *view.events(inside),
        *view.reflectances(inside),
        view.unexplained(inside),
        view.length(matches),
        view.return_loss(),
    ]


class _View:
    """One trace with the stretch of the plan it is held against."""

    def __init__(
        self,
        context: Context,
        item: FileObservation,
        analysis: TraceAnalysis,
        *,
        judged_parts: list[PlacedPart],
        last: PlacedPart,
    ) -> None:
        self.context = context
        self.analysis = analysis
        self.parts = judged_parts
        self.last = last
        self.nm = round(analysis.wavelength_nm)
        self.files = (item.evidence.file,)

    def inside(self, event: Event) -> bool:
        """Whether an event lies in the stretch that is judged."""
        behind = self.last.position_m + self.last.tolerance_m + 2 * event.position_u_m
        return -self.last.tolerance_m <= event.position_m <= behind

    def _clause(self, match: Match) -> Clause:
        """Limit of an event: a splice alone, or a connector with what it hides."""
        kinds = {placed.part.kind for placed in match.parts}
        name = "splice.with_connector" if "connector" in kinds else "trace.event"
        return self.context.profile.limit(name)

    def events(self, matches: list[Match]) -> list[Finding]:
        """Loss of each event that stands for parts."""
        found = []
        for match in matches:
            event = match.event
            lossy = {p.part.kind for p in match.parts} <= {"connector", "splice"}
            if not match.parts or not lossy:
                continue
            names = tuple(placed.part.name for placed in match.parts)
            subject = _subject(match)
            base: dict[str, object] = {
                "parts": names,
                "position": event.position_m,
                "wavelength": self.nm,
                "merged": event.merged or len(names) > 1,
            }
            if event.loss_db is None or event.loss_u_db is None:
                found.append(
                    not_measured(
                        self.context,
                        "trace.event",
                        subject,
                        reason="hidden",
                        values=base,
                        wavelength_nm=self.nm,
                        observations=self.files,
                    )
                )
                continue
            clause = self._clause(match)
            connectors = sum(p.part.kind == "connector" for p in match.parts)
            limit = limit_of(clause, high=clause.value * max(1, connectors))
            u = math.hypot(event.loss_u_db, step_u_db(self.context.plan, self.nm))
            found.append(
                judged(
                    self.context,
                    "trace.event",
                    subject,
                    measured=Quantity(value=event.loss_db, unit="dB", u=u),
                    limit=limit,
                    because=base,
                    wavelength_nm=self.nm,
                    decide_by=Message("trace.event.decide_by", base),
                    observations=self.files,
                )
            )
        return found

    def reflectances(self, matches: list[Match]) -> list[Finding]:
        """Reflectance of each connector by its polish."""
        found = []
        for match in matches:
            event = match.event
            polished = [p.part for p in match.parts if p.part.kind == "connector"]
            if not polished or event.reflectance_db is None:
                continue
            part = polished[0]
            name = f"trace.reflectance.{part.polish}" if part.polish else ""
            known = name in self.context.profile.limits
            clause = self.context.profile.limit(name if known else "trace.reflectance")
            u = event.reflectance_u_db or 1.0
            outcome = judged(
                self.context,
                "trace.reflectance",
                part.name,
                measured=Quantity(value=event.reflectance_db, unit="dB", u=u),
                limit=limit_of(clause, high=clause.value),
                because={
                    "bound": event.reflectance_is_bound,
                    "polish": part.polish or "unknown polish",
                    "wavelength": self.nm,
                },
                wavelength_nm=self.nm,
                decide_by=Message("trace.reflectance.decide_by", {}),
                observations=self.files,
            )
            if event.reflectance_is_bound and outcome.verdict is Verdict.PASS:
                outcome = replace(
                    outcome,
                    verdict=Verdict.UNDECIDED,
                    because=Message(
                        "trace.reflectance.undecided", outcome.because.values
                    ),
                    probability=None,
                )
            found.append(outcome)
        return found

    def unexplained(self, matches: list[Match]) -> Finding:
        """The worst event that no part of the plan explains."""
        requirement = "trace.unexplained"
        strange = [m.event for m in matches if not m.parts and m.event.kind != "end"]
        explained = {p.part.name for m in matches for p in m.parts}
        unseen = tuple(p.part.name for p in self.parts if p.part.name not in explained)
        values: dict[str, object] = {"unseen": unseen, "wavelength": self.nm}
        if not strange:
            return finding(
                self.context,
                requirement,
                "drop",
                verdict=Verdict.PASS,
                because=Message(f"{requirement}.pass", values),
                wavelength_nm=self.nm,
                observations=self.files,
            )
        worst = max(strange, key=lambda event: event.loss_db or 0.0)
        values |= {
            "position": worst.position_m,
            "kind": worst.kind,
            "count": len(strange),
        }
        if worst.loss_db is None:
            return finding(
                self.context,
                requirement,
                "drop",
                verdict=Verdict.UNDECIDED,
                because=Message(f"{requirement}.undecided.hidden", values),
                wavelength_nm=self.nm,
                decide_by=Message(f"{requirement}.decide_by", values),
                observations=self.files,
            )
        u = math.hypot(worst.loss_u_db or 0.0, step_u_db(self.context.plan, self.nm))
        return judged(
            self.context,
            requirement,
            "drop",
            measured=Quantity(value=worst.loss_db, unit="dB", u=u),
            limit=limit_of(self.context.profile.limit(requirement)),
            because=values,
            wavelength_nm=self.nm,
            observations=self.files,
        )

    def length(self, matches: list[Match]) -> Finding:
        """Traced length of the stretch against the plan; an early end is a break."""
        requirement = "trace.length"
        planned = self.last.position_m
        end = next((m.event for m in matches if m.event.kind == "end"), None)
        target = next((m.event for m in matches if self.last in m.parts), None)
        seen = target
        if end is not None and end.position_m < planned - self.last.tolerance_m:
            seen = end
        values: dict[str, object] = {"planned": planned, "wavelength": self.nm}
        if seen is None:
            return not_measured(
                self.context,
                requirement,
                "drop",
                values=values,
                expected=Quantity(value=planned, unit="m"),
                wavelength_nm=self.nm,
                observations=self.files,
            )
        clause = self.context.profile.limit(requirement)
        half = max(
            self.context.profile.number("trace.length.least"),
            planned * clause.value / 100.0,
        )
        limit = limit_of(clause, low=planned - half, high=planned + half)
        return judged(
            self.context,
            requirement,
            "drop",
            measured=Quantity(value=seen.position_m, unit="m", u=seen.position_u_m),
            limit=replace(limit, unit="m"),
            because=values | {"ends": seen is end},
            expected=Quantity(value=planned, unit="m"),
            wavelength_nm=self.nm,
            observations=self.files,
        )

    def return_loss(self) -> Finding:
        """Return loss of everything the trace saw."""
        requirement = "trace.orl"
        if self.analysis.orl_db is None:
            return not_measured(
                self.context,
                requirement,
                "path",
                values={"wavelength": self.nm},
                wavelength_nm=self.nm,
                observations=self.files,
            )
        return judged(
            self.context,
            requirement,
            "path",
            measured=Quantity(value=self.analysis.orl_db, unit="dB", u=1.0),
            limit=limit_of(self.context.profile.limit(requirement)),
            because={"wavelength": self.nm},
            wavelength_nm=self.nm,
            observations=self.files,
        )


def _subject(match: Match) -> str:
    """The connector where there is one: it is what a hand can reach."""
    names = [p.part.name for p in match.parts if p.part.kind == "connector"]
    return names[0] if names else match.parts[0].part.name
