"""Access to a shared store: people, sessions, tokens, and the log of both."""

import sqlalchemy as sa
from alembic import op

from eavelight.store.triggers import create_triggers

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def _big() -> sa.types.TypeEngine[int]:
    return sa.BigInteger().with_variant(sa.Integer, "sqlite")


def _texts(*names: str) -> list[sa.Column[str]]:
    return [sa.Column(name, sa.Text, nullable=False) for name in names]


def _key(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, primary_key=True, nullable=False)


def upgrade() -> None:
    op.create_table(
        "person",
        _key("name"),
        *_texts("role", "password"),
        sa.Column("failures", _big(), nullable=False),
        *_texts("locked_until", "disabled_at", "created_at"),
        sqlite_strict=True,
    )
    op.create_table(
        "session",
        _key("sha256"),
        *_texts("person", "created_at", "expires_at"),
        sqlite_strict=True,
    )
    op.create_index("session_person", "session", ["person"])
    op.create_table(
        "token",
        _key("sha256"),
        *_texts("name", "person", "created_at", "expires_at", "revoked_at"),
        sqlite_strict=True,
    )
    op.create_index("token_person", "token", ["person"])
    op.create_table(
        "access_log",
        sa.Column("seq", _big(), primary_key=True, autoincrement=False),
        *_texts("at", "person", "action", "subject"),
        sqlite_strict=True,
    )
    create_triggers(op.get_bind(), ("access_log",))
