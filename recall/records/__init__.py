"""Tables, engine, queries, history of changes, backup."""
