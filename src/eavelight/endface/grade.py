"""Grade marks against criteria that are handed in; this module holds no limit.

A spot counts in the innermost zone it reaches, with its full size. A scratch counts
in every zone it enters, with its width. Tangent is not inside. The same rule runs
three times: with every mark a little smaller and farther out, as measured, and a
little larger and farther in. Only when the outer two agree is there a verdict.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

Verdict = Literal["pass", "fail", "undecided"]
Kind = Literal["scratch", "spot"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """A ring round the fibre centre; diameters."""

    name: str
    inner_um: float
    outer_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """What one zone allows of one kind of mark.

    Marks smaller than `counts_from_um` (or equal, if `counts_above`) are free;
    of the rest `allowed` may be there (None: any number), none larger than
    `largest_um` (None: any size).
    """

    zone: str
    kind: Kind
    confidence: str
    counts_from_um: float = 0.0
    counts_above: bool = False
    allowed: int | None = None
    largest_um: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Criteria:
    """Zones and rules of one connector class in one edition."""

    document: str
    edition: str
    connector_class: str
    confidence: str
    zones: tuple[Zone, ...]
    rules: tuple[Rule, ...]

    def zone(self, name: str) -> Zone:
        """The zone of that name."""
        return next(zone for zone in self.zones if zone.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sized:
    """What grading needs of a mark: size, and the radii from which to which it lies."""

    kind: Kind
    size_um: float
    size_u_um: float
    inner_um: float
    outer_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Breach:
    """One rule that is broken: `too_large` or `too_many`."""

    zone: str
    kind: Kind
    reason: Literal["too_large", "too_many"]
    measured: float
    limit: float
    marks: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """The verdict, what is broken, what may be broken, and which marks count."""

    verdict: Verdict
    breaches: tuple[Breach, ...]
    doubtful: tuple[Breach, ...]
    zones_of: tuple[tuple[str, ...], ...]
    counts: tuple[bool, ...]


def disc(size_um: float, distance_um: float) -> Sized:
    """A round spot at a distance from the fibre centre, known exactly.

    Parameters
    ----------
    size_um : float
        Diameter [µm]
    distance_um : float
        Distance of its centre from the fibre centre [µm]

    Returns
    -------
    mark : Sized
        The spot without uncertainty [µm]

    Examples
    --------
    >>> disc(8.0, 61.5).inner_um
    57.5
    """
    return Sized(
        kind="spot",
        size_um=size_um,
        size_u_um=0.0,
        inner_um=max(0.0, distance_um - size_um / 2),
        outer_um=distance_um + size_um / 2,
    )


def line(width_um: float, distance_um: float, *, reach_um: float = 60.0) -> Sized:
    """A straight scratch that passes the fibre centre at a distance, known exactly.

    Parameters
    ----------
    width_um : float
        Width [µm]
    distance_um : float
        Least distance of its middle line from the fibre centre [µm]
    reach_um : float, optional
        Largest distance from the fibre centre it gets to [µm]

    Returns
    -------
    mark : Sized
        The scratch without uncertainty [µm]

    Examples
    --------
    >>> line(0.5, 13.2).inner_um
    12.95
    """
    return Sized(
        kind="scratch",
        size_um=width_um,
        size_u_um=0.0,
        inner_um=max(0.0, distance_um - width_um / 2),
        outer_um=max(reach_um, distance_um + width_um / 2),
    )


def zones_of(mark: Sized, criteria: Criteria) -> tuple[str, ...]:
    """Zones in which a mark is judged; empty outside the outermost.

    Parameters
    ----------
    mark : Sized
        The mark [µm]
    criteria : Criteria
        The zones [µm]

    Returns
    -------
    names : tuple of str
        Innermost first; a spot has at most one [1]
    """
    touched = tuple(
        zone.name
        for zone in criteria.zones
        if mark.inner_um < zone.outer_um / 2 and mark.outer_um > zone.inner_um / 2
    )
    return touched[:1] if mark.kind == "spot" else touched


def _counts(mark: Sized, rule: Rule) -> bool:
    if rule.counts_above:
        return mark.size_um > rule.counts_from_um
    return mark.size_um >= rule.counts_from_um


def breaches(marks: Sequence[Sized], criteria: Criteria) -> tuple[Breach, ...]:
    """Rules broken by marks taken at their exact sizes.

    Parameters
    ----------
    marks : sequence of Sized
        All marks of the face [µm]
    criteria : Criteria
        Zones and rules [µm]

    Returns
    -------
    broken : tuple of Breach
        In the order of the rules; empty is a pass [1]
    """
    where = [zones_of(mark, criteria) for mark in marks]
    found: list[Breach] = []
    for rule in criteria.rules:
        inside = [
            index
            for index, mark in enumerate(marks)
            if mark.kind == rule.kind and rule.zone in where[index]
        ]
        if rule.largest_um is not None:
            large = [i for i in inside if marks[i].size_um > rule.largest_um]
            if large:
                found.append(
                    Breach(
                        zone=rule.zone,
                        kind=rule.kind,
                        reason="too_large",
                        measured=max(marks[i].size_um for i in large),
                        limit=rule.largest_um,
                        marks=tuple(large),
                    )
                )
        if rule.allowed is not None:
            counted = [i for i in inside if _counts(marks[i], rule)]
            if len(counted) > rule.allowed:
                found.append(
                    Breach(
                        zone=rule.zone,
                        kind=rule.kind,
                        reason="too_many",
                        measured=float(len(counted)),
                        limit=float(rule.allowed),
                        marks=tuple(counted),
                    )
                )
    return tuple(found)


def _moved(mark: Sized, factor: float, guard_um: float) -> Sized:
    """The mark, larger and farther in for a positive factor, by its guard band."""
    step = factor * min(mark.size_u_um, guard_um / abs(factor))
    shift = 0.5 * step
    return replace(
        mark,
        size_um=max(mark.size_um + step, 0.0),
        inner_um=max(0.0, mark.inner_um - shift),
        outer_um=max(mark.outer_um + shift, 0.0),
    )


def _counts_at_all(mark: Sized, zones: tuple[str, ...], criteria: Criteria) -> bool:
    for rule in criteria.rules:
        if rule.kind != mark.kind or rule.zone not in zones:
            continue
        if rule.largest_um is not None and mark.size_um > rule.largest_um:
            return True
        if rule.allowed is not None and _counts(mark, rule):
            return True
    return False


def grade_marks(
    marks: Sequence[Sized],
    criteria: Criteria,
    *,
    coverage: float = 1.645,
    guard_um: float = 0.5,
) -> Grade:
    """Verdict over all marks, with a guard band from each mark's own uncertainty.

    Parameters
    ----------
    marks : sequence of Sized
        All marks of the face [µm]
    criteria : Criteria
        Zones and rules [µm]
    coverage : float, optional
        Factor on the standard uncertainty of a size [1]
    guard_um : float, optional
        Widest guard band [µm]

    Returns
    -------
    grade : Grade
        Verdict and reasons [1]

    References
    ----------
    .. [1] JCGM 106:2012, guarded acceptance and guarded rejection.
    """
    where = tuple(zones_of(mark, criteria) for mark in marks)
    counts = tuple(
        _counts_at_all(mark, zones, criteria)
        for mark, zones in zip(marks, where, strict=True)
    )
    low = breaches([_moved(mark, -coverage, guard_um) for mark in marks], criteria)
    middle = breaches(marks, criteria)
    high = breaches([_moved(mark, coverage, guard_um) for mark in marks], criteria)
    verdict: Verdict = "fail" if low else "undecided" if high else "pass"
    return Grade(
        verdict=verdict,
        breaches=middle if low else (),
        doubtful=() if low else high,
        zones_of=where,
        counts=counts,
    )
