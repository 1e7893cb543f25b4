"""The shop sheet: operations, pocket, pour, saw card, tick list."""
