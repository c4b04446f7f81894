"""Run by Alembic: migrates the database of the connection it is handed."""

from alembic import context

from rindline_server.store.tables import METADATA

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=METADATA,
    # SQLite can't alter most of a table: Alembic then copies it.
    render_as_batch=True,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()
