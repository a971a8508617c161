"""The desk's dialogs."""
