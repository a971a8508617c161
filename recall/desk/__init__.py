"""One function per thing a person does; the only place that opens a transaction."""
