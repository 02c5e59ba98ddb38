"""Tunings, the neck's reach, and the register in which a root is played.

Sources: standard and other tunings as in LilyPond's ``string-tunings-init.ly`` and the table in
``shared/tables/tunings.toml``.
"""
