"""Records as instruments: a table (CSV) or a journal of ours, read as if it were measured now."""
