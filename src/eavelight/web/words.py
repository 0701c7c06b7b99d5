"""Page words for what the record keeps in codes: questions, stages, mistakes.

`N_` marks a text for translation where it stands; it is translated when shown.
"""

import tomllib
from collections.abc import Callable
from functools import cache
from importlib import resources

from markupsafe import Markup, escape

from eavelight.app.ladder import AnswerError, Question
from eavelight.wording.numbers import minus

Translate = Callable[[str], str]


def N_(text: str) -> str:  # noqa: N802  (the name that gettext tools know)
    """Mark a text for translation."""
    return text


STAGES = {
    "order": N_("Work order and tools"),
    "port": N_("Port"),
    "entry": N_("Cable entries"),
    "fibre": N_("The right fibre"),
    "tray marks": N_("Cut marks"),
    "pigtail": N_("Pigtail plug"),
    "splice": N_("Splice"),
    "slack": N_("Slack and tray"),
    "faces": N_("Faces and mating"),
    "copper": N_("Copper"),
    "power": N_("Supply and power"),
    "closed": N_("Lid closed: loss and level"),
    "outage": N_("Outage rehearsal"),
    "online": N_("Online"),
    "photos": N_("Photos"),
    "customer": N_("Customer"),
    "clean up": N_("Clean up"),
}

CHOICES = {
    "apc": N_("angled"),
    "pc": N_("flat"),
    "pass": N_("pass"),
    "fail": N_("fail"),
    "follows": N_("follows the switching"),
    "steady": N_("stays steady"),
    "dark": N_("stays dark"),
    "clear": N_("clear"),
    "bubble": N_("bubble"),
    "bare glass": N_("bare glass"),
    "off centre": N_("off centre"),
    "bent": N_("bent"),
    "accepted": N_("accepted"),
    "declined": N_("declined"),
    "normal": N_("normal"),
    "alarm": N_("alarm"),
    "yes": N_("yes"),
    "no": N_("no"),
    "on battery": N_("on battery"),
    "battery missing": N_("battery missing"),
    "battery low": N_("battery low"),
    "replace battery": N_("replace battery"),
    "mains pulled": N_("mains pulled"),
    "restored": N_("restored"),
    "turn-up": N_("turn-up"),
    "repair": N_("repair"),
    "audit": N_("audit"),
    "accept": N_("accepted"),
    "hold": N_("held"),
    "send back": N_("sent back"),
    "launch": N_("launch"),
    "splice": N_("splice"),
    "connector": N_("connector"),
    "bend": N_("bend"),
    "splitter": N_("splitter"),
    "end": N_("end"),
    "scratch": N_("scratch"),
    "spot": N_("spot"),
    "sheath": N_("sheath"),
    "jacket": N_("jacket"),
    "aramid": N_("aramid"),
    "fibre": N_("fibre"),
    "tube": N_("tube"),
    "buffer": N_("buffer"),
    "coating": N_("coating"),
    "cleave": N_("cleave"),
    "ghost": N_("echo"),
    "unknown": N_("not known"),
    "reader": N_("reader"),
    "technician": N_("technician"),
    "desk": N_("desk"),
}

# words that findings carry as values; in English they stand as they are
SPOKEN = {
    "port": N_("port"),
    "terminal": N_("terminal"),
    "meter": N_("meter"),
    "lid open": N_("lid open"),
    "lid closed": N_("lid closed"),
    "before cleaning": N_("before cleaning"),
    "after cleaning": N_("after cleaning"),
    "after cleaning one side": N_("after cleaning one side"),
    "after cleaning both sides": N_("after cleaning both sides"),
    "before shrink": N_("before shrink"),
    "after shrink": N_("after shrink"),
    "no load": N_("no load"),
    "loaded": N_("loaded"),
    "tray covered": N_("tray covered"),
    "disconnected": N_("disconnected"),
    "reopened": N_("reopened"),
    "power pair and status": N_("power pair and status"),
    "power only": N_("power only"),
    "equal pairs": N_("equal pairs"),
    "power plus": N_("power plus"),
    "power return": N_("power return"),
    "signal return": N_("signal return"),
    "north": N_("north"),
    "east": N_("east"),
    "south": N_("south"),
    "west": N_("west"),
    "light grey": N_("light grey"),
    "dark brown": N_("dark brown"),
    "cable": N_("cable"),
    "pigtail": N_("pigtail"),
    "power cord": N_("power cord"),
    "trace": N_("trace"),
    "copper loop": N_("copper loop"),
    "record": N_("record"),
    "marking": N_("marking"),
    "lid": N_("lid"),
    "tray cover": N_("tray cover"),
    "file": N_("file"),
    "samples": N_("samples"),
    "ac": N_("ac"),
    "dc": N_("dc"),
    "good": N_("good"),
    "load": N_("load"),
    "loop": N_("loop"),
    "load and loop": N_("load and loop"),
    "battery lead off": N_("battery lead off"),
    "toward port": N_("toward port"),
    "toward terminal": N_("toward terminal"),
    "air in box": N_("air in box"),
    "outside air": N_("outside air"),
    "blue": N_("blue"),
    "orange": N_("orange"),
    "green": N_("green"),
    "brown": N_("brown"),
    "slate": N_("slate"),
    "white": N_("white"),
    "red": N_("red"),
    "black": N_("black"),
    "yellow": N_("yellow"),
    "violet": N_("violet"),
    "rose": N_("rose"),
    "aqua": N_("aqua"),
}

