"""Many runs: which, how they are executed and kept, what they say, and how sure that is."""
