"""How Alembic runs here: on the connection that it is handed, in the caller's transaction."""

from alembic import context

from csms.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=True,
    render_item=context.config.attributes.get("render_item"),
)
with context.begin_transaction():
    context.run_migrations()
connection.commit()
