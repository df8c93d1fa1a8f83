"""Rules that go around any controller: finish, retry after a missed reading, largest move."""
