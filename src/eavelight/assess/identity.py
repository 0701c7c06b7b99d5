"""Right port, right fibre, right plugs: identity before light."""

from dataclasses import dataclass

from eavelight.assess.context import Context
from eavelight.assess.judge import finding, ids, not_measured
from eavelight.assess.selection import Placed
from eavelight.glass.colour_code import ColourScheme, colour_agreement
from eavelight.model.finding import Finding, Quantity, Verdict
from eavelight.model.message import Message
from eavelight.model.observation import Reading
from eavelight.model.plan import Assignment
from eavelight.standards.colour_schemes import colour_scheme, colour_schemes


def assess_identity(context: Context) -> list[Finding]:
    """Findings on port, registration, the port's earlier use, polish and fibre."""
    return [
        _port(context, "identity.port", "port_label"),
        _port(context, "identity.registered", "port_registered"),
        _port_in_use(context),
        *_polish(context),
        _fibre(context),
    ]


def assigned_port(assignment: Assignment) -> str | None:
    """The assigned port as people write it: `splitter/port`, or `port` alone."""
    if assignment.port is None:
        return None
    if assignment.splitter is None:
        return assignment.port
    return f"{assignment.splitter}/{assignment.port}"


def same_port(seen: str, assignment: Assignment) -> bool:
    """Whether a written port is the assigned one; a bare port names no splitter."""
    words = [_plain(word) for word in seen.split("/") if word.strip()]
    wanted = [_plain(word or "") for word in (assignment.splitter, assignment.port)]
    if len(words) == 1:
        return words[0] == wanted[1]
    if len(words) == 3 and assignment.hub is not None:
        return words == [_plain(assignment.hub), *wanted]
    if not wanted[0]:
        return words[-1] == wanted[1]
    return words == wanted


def _plain(word: str) -> str:
    """Case, blanks and leading zeros do not make another port."""
    text = "".join(word.split()).casefold()
    return text.lstrip("0") or text


def _port(context: Context, requirement: str, what: str) -> Finding:
    wanted = assigned_port(context.plan.assignment)
    seen = context.current(what)
    if not seen:
        return not_measured(
            context, requirement, "port", values={"expected": wanted or "?"}
        )
    if wanted is None:
        return not_measured(
            context,
            requirement,
            "port",
            reason="no_plan",
            observations=ids(seen),
            decide_by=Message("identity.port.ask", {}),
        )
    wrong = [
        item
        for item in seen
        if not same_port(item.reading.text, context.plan.assignment)
    ]
    shown = (wrong or list(seen))[-1].reading
    verdict = Verdict.FAIL if wrong else Verdict.PASS
    values = {"seen": shown.text, "expected": wanted, "at": shown.at}
    return finding(
        context,
        requirement,
        "port",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}", values),
        measured=Quantity(value=shown.text, unit=""),
        expected=Quantity(value=wanted, unit=""),
        observations=ids(seen),
        broken_by=ids(wrong),
    )


def _port_in_use(context: Context) -> Finding:
    requirement = "identity.port_in_use"
    seen = context.selection.all_of("port_in_use")
    if not seen:
        return not_measured(context, requirement, "port")
    first = seen[0].reading
    verdict = Verdict.FAIL if first.value is True else Verdict.PASS
    changed = first.value is True and seen[-1].reading.value is not True
    return finding(
        context,
        requirement,
        "port",
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}", {"changed": changed}),
        measured=Quantity(value="in use" if first.value is True else "dark", unit=""),
        observations=ids(seen),
        broken_by=ids(seen[:1]),
    )


