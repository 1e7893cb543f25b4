"""The states of pieces after their release: cut, spoilt, delivered; by design and by plaque of the list."""
