"""Every key of the desk in one table, and what is made from it."""
