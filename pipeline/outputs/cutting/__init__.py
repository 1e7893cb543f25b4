"""The parts of a cut file: what goes in and in which order, its frame, its entities, the judgement on its read-back."""
