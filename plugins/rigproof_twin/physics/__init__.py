"""The twin's own physics. It shares no formula with the reduction and the part models it is there to try."""
