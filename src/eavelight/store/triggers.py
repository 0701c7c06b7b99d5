"""Guards in the database: what is recorded is neither changed nor deleted.

They stop accidents, not the owner of the file; whoever drops them leaves a broken
chain or a signature that does not fit, which `verify` tells.
"""

from sqlalchemy import Connection, text

APPEND_ONLY: dict[str, str] = {
    "observation": (
        "id = new.id OR seq = new.seq OR "
        "(visit = new.visit AND device = new.device AND number = new.number)"
    ),
    "seal": "id = new.id OR seq = new.seq",
    "evidence": "sha256 = new.sha256",
    "access_log": "seq = new.seq",
}
"""Append-only tables, with what of a new row would stand in an old one's place."""


def create_triggers(connection: Connection, tables: tuple[str, ...]) -> None:
    """Put the guards on the given tables."""
    statements = _sqlite if connection.dialect.name == "sqlite" else _postgresql
    for statement in statements(tables):
        connection.execute(text(statement))


def _sqlite(tables: tuple[str, ...]) -> list[str]:
    found = []
    for table in tables:
        found += [
            f"CREATE TRIGGER {table}_no_{act} BEFORE {act.upper()} ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'append-only'); END"
            for act in ("update", "delete")
        ]
        # REPLACE deletes without firing a delete trigger: this one refuses it
        found.append(
            f"CREATE TRIGGER {table}_no_replace BEFORE INSERT ON {table} WHEN EXISTS "
            f"(SELECT 1 FROM {table} WHERE {APPEND_ONLY[table]}) "
            "BEGIN SELECT RAISE(ABORT, 'already recorded'); END"
        )
    return found


def _postgresql(tables: tuple[str, ...]) -> list[str]:
    found = [
        "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger AS $$ BEGIN "
        "RAISE EXCEPTION 'append-only' "
        "USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql"
    ]
    for table in tables:
        found += [
            f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION refuse_change()",
            f"CREATE TRIGGER {table}_no_delete BEFORE DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()",
            f"CREATE TRIGGER {table}_no_truncate BEFORE TRUNCATE ON {table} "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change()",
            f"REVOKE UPDATE, DELETE, TRUNCATE ON {table} FROM PUBLIC",
        ]
    return found


def expected_triggers(dialect: str) -> frozenset[str]:
    """Names of all guards that a complete store has."""
    third = "replace" if dialect == "sqlite" else "truncate"
    return frozenset(
        f"{table}_no_{act}"
        for table in APPEND_ONLY
        for act in ("update", "delete", third)
    )


def present_triggers(connection: Connection) -> frozenset[str]:
    """Names of the guards that are there and armed."""
    query = (
        "SELECT name FROM sqlite_master WHERE type = 'trigger'"
        if connection.dialect.name == "sqlite"
        else "SELECT tgname FROM pg_trigger t JOIN pg_class c ON c.oid = t.tgrelid "
        "WHERE NOT tgisinternal AND tgenabled <> 'D' "
        "AND c.relnamespace = current_schema()::regnamespace"
    )
    return frozenset(connection.execute(text(query)).scalars())


def restrict(connection: Connection, role: str) -> None:
    """Give a PostgreSQL role what the application needs and no more."""
    name = '"' + role.replace('"', '""') + '"'
    for statement in (
        "GRANT SELECT, INSERT, UPDATE, DELETE "
        f"ON ALL TABLES IN SCHEMA public TO {name}",
        *(
            f"REVOKE UPDATE, DELETE, TRUNCATE ON {table} FROM {name}"
            for table in APPEND_ONLY
        ),
    ):
        connection.execute(text(statement))