def _polish(context: Context) -> list[Finding]:
    requirement = "identity.polish"
    found = []
    for part in context.plan.plant.part:
        if part.kind != "connector":
            continue
        seen = context.current("polish_seen", part.name)
        if not seen:
            if part.name in {"port", "terminal"}:
                found.append(not_measured(context, requirement, part.name))
            continue
        planned = part.polish
        words = {item.reading.side or "plug": item.reading.text for item in seen}
        odd = [item for item in seen if planned and item.reading.text != planned]
        if planned is None and len(set(words.values())) == 1:
            verdict = Verdict.PASS if len(words) > 1 else Verdict.UNDECIDED
        elif planned is None:
            verdict = Verdict.FAIL
        else:
            agree = all(word == planned for word in words.values())
            verdict = Verdict.PASS if agree else Verdict.FAIL
        missing = [side for side in ("plug", "adapter") if side not in words]
        if verdict is Verdict.PASS and missing:
            verdict = Verdict.UNDECIDED
        listed = tuple(f"{side}: {word}" for side, word in sorted(words.items()))
        values = {
            "subject": part.name,
            "seen": listed,
            "expected": planned or "?",
            "missing": tuple(missing),
        }
        found.append(
            finding(
                context,
                requirement,
                part.name,
                verdict=verdict,
                because=Message(f"{requirement}.{verdict}", values),
                measured=Quantity(value=", ".join(listed), unit=""),
                expected=Quantity(value=planned, unit="") if planned else None,
                decide_by=(
                    Message(f"{requirement}.decide_by", values)
                    if verdict is Verdict.UNDECIDED
                    else None
                ),
                observations=ids(seen),
                broken_by=ids(odd),
            )
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class _Mark:
    """What one look at the strands says about the assignment."""

    reading: Reading
    agrees: bool | None
    why: Message
    schemes: tuple[str, ...] = ()


def scheme_of(assignment: Assignment) -> ColourScheme:
    """The colour scheme of the assignment."""
    return colour_scheme(assignment.colour_scheme)


def _fibre(context: Context) -> Finding:
    requirement = "identity.fibre"
    seen = context.current("fibre_seen")
    light = context.current("fibre_light")
    marks = [mark for item in seen for mark in _marks(context, item)]
    strands = _strands(context, seen)
    observations = ids([*seen, *light])
    if not marks and not light:
        return not_measured(context, requirement, "drop", observations=observations)
    did = light[-1].reading.text if light else None
    against = [mark for mark in marks if mark.agrees is False]
    if did in {"steady", "dark"}:
        verdict, name = Verdict.FAIL, f"light_{did}"
    elif against:
        verdict = Verdict.UNDECIDED if did == "follows" else Verdict.FAIL
        name = "mark_against_light" if did == "follows" else "mark"
    elif did is None and any(mark.agrees is None for mark in marks):
        verdict, name = Verdict.UNDECIDED, "tracer"
    else:
        verdict, name = Verdict.PASS, "both" if did and marks else "one"
    schemes = tuple(dict.fromkeys(s for mark in against for s in mark.schemes))
    values = {
        "marks": tuple(mark.why for mark in (against or marks)),
        "schemes": schemes,
        "light": did or "not tried",
        "strands": strands,
    }
    if schemes:
        name += "_schemes"
    marked = tuple(mark.reading.id for mark in against)
    return finding(
        context,
        requirement,
        light[-1].reading.at if light else seen[-1].reading.at,
        verdict=verdict,
        because=Message(f"{requirement}.{verdict}.{name}", values),
        measured=Quantity(value=did or _seen_text(seen), unit=""),
        decide_by=(
            None
            if verdict is Verdict.PASS
            else Message(f"{requirement}.decide_by", values)
        ),
        observations=observations,
        broken_by=ids(light[-1:]) if name.startswith("light_") else marked,
    )


def _seen_text(seen: tuple[Placed, ...]) -> str:
    reading = seen[-1].reading
    return f"{reading.text} {reading.colour or ''}".strip()


def _marks(context: Context, item: Placed) -> list[_Mark]:
    """The number and the colour of one look, each held against the assignment."""
    assignment = context.plan.assignment
    reading = item.reading
    marks = []
    number = _number(reading.text)
    if number is not None and assignment.fibre is not None:
        wanted = (assignment.tube, assignment.fibre)
        agrees = number[1] == wanted[1] and number[0] in (None, wanted[0])
        name = "identity.mark.number" + ("" if agrees else "_other")
        values = {"seen": reading.text, "expected": f"{wanted[0] or 1}/{wanted[1]}"}
        marks.append(_Mark(reading=reading, agrees=agrees, why=Message(name, values)))
    if reading.colour is not None and assignment.fibre is not None:
        mark = _colour_mark(assignment, reading, assignment.fibre)
        marks.extend([mark] if mark else [])
    return marks


def _colour_mark(assignment: Assignment, reading: Reading, fibre: int) -> _Mark | None:
    scheme = scheme_of(assignment)
    if fibre > len(scheme.strands) or not reading.colour:
        return None
    others = tuple(colour_schemes().values())
    result = colour_agreement(
        scheme, reading.colour, fibre, tracer=reading.tracer, others=others
    )
    values = {
        "seen": reading.colour,
        "expected": result.expected.full_name,
        "scheme": scheme.id,
        "fibre": fibre,
    }
    name = {True: "colour", False: "colour_other", None: "colour_tracer"}
    return _Mark(
        reading=reading,
        agrees=result.agrees,
        why=Message(f"identity.mark.{name[result.agrees]}", values),
        schemes=result.agrees_under,
    )


def _number(text: str) -> tuple[int | None, int] | None:
    words = [word.strip() for word in text.split("/")]
    if not all(word.isdigit() for word in words) or not 1 <= len(words) <= 2:
        return None
    if len(words) == 1:
        return None, int(words[0])
    return int(words[0]), int(words[1])


def _strands(context: Context, seen: tuple[Placed, ...]) -> tuple[Message, ...]:
    """A note where the strands counted are not those of the plan."""
    tray = context.plan.tray
    counts = [item.reading.strands for item in seen if item.reading.strands]
    if tray is None or not counts or counts[-1] == tray.strands:
        return ()
    values = {"seen": counts[-1], "expected": tray.strands}
    return (Message("identity.mark.strands_other", values),)
