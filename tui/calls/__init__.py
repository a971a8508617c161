"""The call list without its screen: the call card, acts, taking back."""
