"""Which fibre is which: number, colour name, short code, tracer, tube and position.

No world scheme exists, so every function takes the scheme as a value; nothing here
guesses one. A copper pair beside the fibres has no standard colour at all: its
polarity is measured, never read from a colour.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Strand:
    """One colour mark of a scheme, for a fibre or a tube."""

    number: int
    colour: str
    code: str
    tracer: str = ""
    tracer_code: str = ""
    tracers: int = 0

    @property
    def full_code(self) -> str:
        """Short code with its tracers, `BL` or `BL/BK`.

        >>> Strand(number=13, colour="blue", code="BL", tracer="black",
        ...        tracer_code="BK", tracers=1).full_code
        'BL/BK'
        """
        return "/".join([self.code] + [self.tracer_code] * self.tracers)

    @property
    def full_name(self) -> str:
        """Colour name with its tracers, `blue` or `blue/black`."""
        return "/".join([self.colour] + [self.tracer] * self.tracers)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourScheme:
    """An ordered list of marks, the marks of its tubes, and words that mean the same.

    `tubes` is empty where the scheme states none; `further_tube` is the mark of every
    tube after the last of them.
    """

    id: str
    title: str
    edition: str
    confidence: str
    strands: tuple[Strand, ...]
    tubes: tuple[Strand, ...] = ()
    further_tube: Strand | None = None
    synonyms: Mapping[str, str] = field(default_factory=dict)

    def strand(self, number: int) -> Strand:
        """The mark of one fibre number."""
        if not 1 <= number <= len(self.strands):
            raise ValueError(
                f"number must be 1 to {len(self.strands)} in scheme {self.id}, "
                f"got {number}"
            )
        return self.strands[number - 1]

    def tube(self, number: int) -> Strand | None:
        """The mark of one tube number, None where the scheme states none."""
        if number < 1:
            raise ValueError(f"number must be 1 or more, got {number}")
        if number <= len(self.tubes):
            return self.tubes[number - 1]
        return self.further_tube

    def canonical(self, colour: str) -> str:
        """The one name for a colour, from a name, a synonym or a short code.

        A code of this scheme wins over a name, so `GR` is green under TIA-598.
        """
        word = " ".join(colour.strip().lower().replace("_", " ").split())
        names = {mark.code.lower(): mark.colour for mark in self.strands}
        word = names.get(word, word)
        return self.synonyms.get(word, word)

    def knows(self, colour: str) -> bool:
        """Whether a word is a colour that this scheme, or any synonym, can name."""
        known = set(self.synonyms.values())
        known |= {self.canonical(mark.colour) for mark in self.strands}
        return self.canonical(colour) in known


@dataclass(frozen=True, slots=True, kw_only=True)
class FibreIdentity:
    """One assigned fibre in every way of naming it."""

    scheme: str
    tube: int
    tube_colour: str | None
    tube_code: str | None
    fibre: int
    fibre_colour: str
    fibre_code: str
    code: str
    position: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class ColourAgreement:
    """Whether a seen colour is the assigned fibre, and what it would be instead.

    `agrees` is None where the mark needs a tracer that nobody looked for.
    """

    agrees: bool | None
    expected: Strand
    seen: str
    numbers_of_seen: tuple[int, ...]
    agrees_under: tuple[str, ...]
    known_colour: bool


def own_scheme(
    names: Sequence[str],
    *,
    codes: Mapping[str, str] | None = None,
    synonyms: Mapping[str, str] | None = None,
) -> ColourScheme:
    """Scheme from an operator's own ordered list of names.

    Parameters
    ----------
    names : sequence of str
        Colours in order, each different; a tracer follows a slash [text]
    codes : mapping, optional
        Short code of each colour name; else its first two letters [text]
    synonyms : mapping, optional
        Other words for a colour, and the word they stand for [text]

    Returns
    -------
    scheme : ColourScheme
        Scheme with the id `own`; its tubes use the same list [text]

    Examples
    --------
    >>> own_scheme(["green", "yellow", "white"]).strand(2).colour
    'yellow'
    """
    synonyms, codes = synonyms or {}, codes or {}
    cleaned = ["/".join(p.strip().lower() for p in name.split("/")) for name in names]
    if not cleaned or not all(all(name.split("/")) for name in cleaned):
        raise ValueError(f"names must hold at least one colour, got {list(names)}")

    def same(name: str) -> str:
        return "/".join(synonyms.get(part, part) for part in name.split("/"))

    if len({same(name) for name in cleaned}) != len(cleaned):
        raise ValueError(f"names must all differ, got {list(names)}")

    def code(colour: str) -> str:
        return codes.get(synonyms.get(colour, colour), colour[:2].upper())

    strands = []
    for number, name in enumerate(cleaned, start=1):
        colour, *tracers = name.split("/")
        tracer = tracers[0] if tracers else ""
        strands.append(
            Strand(
                number=number,
                colour=colour,
                code=code(colour),
                tracer=tracer,
                tracer_code=code(tracer) if tracer else "",
                tracers=len(tracers),
            )
        )
    return ColourScheme(
        id="own",
        title="own list",
        edition="own",
        confidence="seen",
        strands=tuple(strands),
        tubes=tuple(strands),
        synonyms=dict(synonyms),
    )


def fibre_identity(
    scheme: ColourScheme,
    tube: int,
    fibre: int,
    *,
    fibres_per_tube: int | None = None,
) -> FibreIdentity:
    """Every name of one assigned fibre.

    Parameters
    ----------
    scheme : ColourScheme
        Scheme of the cable [text]
    tube : int
        Tube number, from 1 [1]
    fibre : int
        Fibre number in its tube, from 1 [1]
    fibres_per_tube : int, optional
        Fibres in every tube; without it the position in the cable is unknown [1]

    Returns
    -------
    identity : FibreIdentity
        Numbers, colour names, short codes, position in the cable [text]
    """
    mark = scheme.strand(fibre)
    tube_mark = scheme.tube(tube)
    position = None
    if fibres_per_tube is not None:
        position = position_in_cable(tube, fibre, fibres_per_tube=fibres_per_tube)
    tube_code = tube_mark.full_code if tube_mark else None
    return FibreIdentity(
        scheme=scheme.id,
        tube=tube,
        tube_colour=tube_mark.full_name if tube_mark else None,
        tube_code=tube_code,
        fibre=fibre,
        fibre_colour=mark.full_name,
        fibre_code=mark.full_code,
        code=f"{tube_code or tube}-{mark.full_code}",
        position=position,
    )


def position_in_cable(tube: int, fibre: int, *, fibres_per_tube: int) -> int:
    """Count of a fibre through the whole cable.

    Parameters
    ----------
    tube : int
        Tube number, from 1 [1]
    fibre : int
        Fibre number in its tube, from 1 [1]
    fibres_per_tube : int
        Fibres in every tube [1]

    Returns
    -------
    position : int
        Number of the fibre in the cable, from 1 [1]

    Examples
    --------
    >>> position_in_cable(2, 5, fibres_per_tube=12)
    17
    """
    if tube < 1:
        raise ValueError(f"tube must be 1 or more, got {tube}")
    if not 1 <= fibre <= fibres_per_tube:
        raise ValueError(f"fibre must be 1 to {fibres_per_tube}, got {fibre}")
    return (tube - 1) * fibres_per_tube + fibre


def tube_and_fibre(position: int, *, fibres_per_tube: int) -> tuple[int, int]:
    """Tube and fibre of a count through the whole cable.

    Parameters
    ----------
    position : int
        Number of the fibre in the cable, from 1 [1]
    fibres_per_tube : int
        Fibres in every tube [1]

    Returns
    -------
    tube : int
        Tube number, from 1 [1]
    fibre : int
        Fibre number in its tube, from 1 [1]

    Examples
    --------
    >>> tube_and_fibre(17, fibres_per_tube=12)
    (2, 5)
    """
    if position < 1 or fibres_per_tube < 1:
        raise ValueError(
            f"position and fibres_per_tube must be 1 or more, "
            f"got {position} and {fibres_per_tube}"
        )
    return (position - 1) // fibres_per_tube + 1, (position - 1) % fibres_per_tube + 1


def fibre_numbers(
    scheme: ColourScheme, colour: str, *, tracer: str | None = None
) -> tuple[int, ...]:
    """Numbers that a seen colour can have under a scheme.

    Parameters
    ----------
    scheme : ColourScheme
        Scheme of the cable [text]
    colour : str
        Colour name, synonym or short code; a tracer may follow a slash [text]
    tracer : str, optional
        Tracer colour, `none` where there was none, None where nobody looked [text]

    Returns
    -------
    numbers : tuple of int
        Matching fibre numbers, lowest first; empty where none matches [1]
    """
    base, seen_tracer, count = _seen(scheme, colour, tracer)
    return tuple(
        mark.number
        for mark in scheme.strands
        if _matches(scheme, mark, (base, seen_tracer, count)) is not False
    )


def colour_agreement(
    scheme: ColourScheme,
    colour: str,
    fibre: int,
    *,
    tracer: str | None = None,
    others: Sequence[ColourScheme] = (),
) -> ColourAgreement:
    """Whether a seen colour is the assigned fibre, else under which schemes it is.

    Parameters
    ----------
    scheme : ColourScheme
        Scheme of the assignment [text]
    colour : str
        Seen colour: name, synonym or short code; a tracer may follow a slash [text]
    fibre : int
        Assigned fibre number in its tube [1]
    tracer : str, optional
        Seen tracer, `none` where there was none, None where nobody looked [text]
    others : sequence of ColourScheme, optional
        Schemes to try when the assigned one disagrees [text]

    Returns
    -------
    agreement : ColourAgreement
        True, False or None (a tracer decides), with the other explanations [text]
    """
    expected = scheme.strand(fibre)
    seen = _seen(scheme, colour, tracer)
    agrees = _matches(scheme, expected, seen)
    under = tuple(
        other.id
        for other in others
        if other.id != scheme.id
        and fibre <= len(other.strands)
        and _matches(other, other.strand(fibre), seen)
    )
    return ColourAgreement(
        agrees=agrees,
        expected=expected,
        seen=seen[0],
        numbers_of_seen=fibre_numbers(scheme, colour, tracer=tracer),
        agrees_under=under if agrees is False else (),
        known_colour=any(item.knows(seen[0]) for item in (scheme, *others)),
    )


def _seen(
    scheme: ColourScheme, colour: str, tracer: str | None
) -> tuple[str, str | None, int | None]:
    """Canonical colour, tracer ('' for none, None for not looked) and tracer count."""
    base, *written = [part for part in colour.split("/") if part.strip()] or [""]
    if not base:
        raise ValueError(f"colour must name a colour, got {colour!r}")
    if written:
        return scheme.canonical(base), scheme.canonical(written[0]), len(written)
    if tracer is None:
        return scheme.canonical(base), None, None
    words = tracer.strip().lower().replace("/", " ").split()
    if words in ([], ["none"], ["no"], ["no", "tracer"], ["without"]):
        return scheme.canonical(base), "", 0
    count = 2 if {"double", "two", "2"} & set(words) else None
    colours = [w for w in words if w not in {"double", "two", "2", "tracer", "ring"}]
    if len(colours) == 2 and colours[0] == colours[1]:
        count, colours = 2, colours[:1]
    return scheme.canonical(base), scheme.canonical(" ".join(colours)), count


def _matches(
    scheme: ColourScheme, mark: Strand, seen: tuple[str, str | None, int | None]
) -> bool | None:
    """True, False, or None where only an unseen tracer could decide."""
    base, tracer, count = seen
    if scheme.canonical(mark.colour) != base:
        return False
    if tracer is None:
        return None if mark.tracers else True
    if scheme.canonical(mark.tracer) != tracer:
        return False
    if count is None:
        return True if mark.tracers == 1 else None
    return count == mark.tracers
