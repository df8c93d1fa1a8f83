"""What is handed over to firmware: constants, a reference, test vectors and a plan of acceptance."""
