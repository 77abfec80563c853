"""What people see: charts, panels and the start command. No maths here."""
