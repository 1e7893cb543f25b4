"""Lists that come as messages: names among greetings, closings and quoted lines."""
