"""The craft's rules: control scales, gear, placements, hook-up, levels, microphones, hearing, cautions.

Pure Python without third-party imports, knowing no other room of the house, so that each module can be used from a notebook.
"""
