"""The verdict: a plain record, and the pure function that makes it from a journal."""
