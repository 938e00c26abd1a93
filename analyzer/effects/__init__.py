"""Plan and local speed to burr along the edges; the evidence of one gas."""
