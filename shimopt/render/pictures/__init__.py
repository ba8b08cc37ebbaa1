"""Pictures, as SVG."""
