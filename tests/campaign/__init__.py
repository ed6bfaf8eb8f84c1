"""A campaign against loss, damage and bad input: what the program promises, tried at scale.

    python -m tests.campaign                # all of it: some 20 minutes on two processors
    python -m tests.campaign 7              # the same random state again
    python -m tests.campaign 7 kill races   # some of its parts

One module for each part; each counts what was lost and what escaped. A short form of every part
runs with the tests, from a new random state each time, which is told when something fails.
"""
