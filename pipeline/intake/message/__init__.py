"""Lists sent as messages: names among greetings, closings and quoted lines."""
