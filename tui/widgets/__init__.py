"""The desk's widgets."""
