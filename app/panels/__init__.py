"""A photo of a panel in, readings out. Knows no other room of the house, and is usable alone from a notebook.

OpenCV takes memory and time to load, so nothing of this room is imported by the server: `read.py` is called by the command
and by the process that reads photos.
"""