TRAY = {
    "pigtail too short": N_("The pigtail is too short."),
    "fewer re-splices than planned": N_("Fewer re-splices are left than planned."),
    "winding does not fit the tray": N_("The winding does not fit the tray."),
    "holder beyond one lap": N_("The holder lies beyond one lap."),
    "sleeve too short": N_("The sleeve is too short for the bare glass."),
    "sleeve too long": N_("The sleeve is too long for the holder."),
    "sleeve off centre": N_("The sleeve cannot sit over the splice."),
    "no room to reverse": N_("There is no room for a reversing loop."),
}

SIDES = {
    "plug": N_("plug"),
    "adapter": N_("adapter"),
    "equipment plug": N_("terminal's own plug"),
}
VIEWS = {
    "house": N_("Photo: the house"),
    "open": N_("Photo: lid open"),
    "closed": N_("Photo: lid closed"),
    "label-port": N_("Photo: port label"),
    "label-house": N_("Photo: house label"),
    "supply": N_("Photo: supply"),
    "entry": N_("Photo: cable entry"),
    "tray": N_("Photo: tray"),
    "other": N_("Photo"),
}
PROGRESS = {
    "done": ("✓", N_("done")),
    "failing": ("✕", N_("fails")),
    "excused": ("–", N_("could not measure")),
    "missing": ("!", N_("missing")),
    "open": ("○", N_("open")),
}

PROBLEMS = {
    "missing": N_("Nothing was entered."),
    "number": N_("This is not a number: {detail}. Write it like −18.7."),
    "range": N_("No real reading lies there. Expected {detail}: check value and unit."),
    "choice": N_("Choose one of these: {detail}."),
    "strand": N_("{detail} is no strand. Write tube and fibre by number, like 1/3."),
    "time": N_("This is not a time: {detail}. Write it like 10:05."),
    "long": N_("Too long: at most {detail} letters."),
    "refused": N_("This cannot be taken: {detail}"),
    "kind": N_("This file is not what is asked for here. Expected: {detail}."),
    "large": N_("This file is too large."),
    "unsafe": N_("This file could not be read safely. Take or export it again."),
    "wavelength": N_("This trace was taken at {detail}; another is asked for here."),
    "unreadable": N_("This file could not be read: {detail}"),
}


@cache
def questions() -> dict[str, tuple[str, str]]:
    """Title and hint by the start of a question's id."""
    file = resources.files("eavelight.web") / "questions.toml"
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    return {start: (item["title"], item["hint"]) for start, item in table.items()}


def entry_of(question: Question) -> tuple[str, str]:
    """Title and hint of a question, untranslated."""
    table = questions()
    fitting = [start for start in table if question.id.startswith(start)]
    return table[max(fitting, key=len)]


def title(question: Question, translate: Translate) -> str:
    """The question as it is asked."""
    fixed = question.fixed
    state = fixed.get("state", ("",))[0]
    text = translate(entry_of(question)[0])
    return text.format(
        nm=fixed.get("wavelength_nm", ""),
        entry=fixed.get("entry", ""),
        line=choice(str(fixed.get("line", "")), translate),
        state=choice(state, translate),
    )


def hint(question: Question, translate: Translate) -> str:
    """One line that helps."""
    return translate(entry_of(question)[1])


def choice(word: str, translate: Translate) -> str:
    """A word of the record as people say it."""
    return translate(CHOICES[word]) if word in CHOICES else word


def spoken(word: str, translate: Translate) -> str:
    """A word of the record or the plan, translated; a name as it is."""
    tables = (SPOKEN, CHOICES, SIDES)
    text = next((table[word] for table in tables if word in table), None)
    return word if text is None else translate(text)


def problem(error: AnswerError, translate: Translate) -> str:
    """What is wrong with an answer."""
    return translate(PROBLEMS[error.problem]).format(detail=error.detail)


def plain(value: float) -> str:
    """A number with the digits that were typed."""
    return minus(f"{value:g}")


def reading_value(value: object, unit: str | None, translate: Translate) -> Markup:
    """A reading as people read it."""
    if isinstance(value, bool):
        return escape(translate(CHOICES["yes" if value else "no"]))
    if isinstance(value, int | float):
        from eavelight.wording.numbers import unit_name

        return escape(f"{plain(float(value))} {unit_name(unit or '')}".strip())
    from datetime import datetime

    if isinstance(value, datetime):
        return escape(value.strftime("%H:%M"))
    return escape(spoken(choice(str(value), translate), translate))
