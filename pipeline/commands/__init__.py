"""What each command does once its words are read: plain functions with typed arguments that return an exit status."""
