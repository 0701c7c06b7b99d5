"""Page texts in the reader's language: gettext catalogues, read as they are written.

Sentences of findings come from `wording`; what a language lacks there is told in
English and marked as English.
"""

import ast
import gettext
import re
from collections.abc import Callable, Mapping
from functools import cache, partial
from importlib import resources
from types import MappingProxyType
from typing import NamedTuple

from markupsafe import Markup, escape

from eavelight.model.message import Message
from eavelight.web.words import spoken
from eavelight.wording import catalogue, languages, say

LANGUAGES = {"en": "English", "es": "Español"}
DEFAULT = "en"
NOTHING: Mapping[str, str] = MappingProxyType({})


class Entry(NamedTuple):
    """One text with its translations: one, or one for each number form."""

    msgid: str
    texts: tuple[str, ...]


def parse_po(text: str) -> list[Entry]:
    """Entries of a catalogue file; comments and the head are left out."""
    entries: list[Entry] = []
    fields: dict[str, str] = {}
    current = ""
    for line in [*text.splitlines(), "msgid end"]:
        word, _, rest = line.partition(" ")
        if line.startswith('"'):
            fields[current] += ast.literal_eval(line)
        elif word in {"msgid", "msgid_plural"} or word.startswith("msgstr"):
            if word == "msgid":
                entries += _entry(fields)
                fields = {}
            current = word
            fields[current] = ast.literal_eval(rest) if rest.startswith('"') else ""
    return entries


def _entry(fields: dict[str, str]) -> list[Entry]:
    msgid = fields.get("msgid", "")
    if not msgid:
        return []
    names = sorted(name for name in fields if name.startswith("msgstr"))
    return [Entry(msgid=msgid, texts=tuple(fields[name] for name in names))]


class Catalogue(gettext.NullTranslations):
    """Translations of one language."""

    def __init__(self, language: str) -> None:
        super().__init__()
        self.language = language
        self._texts: dict[str, tuple[str, ...]] = {}
        if language != DEFAULT:
            file = resources.files("eavelight.web") / "locale" / f"{language}.po"
            entries = parse_po(file.read_text(encoding="utf-8"))
            self._texts = {item.msgid: item.texts for item in entries}

    def gettext(self, message: str) -> str:
        """The text in this language, else as it was written."""
        found = self._texts.get(message, ())
        return found[0] if found and found[0] else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The text for a number of things."""
        found = self._texts.get(msgid1, ())
        form = 0 if n == 1 else 1
        if len(found) > form and found[form]:
            return found[form]
        return msgid1 if n == 1 else msgid2


@cache
def translations(language: str) -> Catalogue:
    """The catalogue of a language."""
    return Catalogue(language if language in LANGUAGES else DEFAULT)


# sentences whose values name readings and files of the visit itself
OF_ENTRIES = "evidence.order."
# several words in one value, as in `plug: pass, adapter: fail`
JOINED = re.compile("(, |: )")


def tell(
    message: Message | None, language: str, entries: Mapping[str, str] = NOTHING
) -> Markup:
    """A sentence of the record's own words, marked where it is in another language.

    `entries` says in words what a reading or file of the visit answers, by its id.
    """
    if message is None:
        return Markup("")
    if entries:
        message = _named(message, entries)
    if language in languages() and message.id in catalogue(language):
        try:
            return escape(say(_spoken(message, language), language))
        except KeyError:
            pass
    text = escape(say(message))
    if language == DEFAULT:
        return text
    return Markup('<span lang="en">{}</span>').format(text)


def speaker(language: str) -> Callable[[Message], Message]:
    """Gives a message with the words among its values in the language."""
    return partial(_spoken, language=language)


def _named(message: Message, entries: Mapping[str, str]) -> Message:
    """The message with entries told by what they answer, at any depth."""
    own = message.id.startswith(OF_ENTRIES)

    def told(value: object) -> object:
        if isinstance(value, Message):
            return _named(value, entries)
        if isinstance(value, tuple | list):
            return [told(item) for item in value]
        return entries.get(value, value) if own and isinstance(value, str) else value

    return Message(message.id, {k: told(v) for k, v in message.values.items()})


def _spoken(message: Message, language: str) -> Message:
    """The message with words among its values in the language, at any depth."""
    if language == DEFAULT:
        return message
    known, translate = catalogue(language), translations(language).gettext

    def told(key: str, value: object) -> object:
        if isinstance(value, Message):
            return _spoken(value, language)
        if isinstance(value, tuple | list):
            return [told(key, item) for item in value]
        if not isinstance(value, str):
            return value
        kind = "reading_name" if key == "what" else "place_name"
        parts = JOINED.split(value)
        return "".join(
            known.get(f"{kind}.{part.replace(' ', '_')}") or spoken(part, translate)
            for part in parts
        )

    return Message(message.id, {k: told(k, v) for k, v in message.values.items()})


def preferred(accepted: str, chosen: str) -> str:
    """The language of a request: chosen before accepted before English."""
    if chosen in LANGUAGES:
        return chosen
    for part in accepted.split(","):
        code = part.split(";")[0].strip().lower()[:2]
        if code in LANGUAGES:
            return code
    return DEFAULT
