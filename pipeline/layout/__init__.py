"""Layout, which decides the artwork once: size, spacing, breaks and place of every line on the blank."""
