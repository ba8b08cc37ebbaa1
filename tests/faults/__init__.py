"""Commands that are killed, fail or run many at once at every point where they touch a file."""
