"""Numbers come in; verdicts, groups, loads and agreement go out. No pixels here."""
