"""Photo and inspection come in; the parts of the overlay go out, drawn."""
