"""Questions about names: wording, capitals, look-alikes, consistency over the list."""
