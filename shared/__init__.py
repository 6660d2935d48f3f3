"""What every room stands on: units, liquids, pipes, people, the trail, signing.

Imports run one way: ``shared`` <- ``vessels``, ``terminals`` <- ``compat``. This package imports
none of the others; its ``calc`` folder imports no Django.
"""
