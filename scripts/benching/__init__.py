"""Pictures with known truth in; how far the program and a plain recipe are off, out."""
