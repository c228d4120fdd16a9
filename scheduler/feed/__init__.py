"""What calendars are told: reminders, iCalendar, and a CalDAV server."""
