"""Measured order of convergence of every scheme: ``python -m validation.order``; the book is README.md beside it."""
