"""README's real output and DEVELOPERS.md's map, read and written anew."""
