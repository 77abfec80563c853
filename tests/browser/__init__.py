"""A package, so that its browser and its workbook end with its last test: no loop of theirs runs under later ones."""
