"""Reports: consumers of the verdict, never a second judge."""
