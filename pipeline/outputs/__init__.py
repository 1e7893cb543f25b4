"""Everything a run writes: cut files, proof, check sheet, report, shop sheet."""
