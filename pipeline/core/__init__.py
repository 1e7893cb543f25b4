"""Code shared by all parts: units, models, findings and their catalogue, errors. No computation here."""
