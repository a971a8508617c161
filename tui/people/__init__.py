"""One person without the screen: the card in lines, changes, what they do themselves."""
