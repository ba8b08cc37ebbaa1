"""Tables that people write: read with the place of every cell, changed cell by cell, replaced whole under a lock."""
