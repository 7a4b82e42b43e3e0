"""What a build is, how its steps hang together, and what changes between versions."""
