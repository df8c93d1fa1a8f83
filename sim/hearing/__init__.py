"""Studies of hearing: what a circuit does to the sound of a string, before any is soldered."""
