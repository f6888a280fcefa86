"""Every picture, one function each, from a result: nothing here solves or judges."""
