"""A new job, begun from answers: what was typed, read or refused; the files that say it."""
