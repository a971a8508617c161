"""The database file: engine, opening it, upgrading it, backing it up."""
