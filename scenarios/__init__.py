"""Rigs as data: the schema, the reader, the library of parts and ready rigs."""
