"""The visit form without a screen: its fields, what is typed into them, and how they are shown."""
