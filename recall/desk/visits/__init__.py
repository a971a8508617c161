"""Visits at the desk: closing one, what is asked before, what it says of both ears."""
