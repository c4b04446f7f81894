"""Migrations, run by Alembic from a connection it is handed."""
