"""Where the artwork is decided, once: size, spacing, breaks and place of every line on the blank."""
