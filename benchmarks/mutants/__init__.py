"""Faults seeded in correct rigs, one a mutant, and what the checker makes of them.

    cd benchmarks; python -m mutants --mutants 3000 --seed 1

``statements`` edits the text, ``operators`` makes the faults, ``net`` and ``oracle`` decide
anew, from the statements alone, whether a mutant is really faulty.
"""
