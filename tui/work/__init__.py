"""Work in the background: threads, their messages, and what goes wrong in words."""
