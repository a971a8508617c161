"""Wording, composing, page layout and the one PDF of a batch.

Nothing here knows the database: values of `data.py` come in, text and pages go out.
"""
