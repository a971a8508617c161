"""The practice itself: staff, setting up, backups, the timetable of the jobs."""
