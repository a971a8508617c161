"""Commands about visits and plans."""
