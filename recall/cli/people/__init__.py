"""Commands about one person."""
