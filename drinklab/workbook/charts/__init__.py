"""Pictures: one module a topic, and the live chart whose rows alone move."""
