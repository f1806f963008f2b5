"""Runs the migrations on one library's database, with foreign keys off and each migration in a transaction."""

from pathlib import Path
from typing import Any

from alembic import context
from sqlalchemy import URL, create_engine, event
from sqlmodel import SQLModel

import app.records  # noqa: F401  registers the tables

FULL_TEXT_TABLES = ("written_words",)


def is_ours(name: str | None, kind: str, *_: Any) -> bool:
    """Leave the full-text index and its shadow tables out of comparisons."""
    return not (kind == "table" and name is not None and name.startswith(FULL_TEXT_TABLES))


def migrate(database: Path) -> None:
    engine = create_engine(
        URL.create("sqlite", database=str(database)), connect_args={"isolation_level": None}
    )

    @event.listens_for(engine, "begin")
    def _begin(connection: Any) -> None:
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    try:
        with engine.connect() as connection:
            # Rebuilding a table with foreign keys on would empty the tables that cascade from it.
            connection.connection.execute("PRAGMA foreign_keys = OFF")  # type: ignore[attr-defined]
            with connection.begin():
                broken_before = set(connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall())
                context.configure(
                    connection=connection,
                    target_metadata=SQLModel.metadata,
                    render_as_batch=True,
                    include_name=is_ours,
                    transaction_per_migration=False,
                    transactional_ddl=True,
                )
                with context.begin_transaction():
                    context.run_migrations()
                broken = (
                    set(connection.exec_driver_sql("PRAGMA foreign_key_check").fetchall()) - broken_before
                )
                if broken:
                    raise RuntimeError(f"it would break {len(broken)} links between rows")
    finally:
        engine.dispose()


given = context.config.attributes.get("database") or context.get_x_argument(as_dictionary=True)["database"]
migrate(Path(given))
