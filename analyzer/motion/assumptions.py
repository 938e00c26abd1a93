"""What the motion of a part takes for granted; printed with every answer."""

ASSUMPTIONS = (
    "Lead-ins join their contour without a stop; the head starts and ends every contour at rest.",
    "Moves go straight from pierce to pierce; nothing from or to a home position is counted.",
)
