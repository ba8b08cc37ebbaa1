"""What people and programs see: screens, JSON, pictures, papers. Nothing here decides anything."""
