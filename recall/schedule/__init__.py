"""Windows, answering visits, combining, the practice calendar. Pure."""
