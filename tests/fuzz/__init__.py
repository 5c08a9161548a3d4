"""Mutated inputs for every reader: none may end in a traceback, hang, or eat the machine.

``python -m tests.fuzz --inputs 5000`` tries many and sorts what became of them; the suite tries a
few.
"""
