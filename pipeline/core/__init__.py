"""What all parts share: units, models, findings and their catalogue, errors. No computation here."""
