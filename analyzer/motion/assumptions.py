"""What the motion of a part takes for granted; printed with every answer."""

ASSUMPTIONS = (
    "Motion is acceleration-limited; jerk is not yet counted, so short segments come out fast.",
    "Lead-ins join their contour without a stop, there is no overlap, and the beam "
    "starts and ends every contour at rest.",
    "Moves go straight from pierce to pierce; nothing from or to a home position is counted.",
)
