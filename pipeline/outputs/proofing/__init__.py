"""The pages of the client's proof."""
