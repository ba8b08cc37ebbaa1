"""What people and programs see: words, the screen, JSON. Nothing here decides anything."""
