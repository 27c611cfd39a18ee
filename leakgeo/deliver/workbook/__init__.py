"""The workbook of a result: a card for each line, and a sheet with its profile and its stops."""
