"""Reading: the order file, the list, the drawing. Everything the client or the shop wrote comes in here."""
