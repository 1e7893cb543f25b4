"""The machine: clock, child processes, timers, the folders and libraries that come with the tool."""
