"""A visit without its screen: what was said, the plan in lines, judging it, closing."""
