"""Result files come in; plots go out as figures and files."""
