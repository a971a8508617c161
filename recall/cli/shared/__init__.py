"""What the commands share: options, the open desk, printing, progress."""
