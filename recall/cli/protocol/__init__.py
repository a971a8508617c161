"""Commands about the protocol."""
