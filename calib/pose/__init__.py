"""Edge points on a target of known size come in; the camera's pose goes out."""
