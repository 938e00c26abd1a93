"""What the shop knows: materials, gases, speeds, kerf, pierces, machine; all with sources."""
