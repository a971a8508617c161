"""Commands of the weekly post."""
