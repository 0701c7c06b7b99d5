"""Run by Alembic on the connection that `eavelight.store.migrate` hands over."""

from alembic import context

from eavelight.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection, target_metadata=metadata, transactional_ddl=True
)
with context.begin_transaction():
    context.run_migrations()
