"""The record: observations, seals, evidence, personal values, list of visits."""

import sqlalchemy as sa
from alembic import op

from eavelight.store.triggers import create_triggers

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def _big() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer, "sqlite")


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _key(*names: str) -> list[sa.Column[str]]:
    return [
        sa.Column(name, sa.Text, primary_key=True, nullable=False) for name in names
    ]


def _seq() -> sa.Column[int]:
    return sa.Column("seq", _big(), primary_key=True, autoincrement=False)


def upgrade() -> None:
    _record_tables()
    _side_tables()
    create_triggers(op.get_bind(), ("observation", "seal", "evidence"))


def _record_tables() -> None:
    op.create_table(
        "observation",
        _seq(),
        *_texts("id", "visit", "device"),
        sa.Column("number", _big(), nullable=False),
        *_texts("prev", "kind", "body", "recorded_at", "signature"),
        sa.UniqueConstraint("id", name="observation_id"),
        sa.UniqueConstraint("visit", "device", "number", name="observation_place"),
        sqlite_strict=True,
    )
    op.create_table(
        "seal",
        _seq(),
        *_texts("id", "visit", "device", "body", "signature", "sealed_at"),
        sa.UniqueConstraint("id", name="seal_id"),
        sqlite_strict=True,
    )
    op.create_index("seal_visit", "seal", ["visit"])
    op.create_table(
        "evidence",
        *_key("sha256"),
        *_texts("media_type"),
        sa.Column("size", _big(), nullable=False),
        sa.Column("samples_sha256", sa.Text),
        sqlite_strict=True,
    )
    op.create_table(
        "evidence_bytes",
        *_key("sha256"),
        sa.Column("bytes", sa.LargeBinary, nullable=False),
        sqlite_strict=True,
    )
    op.create_index("ix_evidence_samples_sha256", "evidence", ["samples_sha256"])


def _side_tables() -> None:
    op.create_table("about", *_key("key"), *_texts("value"), sqlite_strict=True)
    op.create_table("evidence_use", *_key("visit", "sha256"), sqlite_strict=True)
    op.create_index("evidence_use_sha256", "evidence_use", ["sha256"])
    op.create_table(
        "evidence_copy",
        *_key("original", "sha256"),
        *_texts("reason", "device", "signature"),
        sqlite_strict=True,
    )
    op.create_table(
        "personal",
        *_key("sha256"),
        *_texts("visit", "kind", "salt", "value"),
        sqlite_strict=True,
    )
    op.create_index("personal_visit", "personal", ["visit"])
    op.create_table(
        "visit_line",
        *_key("visit"),
        *_texts("site", "crew", "purpose", "profile", "started", "ended"),
        sa.Column("observations", _big(), nullable=False),
        *_texts("sealed_at"),
        sqlite_strict=True,
    )
    op.create_index("visit_line_started", "visit_line", ["started", "visit"])
    op.create_index("visit_line_crew", "visit_line", ["crew", "started"])
    op.create_index("visit_line_site", "visit_line", ["site"])
    op.create_table(
        "device", *_key("device"), *_texts("name", "added_at"), sqlite_strict=True
    )
