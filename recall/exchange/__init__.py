"""Files in and out: parse and format only."""
