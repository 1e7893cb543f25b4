"""The commands, called once their arguments are parsed: plain functions with typed arguments that return an exit
status."""
