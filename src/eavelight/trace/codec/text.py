"""Text fields of a record: bytes without a declared encoding."""

import re

# Lead and trail bytes of the common Chinese characters (GB 2312, level 1).
HANZI = re.compile(rb"(?:[\xb0-\xd7][\xa1-\xfe])+")
HIGH = re.compile(rb"[\x80-\xff]+")


def readable_text(raw: bytes) -> str:
    """Text for people, made from the bytes of a record; never fails.

    The layout does not say which encoding a writer used, so this is a guess that
    never goes back into a record: UTF-8 where the bytes are valid UTF-8, then
    GBK or Windows-1251 by which letters the bytes would be, else Latin-1.

    Parameters
    ----------
    raw : bytes
        Bytes as stored, without the closing zero [byte]

    Returns
    -------
    text : str
        Text without blanks at either end [text]

    Examples
    --------
    >>> readable_text(" полная".encode("cp1251"))
    'полная'
    """
    for encoding in ("utf-8", _likely_encoding(raw)):
        try:
            return raw.decode(encoding).strip()
        except UnicodeDecodeError:
            continue
    return raw.decode("latin-1").strip()


def _likely_encoding(raw: bytes) -> str:
    runs = HIGH.findall(raw)
    total = sum(map(len, runs))
    if total and sum(len(run) for run in runs if HANZI.fullmatch(run)) == total:
        return "gbk"
    # Cyrillic words are runs of high bytes; accents in Latin text stand alone.
    letters = sum(byte >= 0xC0 for run in runs if len(run) > 1 for byte in run)
    return "cp1251" if 2 * letters > total else "cp1252"
