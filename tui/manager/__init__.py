"""The manager's lists without their screen: lines, charts, decisions."""
