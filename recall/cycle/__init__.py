"""The wax cycle of a person. Pure."""
