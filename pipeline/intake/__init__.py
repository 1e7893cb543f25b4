"""Reading the order file, the list and the drawing: everything that the client or the shop wrote."""
