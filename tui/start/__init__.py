"""A first start, and what Today asks of the register."""
