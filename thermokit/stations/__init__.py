"""Trade stations as faces of the solver: panels, air."""
