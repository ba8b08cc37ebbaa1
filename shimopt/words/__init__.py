"""All sentences that users read: short, active, every number with its unit. A file per subject."""
