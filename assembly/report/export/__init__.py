"""Files for other programs: models, test reports, spreadsheets, tables."""
