"""Words and signs on the screen: text made safe, days as typed, signs."""
