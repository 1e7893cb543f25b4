"""The order file: reading it, the rules between its keys, and its error messages."""
