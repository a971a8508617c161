"""The jobs and their runner."""
