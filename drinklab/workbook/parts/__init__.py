"""What every panel is made of: dials, tables, the drink in hand."""
