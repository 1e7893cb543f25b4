"""What every part shares: units, models, findings and their catalogue, errors. No computing here."""
