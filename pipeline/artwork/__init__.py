"""Client's drawings to curves: crests, badges, borders."""
