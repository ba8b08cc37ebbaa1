"""Objects for other programs: plain dicts and lists, lengths in mm; keys are only ever added."""
