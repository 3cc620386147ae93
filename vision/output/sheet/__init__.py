"""An inspection comes in; what its sheet says, in words and figures, goes out."""
