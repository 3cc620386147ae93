"""Scene records in, rendered photographs with known truth out.

Needs the optional dependencies of the group ``samples``; neither the program nor
its tests need this package.
"""
