"""The weekly report: one product's week on paper, as a workbook, a table and its visits."""
