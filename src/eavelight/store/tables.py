"""The tables, once for both databases.

SQLite keeps them STRICT, which knows only text, whole numbers, reals and bytes: times
are ISO text in UTC, bodies canonical JSON text.
"""

from sqlalchemy import (
    BigInteger,
    Column,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
)

metadata = MetaData()


def _big() -> BigInteger:
    return BigInteger().with_variant(Integer, "sqlite")


def _text(name: str, *, key: bool = False, default: str | None = None) -> Column[str]:
    return Column(name, Text, primary_key=key, nullable=False, server_default=default)


about = Table(
    "about", metadata, _text("key", key=True), _text("value"), sqlite_strict=True
)

observation = Table(
    "observation",
    metadata,
    Column("seq", _big(), primary_key=True, autoincrement=False),
    _text("id"),
    _text("visit"),
    _text("device"),
    Column("number", _big(), nullable=False),
    _text("prev"),
    _text("kind"),
    _text("body"),
    _text("recorded_at"),
    _text("signature"),
    UniqueConstraint("id", name="observation_id"),
    UniqueConstraint("visit", "device", "number", name="observation_place"),
    sqlite_strict=True,
)

seal = Table(
    "seal",
    metadata,
    Column("seq", _big(), primary_key=True, autoincrement=False),
    _text("id"),
    _text("visit"),
    _text("device"),
    _text("body"),
    _text("signature"),
    _text("sealed_at"),
    UniqueConstraint("id", name="seal_id"),
    Index("seal_visit", "visit"),
    sqlite_strict=True,
)

evidence = Table(
    "evidence",
    metadata,
    _text("sha256", key=True),
    _text("media_type"),
    Column("size", _big(), nullable=False),
    Column("samples_sha256", Text, index=True),
    sqlite_strict=True,
)

# Bytes stand apart from what is known of them: a purge takes these rows only.
evidence_bytes = Table(
    "evidence_bytes",
    metadata,
    _text("sha256", key=True),
    Column("bytes", LargeBinary, nullable=False),
    sqlite_strict=True,
)

evidence_use = Table(
    "evidence_use",
    metadata,
    _text("visit", key=True),
    _text("sha256", key=True),
    Index("evidence_use_sha256", "sha256"),
    sqlite_strict=True,
)

evidence_copy = Table(
    "evidence_copy",
    metadata,
    _text("original", key=True),
    _text("sha256", key=True),
    _text("reason"),
    _text("device"),
    _text("signature"),
    sqlite_strict=True,
)

personal = Table(
    "personal",
    metadata,
    _text("sha256", key=True),
    _text("visit"),
    _text("kind"),
    _text("salt"),
    _text("value"),
    Index("personal_visit", "visit"),
    sqlite_strict=True,
)

visit_line = Table(
    "visit_line",
    metadata,
    _text("visit", key=True),
    _text("site"),
    _text("crew"),
    _text("purpose"),
    _text("profile"),
    _text("started"),
    _text("ended"),
    Column("observations", _big(), nullable=False),
    _text("sealed_at"),
    Index("visit_line_started", "started", "visit"),
    Index("visit_line_crew", "crew", "started"),
    Index("visit_line_site", "site"),
    sqlite_strict=True,
)

person = Table(
    "person",
    metadata,
    _text("name", key=True),
    _text("role"),
    _text("password"),
    Column("failures", _big(), nullable=False),
    _text("locked_until"),
    _text("disabled_at"),
    _text("created_at"),
    sqlite_strict=True,
)

session = Table(
    "session",
    metadata,
    _text("sha256", key=True),
    _text("person"),
    _text("created_at"),
    _text("expires_at"),
    Index("session_person", "person"),
    sqlite_strict=True,
)

token = Table(
    "token",
    metadata,
    _text("sha256", key=True),
    _text("name"),
    _text("person"),
    _text("created_at"),
    _text("expires_at"),
    _text("revoked_at"),
    Index("token_person", "person"),
    sqlite_strict=True,
)

access_log = Table(
    "access_log",
    metadata,
    Column("seq", _big(), primary_key=True, autoincrement=False),
    _text("at"),
    _text("person"),
    _text("action"),
    _text("subject"),
    sqlite_strict=True,
)

device = Table(
    "device",
    metadata,
    _text("device", key=True),
    _text("name"),
    _text("added_at"),
    sqlite_strict=True,
)
