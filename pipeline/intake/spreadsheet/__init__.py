"""The client's list as a file: formats, encodings, limits, number formats."""
