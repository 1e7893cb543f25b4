"""The reference of order keys, layers, findings, report and commands: Markdown pages generated from the code."""
