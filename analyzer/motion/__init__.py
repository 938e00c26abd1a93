"""Layout to plan, local speed and time."""
