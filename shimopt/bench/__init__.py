"""The page on the bench."""
