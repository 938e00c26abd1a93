"""Many drawings at once: found, worked on in processes, kept, and told."""
