"""The client's drawing of the blank: entities to closed loops."""
