"""The plain commands: parse, call the desk, print."""
