"""Files in and out: the door for foreign files, atomic writing, archives, the cache and its codec."""
