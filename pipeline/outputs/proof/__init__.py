"""The client's proof: cover, lists, cards, details, decision, volumes."""
