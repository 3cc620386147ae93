"""A reference photo comes in; a camera, a scale and how sure they are go out."""
