"""The call list without its screen: outcome keys, the call card, acts, taking back."""
