"""The day's appointments without their screen."""
