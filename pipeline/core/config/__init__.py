"""The order file and the shop file as frozen models: their tables, keys and limits."""
