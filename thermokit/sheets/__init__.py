"""Papers for the shop floor: the setting sheet of a result, as a page for the screen and for the printer.

Nothing here solves or judges; what a sheet says is gathered once (``content``) and written twice (``html``, ``pdf``).
"""
