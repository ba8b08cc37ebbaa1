"""Lines for a terminal, each with whether it is bold."""
