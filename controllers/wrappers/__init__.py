"""Rules that go around any controller, one a file; in Python they nest in any order."""
