"""The book of the outside checks: what is written of them (``pages``), and read back (``reading``); outcomes and checks."""
