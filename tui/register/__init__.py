"""The one way from a screen to the register: threads, their messages, what goes wrong in words."""
